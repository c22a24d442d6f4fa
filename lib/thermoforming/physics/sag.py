"""How far a hot sheet hangs in its clamp."""

from __future__ import annotations

from scipy.optimize import brentq

from thermoforming.guard import within
from thermoforming.physics.venting import GRAVITY


def sag(span: float, density: float, modulus: float, slack: float = 0.0) -> float:
    r"""Sag of a hot clamped sheet under its own weight, as a strip over its shorter span.

    .. math:: E\left[\frac83\left(\frac\delta b\right)^2-\epsilon\right]
        = \frac{\rho g b^2}{8\,\delta}

    In words: the strip hangs as a parabola; its tension carries the weight, its stretch and the
    thermal growth that the clamp holds back (slack) give the length. The gauge cancels.

    Parameters
    ----------
    span : float
        Shorter span b between the clamps, > 0. [m]
    density : float
        Density of the sheet, > 0. [kg/m3]
    modulus : float
        Modulus of the hot sheet for the time in the heater, > 0. [Pa]
    slack : float
        Thermal growth that has not been taken up, >= 0. [1]

    Returns
    -------
    float
        Sag in the middle. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Long strip, no bending, rubbery sheet without creep; a real sheet goes on creeping, so the
    modulus must be one for the seconds spent hot. A square sheet sags less, by a fifth or so.
    Beyond a quarter of the span the parabola is rough.

    References
    ----------
    Shallow cable under its own weight, any statics text.
    """
    within("span", span, 0.0, unit="m", above=True)
    within("density", density, 0.0, unit="kg/m3", above=True)
    within("modulus", modulus, 0.0, unit="Pa", above=True)
    within("slack", slack, 0.0)
    weight = density * GRAVITY * span / (8.0 * modulus)

    def surplus(ratio: float) -> float:
        return (8.0 / 3.0 * ratio**2 - slack) * ratio - weight

    top = (3.0 * (slack + weight + 1e-12)) ** 0.5 + (3.0 * weight) ** (1.0 / 3.0)
    return span * float(brentq(surplus, (3.0 / 8.0 * slack) ** 0.5, top + 1e-9, xtol=1e-14))
