"""What a heating curve means for forming: when the sheet is ready, even, too hot, too cold."""

from __future__ import annotations

import math

import numpy as np

from thermoforming.guard import within
from thermoforming.physics.conduction import History, crossing


def ready_time(history: History, core: float) -> float:
    """Time at which the coldest place of the sheet reaches a temperature.

    Parameters
    ----------
    history : History
        The sheet in the heater.
    core : float
        Absolute temperature the core must have, > 0. [K]

    Returns
    -------
    float
        Time, infinite if it is not reached. [s]

    Raises
    ------
    Refused
        If the temperature is not finite or not above zero.
    """
    within("core", core, 0.0, unit="K", above=True)
    return crossing(history.time, history.of(0).min(axis=1), core, rising=True)


def scorch_time(history: History, limit: float) -> float:
    """Time at which the hottest place of the sheet reaches its limit.

    Parameters
    ----------
    history : History
        The sheet in the heater.
    limit : float
        Absolute temperature the surface must not pass, > 0. [K]

    Returns
    -------
    float
        Time, infinite if it is not reached. [s]

    Raises
    ------
    Refused
        If the temperature is not finite or not above zero.
    """
    within("limit", limit, 0.0, unit="K", above=True)
    return crossing(history.time, history.of(0).max(axis=1), limit, rising=True)


def profile_at(history: History, time: float) -> np.ndarray:
    """Temperatures over the depth at an instant, to start the next phase from.

    Parameters
    ----------
    history : History
        Any phase.
    time : float
        Instant, within the history. [s]

    Returns
    -------
    array
        Absolute temperature of each node. [K]

    Raises
    ------
    Refused
        If the instant lies outside the history.
    """
    within("time", time, float(history.time[0]), float(history.time[-1]), "s")
    i = int(np.clip(np.searchsorted(history.time, time), 1, len(history.time) - 1))
    early, late = history.time[i - 1], history.time[i]
    share = (time - early) / (late - early)
    return (1.0 - share) * history.temperature[i - 1] + share * history.temperature[i]


def equalising_time(history: History, spread: float) -> float:
    """Time until hottest and coldest place of the sheet differ by no more than a spread.

    Parameters
    ----------
    history : History
        The sheet after the heater.
    spread : float
        Permitted difference, > 0. [dK]

    Returns
    -------
    float
        Time, infinite if it is not reached. [s]

    Raises
    ------
    Refused
        If the spread is not finite or not above zero.
    """
    within("spread", spread, 0.0, unit="K", above=True)
    sheet = history.of(0)
    return crossing(history.time, sheet.max(axis=1) - sheet.min(axis=1), spread, rising=False)


def formable_time(history: History, lowest: float, *, on_tool: bool = False) -> float:
    """Time until the sheet has become too cold to form.

    Parameters
    ----------
    history : History
        The sheet in air, or lying on the tool.
    lowest : float
        Lowest absolute temperature at which it can be formed, > 0. [K]
    on_tool : bool
        On the tool one face is cold at once; then the mean over the gauge counts. In air the
        coldest place does.

    Returns
    -------
    float
        Time, infinite if it stays formable for the time followed. [s]

    Raises
    ------
    Refused
        If the temperature is not finite or not above zero.
    """
    within("lowest", lowest, 0.0, unit="K", above=True)
    course = history.mean(0) if on_tool else history.of(0).min(axis=1)
    return crossing(history.time, course, lowest, rising=False)


def flux_for(temperature_rise: float, gauge: float, heat_capacity: float, time: float,
             sides: int = 2) -> float:
    r"""Mean flux on each heated face that warms a sheet in a given time, losses left out.

    .. math:: q = \frac{\rho c\,t\,\Delta T}{n\,\tau}

    Parameters
    ----------
    temperature_rise : float
        Rise of the mean temperature, >= 0. [dK]
    gauge : float
        Thickness, > 0. [m]
    heat_capacity : float
        Density times specific heat, > 0. [J/(m3 K)]
    time : float
        Heating time, > 0. [s]
    sides : int
        Heated faces, 1 or 2.

    Returns
    -------
    float
        Flux on each heated face. [W/m2]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("temperature_rise", temperature_rise, 0.0, unit="K")
    within("gauge", gauge, 0.0, unit="m", above=True)
    within("heat_capacity", heat_capacity, 0.0, unit="J/(m3 K)", above=True)
    within("time", time, 0.0, unit="s", above=True)
    within("sides", sides, 1, 2)
    return heat_capacity * gauge * temperature_rise / (sides * time)


def surface_core_difference(flux: float, gauge: float, conductivity: float,
                            sides: int = 2) -> float:
    r"""Difference between hottest face and coldest place under a steady flux.

    .. math:: \Delta T = \frac{q\,(t/n)}{2k}

    Parameters
    ----------
    flux : float
        Flux taken up by each heated face, >= 0. [W/m2]
    gauge : float
        Thickness, > 0. [m]
    conductivity : float
        Conductivity, > 0. [W/(m K)]
    sides : int
        Heated faces, 1 or 2.

    Returns
    -------
    float
        Difference once the profile has settled. [dK]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Slab under constant flux, long-time limit; any heat transfer text.
    """
    within("flux", flux, 0.0, unit="W/m2")
    within("gauge", gauge, 0.0, unit="m", above=True)
    within("conductivity", conductivity, 0.0, unit="W/(m K)", above=True)
    within("sides", sides, 1, 2)
    return flux * gauge / sides / (2.0 * conductivity)


def levels_over(factors, count: int = 5) -> np.ndarray:
    """A few levels that span the local heating, so that a map needs few heating curves.

    Parameters
    ----------
    factors : array
        Local exchange factor or intensity over the sheet, >= 0. [1]
    count : int
        Number of levels, >= 2.

    Returns
    -------
    array
        Levels from lowest to highest. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("factors", factors, 0.0)
    within("count", count, 2)
    low, high = float(np.min(factors)), float(np.max(factors))
    if math.isclose(low, high):
        return np.array([low, low + 1e-9])
    return np.linspace(low, high, count)
