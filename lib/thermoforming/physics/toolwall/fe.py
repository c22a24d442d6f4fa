"""The same ribbed wall as a solid: quadratic 20-node bricks, a quarter of it, linear elastic.

The bricks are integrated at eight points, as general-purpose programs do for bending.

Skin, ribs, side walls and a standing on the base are all blocks of one grid, so that eccentric
ribs, shear, shear lag, twist and crossings need no assumption. The two symmetry planes are exact
because the ribs stand at equal pitch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse.linalg as sparse_linalg
from skfem import Basis, BilinearForm, ElementHexS2, ElementVector, FacetBasis, LinearForm, MeshHex
from skfem.helpers import ddot, sym_grad, trace

from thermoforming.guard import Refused, finite, one_of, within
from thermoforming.physics.toolwall.wall import Wall

EDGES = ("supported", "clamped", "walls", "sliding", "free")
WITH_SIDES = ("walls", "sliding", "free")
REDUCED = 3  # eight points a brick: 20-node bricks bend too stiffly with more
NEAR = 1e-9  # two lengths closer than this are the same [m]


@dataclass(frozen=True)
class Solution:
    """Displacement of the forming face over a quarter of the wall, and greatest stress.

    `x`, `y` from the middle outward [m]; `inward[j, i]` at (x_i, y_j), positive toward the hollow
    [m]; `deflection` the greatest of the forming face and `greatest` that of any point, the far
    face of a panel included [m]; `stress` the greatest principal stress by magnitude at any
    integration point [Pa]; `unknowns` the size of the system.
    """

    x: np.ndarray
    y: np.ndarray
    inward: np.ndarray
    deflection: float
    greatest: float
    stress: float
    unknowns: int

    @property
    def bow(self) -> float:
        """Middle of the face against its farthest corner, positive inward. [m]"""
        return float(self.inward[0, 0] - self.inward[-1, -1])


def solve(wall: Wall, pressure: float, modulus, poisson: float, edge: str, fine: int = 3,
          strain=None) -> Solution:
    """Deform the ribbed wall under pressure on its forming face and, if given, thermal strain.

    .. math:: \\int \\sigma(u) : \\varepsilon(v) \\, dV = \\int p \\, n \\cdot v \\, dA
        + \\int \\sigma_{th} : \\varepsilon(v) \\, dV

    Parameters
    ----------
    wall : Wall
        One wall (floats). Side walls are modelled with all but the first two edges.
    pressure : float
        Net pressure on the forming face, positive inward, -10 to 10 MPa. [Pa]
    modulus : float or (depths, values)
        Young's modulus, > 0, or a table of it over the depth below the forming face; beyond the
        table its last value holds. [Pa], depths [m]
    poisson : float
        Poisson's ratio, 0 to 0.49. [1]
    edge : str
        "supported" or "clamped" at the wall's outline, "walls": on its own side walls, which
        stand fixed on the base, "sliding": the same, but free to grow along it, or "free": held
        at the middle only. The last two are for bowing.
    fine : int
        Half the elements between ribs; those over the height follow from it, 1 to 8. [1]
    strain : None or (depths, values)
        Free thermal strain over the depth below the forming face. [1], depths [m]

    Returns
    -------
    Solution
        Displacements and stress.

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the edge is unknown.

    Notes
    -----
    Small strain and deflection. Stress at the sharp inner corners grows without end as the mesh
    is refined, deflection converges; `fillet_factor` stands for the corner.

    References
    ----------
    Gustafsson & McBain, scikit-fem, J. Open Source Software 5 (2020) 2369.
    """
    within("clear distance between ribs", wall.panel[0], 0.0, unit="m", above=True)
    _checked(pressure, modulus, poisson, edge, fine, strain)
    mesh, face = _mesh(wall, edge, fine)
    element = ElementVector(ElementHexS2())
    basis = Basis(mesh, element, intorder=REDUCED)
    depth = wall.skin - basis.global_coordinates().value[2]
    young = _over(depth, modulus)
    stiffness = _stiffness.assemble(basis, young=young, poisson=poisson)
    above = FacetBasis(mesh, element, facets=face, intorder=4)
    load = _push.assemble(above, pressure=pressure)
    swell = np.zeros_like(depth) if strain is None else _over(depth, strain)
    if strain is not None:
        load = load + _swell.assemble(basis, young=young, poisson=poisson, free=swell)
    u = _solved(stiffness, load, _held(wall, edge, basis, mesh))
    x, y, inward = _face(mesh, basis, u, wall.skin)
    stress = _greatest_stress(basis, u, young, poisson, swell)
    # points of integration lie in the middle of a facet too, where a bay has no vertex
    deflection = max(float(np.abs(p).max()) for p in (inward, above.interpolate(u).value[2]))
    greatest = max(deflection, float(np.abs(u[basis.nodal_dofs[2]]).max()))
    return Solution(x, y, inward, deflection, greatest, stress, stiffness.shape[0])


def unknowns(wall: Wall, edge: str, fine: int) -> int:
    """Size of the system that `solve` would set up, to choose a fineness by.

    .. math:: 3 n

    Parameters
    ----------
    wall : Wall
        One wall.
    edge : str
        As in `solve`.
    fine : int
        As in `solve`. [1]

    Returns
    -------
    int
        Displacements to be found, held ones included.

    Raises
    ------
    Refused
        If the edge is unknown.
    """
    one_of("edge", edge, EDGES)
    mesh, _ = _mesh(wall, edge, fine)
    return 3 * (mesh.p.shape[1] + mesh.edges.shape[1])


def converged(deflections, elements) -> tuple[float, float]:
    """Limit of a sequence of deflections by Richardson's extrapolation, and the last one's error.

    .. math:: w_\\infty = w_2 + \\frac{w_2 - w_1}{(h_1/h_2)^p - 1}, \\quad p = 2

    Parameters
    ----------
    deflections : sequence of float
        From coarse to fine, two or more. [m]
    elements : sequence of int
        Fineness of each, rising. [1]

    Returns
    -------
    tuple of float
        Limit [m] and relative error of the finest. [1]

    Raises
    ------
    Refused
        If a value is not finite or there are fewer than two.

    Notes
    -----
    Order two is what was measured on ribbed walls with sharp inner corners (smooth plates do
    better), so the error is more likely over- than understated.

    References
    ----------
    Roache, Verification and Validation in Computational Science and Engineering (from memory).
    """
    w = np.asarray(finite("deflections", deflections), dtype=float)
    n = np.asarray(finite("elements", elements), dtype=float)
    if w.size < 2 or w.size != n.size or np.any(np.diff(n) <= 0.0):
        raise Refused("deflections", "Two or more deflections with rising fineness are needed.")
    limit = w[-1] + (w[-1] - w[-2]) / ((n[-1] / n[-2]) ** 2 - 1.0)
    return float(limit), float(abs(w[-1] / limit - 1.0))


# -- forms ----------------------------------------------------------------------------------------

def _lame(young, poisson):
    return (young * poisson / ((1.0 + poisson) * (1.0 - 2.0 * poisson)),
            young / (2.0 * (1.0 + poisson)))


@BilinearForm
def _stiffness(u, v, w):
    first, second = _lame(w.young, w.poisson)
    e, f = sym_grad(u), sym_grad(v)
    return first * trace(e) * trace(f) + 2.0 * second * ddot(e, f)


@LinearForm
def _push(v, w):
    return -w.pressure * v.value[2]


@LinearForm
def _swell(v, w):
    return w.young / (1.0 - 2.0 * w.poisson) * w.free * trace(sym_grad(v))


def _over(depth, value):
    """A constant, or a table over depth, at every integration point."""
    if isinstance(value, tuple):
        return np.interp(depth, *value)
    return np.full_like(depth, float(value))


def _checked(pressure, modulus, poisson, edge, fine, strain):
    one_of("edge", edge, EDGES)
    within("pressure", pressure, -10e6, 10e6, "Pa")
    within("Poisson's ratio", poisson, 0.0, 0.49)
    within("fineness", fine, 1, 8)
    within("modulus", modulus[1] if isinstance(modulus, tuple) else modulus, 0.0, unit="Pa",
           above=True)
    if strain is not None:
        within("thermal strain", strain[1], -0.1, 0.1)


# -- mesh -----------------------------------------------------------------------------------------

def _mesh(wall: Wall, edge: str, fine: int):
    """Bricks of a quarter of the wall, and the facets of its forming face."""
    side = wall.side if edge in WITH_SIDES else 0.0
    thick = wall.rib_thickness
    at_x = _middles(wall.ribs_across, wall.pitch_across)
    at_y = _middles(wall.ribs_along, wall.pitch_along)
    x = _lines(wall.length / 2.0, at_x, thick, fine, side)
    y = _lines(wall.width / 2.0, at_y, thick, fine, side)
    mesh = MeshHex.init_tensor(x, y, _levels(wall, side, fine))
    middle = mesh.p[:, mesh.t].mean(axis=1)
    rib = _in_rib(middle[0], at_x, thick) | _in_rib(middle[1], at_y, thick)
    outside = (middle[0] > wall.length / 2.0) | (middle[1] > wall.width / 2.0)
    kept = (middle[2] > 0.0) | outside | (rib & (middle[2] > -wall.height))
    mesh = mesh.restrict(np.flatnonzero(kept))
    return mesh, mesh.facets_satisfying(lambda p: np.abs(p[2] - wall.skin) < NEAR)


def _middles(number, pitch):
    """Middles of equally pitched ribs on the half that is modelled."""
    at = (np.arange(int(number)) - (int(number) - 1) / 2.0) * pitch
    return at[at > -NEAR]


def _lines(half: float, at, thick: float, fine: int, side: float):
    """Grid lines from the middle outward: ribs one element thick, 2 `fine` between them."""
    cuts = np.unique(np.round(np.concatenate([[0.0, half], at - thick / 2, at + thick / 2]), 12))
    cuts = cuts[cuts > -NEAR]
    lines = [np.zeros(1)]
    for a, b in zip(cuts[:-1], cuts[1:], strict=True):
        if _in_rib((a + b) / 2.0, at, thick):
            lines.append(np.array([b]))
        elif a < NEAR:  # half a bay (or half the plain wall): the middle needs no small elements
            parts = fine if len(at) else 2 * fine
            lines.append(a + (b - a) * np.sin(np.linspace(0.0, np.pi / 2, parts + 1))[1:])
        else:
            lines.append(a + (b - a) * _graded(2 * fine)[1:])
    if side:
        lines.append(half + side * np.linspace(0.0, 1.0, 1 + (fine + 1) // 2)[1:])
    return np.concatenate(lines)


def _graded(parts: int):
    """0 to 1 in steps that shrink toward both ends, where the wall meets other walls."""
    return (1.0 - np.cos(np.linspace(0.0, np.pi, parts + 1))) / 2.0


def _levels(wall: Wall, side: float, fine: int):
    """Grid lines over the height; the skin's inner face is zero."""
    lines = [np.linspace(0.0, wall.skin, 1 + min(fine, 2))]
    has_ribs = wall.ribs_along + wall.ribs_across > 0 and wall.height > NEAR
    height = float(wall.height) if has_ribs else 0.0
    if has_ribs:
        lines.insert(0, height * (_graded(max(2, fine)) - 1.0)[:-1])
    if side and wall.depth > height + NEAR:
        gap = wall.depth - height
        lines.insert(0, gap * (_graded(max(2, fine - 1)) - 1.0)[:-1] - height)
    return np.concatenate(lines)


