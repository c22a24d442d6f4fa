"""How warm a tool runs: contact with the hot sheet, and the balance of heat shot by shot."""

from __future__ import annotations

import numpy as np

from thermoforming.guard import within


def effusivity(conductivity, density, specific_heat):
    r"""Thermal effusivity of a material.

    .. math:: e = \sqrt{k \rho c}

    Parameters
    ----------
    conductivity : float or array
        Thermal conductivity k, > 0. [W/(m K)]
    density : float or array
        Density rho, > 0. [kg/m3]
    specific_heat : float or array
        Specific heat c, > 0. [J/(kg K)]

    Returns
    -------
    float or array
        Effusivity. [W s^½/(m2 K)]

    Raises
    ------
    Refused
        If an input is not finite or not above zero.

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, semi-infinite solids (from
    memory).
    """
    for name, value in (("conductivity", conductivity), ("density", density),
                        ("specific_heat", specific_heat)):
        within(name, value, 0.0, above=True)
    return np.sqrt(conductivity * density * specific_heat)


def contact_temperature(sheet_temperature, tool_temperature, sheet_effusivity, tool_effusivity):
    r"""Temperature of the common surface just after two thick bodies touch.

    .. math:: T_c = \frac{e_s T_s + e_t T_t}{e_s + e_t}

    Parameters
    ----------
    sheet_temperature : float or array
        Absolute temperature of the sheet, > 0. [K]
    tool_temperature : float or array
        Absolute temperature of the tool, > 0. [K]
    sheet_effusivity : float or array
        Effusivity of the sheet, > 0. [W s^½/(m2 K)]
    tool_effusivity : float or array
        Effusivity of the tool, > 0. [W s^½/(m2 K)]

    Returns
    -------
    float or array
        Temperature of both faces, between the two. [K]

    Raises
    ------
    Refused
        If an input is not finite or not above zero.

    Notes
    -----
    Perfect contact, both bodies thick against the depth the heat has reached (for polymer about
    a millimetre after three seconds). Imperfect contact keeps the tool's face cooler than this.

    References
    ----------
    Carslaw and Jaeger, Conduction of Heat in Solids (from memory).
    """
    for name, value in (("sheet_temperature", sheet_temperature),
                        ("tool_temperature", tool_temperature),
                        ("sheet_effusivity", sheet_effusivity),
                        ("tool_effusivity", tool_effusivity)):
        within(name, value, 0.0, above=True)
    total = sheet_effusivity + tool_effusivity
    return (sheet_effusivity * sheet_temperature + tool_effusivity * tool_temperature) / total


def wall_conductance(front_film, back_film, thickness, conductivity):
    r"""Heat a warm wall gives up to the air on both sides, per area and kelvin.

    .. math:: U = h_f + \frac{1}{1/h_b + L/k}

    Parameters
    ----------
    front_film : float or array
        Film coefficient of the forming face averaged over the cycle, >= 0. [W/(m2 K)]
    back_film : float or array
        Film coefficient of the back, > 0. [W/(m2 K)]
    thickness : float or array
        Wall between the faces, > 0. [m]
    conductivity : float or array
        Conductivity of the wall, > 0. [W/(m K)]

    Returns
    -------
    float or array
        Conductance to ambient. [W/(m2 K)]

    Raises
    ------
    Refused
        If an input is not finite or out of range.
    """
    within("front_film", front_film, 0.0)
    for name, value in (("back_film", back_film), ("thickness", thickness),
                        ("conductivity", conductivity)):
        within(name, value, 0.0, above=True)
    return front_film + 1.0 / (1.0 / back_film + thickness / conductivity)


def heating_conductance(heat_per_shot, cycle, sheet_temperature, reference):
    r"""Heat a run of shots brings to the wall, per area and kelvin between sheet and wall.

    .. math:: g = \frac{q}{t_c\,(T_s - T_{ref})}

    Parameters
    ----------
    heat_per_shot : float or array
        Heat that one shot leaves in a wall at the reference temperature, >= 0. [J/m2]
    cycle : float or array
        Time from shot to shot, > 0. [s]
    sheet_temperature : float or array
        Absolute temperature of the sheet when it touches, above the reference. [K]
    reference : float or array
        Absolute wall temperature for which the heat is stated, > 0. [K]

    Returns
    -------
    float or array
        Conductance from the sheet to the wall, averaged over the cycle. [W/(m2 K)]

    Raises
    ------
    Refused
        If an input is not finite or out of range.

    Notes
    -----
    A warmer wall takes less heat, in proportion, so that no run brings it above the sheet.
    """
    within("heat_per_shot", heat_per_shot, 0.0)
    within("cycle", cycle, 0.0, above=True)
    within("reference", reference, 0.0, above=True)
    within("sheet_temperature less reference", sheet_temperature - reference, 0.0, above=True)
    return heat_per_shot / (cycle * (sheet_temperature - reference))


def running_temperature(heating, cooling, sheet_temperature, ambient):
    r"""Mean temperature of a wall once every shot's heat leaves before the next.

    .. math:: T_\infty = \frac{g\,T_s + U\,T_a}{g + U}

    Parameters
    ----------
    heating : float or array
        Conductance g from the sheet to the wall, averaged over the cycle, >= 0. [W/(m2 K)]
    cooling : float or array
        Conductance U from the wall to ambient, > 0. [W/(m2 K)]
    sheet_temperature : float or array
        Absolute temperature of the sheet when it touches, > 0. [K]
    ambient : float or array
        Absolute temperature around the tool, > 0. [K]

    Returns
    -------
    float or array
        Mean wall temperature in the steady run, between ambient and sheet. [K]

    Raises
    ------
    Refused
        If an input is not finite or out of range.

    Notes
    -----
    One lump of wall. The wall page solves the same balance with temperature through the wall;
    this estimate compares materials before there is a wall.
    """
    within("heating", heating, 0.0)
    for name, value in (("cooling", cooling), ("sheet_temperature", sheet_temperature),
                        ("ambient", ambient)):
        within(name, value, 0.0, above=True)
    return (heating * sheet_temperature + cooling * ambient) / (heating + cooling)


def shots_to_reach(limit_share, cycle, time_constant):
    r"""Shots in a row, from cold, until the warming reaches a share of its final value.

    .. math:: n = -\frac{\tau}{t_c} \ln(1 - s)

    Parameters
    ----------
    limit_share : float
        Share s of the final temperature rise, 0 <= s < 1. [1]
    cycle : float
        Time from shot to shot, > 0. [s]
    time_constant : float
        Heat capacity of the wall by its conductance to ambient, > 0. [s]

    Returns
    -------
    float
        Number of shots, not rounded. [shots]

    Raises
    ------
    Refused
        If an input is not finite or out of range.
    """
    within("limit_share", limit_share, 0.0, 1.0, below=True)
    within("cycle", cycle, 0.0, above=True)
    within("time_constant", time_constant, 0.0, above=True)
    return -time_constant / cycle * np.log(1.0 - limit_share)
