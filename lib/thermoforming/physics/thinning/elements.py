"""Level 2: geometric elements. The free sheet is a bubble of one gauge that sticks where it lands.

Each time the bubble lays a strip on the tool it loses that strip's plastic, and what is left
shares the bubble's area. Angles are measured from the clamp plane: a wall of 90 degrees is upright.

The idea is the volume balance of Rosenzweig, Narkis and Tadmor, Polym. Eng. Sci. 19 (1979)
946-951 (citation from memory); the equations are derived again here. A bubble of one gauge is
optimistic deep in a draw: a real membrane thins most at its pole (see `hill_pole_gauge`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad

from thermoforming.guard import Refused, within

UPRIGHT = 0.5 * np.pi


@dataclass(frozen=True)
class Meridian:
    """Gauge along half a section, from the rim to the middle of the floor.

    Attributes
    ----------
    along : array
        Distance along the surface from the rim. [m]
    across : array
        Distance from the middle line. [m]
    height : array
        Height above the rim plane, negative in a cavity. [m]
    gauge : array
        Gauge over starting gauge. [1]
    wall, floor, corner : float
        Gauge over starting gauge at the lowest wall, the floor's middle and the corner. [1]
    round : bool
        True for a surface of revolution, False for a long channel.
    """

    along: np.ndarray
    across: np.ndarray
    height: np.ndarray
    gauge: np.ndarray
    wall: float
    floor: float
    corner: float
    round: bool

    def volume_ratio(self) -> float:
        """Plastic on the tool over plastic in the flat sheet: 1 if none is lost. [1]"""
        weight = 2.0 * np.pi * self.across if self.round else np.ones_like(self.across)
        flat = np.pi * self.across[0] ** 2 if self.round else self.across[0]
        return float(np.trapezoid(weight * self.gauge, self.along) / flat)


def _check_form(half_width, depth, wall_angle, what="rim radius"):
    within(what, half_width, 0.0, unit="m", above=True)
    within("depth", depth, 0.0, unit="m", above=True)
    within("wall angle", wall_angle, 0.0, UPRIGHT + 1e-12, unit="rad", above=True)
    reach = half_width * np.tan(min(wall_angle, UPRIGHT - 1e-9))
    if depth > reach * (1.0 + 1e-9):
        raise Refused("depth", f"depth is {depth:.6g} m, but walls of this angle meet at "
                               f"{reach:.6g} m.")


def cone_wall_gauge(along, rim_radius: float, wall_angle: float):
    """Gauge on the wall of a cone, or of a cylinder when the wall is upright.

    .. math:: \\frac{t}{t_0} = \\frac{1 + \\cos\\beta}{2}
              \\left(1 - \\frac{s \\cos\\beta}{r_0}\\right)^{(1 - \\cos\\beta)/\\cos\\beta},
              \\qquad \\tfrac12 e^{-s/r_0} \\ (\\beta = 90°)

    Parameters
    ----------
    along : float or array
        s, distance down the wall from the rim, 0 to the tip of the cone. [m]
    rim_radius : float
        r0, > 0. [m]
    wall_angle : float
        beta from the clamp plane, above 0 to a right angle. [rad]

    Returns
    -------
    float or array
        Gauge over starting gauge. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Valid until the bubble touches a floor. Optimistic near the tip, by up to three times.

    References
    ----------
    Rosenzweig, Narkis, Tadmor, Polym. Eng. Sci. 19 (1979) 946-951 (from memory; derived again).
    """
    within("rim radius", rim_radius, 0.0, unit="m", above=True)
    within("wall angle", wall_angle, 0.0, UPRIGHT + 1e-12, unit="rad", above=True)
    cos = np.cos(wall_angle)
    end = rim_radius / cos if cos > 1e-9 else np.inf
    s = np.asarray(within("distance down the wall", along, 0.0, end, unit="m"), float)
    if cos < 1e-9:
        return (0.5 * np.exp(-s / rim_radius))[()]
    left = np.maximum(1.0 - s * cos / rim_radius, 0.0)
    return (0.5 * (1.0 + cos) * left ** ((1.0 - cos) / cos))[()]


def trough_wall_gauge(along, width: float, wall_angle: float = UPRIGHT):
    """Gauge on the wall of a long channel; a wedge when the walls slope.

    .. math:: \\frac{t}{t_0} = \\frac{\\sin\\beta}{\\beta}
              \\left(1 - \\frac{2 s \\cos\\beta}{W}\\right)^{\\tan\\beta/\\beta - 1},
              \\qquad \\frac{2}{\\pi} e^{-4 s / (\\pi W)} \\ (\\beta = 90°)

    Parameters
    ----------
    along : float or array
        s, distance down the wall from the rim, 0 to the bottom of the wedge. [m]
    width : float
        W of the opening, > 0. [m]
    wall_angle : float
        beta from the clamp plane, above 0 to a right angle. [rad]

    Returns
    -------
    float or array
        Gauge over starting gauge. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Valid far from the ends of the channel, until the bubble touches a floor.

    References
    ----------
    Volume balance, derived here.
    """
    within("width", width, 0.0, unit="m", above=True)
    within("wall angle", wall_angle, 0.0, UPRIGHT + 1e-12, unit="rad", above=True)
    cos, beta = np.cos(wall_angle), wall_angle
    end = 0.5 * width / cos if cos > 1e-9 else np.inf
    s = np.asarray(within("distance down the wall", along, 0.0, end, unit="m"), float)
    if cos < 1e-9:
        return (2.0 / np.pi * np.exp(-4.0 * s / (np.pi * width)))[()]
    left = np.maximum(1.0 - 2.0 * s * cos / width, 0.0)
    return (np.sin(beta) / beta * left ** (np.tan(beta) / beta - 1.0))[()]


def floor_contact_depth(half_width: float, depth: float, wall_angle: float) -> float:
    """Depth of wall already covered when the bubble first touches the floor.

    .. math:: z_1 + (R - z_1 / \\tan\\beta) \\tan(\\beta/2) = h

    Parameters
    ----------
    half_width : float
        R, radius or half width of the opening, > 0. [m]
    depth : float
        h, > 0 and above the point where the walls meet. [m]
    wall_angle : float
        beta from the clamp plane, above 0 to a right angle. [rad]

    Returns
    -------
    float
        z1; 0 where the bubble meets the floor before it lies on the wall. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Geometry of the tangent cap.
    """
    _check_form(half_width, depth, wall_angle)
    half = np.tan(0.5 * wall_angle)
    rate = 1.0 - half / np.tan(wall_angle)
    return float(max(0.0, (depth - half_width * half) / rate))


def _shrink(start, end, a, b, c, d):
    """Gauge ratio of a fillet whose log gauge falls by (a + b r) / (r (c + d r)) dr."""
    return (end / start) ** (a / c) * ((c + d * end) / (c + d * start)) ** (b / d - a / c)


def _round_fillet_terms(floor_radius, wall_angle):
    """Coefficients of `_shrink` for a ring fillet between a cone's wall and its floor."""
    tan, one_less_cos = np.tan(0.5 * wall_angle), 1.0 - np.cos(wall_angle)
    return ((2.0 * tan - wall_angle) * floor_radius,
            2.0 * wall_angle * tan - 2.0 * tan**2 - one_less_cos,
            wall_angle * floor_radius, one_less_cos - wall_angle * tan)