def _in_rib(value, at, thick):
    value = np.asarray(value)
    return (np.abs(value[..., None] - at) < thick / 2.0 + NEAR).any(axis=-1)


# -- solution -------------------------------------------------------------------------------------

def _held(wall: Wall, edge: str, basis, mesh):
    """Unknowns that are zero: symmetry, outline, base."""
    def on(axis, value):
        return basis.get_dofs(mesh.facets_satisfying(
            lambda p: np.abs(p[axis] - value) < NEAR, boundaries_only=True))

    end, flank = on(0, wall.length / 2.0), on(1, wall.width / 2.0)
    held = [on(0, 0.0).all("u^1"), on(1, 0.0).all("u^2")]
    if edge == "supported":
        held += [end.all(["u^2", "u^3"]), flank.all(["u^1", "u^3"])]
    elif edge == "clamped":
        held += [end.all(), flank.all()]
    elif edge == "free":
        middle = np.flatnonzero(np.abs(mesh.p - [[0.0], [0.0], [wall.skin]]).sum(axis=0) < NEAR)
        held.append(basis.nodal_dofs[2, middle])
    if edge == "sliding":
        held.append(on(2, -wall.depth).all("u^3"))
    elif edge == "walls" or (wall.on_base and edge != "free"):
        held.append(on(2, -wall.depth).all())
    return np.unique(np.concatenate(held))


