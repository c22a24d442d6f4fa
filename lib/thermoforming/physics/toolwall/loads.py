"""What presses on the wall, when, and from which side; clamp force, side load and fixings.

Pressure is counted positive when it pushes the forming surface inward, toward the hollow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermoforming.guard import one_of, within

HOLLOWS = ("vacuum", "atmosphere")


@dataclass(frozen=True)
class Moment:
    """One moment of the cycle and the net pressure on the wall, positive inward. [Pa]"""

    name: str
    pressure: float
    why: str


def moments_of_load(hollow: str, ambient: float, plenum: float,
                    forming: float = 0.0) -> tuple[Moment, ...]:
    """Net pressure on the wall through a cycle.

    .. math:: p = (p_{ambient} + p_{forming}) - p_{plenum} \\quad \\text{hollow at vacuum, sealed}

    Parameters
    ----------
    hollow : str
        "vacuum": the hollow is the plenum, vents open into it; "atmosphere": the hollow is open
        to the room and vents are piped.
    ambient : float
        Absolute ambient pressure, 50 kPa to 110 kPa. [Pa]
    plenum : float
        Absolute pressure that the vacuum reaches, 0 to ambient. [Pa]
    forming : float
        Gauge pressure of the forming air above the sheet, 0 to 2 MPa. [Pa]

    Returns
    -------
    tuple of Moment
        Before the sheet seals the wall, sealed, and let go.

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the hollow is unknown.

    Notes
    -----
    Uniform pressure. Before contact the cavity of a hollow at vacuum stands a little above the
    plenum by the pressure drop of its vents; this is less than what follows and in the same sense.

    References
    ----------
    Statics of the enclosed air.
    """
    one_of("hollow", hollow, HOLLOWS)
    within("ambient pressure", ambient, 50e3, 110e3, "Pa")
    within("plenum pressure", plenum, 0.0, ambient, "Pa")
    within("forming pressure", forming, 0.0, 2e6, "Pa")
    vacuum = ambient - plenum
    if hollow == "vacuum":
        return (Moment("before contact", 0.0, "cavity and hollow are evacuated together"),
                Moment("sealed", vacuum + forming,
                       "ambient and forming pressure above, plenum pressure in the hollow"),
                Moment("let go", 0.0, "air is let into hollow and cavity together"))
    return (Moment("before contact", -vacuum, "room pressure in the hollow, vacuum in the cavity"),
            Moment("sealed", forming, "the room presses from both sides; forming air adds"),
            Moment("let go", 0.0, "air is let in"))


def clamp_force(pressure, area, factor):
    """Force that must hold a pressure box shut.

    .. math:: F = n p A

    Parameters
    ----------
    pressure : float or array
        Gauge pressure of the forming air, >= 0. [Pa]
    area : float or array
        Area inside the box's seal, projected, > 0. [m2]
    factor : float or array
        Safety factor against opening, >= 1. [1]

    Returns
    -------
    float or array
        Force. [N]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    A pressure box is a pressure vessel by the law of many places: this number does not replace
    its design and inspection by a licensed practitioner under local rules.

    References
    ----------
    Statics.
    """
    within("forming pressure", pressure, 0.0, unit="Pa")
    within("sealed area", area, 0.0, unit="m2", above=True)
    within("safety factor", factor, 1.0)
    return factor * pressure * area


def pull_out(shear_strength, diameter, engagement):
    """Force at which an insert or a screw thread shears out of the tool's material.

    .. math:: F = \\pi d L \\tau

    Parameters
    ----------
    shear_strength : float or array
        Shear strength of the tool's material at temperature, > 0. [Pa]
    diameter : float or array
        Outer diameter of the insert or thread, > 0. [m]
    engagement : float or array
        Length engaged, > 0. [m]

    Returns
    -------
    float or array
        Force at failure; a factor of three or more belongs on it. [N]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    The whole cylinder shears at once: true for short engagements up to about two diameters.

    References
    ----------
    Common practice of fastening in plastics, no source.
    """
    within("shear strength", shear_strength, 0.0, unit="Pa", above=True)
    within("insert diameter", diameter, 0.0, unit="m", above=True)
    within("engagement", engagement, 0.0, unit="m", above=True)
    return np.pi * diameter * engagement * shear_strength


def fillet_factor(radius, thickness):
    """Rise of stress in the fillet between a wall and what it bends against.

    .. math:: K = 0.907 (r/t)^{-1/3}, \\quad K \\ge 1

    Parameters
    ----------
    radius : float or array
        Fillet radius, above 0. [m]
    thickness : float or array
        Thickness of the wall that bends, > 0. [m]

    Returns
    -------
    float or array
        Stress over that of simple bending, taken for r/t from 0.02 to 1. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    A stepped flat bar in bending with the step three times as high. A brittle material feels all
    of it, a ductile one little.

    References
    ----------
    Peterson's stress concentration charts as fitted in textbooks of machine design (from memory).
    """
    within("fillet radius", radius, 0.0, unit="m", above=True)
    within("thickness", thickness, 0.0, unit="m", above=True)
    ratio = np.clip(np.asarray(radius, dtype=float) / thickness, 0.02, 1.0)
    return np.maximum(1.0, 0.907 * ratio ** (-1.0 / 3.0))
