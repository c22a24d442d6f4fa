"""Modulus and strength of the wall as it is: warm, loaded for a while, loaded often."""

from __future__ import annotations

import numpy as np

from thermoforming.guard import Refused, finite, within


def retention(temperature, temperatures, retained):
    """Share of a room-temperature property left at a temperature.

    .. math:: \\ln r(T) \\text{ linear between the tabulated temperatures}

    Parameters
    ----------
    temperature : float or array
        Absolute temperature of the wall, > 0. [K]
    temperatures : sequence of float
        Absolute temperatures of the table, rising, two or more. [K]
    retained : sequence of float
        Share left at each, > 0. [1]

    Returns
    -------
    float or array
        Share. Below the table its first value, beyond it the last slope goes on. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the table is not in order.

    Notes
    -----
    Beyond the last tabulated temperature it is an extrapolation that the page must mark.

    References
    ----------
    Log-linear interpolation between measured points; common practice, no source.
    """
    within("wall temperature", temperature, 0.0, unit="K", above=True)
    t = np.asarray(finite("temperatures", temperatures), dtype=float)
    r = np.log(within("retained share", np.asarray(retained, dtype=float), 0.0, above=True))
    if t.size < 2 or t.size != r.size or np.any(np.diff(t) <= 0.0):
        raise Refused("temperatures", "The retention table needs two or more rising temperatures "
                                      "and as many shares.")
    inside = np.interp(temperature, t, r)
    slope = min(0.0, (r[-1] - r[-2]) / (t[-1] - t[-2]))
    return np.exp(inside + slope * np.maximum(0.0, np.asarray(temperature) - t[-1]))


def creep_factor(load_time: float, cycle_time: float, shots: int, reference_time: float,
                 exponent: float) -> float:
    """Strain at the end of the last load over the elastic strain, for equal loads every cycle.

    .. math:: \\frac{\\varepsilon}{\\varepsilon_0} = 1 + \\sum_{i=0}^{N-1}
        \\frac{(i T + t_L)^n - (i T)^n}{\\tau^n}

    Compliance J(t) = J_0 (1 + (t/tau)^n), loads and rests added by Boltzmann's superposition.

    Parameters
    ----------
    load_time : float
        Time t_L that the load stands in each cycle, > 0. [s]
    cycle_time : float
        Cycle T, >= load_time. [s]
    shots : int
        Loads N so far in one run, 1 to a million. [1]
    reference_time : float
        tau, time after which creep has doubled the strain under a steady load, > 0. [s]
    exponent : float
        n of the power law, 0 to 1. [1]

    Returns
    -------
    float
        Factor, >= 1: the modulus to use is the elastic one divided by it. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Linear viscoelasticity, at stresses below about a fifth of the strength. The creep law itself
    quickens as the wall nears its softening: take tau at the wall's temperature.

    References
    ----------
    Findley, Lai & Onaran, Creep and Relaxation of Nonlinear Viscoelastic Materials (from memory).
    """
    within("load time", load_time, 0.0, unit="s", above=True)
    within("cycle time", cycle_time, load_time, unit="s")
    within("shots", shots, 1, 1_000_000)
    within("creep reference time", reference_time, 0.0, unit="s", above=True)
    within("creep exponent", exponent, 0.0, 1.0)
    start = np.arange(int(shots)) * cycle_time
    grown = ((start + load_time) / reference_time) ** exponent
    grown[1:] -= (start[1:] / reference_time) ** exponent
    return float(1.0 + grown.sum())


def fatigue_share(shots, loss_per_decade, floor):
    """Share of the strength left for a load repeated so many times.

    .. math:: s = \\max(1 - k \\log_{10} N,\\ s_{floor})

    Parameters
    ----------
    shots : float or array
        Number of loads N, >= 1. [1]
    loss_per_decade : float or array
        k, loss of strength per factor of ten in shots, 0 to 0.5. [1]
    floor : float or array
        Share that endures, above 0 to 1. [1]

    Returns
    -------
    float or array
        Share. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    A straight line on logarithmic shots: the usual shape for plastics up to a million loads.

    References
    ----------
    Common practice, no source.
    """
    within("shots", shots, 1.0)
    within("loss per decade", loss_per_decade, 0.0, 0.5)
    within("endured share", floor, 0.0, 1.0, above=True)
    return np.maximum(1.0 - loss_per_decade * np.log10(shots), floor)
