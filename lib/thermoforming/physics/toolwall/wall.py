"""The ribbed wall by hand calculation: deflection, stress and buckling, edges bracketed.

The skin spans between ribs as panels, the ribs span the wall as an orthotropic plate. Both are
worked out twice, with supported and with clamped edges: the wall lies between.

Every function takes floats or arrays that broadcast, so that a search tries thousands at once.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from thermoforming.guard import one_of, within
from thermoforming.physics.toolwall import plates, ribs

CLAMPED_SPAN = 0.58  # of a clamped beam: between the points where the moment changes sign
FREE_EDGE = 0.43  # buckling factor, one long edge free and the other supported
SUPPORTED_EDGES = 4.0  # buckling factor, both long edges supported


@dataclass(frozen=True)
class Wall:
    """A flat ribbed wall on its base; floats or arrays. Lengths in m.

    The wall is length x width between the faces of its side walls, with ribs at equal pitch on
    the hollow's side. `depth` is the clear height from the skin's inner face to the base, `side`
    the thickness of the side walls (zero: none). Ribs `on_base` reach down and stand on it.
    """

    length: float
    width: float
    skin: float
    rib_thickness: float
    rib_height: float
    ribs_along: float
    ribs_across: float
    depth: float
    side: float
    on_base: bool = False

    def __post_init__(self):
        for name in ("length", "width", "skin", "rib_thickness", "depth"):
            within(name.replace("_", " "), getattr(self, name), 0.0, unit="m", above=True)
        for name in ("rib_height", "side"):
            within(name.replace("_", " "), getattr(self, name), 0.0, unit="m")
        for name in ("ribs_along", "ribs_across"):
            within(name.replace("_", " "), getattr(self, name), 0, 60)

    @property
    def height(self):
        """Height of the ribs: down to the base where they stand on it. [m]"""
        return self.depth if self.on_base else np.minimum(self.rib_height, self.depth)

    @property
    def pitch_along(self):
        """Distance, middle to middle, of the ribs that run along the length. [m]"""
        return (self.width + self.rib_thickness) / (self.ribs_along + 1.0)

    @property
    def pitch_across(self):
        """Distance, middle to middle, of the ribs that run across. [m]"""
        return (self.length + self.rib_thickness) / (self.ribs_across + 1.0)

    @property
    def panel(self):
        """Clear short and long side of the panels between ribs. [m]"""
        sides = (self.pitch_along - self.rib_thickness, self.pitch_across - self.rib_thickness)
        return np.minimum(*sides), np.maximum(*sides)


@dataclass(frozen=True)
class Warm:
    """The wall's material at its temperature and after its time under load; floats or arrays."""

    modulus: float  # creep included [Pa]
    poisson: float
    strength: float  # fatigue included [Pa]
    density: float  # [kg/m3]


@dataclass(frozen=True)
class Hand:
    """Results for one kind of edge. Deflections in m, stresses in Pa, buckling as factors."""

    panel_deflection: np.ndarray
    grid_deflection: np.ndarray
    deflection: np.ndarray
    panel_stress: np.ndarray
    rib_stress: np.ndarray
    stress: np.ndarray
    skin_buckling: np.ndarray
    rib_buckling: np.ndarray
    side_deflection: np.ndarray
    side_stress: np.ndarray
    side_buckling: np.ndarray
    slenderness: np.ndarray  # panel deflection over thickness
    large: np.ndarray  # panel deflection with membrane action [m]

    @property
    def buckling(self):
        """The least of the buckling factors."""
        return np.minimum(np.minimum(self.skin_buckling, self.rib_buckling), self.side_buckling)


def volume(wall: Wall):
    """Volume of material in skin, ribs and side walls.

    .. math:: V = (L + 2 s)(W + 2 s) t + V_{ribs} + V_{sides}

    Parameters
    ----------
    wall : Wall
        The wall.

    Returns
    -------
    float or array
        Volume, crossings counted once. [m3]

    References
    ----------
    Geometry.
    """
    outer = (wall.length + 2.0 * wall.side) * (wall.width + 2.0 * wall.side)
    crossings = wall.ribs_along * wall.ribs_across * wall.rib_thickness
    run = wall.ribs_along * wall.length + wall.ribs_across * wall.width - crossings
    sides = outer - wall.length * wall.width
    return outer * wall.skin + run * wall.rib_thickness * wall.height + sides * wall.depth