def _solved(stiffness, load, held):
    """Displacements by sparse factorisation of the symmetric system."""
    loose = np.setdiff1d(np.arange(load.size), held)
    part = stiffness[loose][:, loose].tocsc()
    factor = sparse_linalg.splu(part, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                                options={"SymmetricMode": True})
    u = np.zeros_like(load)
    u[loose] = factor.solve(load[loose])
    return u


def _face(mesh, basis, u, skin):
    """Inward displacement at the vertices of the forming face, on the grid's lines."""
    top = np.flatnonzero(np.abs(mesh.p[2] - skin) < NEAR)
    top = top[np.lexsort((np.round(mesh.p[0, top], 9), np.round(mesh.p[1, top], 9)))]
    x, y = (np.unique(np.round(mesh.p[axis, top], 9)) for axis in (0, 1))
    return x, y, -u[basis.nodal_dofs[2, top]].reshape(y.size, x.size)


def _greatest_stress(basis, u, young, poisson, swell) -> float:
    """Greatest principal stress by magnitude at the integration points."""
    e = sym_grad(basis.interpolate(u)) - np.eye(3)[:, :, None, None] * swell
    first, second = _lame(young, poisson)
    stress = 2.0 * second * e + first * trace(e) * np.eye(3)[:, :, None, None]
    return float(np.abs(np.linalg.eigvalsh(np.moveaxis(stress, (0, 1), (-2, -1)))).max())
