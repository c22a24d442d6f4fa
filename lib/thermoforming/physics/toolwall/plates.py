"""Flat plates under uniform pressure: rectangular (isotropic or ribbed) and circular.

A rectangular plate is solved between its two limits of edge: simply supported by Navier's double
sine series, clamped by Ritz's method with polynomials whose second derivatives are Legendre
polynomials. Both are converged solutions of thin-plate theory, not curve fits.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.interpolate import CubicSpline

from thermoforming.guard import one_of, within

EDGES = ("supported", "clamped")
LONGEST = 8.0  # sides ratio beyond which a plate is taken as a strip of this ratio (0.02 % off)
SHEAR_SHARE = 5.0 / 6.0  # share of the section that carries shear, rectangle
SMALL = 0.5  # deflection over thickness up to which small-deflection theory is used


@dataclass(frozen=True)
class Flexure:
    """Deflection, curvatures and edge moments of a plate; floats or arrays of one shape.

    `deflection` at the centre; `bend_x`, `bend_y` are -w_xx, -w_yy at the centre; `edge_x` is the
    curvature -w_xx at the middle of the edges x = const (hogging, so negative; zero if supported),
    `edge_y` likewise.
    """

    deflection: np.ndarray
    bend_x: np.ndarray
    bend_y: np.ndarray
    edge_x: np.ndarray
    edge_y: np.ndarray


def rigidity(modulus, thickness, poisson):
    """Flexural rigidity of a plate.

    .. math:: D = \\frac{E t^3}{12 (1 - \\nu^2)}

    Parameters
    ----------
    modulus : float or array
        Young's modulus E at the wall's temperature, > 0. [Pa]
    thickness : float or array
        Plate thickness t, > 0. [m]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]

    Returns
    -------
    float or array
        D. [N m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., eq. 3 (from memory).
    """
    within("modulus", modulus, 0.0, unit="Pa", above=True)
    within("thickness", thickness, 0.0, unit="m", above=True)
    within("Poisson's ratio", poisson, 0.0, 0.5, below=True)
    return modulus * thickness**3 / (12.0 * (1.0 - poisson**2))


def orthotropic(length, width, rigidity_x, rigidity_y, rigidity_xy, edge: str,
                terms: int = 8) -> Flexure:
    """Bending of a rectangular orthotropic plate under one pascal of uniform pressure.

    .. math:: D_x w_{xxxx} + 2 H w_{xxyy} + D_y w_{yyyy} = 1

    Parameters
    ----------
    length, width : float or array
        Sides along x and y, > 0. [m]
    rigidity_x, rigidity_y : float or array
        Bending stiffness per width along x and along y, > 0. [N m]
    rigidity_xy : float or array
        H, coupling and twist together, >= 0; equal to the others in an isotropic plate. [N m]
    edge : str
        "supported" or "clamped" all round.
    terms : int
        Functions per direction, 2 to 40; supported plates take five times as many, which cost
        little. [1]

    Returns
    -------
    Flexure
        Per pascal: deflection [m/Pa], curvatures [1/(m Pa)].

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the edge is unknown.

    Notes
    -----
    Thin plate, small deflection. A ribbed wall is one in the mean over several ribs.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 28, 85 (from memory).
    """
    one_of("edge", edge, EDGES)
    within("terms", terms, 2, 40)
    for name, value in (("length", length), ("width", width)):
        within(name, value, 0.0, unit="m", above=True)
    for name, value in (("rigidity along x", rigidity_x), ("rigidity along y", rigidity_y)):
        within(name, value, 0.0, unit="N m", above=True)
    within("twist rigidity", rigidity_xy, 0.0, unit="N m")
    a, b, dx, dy, h = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (
        length, width, rigidity_x, rigidity_y, rigidity_xy)))
    solve = _navier if edge == "supported" else _ritz
    return solve(a, b, dx, dy, h, terms)


def shear_deflection(length, width, shear_x, shear_y, terms: int = 40):
    """Deflection by shear at the centre of a rectangular plate under one pascal.

    .. math:: S_x w_{xx} + S_y w_{yy} = -1, \\quad w = 0 \\text{ at the edges}

    Parameters
    ----------
    length, width : float or array
        Sides along x and y, > 0. [m]
    shear_x, shear_y : float or array
        Shear stiffness per width in the planes xz and yz, > 0; 5/6 G t for a plain plate. [N/m]
    terms : int
        Sine terms per direction, 2 to 200. [1]

    Returns
    -------
    float or array
        Deflection to add to that by bending. [m/Pa]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Exact for a supported polygon (Marcus); for clamped edges it leaves out that shear also loosens
    the clamping: about a tenth of the shear part for a square (shown in the tests).

    References
    ----------
    Wang, Reddy & Lee, Shear Deformable Beams and Plates (2000), ch. 8 (from memory).
    """
    for name, value in (("length", length), ("width", width)):
        within(name, value, 0.0, unit="m", above=True)
    for name, value in (("shear stiffness x", shear_x), ("shear stiffness y", shear_y)):
        within(name, value, 0.0, unit="N/m", above=True)
    within("terms", terms, 2, 200)
    a, b, sx, sy = (np.asarray(v, dtype=float)[..., None, None]
                    for v in np.broadcast_arrays(length, width, shear_x, shear_y))
    m, n, load, centre = _sines(terms)
    amplitude = load / (sx * (m / a) ** 2 + sy * (n / b) ** 2)
    return (amplitude * centre).sum(axis=(-1, -2))


def coefficients(aspect, edge: str) -> dict[str, np.ndarray]:
    """Coefficients of an isotropic rectangular plate under uniform pressure q.

    .. math:: w = \\alpha \\frac{q a^4}{D}, \\quad M = \\beta q a^2, \\quad
        \\beta_{short} = k_{short} + \\nu k_{long}

    Parameters
    ----------
    aspect : float or array
        Long side over short side a, >= 1. [1]
    edge : str
        "supported" or "clamped" all round.

    Returns
    -------
    dict of str to float or array
        deflection (alpha), bend_short and bend_long (k, curvatures at the centre times
        D / (q a^2)), edge_long and edge_short (moment at the middle of the long and the short
        edge, hogging negative), shear (shear deflection times shear stiffness / (q a^2)),
        stiffening (see `large_deflection`). [1]

    Raises
    ------
    Refused
        If the aspect is not finite or below one, or the edge is unknown.

    Notes
    -----
    Thin plate (short side above about ten thicknesses), small deflection. Beyond an aspect of
    eight the plate is taken as one of eight, 0.02 % short of an endless strip.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., tables 8 and 35: the
    tests compare.
    """
    within("aspect", aspect, 1.0)
    one_of("edge", edge, EDGES)
    values = _table(edge)(1.0 / np.minimum(np.asarray(aspect, dtype=float), LONGEST))
    return dict(zip(_NAMES, np.moveaxis(values, -1, 0), strict=True))


def moments(aspect, poisson, edge: str) -> dict[str, np.ndarray]:
    """Moment coefficients M / (q a^2) of an isotropic rectangular plate.

    .. math:: M_{short} = (k_{short} + \\nu k_{long}) q a^2

    Parameters
    ----------
    aspect : float or array
        Long side over short side a, >= 1. [1]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]
    edge : str
        "supported" or "clamped" all round.

    Returns
    -------
    dict of str to float or array
        centre_short, centre_long, edge_long, edge_short. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., tables 8 and 35.
    """
    within("Poisson's ratio", poisson, 0.0, 0.5, below=True)
    c = coefficients(aspect, edge)
    return {"centre_short": c["bend_short"] + poisson * c["bend_long"],
            "centre_long": c["bend_long"] + poisson * c["bend_short"],
            "edge_long": c["edge_long"], "edge_short": c["edge_short"]}


def panel_deflection(pressure, short, long, thickness, modulus, poisson, edge: str,
                     with_shear: bool = True):
    """Centre deflection of a rectangular panel, bending and shear, small-deflection theory.

    .. math:: w = \\alpha \\frac{q a^4}{D} + \\psi \\frac{q a^2}{\\tfrac56 G t}

    Parameters
    ----------
    pressure : float or array
        Uniform pressure q, any sign. [Pa]
    short, long : float or array
        Sides, short <= long, > 0. [m]
    thickness : float or array
        Thickness t, > 0. [m]
    modulus : float or array
        Young's modulus at temperature, > 0. [Pa]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]
    edge : str
        "supported" or "clamped" all round.
    with_shear : bool
        Add the shear part; thin-plate theory alone without.

    Returns
    -------
    float or array
        Deflection in the direction of the pressure. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    For a 100 mm square of 6 mm the thin-plate part alone reads 1.8 % low supported and 6 % low
    clamped. Past half the thickness the plate stiffens by membrane action: `large_deflection`.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (from memory).
    """
    c = coefficients(np.asarray(long) / np.asarray(short), edge)
    w = c["deflection"] * pressure * short**4 / rigidity(modulus, thickness, poisson)
    if with_shear:
        stiffness = SHEAR_SHARE * modulus / (2.0 * (1.0 + poisson)) * thickness
        w = w + c["shear"] * pressure * short**2 / stiffness
    return w


def panel_stress(pressure, short, long, thickness, poisson, edge: str):
    """Greatest bending stress of a rectangular panel.

    .. math:: \\sigma = \\frac{6 M}{t^2}

    Parameters
    ----------
    pressure : float or array
        Uniform pressure, any sign. [Pa]
    short, long : float or array
        Sides, short <= long, > 0. [m]
    thickness : float or array
        Thickness t, > 0. [m]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]
    edge : str
        "supported" (greatest at the centre) or "clamped" (greatest at the long edge's middle).

    Returns
    -------
    float or array
        Magnitude of the stress at the surface. [Pa]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (from memory).
    """
    within("thickness", thickness, 0.0, unit="m", above=True)
    m = moments(np.asarray(long) / np.asarray(short), poisson, edge)
    greatest = m["centre_short"] if edge == "supported" else -m["edge_long"]
    return 6.0 * greatest * np.abs(pressure) * (short / thickness) ** 2


def large_deflection(small, thickness, stiffening):
    """Deflection with the membrane tension of edges that cannot move inward.

    .. math:: w \\left(1 + c \\frac{w^2}{t^2}\\right) = w_{small}

    Parameters
    ----------
    small : float or array
        Deflection by small-deflection theory, >= 0. [m]
    thickness : float or array
        Plate thickness t, > 0. [m]
    stiffening : float or array
        c of `coefficients`, >= 0. [1]

    Returns
    -------
    float or array
        Deflection, at most `small`. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Berger's approximation in one mode: an estimate to some 10 % up to w = 2 t, for edges held in
    the plane, which continuous panels are. Small-deflection results are kept as the upper bound.

    References
    ----------
    Berger, J. Appl. Mech. 22 (1955) 465 (from memory).
    """
    within("deflection", small, 0.0, unit="m")
    within("thickness", thickness, 0.0, unit="m", above=True)
    within("stiffening", stiffening, 0.0)
    ratio, c = np.asarray(small, dtype=float) / thickness, np.maximum(stiffening, 1e-12)
    # real root of c x^3 + x - ratio = 0 (Cardano in hyperbolic form, no cancellation)
    scale = 2.0 / np.sqrt(3.0 * c)
    return thickness * scale * np.sinh(np.arcsinh(1.5 * ratio * np.sqrt(3.0 * c)) / 3.0)


def circular_deflection(pressure, radius, thickness, modulus, poisson, edge: str):
    """Centre deflection of a circular plate.

    .. math:: w = \\frac{q r^4}{64 D} \\ (\\text{clamped}), \\quad
        w = \\frac{5 + \\nu}{1 + \\nu} \\frac{q r^4}{64 D} \\ (\\text{supported})

    Parameters
    ----------
    pressure : float or array
        Uniform pressure q, any sign. [Pa]
    radius : float or array
        Radius r, > 0. [m]
    thickness : float or array
        Thickness, > 0. [m]
    modulus : float or array
        Young's modulus at temperature, > 0. [Pa]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]
    edge : str
        "supported" or "clamped".

    Returns
    -------
    float or array
        Deflection. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Small deflection: past half the thickness it is an upper bound.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 16 (from memory).
    """
    one_of("edge", edge, EDGES)
    within("radius", radius, 0.0, unit="m", above=True)
    clamped = pressure * radius**4 / (64.0 * rigidity(modulus, thickness, poisson))
    return clamped if edge == "clamped" else (5.0 + poisson) / (1.0 + poisson) * clamped


def circular_stress(pressure, radius, thickness, poisson, edge: str):
    """Greatest bending stress of a circular plate.

    .. math:: \\sigma = \\frac{3 q r^2}{4 t^2} \\ (\\text{clamped, edge}), \\quad
        \\sigma = \\frac{3 (3 + \\nu) q r^2}{8 t^2} \\ (\\text{supported, centre})

    Parameters
    ----------
    pressure : float or array
        Uniform pressure q, any sign. [Pa]
    radius : float or array
        Radius r, > 0. [m]
    thickness : float or array
        Thickness t, > 0. [m]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]
    edge : str
        "supported" or "clamped".

    Returns
    -------
    float or array
        Magnitude of the stress. [Pa]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 16 (from memory).
    """
    one_of("edge", edge, EDGES)
    within("radius", radius, 0.0, unit="m", above=True)
    within("thickness", thickness, 0.0, unit="m", above=True)
    within("Poisson's ratio", poisson, 0.0, 0.5, below=True)
    factor = 0.75 if edge == "clamped" else 3.0 * (3.0 + poisson) / 8.0
    return factor * np.abs(pressure) * (radius / thickness) ** 2


def critical_stress(modulus, poisson, thickness, breadth, factor):
    """Stress at which a long plate strip buckles.

    .. math:: \\sigma_{cr} = k \\frac{\\pi^2 E}{12 (1 - \\nu^2)} \\left(\\frac{t}{b}\\right)^2

    Parameters
    ----------
    modulus : float or array
        Young's modulus at temperature, > 0. [Pa]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]
    thickness, breadth : float or array
        Thickness t and loaded breadth b, > 0. [m]
    factor : float or array
        k, > 0: 4 both edges supported, 6.97 both clamped, 0.43 one edge free and the other
        supported, 1.28 one free and the other clamped. [1]

    Returns
    -------
    float or array
        Critical compressive stress. [Pa]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Elastic, perfectly flat; real plates are printed with a bow, hence a factor of two or more.

    References
    ----------
    Timoshenko & Gere, Theory of Elastic Stability, ch. 9 (k from memory).
    """
    within("breadth", breadth, 0.0, unit="m", above=True)
    within("buckling factor", factor, 0.0, above=True)
    d = rigidity(modulus, thickness, poisson)
    return factor * np.pi**2 * d / (thickness * breadth**2)


# -- the two solutions ---------------------------------------------------------------------------

def _sines(terms: int):
    """Odd wave numbers times pi (column, row), the load's coefficients, values at the centre."""
    k = 2 * np.arange(terms) + 1
    sign = np.where(k % 4 == 1, 1.0, -1.0)
    load = 16.0 / (np.pi**2 * np.outer(k, k))
    return np.pi * k[:, None], np.pi * k[None, :], load, np.outer(sign, sign)


