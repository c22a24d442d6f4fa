"""How far a hot sheet bulges into a vent hole under pressure, and the bore that keeps it small."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.optimize import brentq

from thermoforming.guard import within

INCOMPRESSIBLE = 0.5
EDGE = 0.45  # give of the sheet at the edge of the hole, see `bulge_height`
_TERMS = 40  # of the power series; the deflection then stands to nine digits
_DRAWN_IN = math.inf


@cache
def hencky_series(poisson: float) -> tuple[float, float]:
    r"""Force at the centre and deflection of a clamped circular membrane under pressure.

    .. math:: n^2(\rho n''+3n') = -8\rho,\quad n(1)(1-\nu)+n'(1)=0,\qquad
        N_r = \tfrac14 Et\,(qa/Et)^{2/3}\,n,\quad
        w_0 = 2a\,(qa/Et)^{1/3}\int_0^1 \rho/n\,d\rho

    Parameters
    ----------
    poisson : float
        Poisson's ratio, 0 to 0.5. [1]

    Returns
    -------
    tuple of float
        n at the centre (b0 of the tables), and w0/a over (q a/E t)^(1/3). [1]

    Raises
    ------
    Refused
        If outside the range.

    References
    ----------
    Hencky, Z. Math. Phys. 63 (1915) 311, as derived again by Fichter, NASA TP 3658 (1997)
    (from memory).
    """
    within("poisson", poisson, 0.0, 0.5)

    def edge(b0: float) -> float:
        b = _series(b0)
        return (1.0 - poisson) * b.sum() + float(2.0 * np.arange(_TERMS) @ b)

    b0 = brentq(edge, 1.2, 3.0, xtol=1e-13)
    rho, weights = np.polynomial.legendre.leggauss(40)
    rho, weights = 0.5 * (rho + 1.0), 0.5 * weights
    n = np.polynomial.polynomial.polyval(rho**2, _series(b0))
    return b0, float(2.0 * np.sum(weights * rho / n))


def _series(b0: float) -> np.ndarray:
    """Coefficients of n in powers of rho squared, from the differential equation."""
    b, square = np.zeros(_TERMS), np.zeros(_TERMS)
    b[0], square[0] = b0, b0 * b0
    for k in range(1, _TERMS):
        # coefficient of rho^(2k-1) in n^2 (rho n'' + 3 n'), whose j-th term is 4 j (j+1) b_j
        known = sum(square[k - j] * 4.0 * j * (j + 1.0) * b[j] for j in range(1, k))
        b[k] = ((-8.0 if k == 1 else 0.0) - known) / (square[0] * 4.0 * k * (k + 1.0))
        square[k] = float(b[:k + 1] @ b[:k + 1][::-1])
    return b


def membrane_pressure(height):
    r"""Pressure that holds a dome of soft rubbery sheet over a hole, bending left out.

    .. math:: \frac{pa}{Et_0} = \frac{1}{4c^3}\cdot\frac43\,\frac{h}{1+h^2}
        \left(1-(1+h^2)^{-3}\right),\qquad h=w_0/a

    In words: a neo-Hookean spherical cap of uniform thinning, scaled so that a low dome agrees
    with Hencky's membrane (c is its coefficient at Poisson's ratio 0.5).

    Parameters
    ----------
    height : float or array
        Height of the dome over the radius of the hole, >= 0. [1]

    Returns
    -------
    float or array
        p a / (E t0). [1]

    Raises
    ------
    Refused
        If negative or not finite.

    Notes
    -----
    It has a maximum near h = 1: a sheet pressed harder than that is drawn into the hole.
    """
    return _cap(np.asarray(within("height", height, 0.0), dtype=float))[()]


def _cap(height):
    stretch = 1.0 + height**2
    cap = 4.0 / 3.0 * height / stretch * (1.0 - stretch**-3)
    return cap / (4.0 * hencky_series(INCOMPRESSIBLE)[1] ** 3)


def bulge_height(bore: float, gauge: float, modulus: float, pressure: float) -> float:
    r"""Height of the bulge of a hot sheet over a round hole.

    .. math:: \frac{pa}{Et} = \frac{h}{\frac{3(1-\nu^2)}{16}\frac{a^2}{t^2}+e\frac at} + m(h),
        \qquad w = a h + \frac{4(1-\nu^2)}{\pi}\frac{pa}{E}

    In words: plate in bending, whose edge gives way (e), and membrane m share the pressure; to
    that comes what the face of a sheet however thick sinks into the hole (the opening of a
    pressed penny crack).

    Parameters
    ----------
    bore : float
        Diameter of the hole, > 0. [m]
    gauge : float
        Local gauge of the sheet, > 0. [m]
    modulus : float
        Young's modulus of the hot sheet, > 0. [Pa]
    pressure : float
        Pressure difference across the sheet, >= 0. [Pa]

    Returns
    -------
    float
        Height of the bulge; infinite where the sheet is drawn into the hole. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Incompressible rubbery sheet, modulus at the pressing time; a sheet that cools on the tool
    bulges less. The edge coefficient e is fitted to finite elements of a sheet that lies without
    friction round the hole; the sum agrees with them within 5 % from t = 0.3 a to 4 a.

    References
    ----------
    Timoshenko and Woinowsky-Krieger, Theory of plates and shells, clamped circular plate; Hencky
    (see `hencky_series`); Sneddon's penny-shaped crack (all from memory).
    """
    within("bore", bore, 0.0, unit="m", above=True)
    within("gauge", gauge, 0.0, unit="m", above=True)
    within("modulus", modulus, 0.0, unit="Pa", above=True)
    within("pressure", pressure, 0.0, unit="Pa")
    radius, flexible = bore / 2.0, 1.0 - INCOMPRESSIBLE**2
    load = pressure * radius / (modulus * gauge)
    slender = radius / gauge
    bending = 1.0 / (3.0 / 16.0 * flexible * slender**2 + EDGE * slender)
    dome = _dome(load, bending)
    return radius * dome + 4.0 * flexible / math.pi * pressure * radius / modulus


def _dome(load: float, bending: float) -> float:
    """Least h at which bending and membrane carry the load, infinite beyond h = 2."""
    if load == 0.0:
        return 0.0
    heights = np.linspace(0.0, 2.0, 81)
    carried = bending * heights + _cap(heights)
    beyond = carried >= load
    if not beyond.any():
        return _DRAWN_IN
    i = int(np.argmax(beyond))
    return float(brentq(lambda h: bending * h + _cap(h) - load, heights[i - 1],
                        heights[i], xtol=1e-12))


def largest_bore(mark: float, gauge: float, modulus: float, pressure: float,
                 most: float = 0.02) -> float:
    """Largest hole over which the sheet bulges no higher than a permitted mark.

    Parameters
    ----------
    mark : float
        Permitted height of the mark, > 0. [m]
    gauge : float
        Local gauge of the sheet, > 0. [m]
    modulus : float
        Young's modulus of the hot sheet, > 0. [Pa]
    pressure : float
        Pressure difference across the sheet, > 0. [Pa]
    most : float
        Do not look beyond this diameter, > 0. [m]

    Returns
    -------
    float
        Diameter, at most `most`. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("mark", mark, 0.0, unit="m", above=True)
    within("pressure", pressure, 0.0, unit="Pa", above=True)
    within("most", most, 0.0, unit="m", above=True)

    def excess(bore: float) -> float:
        return min(bulge_height(bore, gauge, modulus, pressure), 1e3 * most) - mark

    if excess(most) <= 0.0:
        return most
    return float(brentq(excess, 1e-6 * most, most, xtol=1e-9))
