"""How a warm tool changes shape: growth against its base, bowing through the wall, stress."""

from __future__ import annotations

import numpy as np

from thermoforming.guard import Refused, finite, within


def mismatch(length, tool_expansion, tool_temperature, base_expansion, base_temperature,
             reference):
    """Difference in growth between tool and base over a length.

    .. math:: \\Delta L = L \\left[\\alpha_t (T_t - T_0) - \\alpha_b (T_b - T_0)\\right]

    Parameters
    ----------
    length : float or array
        Distance from the fixed point, or between two fixings, > 0. [m]
    tool_expansion, base_expansion : float or array
        Linear expansion, 0 to 5e-4. [1/K]
    tool_temperature, base_temperature, reference : float or array
        Absolute mean temperatures when running, and when both were fixed together, > 0. [K]

    Returns
    -------
    float or array
        Tool's growth beyond the base's; what slotted holes must allow. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Definition of linear expansion.
    """
    within("length", length, 0.0, unit="m", above=True)
    for name, value in (("tool expansion", tool_expansion), ("base expansion", base_expansion)):
        within(name, value, 0.0, 5e-4, "1/K")
    for name, value in (("tool temperature", tool_temperature), ("reference", reference),
                        ("base temperature", base_temperature)):
        within(name, value, 0.0, unit="K", above=True)
    return length * (tool_expansion * (tool_temperature - reference)
                     - base_expansion * (base_temperature - reference))


def bow_of_curvature(curvature, span):
    """Rise of the middle of a span that is bent evenly.

    .. math:: w = \\frac{\\kappa L^2}{8}

    Parameters
    ----------
    curvature : float or array
        Curvature. [1/m]
    span : float or array
        Length of the chord, > 0. [m]

    Returns
    -------
    float or array
        Rise, with the curvature's sign. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Geometry of a shallow arc.
    """
    finite("curvature", curvature)
    within("span", span, 0.0, unit="m", above=True)
    return curvature * span**2 / 8.0


def thermal_curvatures(depth, strain, rib_strain: float, skin: float, rib_thickness: float,
                       rib_height: float, along: float, across: float,
                       poisson: float) -> tuple[float, float]:
    """Curvatures along and across that uneven warming gives a free ribbed wall.

    .. math:: \\begin{pmatrix} A & B \\\\ B & D \\end{pmatrix}
        \\begin{pmatrix} \\varepsilon \\\\ \\kappa \\end{pmatrix}
        = \\begin{pmatrix} N_T \\\\ M_T \\end{pmatrix}

    Stretching, coupling and bending stiffness of skin and ribs as in `ribs.smeared`; the right
    side is what the free thermal strains would push and turn if held.

    Parameters
    ----------
    depth : array
        Depths below the forming face at which the skin's strain is known, rising. [m]
    strain : array
        Free thermal strain there, -0.1 to 0.1. [1]
    rib_strain : float
        Free thermal strain of the ribs, -0.1 to 0.1. [1]
    skin, rib_thickness, rib_height : float
        Skin and rib thickness > 0, rib height >= 0. [m]
    along, across : float
        Ribs per metre that run along, across, >= 0. [1/m]
    poisson : float
        Poisson's ratio, 0 to below 0.5. [1]

    Returns
    -------
    tuple of float
        Curvatures along and across; positive bulges the forming face outward. [1/m]

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the depths do not rise.

    Notes
    -----
    One modulus for the whole wall; free at all edges. Held edges bow less and are stressed.

    References
    ----------
    Boley & Weiner, Theory of Thermal Stresses (from memory); layers as in laminated plates.
    """
    depth, strain = (np.asarray(finite(n, v), dtype=float) for n, v in (
        ("depths", depth), ("thermal strains", strain)))
    if depth.ndim != 1 or depth.shape != strain.shape or np.any(np.diff(depth) <= 0.0):
        raise Refused("depths", "Depths must rise and have one strain each.")
    within("thermal strain", strain, -0.1, 0.1)
    within("rib strain", rib_strain, -0.1, 0.1)
    stiffness, offset = _layers(skin, rib_thickness, rib_height, along, across, poisson)
    nodes, weights = np.polynomial.legendre.leggauss(24)
    y = skin * (nodes + 1.0) / 2.0
    free = np.interp(y, depth, strain) * weights * skin / 2.0 / (1.0 - poisson)
    ribs = rib_strain * rib_thickness * rib_height * np.array([along, across])
    push = np.concatenate([free.sum() + ribs, np.sum(free * (y - skin / 2.0)) + ribs * offset])
    bent = np.linalg.solve(stiffness, push)
    return -float(bent[2]), -float(bent[3])


