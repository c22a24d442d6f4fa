"""What holds the part on the tool, and the force that frees it.

A part that cools on a raised form is held open by it: the elastic strain it could not give way to
grips the form. A part in a cavity shrinks away from the outer walls, but grips whatever stands up
between: bosses, and the webs between cavities.
"""

from __future__ import annotations

from math import pi

import numpy as np

from thermoforming.guard import within


def held_strain(expansion, set_temperature, part_temperature):
    r"""Strain that a rigid form has kept from a part since it set: alpha (T_set - T).

    Parameters
    ----------
    expansion : float or array
        Linear expansion of the sheet, 0 to 3e-4. [1/K]
    set_temperature : float or array
        Temperature below which the sheet is stiff enough to grip, > 0. [K]
    part_temperature : float or array
        Mean temperature of the part when it is taken off, > 0. [K]

    Returns
    -------
    float or array
        Strain, never negative. [1]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    The tool is taken as rigid and constant in temperature. Shrinkage of crystallisation that goes
    on below the set temperature adds to it and is not included.
    """
    within("expansion", expansion, 0.0, 3e-4, "1/K")
    within("set temperature", set_temperature, 0.0, 1000.0, "K", above=True)
    within("part temperature", part_temperature, 0.0, 1000.0, "K", above=True)
    return np.maximum(expansion * (set_temperature - part_temperature), 0.0)


def grip_of_form(modulus, strain, gauge, height, poisson=0.0):
    r"""Normal force with which a part grips a raised form all round.

    .. math:: N = 2\pi\,\frac{E\,\varepsilon\,t}{1-\nu}\,h

    A band under the tension T presses on a convex form with T by radius; summed round the form
    this is 2 pi T whatever the shape of the section.

    Parameters
    ----------
    modulus : float or array
        Young's modulus of the sheet at its temperature, >= 0. [Pa]
    strain : float or array
        Strain held back, 0 to 0.1. [1]
    gauge : float or array
        Gauge of the wall, 0 to 0.03. [m]
    height : float or array
        Height of the gripped wall, >= 0. [m]
    poisson : float or array
        Poisson's ratio where the wall is held along the pull as well, else 0, 0 to 0.49. [1]

    Returns
    -------
    float or array
        Sum of the normal forces. [N]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    An upper estimate: walls also bend, and the hot sheet relaxes. Convex sections only.
    """
    return 2.0 * pi * _tension(modulus, strain, gauge, poisson) * _height(height)


def grip_of_web(modulus, strain, gauge, length, poisson=0.0):
    r"""Normal force on each side of a web between two cavities.

    .. math:: N = \frac{E\,\varepsilon\,t}{1-\nu}\,l

    The sheet over the web and the floors beside it pull the two walls towards each other with at
    most their membrane force along the length of the web.

    Parameters
    ----------
    modulus : float or array
        Young's modulus of the sheet at its temperature, >= 0. [Pa]
    strain : float or array
        Strain held back, 0 to 0.1. [1]
    gauge : float or array
        Gauge, 0 to 0.03. [m]
    length : float or array
        Length of the web in plan, >= 0. [m]
    poisson : float or array
        Poisson's ratio where the sheet is held along the web as well, else 0, 0 to 0.49. [1]

    Returns
    -------
    float or array
        Normal force on one side. [N]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    An upper estimate: the walls of a thin part bend first.
    """
    within("length", length, 0.0, unit="m")
    return _tension(modulus, strain, gauge, poisson) * length


def release_force(normal_force, friction, draft):
    r"""Pull that frees a wall pressed by a normal force, never below zero.

    .. math:: F = N\,\max(\mu\cos\theta - \sin\theta,\ 0)

    Parameters
    ----------
    normal_force : float or array
        Force square to the wall, >= 0. [N]
    friction : float or array
        Coefficient of friction of the set part on the tool, 0 to 5. [1]
    draft : float or array
        Angle of the wall to the pull, -pi/2 to pi/2. [rad]

    Returns
    -------
    float or array
        Force along the pull. [N]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    With tan(draft) above the friction the part frees itself. Equilibrium of the wall along the
    pull while it slides.
    """
    within("normal force", normal_force, 0.0, unit="N")
    within("friction", friction, 0.0, 5.0)
    within("draft", draft, -pi / 2, pi / 2, "rad")
    return normal_force * np.maximum(friction * np.cos(draft) - np.sin(draft), 0.0)