def hand(wall: Wall, pressure, warm: Warm, edge: str) -> Hand:
    """Deflection, stress and buckling factors of a ribbed wall under pressure.

    .. math:: w = w_{grid} + w_{panel}, \\quad \\sigma = \\max(\\sigma_{skin}, \\sigma_{rib})

    Parameters
    ----------
    wall : Wall
        The wall; its ribs hang free or stand on the base.
    pressure : float or array
        Net pressure, positive inward, any sign. [Pa]
    warm : Warm
        Its material as it is under the load.
    edge : str
        "supported" or "clamped": of the panels on their ribs and of the ribs at the side walls.

    Returns
    -------
    Hand
        Magnitudes; deflections are toward the side to which the pressure pushes.

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the edge is unknown.

    Notes
    -----
    Greatest values are added as if they met in one place: the sum is on the safe side. Small
    deflections; `slenderness` above one half says that the panels pass that, `large` is then the
    estimate with membrane action. Hold it against the finite elements of `fe`.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells (from memory).
    """
    one_of("edge", edge, plates.EDGES)
    within("clear distance between ribs", wall.panel[0], 0.0, unit="m", above=True)
    load = np.abs(pressure)
    panel_w, panel_s, c = _panels(wall, load, warm, edge)
    grid_w, skin_s, rib_s, squeeze, tip = _standing(wall, load, warm) if wall.on_base \
        else _hanging(wall, load, np.asarray(pressure) >= 0.0, warm, edge)
    short = wall.panel[0]
    side_w, side_s, side_b = _sides(wall, load, warm, edge)
    skin_cr = plates.critical_stress(warm.modulus, warm.poisson, wall.skin, short, SUPPORTED_EDGES)
    return Hand(panel_w, grid_w, panel_w + grid_w, panel_s, rib_s,
                np.maximum(panel_s + skin_s, rib_s), _factor(skin_cr, squeeze),
                _rib_buckling(wall, warm, tip), side_w, side_s, side_b, panel_w / wall.skin,
                plates.large_deflection(panel_w, wall.skin, c["stiffening"]))


def brackets(wall: Wall, pressure, warm: Warm) -> dict[str, Hand]:
    """`hand` for both kinds of edge.

    .. math:: w_{clamped} \\le w \\le w_{supported}

    Parameters
    ----------
    wall, pressure, warm
        As in `hand`.

    Returns
    -------
    dict of str to Hand
        By edge.

    References
    ----------
    See `hand`.
    """
    return {edge: hand(wall, pressure, warm, edge) for edge in plates.EDGES}


def worse(wall_by_edge: dict[str, Hand], name: str):
    """The less favourable of the two edges: the larger, of buckling factors the smaller.

    .. math:: \\max(x_{supported}, x_{clamped})

    Parameters
    ----------
    wall_by_edge : dict of str to Hand
        From `brackets`.
    name : str
        A field of `Hand`, or "buckling".

    Returns
    -------
    float or array
        In the unit of the field.

    Raises
    ------
    Refused
        If there is no such field.
    """
    one_of("result", name, [f.name for f in fields(Hand)] + ["buckling"])
    pick = np.minimum if "buckling" in name else np.maximum
    return pick(*(getattr(wall_by_edge[edge], name) for edge in plates.EDGES))


# -- parts of the hand calculation ----------------------------------------------------------------

def _panels(wall, load, warm, edge):
    """Deflection and stress of the panels between ribs, and their coefficients."""
    short, long = wall.panel
    deflection = plates.panel_deflection(load, short, long, wall.skin, warm.modulus,
                                         warm.poisson, edge)
    stress = plates.panel_stress(load, short, long, wall.skin, warm.poisson, edge)
    return deflection, stress, plates.coefficients(np.asarray(long) / short, edge)


def _hanging(wall, load, inward, warm, edge):
    """Ribs that span the wall: deflection, skin and rib stress, compression in skin and ribs."""
    grid, bent, shear = _grid(wall, warm, edge)
    has = (np.asarray(wall.ribs_along) + wall.ribs_across) > 0
    middle = _strains(grid, bent.bend_x, bent.bend_y)
    at_x, at_y = _strains(grid, bent.edge_x, 0.0), _strains(grid, 0.0, bent.edge_y)
    mean = [_skin_stress(s, axis, warm) for s, axis in ((middle, 0), (middle, 1), (at_x, 0),
                                                        (at_y, 1))]
    tips = [_tip(wall, warm, s, axis, curve) for s, axis, curve in (
        (middle, 0, bent.bend_x), (middle, 1, bent.bend_y), (at_x, 0, bent.edge_x),
        (at_y, 1, bent.edge_y))]
    sign = np.where(inward, 1.0, -1.0)
    skin, rib, pressed_skin, pressed_tip = (np.where(has, load * v, 0.0) for v in (
        _greatest(map(np.abs, mean)), _greatest(map(np.abs, tips)),
        _greatest(-sign * v for v in mean), _greatest(-sign * v for v in tips)))
    return (load * np.where(has, bent.deflection + shear, 0.0), skin, rib, pressed_skin,
            pressed_tip)


