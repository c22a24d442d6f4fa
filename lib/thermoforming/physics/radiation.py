"""Radiant exchange between heaters, sheet and surroundings."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq

from thermoforming.guard import Refused, within

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), CODATA 2018, exact
WIEN = 2.897771955e-3  # m K, CODATA 2018, exact


def view_factor(length: float, width: float, distance: float) -> float:
    r"""View factor between two equal parallel rectangles that face each other.

    .. math:: F = \frac{2}{\pi XY}\Big[\ln\sqrt{\tfrac{(1+X^2)(1+Y^2)}{1+X^2+Y^2}}
        + X\sqrt{1+Y^2}\arctan\tfrac{X}{\sqrt{1+Y^2}} + Y\sqrt{1+X^2}\arctan\tfrac{Y}{\sqrt{1+X^2}}
        - X\arctan X - Y\arctan Y\Big],\quad X=\tfrac ac,\ Y=\tfrac bc

    Parameters
    ----------
    length : float
        Side a, > 0. [m]
    width : float
        Side b, > 0. [m]
    distance : float
        Gap c between the planes, > 0. [m]

    Returns
    -------
    float
        Share of the radiation leaving one that meets the other. [1]

    Raises
    ------
    Refused
        If a value is not finite or not above zero.

    References
    ----------
    Hottel; Incropera, Fundamentals of Heat and Mass Transfer, table 13.2 (from memory).
    """
    for name, value in (("length", length), ("width", width), ("distance", distance)):
        within(name, value, 0.0, unit="m", above=True)
    x, y = length / distance, width / distance
    p, q = math.sqrt(1.0 + x * x), math.sqrt(1.0 + y * y)
    total = (math.log(p * q / math.sqrt(1.0 + x * x + y * y)) + x * q * math.atan(x / q)
             + y * p * math.atan(y / p) - x * math.atan(x) - y * math.atan(y))
    return 2.0 / (math.pi * x * y) * total


def point_view_factor(x, y, distance: float, rectangle) -> np.ndarray:
    r"""Share of the view of small areas that a parallel rectangle fills.

    .. math:: F = \frac1{2\pi}\sum_{corners}\pm\left[\frac{X}{\sqrt{1+X^2}}
        \arctan\frac{Y}{\sqrt{1+X^2}}+\frac{Y}{\sqrt{1+Y^2}}\arctan\frac{X}{\sqrt{1+Y^2}}\right]

    Parameters
    ----------
    x, y : float or array
        Places of the small areas in their plane. [m]
    distance : float
        Gap between the planes, > 0. [m]
    rectangle : tuple of float
        Lowest x, lowest y, highest x, highest y of the rectangle. [m]

    Returns
    -------
    array
        View factor of each place. [1]

    Raises
    ------
    Refused
        If the distance is not above zero or the rectangle has no area.

    References
    ----------
    Differential element to parallel rectangle, view factor catalogues (from memory).
    """
    within("distance", distance, 0.0, unit="m", above=True)
    x0, y0, x1, y1 = rectangle
    if not (x1 > x0 and y1 > y0):
        raise Refused("rectangle", "A heater rectangle needs a length and a width.")

    def corner(u, v):
        a, b = np.sqrt(1.0 + u * u), np.sqrt(1.0 + v * v)
        return (u / a * np.arctan(v / a) + v / b * np.arctan(u / b)) / (2.0 * math.pi)

    u0, u1 = (x0 - np.asarray(x)) / distance, (x1 - np.asarray(x)) / distance
    v0, v1 = (y0 - np.asarray(y)) / distance, (y1 - np.asarray(y)) / distance
    return corner(u1, v1) - corner(u0, v1) - corner(u1, v0) + corner(u0, v0)


def grey_plates_flux(hot: float, cold: float, hot_emissivity: float,
                     cold_emissivity: float) -> float:
    r"""Net radiant flux between large parallel grey plates.

    .. math:: q = \frac{\sigma(T_1^4-T_2^4)}{1/\varepsilon_1+1/\varepsilon_2-1}

    Parameters
    ----------
    hot, cold : float
        Absolute temperatures of the plates, >= 0. [K]
    hot_emissivity, cold_emissivity : float
        Emissivities, above 0 to 1. [1]

    Returns
    -------
    float
        Flux from hot to cold, negative if reversed. [W/m2]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("temperature", (hot, cold), 0.0, unit="K")
    within("emissivity", (hot_emissivity, cold_emissivity), 0.0, 1.0, above=True)
    return STEFAN_BOLTZMANN * (hot**4 - cold**4) / (1.0 / hot_emissivity
                                                     + 1.0 / cold_emissivity - 1.0)


