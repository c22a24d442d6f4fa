"""Modulus and strength of the wall as it is used: loaded for a while, loaded often."""

from __future__ import annotations

import numpy as np

from thermoforming.guard import within


def creep_factor(load_time: float, cycle_time: float, shots: int, reference_time: float,
                 ratio: float, exponent: float) -> float:
    """Strain at the end of the last load over the elastic strain, for equal loads every cycle.

    .. math:: \\frac{\\varepsilon}{\\varepsilon_0} = 1 + \\left(\\frac{1}{R} - 1\\right)
        \\sum_{i=0}^{N-1} \\frac{(i T + t_L)^n - (i T)^n}{t_R^n}

    Compliance 1 + (1/R - 1)(t/t_R)^n times the elastic one; loads and rests are added by
    Boltzmann's superposition.

    Parameters
    ----------
    load_time : float
        Time t_L that the load stands in each cycle, > 0. [s]
    cycle_time : float
        Cycle T, >= load_time. [s]
    shots : int
        Loads N so far in one run, 1 to a million. [1]
    reference_time : float
        t_R, time of steady load at which the creep modulus is known, > 0. [s]
    ratio : float
        R, creep modulus at t_R over the short-time modulus, above 0 to 1. [1]
    exponent : float
        n of the power law, 0 to 1. [1]

    Returns
    -------
    float
        Factor, >= 1: the modulus to use is the short-time one divided by it. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Linear viscoelasticity, at stresses below about a fifth of the strength; take R at the wall's
    temperature.

    References
    ----------
    Findley, Lai & Onaran, Creep and Relaxation of Nonlinear Viscoelastic Materials (from memory).
    """
    within("load time", load_time, 0.0, unit="s", above=True)
    within("cycle time", cycle_time, load_time, unit="s")
    within("shots", shots, 1, 1_000_000)
    within("creep reference time", reference_time, 0.0, unit="s", above=True)
    within("creep modulus ratio", ratio, 0.0, 1.0, above=True)
    within("creep exponent", exponent, 0.0, 1.0)
    start = np.arange(int(shots)) * cycle_time
    grown = ((start + load_time) / reference_time) ** exponent
    grown[1:] -= (start[1:] / reference_time) ** exponent
    return float(1.0 + (1.0 / ratio - 1.0) * grown.sum())


def fatigue_share(shots, ratio, reference_shots):
    """Share of the short-time strength that a load repeated so many times may use.

    .. math:: s = f^{\\log N / \\log N_R}

    Parameters
    ----------
    shots : float or array
        Number of loads N, >= 1. [1]
    ratio : float or array
        f, stress borne N_R times over the short-time strength, above 0 to 1. [1]
    reference_shots : float
        N_R, > 1. [1]

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
    Basquin's straight line in logarithms from one load to N_R loads, continued beyond it: on the
    safe side for materials that have an endurance limit.

    References
    ----------
    Basquin, Proc. ASTM 10 (1910) 625 (from memory).
    """
    within("shots", shots, 1.0)
    within("fatigue ratio", ratio, 0.0, 1.0, above=True)
    within("reference shots", reference_shots, 1.0, above=True)
    return np.asarray(ratio, dtype=float) ** (np.log(shots) / np.log(reference_shots))