def _greatest(values):
    """The greatest of several arrays, at least zero."""
    return np.maximum(0.0, np.maximum.reduce(np.broadcast_arrays(*values)))


def _tip(wall, warm, strain, axis, curvature):
    """Stress at the tips of the ribs along one axis; zero where there are none."""
    number = wall.ribs_along if axis == 0 else wall.ribs_across
    reach = wall.skin / 2.0 + wall.height
    return np.where(number, warm.modulus * (strain[axis] + reach * curvature), 0.0)


def _grid(wall, warm, edge):
    """The ribbed skin as an orthotropic plate, its bending and its shear deflection."""
    shrink = CLAMPED_SPAN if edge == "clamped" else 1.0
    working = [ribs.effective_width(pitch, span * shrink, warm.poisson) for pitch, span in (
        (wall.pitch_along, wall.length), (wall.pitch_across, wall.width))]
    # n ribs and the deflected shape sin: sum of sin^2 = (n + 1)/2, so one rib per pitch counts
    counts = [np.where(number, 1.0 / pitch, 0.0) for number, pitch in (
        (wall.ribs_along, wall.pitch_along), (wall.ribs_across, wall.pitch_across))]
    grid = ribs.smeared(wall.skin, wall.rib_thickness, wall.height, *counts, warm.modulus,
                        warm.poisson, *working)
    flexure = plates.orthotropic(wall.length, wall.width, grid.bend_x, grid.bend_y, grid.twist,
                                 edge, 6)
    shear = plates.shear_deflection(wall.length, wall.width, grid.shear_x, grid.shear_y, 12)
    return grid, flexure, shear


def _strains(grid, curve_x, curve_y):
    """Strain of the skin's middle plane along x and y from the curvatures."""
    return (grid.shift_xx * curve_x + grid.shift_xy * curve_y,
            grid.shift_yx * curve_x + grid.shift_yy * curve_y)


def _skin_stress(strain, axis, warm):
    """Membrane stress of the skin along one axis from its two strains."""
    plane = warm.modulus / (1.0 - warm.poisson**2)
    return plane * (strain[axis] + warm.poisson * strain[1 - axis])


def _standing(wall, load, warm):
    """Ribs that stand on the base: shortening, no bending, compression in the ribs.

    All ribs shorten alike under the mean of the load; in the middle of a bay's side a rib bears
    the whole of its strip, as if the ribs ran one way only.
    """
    runs = [np.where(number, 1.0 / pitch, 0.0) for number, pitch in (
        (wall.ribs_along, wall.pitch_along), (wall.ribs_across, wall.pitch_across))]
    ground = wall.rib_thickness * (runs[0] + runs[1])  # share of the plan that stands
    has = ground > 0.0
    mean = np.where(has, load / np.where(has, ground, 1.0), 0.0)
    most = load * np.minimum(wall.pitch_along, wall.pitch_across) / wall.rib_thickness
    stress = np.where(has, most, 0.0)
    return mean * wall.height / warm.modulus, np.zeros_like(stress), stress, \
        np.zeros_like(stress), stress


def _rib_buckling(wall, warm, compression):
    """Buckling factor of the ribs: the free edge of a hanging one, a standing one as a wide column.

    A standing rib is taken as pinned at skin and base.
    """
    height = np.maximum(wall.height, 1e-6)
    critical = plates.critical_stress(warm.modulus, warm.poisson, wall.rib_thickness, height,
                                      1.0 if wall.on_base else FREE_EDGE)
    return _factor(critical, compression)


def _factor(critical, compression):
    """Critical over acting compression; infinite where nothing presses."""
    pressed = np.asarray(compression) > 1e-3
    return np.where(pressed, critical / np.where(pressed, compression, 1.0), np.inf)


def _sides(wall, load, warm, edge):
    """Side walls: pressed sideways like the top, and squeezed by what the top hands down."""
    thickness = np.maximum(wall.side, 1e-6)
    bay = (wall.pitch_across if wall.on_base else wall.length) * np.ones_like(load * 1.0)
    short, long = np.minimum(wall.depth, bay), np.maximum(wall.depth, bay)
    has = np.asarray(wall.side) > 0.0
    w = plates.panel_deflection(load, short, long, thickness, warm.modulus, warm.poisson, edge)
    s = plates.panel_stress(load, short, long, thickness, warm.poisson, edge)
    perimeter = 2.0 * (wall.length + wall.width)
    down = load * wall.length * wall.width / (perimeter * thickness)
    critical = plates.critical_stress(warm.modulus, warm.poisson, thickness, wall.depth, 1.0)
    return (np.where(has, w, 0.0), np.where(has, s + down, 0.0),
            _factor(critical, np.where(has, down, 0.0)))