def _navier(a, b, dx, dy, h, terms) -> Flexure:
    m, n, load, centre = _sines(5 * terms)
    a, b, dx, dy, h = (v[..., None, None] for v in (a, b, dx, dy, h))
    p, r = (m / a) ** 2, (n / b) ** 2
    w = load * centre / (dx * p**2 + 2.0 * h * p * r + dy * r**2)
    total = (w.sum(axis=(-1, -2)), (w * p).sum(axis=(-1, -2)), (w * r).sum(axis=(-1, -2)))
    zero = np.zeros_like(total[0])
    return Flexure(*total, zero, zero)


@cache
def _beam_functions(terms: int):
    """Clamped functions on -1..1 with f'' a Legendre polynomial of even degree 2, 4, ...

    Returns the matrices of f''f'' (diagonal), f'f', ff, the functions at the centre, and f'' at
    the centre and at the end. Only the first function has a mean: 2/15.
    """
    degree = 2 * terms + 4
    legendre = np.eye(degree + 1)
    even = 2 * np.arange(1, terms + 1)

    def integral(n):  # of P_n, in Legendre coefficients
        return (legendre[n + 1] - legendre[n - 1]) / (2 * n[:, None] + 1)

    slope = integral(even)
    value = (integral(even + 1) - integral(even - 1)) / (2 * even[:, None] + 1)
    weight = 2.0 / (2 * np.arange(degree + 1) + 1)
    at_zero = np.polynomial.legendre.legval(0.0, legendre)
    return (2.0 / (2 * even + 1), slope * weight @ slope.T, value * weight @ value.T,
            value @ at_zero, at_zero[even])


