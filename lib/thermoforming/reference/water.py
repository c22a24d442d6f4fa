"""Liquid water near atmospheric pressure, as a coolant."""

from __future__ import annotations

from functools import cache

import numpy as np

from thermoforming.guard import within
from thermoforming.reference.sources import Source, source
from thermoforming.reference.tables import read

NAMES = ("density", "viscosity", "conductivity", "specific_heat")


def water(temperature: float) -> dict[str, float]:
    """Density [kg/m3], viscosity [Pa s], conductivity [W/(m K)] and specific heat [J/(kg K)].

    Parameters
    ----------
    temperature : float
        Absolute temperature, 278.15 to 363.15. [K]

    Raises
    ------
    Refused
        If the temperature is not finite or out of range.
    """
    known, columns = _table()
    within("water temperature", temperature, known[0], known[-1], "K")
    return {name: float(np.interp(temperature, known, columns[name])) if name != "viscosity"
            else float(np.exp(np.interp(temperature, known, np.log(columns[name]))))
            for name in NAMES}


def water_source() -> Source:
    """Where the values come from."""
    return source(read("water")[0]["source"])


@cache
def _table():
    rows = read("water")
    columns = {name: np.array([float(row[name]) for row in rows]) for name in NAMES}
    return np.array([float(row["temperature"]) for row in rows]), columns