def corner_2d_gauge(start_radius: float, end_radius, turning_angle: float = UPRIGHT):
    """Gauge in a straight corner while its fillet shrinks, over the gauge it began with.

    .. math:: t / t_i = (r_f / r_i)^{2 \\tan(\\beta/2)/\\beta - 1}

    Parameters
    ----------
    start_radius : float
        r_i of the free fillet when it touches both walls, > 0. [m]
    end_radius : float or array
        r_f, above 0 to r_i. [m]
    turning_angle : float
        beta through which the sheet turns, above 0 and below two right angles. [rad]

    Returns
    -------
    float or array
        Gauge over the gauge at the start of the corner. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    A sharp corner never fills: give the radius that the pressure forms.

    References
    ----------
    Volume balance, derived here.
    """
    within("start radius", start_radius, 0.0, unit="m", above=True)
    end = np.asarray(within("end radius", end_radius, 0.0, start_radius, unit="m", above=True))
    within("turning angle", turning_angle, 0.0, np.pi, unit="rad", above=True, below=True)
    exponent = 2.0 * np.tan(0.5 * turning_angle) / turning_angle - 1.0
    return ((end / start_radius) ** exponent)[()]


def corner_3d_gauge(start_radius: float, end_radius):
    """Gauge in a corner of three upright planes while its ball shrinks.

    .. math:: A = \\tfrac{\\pi}{2} r^2 + \\tfrac{3\\pi}{2} r (L - r), \\qquad
              \\frac{d(tA)}{dr} = 6 t (L - r)

    Parameters
    ----------
    start_radius : float
        L, radius at which the free octant touches all three planes, > 0. [m]
    end_radius : float or array
        r, above 0 to L. [m]

    Returns
    -------
    float or array
        Gauge over the gauge of the octant at the start. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Planes at right angles; the three edges shrink with the ball.

    References
    ----------
    Volume balance, derived here; no published value found.
    """
    within("start radius", start_radius, 0.0, unit="m", above=True)
    end = np.asarray(within("end radius", end_radius, 0.0, start_radius, unit="m", above=True))
    terms = ((6.0 - 1.5 * np.pi) * start_radius, 2.0 * np.pi - 6.0,
             1.5 * np.pi * start_radius, -np.pi)
    return _shrink(start_radius, end, *terms)[()]