def _layers(skin, thickness, height, along, across, poisson):
    """Stiffness per modulus of strains and curvatures about the skin's middle, and the distance
    of the ribs' middles from it."""
    within("skin", skin, 0.0, unit="m", above=True)
    within("rib thickness", thickness, 0.0, unit="m", above=True)
    within("rib height", height, 0.0, unit="m")
    within("ribs per metre", (along, across), 0.0, unit="1/m")
    within("Poisson's ratio", poisson, 0.0, 0.5, below=True)
    plane = np.array([[1.0, poisson], [poisson, 1.0]]) / (1.0 - poisson**2)
    offset = (skin + height) / 2.0
    area = thickness * height * np.diag([along, across])
    bend = plane * skin**3 / 12.0 + area * (height**2 / 12.0 + offset**2)
    return np.block([[plane * skin + area, area * offset], [area * offset, bend]]), offset


def bimetal_curvature(strain, thickness, base_thickness, modulus, base_modulus):
    """Curvature of two plates joined over their whole face that grow differently.

    .. math:: \\kappa = \\frac{6 \\varepsilon (1 + m)^2}
        {h \\left[3 (1 + m)^2 + (1 + m n)(m^2 + \\frac{1}{m n})\\right]}

    Parameters
    ----------
    strain : float or array
        Free growth of the tool beyond the base's, per length. [1]
    thickness, base_thickness : float or array
        Of tool (equivalent in bending) and base, > 0; m is their ratio, h their sum. [m]
    modulus, base_modulus : float or array
        Young's moduli at temperature, > 0; n is their ratio. [Pa]

    Returns
    -------
    float or array
        Curvature, positive toward the tool's side. [1/m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    A strip, fixed together everywhere: the worst of glued or closely screwed tools.

    References
    ----------
    Timoshenko, J. Opt. Soc. Am. 11 (1925) 233 (from memory).
    """
    finite("strain", strain)
    for name, value in (("thickness", thickness), ("base thickness", base_thickness)):
        within(name, value, 0.0, unit="m", above=True)
    for name, value in (("modulus", modulus), ("base modulus", base_modulus)):
        within(name, value, 0.0, unit="Pa", above=True)
    m, n = thickness / base_thickness, modulus / base_modulus
    height = thickness + base_thickness
    return (6.0 * strain * (1.0 + m) ** 2
            / (height * (3.0 * (1.0 + m) ** 2 + (1.0 + m * n) * (m**2 + 1.0 / (m * n)))))


def restrained_stress(modulus, poisson, expansion, difference):
    """Stress of a plate that a temperature difference would bend, held flat.

    .. math:: \\sigma = \\frac{E \\alpha \\Delta T}{2 (1 - \\nu)}

    Parameters
    ----------
    modulus : float or array
        Young's modulus at temperature, > 0. [Pa]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]
    expansion : float or array
        Linear expansion, 0 to 5e-4. [1/K]
    difference : float or array
        Forming face less back face, linear through the wall. [dK]

    Returns
    -------
    float or array
        Compression of the warm face and equal tension of the cold one. [Pa]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Timoshenko & Goodier, Theory of Elasticity, thermal stress in plates (from memory).
    """
    within("modulus", modulus, 0.0, unit="Pa", above=True)
    within("Poisson's ratio", poisson, 0.0, 0.5, below=True)
    within("expansion", expansion, 0.0, 5e-4, "1/K")
    finite("temperature difference", difference)
    return modulus * expansion * np.abs(difference) / (2.0 * (1.0 - poisson))