def _ritz(a, b, dx, dy, h, terms) -> Flexure:
    k2, k1, k0, middle, bend = _beam_functions(terms)
    diagonal = np.diag(k2)
    shape = a.shape
    a, b, dx, dy, h = (np.ravel(v)[:, None, None] for v in (a, b, dx, dy, h))
    stiffness = (dx * (2 / a) ** 4 * np.kron(diagonal, k0)
                 + 2 * h * (4 / (a * b)) ** 2 * np.kron(k1, k1)
                 + dy * (2 / b) ** 4 * np.kron(k0, diagonal))
    load = np.zeros((terms * terms, 1))
    load[0, 0] = (2.0 / 15.0) ** 2
    # scaled by the diagonal, because the functions shrink quickly with their degree
    root = 1.0 / np.sqrt(np.einsum("kii->ki", stiffness))[..., None]
    scaled = stiffness * root * np.swapaxes(root, 1, 2)
    c = (root * np.linalg.solve(scaled, root * load)).reshape(-1, terms, terms)
    curve_x, curve_y = -((2 / a[:, 0, 0]) ** 2), -((2 / b[:, 0, 0]) ** 2)
    one = np.ones(terms)

    def along(left, right):
        return np.einsum("kij,i,j->k", c, left, right)

    found = (along(middle, middle), curve_x * along(bend, middle), curve_y * along(middle, bend),
             curve_x * along(one, middle), curve_y * along(middle, one))
    return Flexure(*(v.reshape(shape) for v in found))