def _pivot(half_width, depth, landed, is_round):
    """Free area of an arc that hangs from the rim and touches the floor at `landed`."""
    span = half_width - landed
    radius = (span**2 + depth**2) / (2.0 * depth)
    angle = 2.0 * np.arctan2(depth, span)
    return 2.0 * np.pi * radius * (landed * angle + depth) if is_round else radius * angle


def _shallow_landing(half_width, depth, landed, is_round):
    """Gauge of the bubble when it has laid `landed` of the floor and still hangs from the rim.

    The plastic left, t A, falls by t dA_floor: the log of t A is minus the integral of dA/A.
    """
    flat = np.pi * half_width**2 if is_round else half_width

    def loss(x):
        laid = 2.0 * np.pi * x if is_round else 1.0
        return laid / _pivot(half_width, depth, x, is_round)

    return flat * np.exp(-quad(loss, 0.0, landed)[0]) / _pivot(half_width, depth, landed, is_round)


def _fillet_gauge(base, start, end, wall_angle, is_round):
    if is_round:
        return _shrink(start, end, *_round_fillet_terms(base, wall_angle))
    return corner_2d_gauge(start, end, wall_angle)


def _form(half_width, depth, wall_angle, corner_radius, is_round, count=80):
    """The stages of a straight-walled form: wall, first floor contact, shrinking corner."""
    _check_form(half_width, depth, wall_angle, "rim radius" if is_round else "half width")
    cot, half = 1.0 / np.tan(wall_angle), np.tan(0.5 * wall_angle)
    base = half_width - depth * cot
    touch = floor_contact_depth(half_width, depth, wall_angle)
    hangs = half_width * half > depth
    start = depth / (1.0 - np.cos(wall_angle)) if hangs else base / half
    within("corner radius", corner_radius, 0.0, start, unit="m", above=True)

    def wall_gauge(s):
        if is_round:
            return cone_wall_gauge(s, half_width, wall_angle)
        return trough_wall_gauge(s, 2.0 * half_width, wall_angle)

    def landing(x):
        return _shallow_landing(half_width, depth, x, is_round)

    landed = half_width - depth / half if hangs else 0.0
    first = landing(landed) if hangs else float(wall_gauge(touch / np.sin(wall_angle)))
    floor = landing(0.0) if hangs else first
    radii = np.array([start])
    if corner_radius < start:
        radii = np.geomspace(start, corner_radius, count)
    fillet = first * _fillet_gauge(base, start, radii, wall_angle, is_round)
    # Wall: what the bubble laid before the floor, then what the shrinking corner laid below it.
    early = np.linspace(0.0, touch / np.sin(wall_angle), count)
    along_wall = depth / np.sin(wall_angle) - radii * half
    floor_at = base - radii * half
    inner = np.linspace(0.0, landed, count) if hangs else np.zeros(1)
    inner_gauge = np.array([landing(x) for x in inner])
    turn = np.linspace(wall_angle, 0.0, count)
    r_arc = floor_at[-1] + corner_radius * np.sin(turn)
    z_arc = -depth + corner_radius * (1.0 - np.cos(turn))
    s_wall = np.concatenate([early if not hangs else np.zeros(0), along_wall])
    r = np.concatenate([half_width - s_wall * np.cos(wall_angle), r_arc, floor_at[::-1],
                        inner[::-1]])
    z = np.concatenate([-s_wall * np.sin(wall_angle), z_arc,
                        np.full(len(floor_at) + len(inner), -depth)])
    t = np.concatenate([wall_gauge(early) if not hangs else np.zeros(0), fillet,
                        np.full(count, fillet[-1]), fillet[::-1], inner_gauge[::-1]])
    s = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(r), np.diff(z)))])
    return Meridian(s, r, z, t, float(fillet[-1]), float(floor), float(fillet[-1]), is_round)


