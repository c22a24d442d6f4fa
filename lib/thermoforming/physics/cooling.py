"""Closed forms of cooling on the tool, to check and to understand the full solution with."""

from __future__ import annotations

import math

from scipy.special import erf

from thermoforming.guard import Refused, within


def effusivity(conductivity: float, density: float, specific_heat: float) -> float:
    r"""Thermal effusivity, which decides the temperature of a contact.

    .. math:: e = \sqrt{k\rho c}

    Parameters
    ----------
    conductivity : float
        Conductivity, > 0. [W/(m K)]
    density : float
        Density, > 0. [kg/m3]
    specific_heat : float
        Specific heat, > 0. [J/(kg K)]

    Returns
    -------
    float
        Effusivity. [J/(m2 K s^½)]

    Raises
    ------
    Refused
        If a value is not finite or not above zero.
    """
    for name, value in (("conductivity", conductivity), ("density", density),
                        ("specific_heat", specific_heat)):
        within(name, value, 0.0, above=True)
    return math.sqrt(conductivity * density * specific_heat)


def contact_temperature(sheet: float, tool: float, sheet_effusivity: float,
                        tool_effusivity: float) -> float:
    r"""Temperature of the faces of two thick bodies brought into perfect contact.

    .. math:: T_i = \frac{e_1T_1+e_2T_2}{e_1+e_2}

    Parameters
    ----------
    sheet, tool : float
        Absolute temperatures before contact, > 0. [K]
    sheet_effusivity, tool_effusivity : float
        Effusivities, > 0. [J/(m2 K s^½)]

    Returns
    -------
    float
        Absolute temperature of the contact. [K]

    Raises
    ------
    Refused
        If a value is not finite or not above zero.

    References
    ----------
    Two semi-infinite solids; Carslaw and Jaeger; Incropera (from memory).
    """
    for name, value in (("sheet", sheet), ("tool", tool), ("sheet_effusivity", sheet_effusivity),
                        ("tool_effusivity", tool_effusivity)):
        within(name, value, 0.0, above=True)
    return ((sheet_effusivity * sheet + tool_effusivity * tool)
            / (sheet_effusivity + tool_effusivity))


def thick_body_temperature(start: float, face: float, depth: float, time: float,
                           diffusivity: float) -> float:
    r"""Temperature in a thick body whose face is stepped to a new temperature.

    .. math:: T = T_s+(T_0-T_s)\,\mathrm{erf}\frac{x}{2\sqrt{at}}

    Parameters
    ----------
    start, face : float
        Absolute temperatures of the body before and of the face after the step, > 0. [K]
    depth : float
        Depth below the face, >= 0. [m]
    time : float
        Time since the step, > 0. [s]
    diffusivity : float
        Thermal diffusivity, > 0. [m2/s]

    Returns
    -------
    float
        Absolute temperature. [K]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Semi-infinite solid; Carslaw and Jaeger; Incropera (from memory).
    """
    within("temperature", (start, face), 0.0, unit="K", above=True)
    within("depth", depth, 0.0, unit="m")
    within("time", time, 0.0, unit="s", above=True)
    within("diffusivity", diffusivity, 0.0, unit="m2/s", above=True)
    return face + (start - face) * float(erf(depth / (2.0 * math.sqrt(diffusivity * time))))


def one_term_cooling_time(gauge: float, diffusivity: float, start: float, tool: float,
                          end: float) -> float:
    r"""Time for the free face to cool on an ideal tool: isothermal, perfect contact, no air.

    .. math:: \tau = \frac{t^2}{a}\,\frac{4}{\pi^2}\ln\frac{4\,(T_0-T_t)}{\pi\,(T_e-T_t)}

    Parameters
    ----------
    gauge : float
        Thickness of the sheet, > 0. [m]
    diffusivity : float
        Thermal diffusivity of the sheet, > 0. [m2/s]
    start, tool, end : float
        Absolute temperatures of sheet and tool at first, and of the free face at the end. [K]

    Returns
    -------
    float
        Time. [s]

    Raises
    ------
    Refused
        If a value is out of range, or the end is not between tool and start.

    Notes
    -----
    First term of the slab series: good once the face has lost a quarter of the difference. A
    printed tool is slower: it warms.
    """
    within("gauge", gauge, 0.0, unit="m", above=True)
    within("diffusivity", diffusivity, 0.0, unit="m2/s", above=True)
    within("temperature", (start, tool, end), 0.0, unit="K", above=True)
    if not tool < end < start:
        raise Refused("end", f"end must lie between tool and start, {tool:g} and {start:g} K, "
                             f"but it is {end:g} K.")
    fall = 4.0 * (start - tool) / (math.pi * (end - tool))
    return gauge**2 / diffusivity * 4.0 / math.pi**2 * math.log(fall)


def tool_heat_load(area: float, gauge: float, density: float, heat: float,
                   cycle: float) -> float:
    r"""Mean heat flow into the tool if all that the sheet gives up goes there.

    .. math:: Q = \frac{A\,t\,\rho\,\Delta h}{\tau}

    Parameters
    ----------
    area : float
        Area of sheet on the tool, > 0. [m2]
    gauge : float
        Gauge of the sheet, > 0. [m]
    density : float
        Density, > 0. [kg/m3]
    heat : float
        Heat given up from forming to release, >= 0. [J/kg]
    cycle : float
        Cycle time, > 0. [s]

    Returns
    -------
    float
        Mean heat flow. [W]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("area", area, 0.0, unit="m2", above=True)
    within("gauge", gauge, 0.0, unit="m", above=True)
    within("density", density, 0.0, unit="kg/m3", above=True)
    within("heat", heat, 0.0, unit="J/kg")
    within("cycle", cycle, 0.0, unit="s", above=True)
    return area * gauge * density * heat / cycle