def self_releasing_draft(friction):
    """Draft at which friction no longer holds the part: arctan(mu).

    Parameters
    ----------
    friction : float or array
        Coefficient of friction, 0 to 5. [1]

    Returns
    -------
    float or array
        Draft. [rad]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    return np.arctan(within("friction", friction, 0.0, 5.0))


def vacuum_hold(plan_area, lift_speed, open_area, discharge=0.6, density=1.2):
    r"""Force with which the air that must follow through the vents holds a part being lifted.

    .. math:: F = A\,\frac{\rho}{2}\left(\frac{A\,v}{C_d\,A_v}\right)^2

    Parameters
    ----------
    plan_area : float or array
        Area of the part seen along the pull, >= 0. [m2]
    lift_speed : float or array
        Speed of lifting, 0 to 2. [m/s]
    open_area : float or array
        Area of all vents and of the gap at the rim, > 0. [m2]
    discharge : float or array
        Discharge coefficient, above 0, at most 1. [1]
    density : float or array
        Density of the air, > 0. [kg/m3]

    Returns
    -------
    float or array
        Force, at most one atmosphere on the plan area. [N]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    Incompressible flow: right for a few kPa; above that the force is only known to be too large,
    and blowing air is needed.

    References
    ----------
    Bernoulli's equation; ISO 5167 for the discharge of orifices (from memory).
    """
    within("plan area", plan_area, 0.0, unit="m2")
    within("lift speed", lift_speed, 0.0, 2.0, "m/s")
    within("open area", open_area, 0.0, unit="m2", above=True)
    within("discharge", discharge, 0.0, 1.0, above=True)
    within("density", density, 0.0, unit="kg/m3", above=True)
    suction = density / 2.0 * (plan_area * lift_speed / (discharge * open_area)) ** 2
    return plan_area * np.minimum(suction, 101325.0)


def blow_off_pressure(force, plan_area):
    """Air pressure under the part that does the work of a pull: F / A.

    Parameters
    ----------
    force : float or array
        Release force, >= 0. [N]
    plan_area : float or array
        Area of the part seen along the pull, > 0. [m2]

    Returns
    -------
    float or array
        Pressure above atmosphere. [Pa]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.
    """
    within("force", force, 0.0, unit="N")
    within("plan area", plan_area, 0.0, unit="m2", above=True)
    return force / plan_area


def wall_use(force, perimeter, gauge, strength):
    r"""Share of its strength that a wall uses while it carries the release force.

    .. math:: u = \frac{F}{l\,t\,\sigma}

    Parameters
    ----------
    force : float or array
        Release force carried, >= 0. [N]
    perimeter : float or array
        Length of the wall that carries it, > 0. [m]
    gauge : float or array
        Least gauge of that wall, above 0, at most 0.03. [m]
    strength : float or array
        Yield strength of the sheet at its temperature, > 0. [Pa]

    Returns
    -------
    float or array
        Above 1 it yields or tears. [1]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    Even load along the perimeter; a pull at one place concentrates it.
    """
    within("force", force, 0.0, unit="N")
    within("perimeter", perimeter, 0.0, unit="m", above=True)
    within("gauge", gauge, 0.0, 0.03, "m", above=True)
    within("strength", strength, 0.0, unit="Pa", above=True)
    return force / (perimeter * gauge * strength)


def _tension(modulus, strain, gauge, poisson):
    within("modulus", modulus, 0.0, unit="Pa")
    within("strain", strain, 0.0, 0.1)
    within("gauge", gauge, 0.0, 0.03, "m")
    within("Poisson's ratio", poisson, 0.0, 0.49)
    return modulus * strain * gauge / (1.0 - poisson)


def _height(height):
    return within("height", height, 0.0, unit="m")