def cup(rim_radius: float, depth: float, wall_angle: float, corner_radius: float) -> Meridian:
    """Gauge along a round cup: truncated cone or cylinder with floor and corner.

    Wall as `cone_wall_gauge` until the bubble touches the floor (`floor_contact_depth`), then a
    ring fillet of radius rho between wall and floor shrinks to the corner radius:

    .. math:: \\frac{d(tA)}{d\\rho} = 2 \\pi t \\tan(\\beta/2) (r_{wall} + r_{floor}), \\quad
              A = 2 \\pi \\rho (\\beta r_{floor} + \\rho (1 - \\cos\\beta))

    Parameters
    ----------
    rim_radius : float
        R, > 0. [m]
    depth : float
        h, > 0, above the point where the walls meet. [m]
    wall_angle : float
        beta from the clamp plane, above 0 to a right angle. [rad]
    corner_radius : float
        Radius of the corner on the sheet, above 0 to that of the bubble at first contact. [m]

    Returns
    -------
    Meridian
        Gauge from the rim to the middle of the floor.

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    In a shallow form the bubble meets the floor while it still hangs from the rim; it then turns
    down about the rim until it lies along the wall.

    References
    ----------
    Rosenzweig, Narkis, Tadmor, Polym. Eng. Sci. 19 (1979) 946-951 (from memory); corner and
    shallow form derived here.
    """
    return _form(rim_radius, depth, wall_angle, corner_radius, True)


def trough(width: float, depth: float, wall_angle: float, corner_radius: float) -> Meridian:
    """Gauge across a long channel with floor and corners.

    Wall as `trough_wall_gauge`, corner as `corner_2d_gauge`.

    Parameters
    ----------
    width : float
        W of the opening, > 0. [m]
    depth : float
        h, > 0, above the line where the walls meet. [m]
    wall_angle : float
        beta from the clamp plane, above 0 to a right angle. [rad]
    corner_radius : float
        Radius of the corner, above 0 to that of the bubble at first contact. [m]

    Returns
    -------
    Meridian
        Gauge from the rim to the middle of the floor.

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Valid further from the ends of the channel than its width.

    References
    ----------
    Volume balance, derived here.
    """
    within("width", width, 0.0, unit="m", above=True)
    return _form(0.5 * width, depth, wall_angle, corner_radius, False)


@dataclass(frozen=True)
class BoxGauge:
    """Gauge over starting gauge in the parts of a box. [1]"""

    rim: float
    wall_foot: float
    floor: float
    edge: float
    corner: float


def box(length: float, width: float, depth: float, corner_radius: float) -> BoxGauge:
    """Gauge in a rectangular box with upright walls.

    The bubble over the opening is a half cylinder with vaulted ends, of area
    A = (pi/2) W (L - W) + 2 W^2; it goes down the walls, meets the floor, and fills straight
    edges and three-plane corners:

    .. math:: \\frac{t}{t_0} = \\frac{L W}{A} e^{-2 (L + W) s / A}

    Parameters
    ----------
    length, width : float
        Sides of the opening, > 0, in any order. [m]
    depth : float
        h, > 0. [m]
    corner_radius : float
        Radius in edges and corners, above 0 to the lesser of depth and half the width. [m]

    Returns
    -------
    BoxGauge
        Gauge at the rim, the foot of the wall, the floor, the edge of the floor and its corners.

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Becomes the cylinder's formula for a square and the trough's for a long box. The corner is an
    estimate: real corners take plastic from edges that fill at the same time.

    References
    ----------
    Volume balance, derived here.
    """
    within("length", length, 0.0, unit="m", above=True)
    within("width", width, 0.0, unit="m", above=True)
    within("depth", depth, 0.0, unit="m", above=True)
    long, short = max(length, width), min(length, width)
    half = 0.5 * short
    start = min(half, depth)
    within("corner radius", corner_radius, 0.0, start, unit="m", above=True)
    area = 0.5 * np.pi * short * (long - short) + 2.0 * short**2
    rim = long * short / area
    if depth >= half:
        floor = first = rim * np.exp(-2.0 * (long + short) * (depth - half) / area)
    else:
        floor = long * short / _vault_area(long, short, depth)
        first = floor * (_shallow_landing(half, depth, half - depth, False)
                         / _shallow_landing(half, depth, 0.0, False))
    edge = first * corner_2d_gauge(start, corner_radius)
    return BoxGauge(float(rim if depth >= half else first), float(edge), float(floor), float(edge),
                    float(first * corner_3d_gauge(start, corner_radius)))