def exchange_factors(view, heater_emissivity: float, sheet_emissivity: float):
    r"""How much of the black-body emission of heater and surroundings a grey sheet takes up.

    .. math:: q = a_h\sigma(T_h^4-T_s^4)+a_\infty\sigma(T_\infty^4-T_s^4)

    In words: heater and sheet see each other with the view factor and the black surroundings with
    the rest; what is reflected goes to and fro. With full view a_h is that of parallel plates.

    Parameters
    ----------
    view : float or array
        View factor of the heater from the sheet, 0 to 1. [1]
    heater_emissivity : float
        Emissivity of the heater, above 0 to 1. [1]
    sheet_emissivity : float
        Emissivity of the sheet, above 0 to 1. [1]

    Returns
    -------
    tuple of float or array
        a_h and a_infinity. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Radiosity of a three-surface enclosure, any heat transfer text; derived here.
    """
    within("view", view, 0.0, 1.0)
    within("heater_emissivity", heater_emissivity, 0.0, 1.0, above=True)
    within("sheet_emissivity", sheet_emissivity, 0.0, 1.0, above=True)
    view = np.asarray(view, dtype=float)
    dull = 1.0 - heater_emissivity
    echo = 1.0 - dull * (1.0 - sheet_emissivity) * view**2
    heater = sheet_emissivity * view * heater_emissivity / echo
    around = sheet_emissivity * (1.0 - view) * (1.0 + view * dull) / echo
    return heater[()], around[()]


def heater_temperature(power: float, view: float, heater_emissivity: float,
                       sheet_emissivity: float, sheet: float, around: float) -> float:
    r"""Temperature at which a heater radiates its power from its front.

    .. math:: P = a_h\sigma(T_h^4-T_s^4) + b_\infty\sigma(T_h^4-T_\infty^4)

    Parameters
    ----------
    power : float
        Power per area of heater, >= 0. [W/m2]
    view : float
        View factor between heater and sheet, 0 to 1. [1]
    heater_emissivity, sheet_emissivity : float
        Emissivities, above 0 to 1. [1]
    sheet, around : float
        Absolute temperatures of sheet and surroundings, > 0. [K]

    Returns
    -------
    float
        Absolute temperature of the heater. [K]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    The back is taken as insulated and the air as still; a real heater is somewhat cooler.
    """
    within("power", power, 0.0, unit="W/m2")
    within("temperature", (sheet, around), 0.0, unit="K", above=True)
    to_sheet, _ = exchange_factors(view, heater_emissivity, sheet_emissivity)
    _, to_around = exchange_factors(view, sheet_emissivity, heater_emissivity)

    def surplus(t: float) -> float:
        return STEFAN_BOLTZMANN * (to_sheet * (t**4 - sheet**4)
                                   + to_around * (t**4 - around**4)) - power

    return float(brentq(surplus, min(sheet, around) * 0.5, 3000.0 + (power / 5e-9) ** 0.25))


def peak_wavelength(temperature: float) -> float:
    r"""Wavelength at which a black body radiates most.

    .. math:: \lambda = b/T

    Parameters
    ----------
    temperature : float
        Absolute temperature, > 0. [K]

    Returns
    -------
    float
        Wavelength. [m]

    Raises
    ------
    Refused
        If not finite or not above zero.

    References
    ----------
    Wien's displacement law, CODATA 2018.
    """
    within("temperature", temperature, 0.0, unit="K", above=True)
    return WIEN / temperature


def zone_rectangles(length: float, width: float, rows: int, columns: int) -> list[tuple]:
    """Rectangles of a heater field centred on the sheet, row by row from low y.

    Parameters
    ----------
    length : float
        Size of the field in x, > 0. [m]
    width : float
        Size of the field in y, > 0. [m]
    rows, columns : int
        Number of zones in y and in x, >= 1.

    Returns
    -------
    list of tuple of float
        Lowest x, lowest y, highest x, highest y of each zone. [m]

    Raises
    ------
    Refused
        If a value is out of range.
    """
    within("length", length, 0.0, unit="m", above=True)
    within("width", width, 0.0, unit="m", above=True)
    within("rows", rows, 1)
    within("columns", columns, 1)
    x = np.linspace(-length / 2, length / 2, columns + 1)
    y = np.linspace(-width / 2, width / 2, rows + 1)
    return [(x[j], y[i], x[j + 1], y[i + 1]) for i in range(rows) for j in range(columns)]