# -- isotropic plates, tabulated once ------------------------------------------------------------

_NAMES = ("deflection", "bend_short", "bend_long", "edge_long", "edge_short", "shear", "stiffening")
_TERMS = 14


@cache
def _table(edge: str) -> CubicSpline:
    """Spline of the coefficients over short / long side, through directly solved plates."""
    ratio = np.linspace(1.0 / LONGEST, 1.0, 48)
    one = np.ones_like(ratio)
    f = orthotropic(one, 1.0 / ratio, one, one, one, edge, _TERMS)
    shear = shear_deflection(one, 1.0 / ratio, one, one)
    columns = (f.deflection, f.bend_x, f.bend_y, f.edge_x, f.edge_y, shear,
               _stiffening(ratio, edge))
    return CubicSpline(ratio, np.stack(columns, axis=-1))


def _stiffening(ratio, edge: str):
    """c of `large_deflection`: six times the mean square slope squared, over the mean square
    curvature, of a shape that is one at the centre.

    The shapes are products of sin (supported) or (1 + cos) / 2 (clamped), close enough for a term
    that is itself an approximation.
    """
    if edge == "supported":
        return np.full_like(ratio, 1.5)
    slope = 3.0 / 16.0 * np.pi**2 * (1.0 + ratio**2)
    curvature = np.pi**4 * (0.75 * (1.0 + ratio**4) + 0.5 * ratio**2)
    return 6.0 * slope**2 / curvature