def _vault_area(long, short, rise):
    """Area of a shallow cylinder cap with vaulted ends over a rectangle."""
    half = 0.5 * short
    radius = (half**2 + rise**2) / (2.0 * rise)
    arc = 2.0 * radius * 2.0 * np.arctan2(rise, half)
    return (long - short) * arc + 8.0 * radius * rise


def dome_gauge(height, rim_radius: float):
    """Gauge of a free spherical cap of one gauge.

    .. math:: t / t_0 = R^2 / (R^2 + h^2)

    Parameters
    ----------
    height : float or array
        h of the cap, >= 0. [m]
    rim_radius : float
        R, > 0. [m]

    Returns
    -------
    float or array
        Gauge over starting gauge. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    The mean gauge of the cap; its pole is thinner, see `hill_pole_gauge`.

    References
    ----------
    Area of the spherical cap.
    """
    within("rim radius", rim_radius, 0.0, unit="m", above=True)
    h = np.asarray(within("height", height, 0.0, unit="m"), float)
    return (rim_radius**2 / (rim_radius**2 + h**2))[()]


def hill_pole_gauge(height, rim_radius: float):
    """Gauge at the pole of a blown circular sheet by Hill's special solution.

    .. math:: t / t_0 = (1 + h^2 / R^2)^{-2}

    Parameters
    ----------
    height : float or array
        h of the bubble, >= 0. [m]
    rim_radius : float
        R of the clamp, > 0. [m]

    Returns
    -------
    float or array
        Gauge over starting gauge at the pole. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    For a sheet that hardens in one certain way; a bound on how far the uniform bubble is wrong.

    References
    ----------
    Hill, Phil. Mag. 41 (1950) 1133 (from memory).
    """
    return dome_gauge(height, rim_radius) ** 2


def tent_gauge(top_radius: float, clamp_radius: float, height: float) -> float:
    """Mean gauge of the tent between the top edge of a male form and the clamp.

    .. math:: t / t_0 = \\cos \\arctan(h / (R_c - R_t))

    Parameters
    ----------
    top_radius : float
        R_t of the flat top that holds the sheet, >= 0. [m]
    clamp_radius : float
        R_c, above R_t. [m]
    height : float
        h of the top above the clamp, >= 0. [m]

    Returns
    -------
    float
        Gauge over starting gauge. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Before the vacuum; the top keeps its starting gauge.

    References
    ----------
    Conservation of volume, derived here.
    """
    within("top radius", top_radius, 0.0, unit="m")
    within("clamp radius", clamp_radius, top_radius, unit="m", above=True)
    within("height", height, 0.0, unit="m")
    return float(np.cos(np.arctan2(height, clamp_radius - top_radius)))


def drape_gauge(top_radius: float, clamp_radius: float, height: float, draft: float) -> float:
    """Mean gauge of the wall and flange of a draped male form after the vacuum.

    .. math:: \\frac{t}{t_0} = \\frac{R_c^2 - R_t^2}
              {(R_t + R_b) \\sqrt{h^2 + (R_b - R_t)^2} + R_c^2 - R_b^2},
              \\quad R_b = R_t + h \\tan\\delta

    Parameters
    ----------
    top_radius : float
        R_t of the flat top that holds the sheet, >= 0. [m]
    clamp_radius : float
        R_c, at least the radius of the foot. [m]
    height : float
        h of the form, >= 0. [m]
    draft : float
        delta of the wall from upright, 0 to below a right angle. [rad]

    Returns
    -------
    float
        Gauge over starting gauge. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    The top keeps its starting gauge; wall and flange share the rest.

    References
    ----------
    Conservation of volume, derived here.
    """
    within("top radius", top_radius, 0.0, unit="m")
    within("height", height, 0.0, unit="m")
    within("draft", draft, 0.0, UPRIGHT, unit="rad", below=True)
    foot = top_radius + height * np.tan(draft)
    within("clamp radius", clamp_radius, foot, unit="m")
    wall = (top_radius + foot) * np.hypot(height, foot - top_radius)
    area = wall + clamp_radius**2 - foot**2
    if area <= 0.0:
        raise Refused("clamp radius", "clamp radius must leave a sheet around the top of the form.")
    return float((clamp_radius**2 - top_radius**2) / area)
