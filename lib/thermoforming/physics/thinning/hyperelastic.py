"""Incompressible hyperelastic laws of the hot sheet, for membranes in plane stress.

Every law is a short sum of powers of the principal stretches, so that one kernel serves all:
`terms` is an array with a row (modulus, exponent) for each power. The kernels are compiled, take
plain floats and check nothing; the functions that build `terms`, and `true_stress`, check.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from thermoforming.guard import Refused, finite, within

LEAST_STRETCH = 1e-3


def neo_hookean(shear_modulus: float) -> np.ndarray:
    """Terms of the neo-Hookean law, the statistical theory of rubber.

    .. math:: W = \\tfrac{\\mu}{2} (\\lambda_1^2 + \\lambda_2^2 + \\lambda_3^2 - 3)

    Parameters
    ----------
    shear_modulus : float
        Shear modulus at small strain, > 0. [Pa]

    Returns
    -------
    array, shape (1, 2)
        Modulus [Pa] and exponent of the term.

    Raises
    ------
    Refused
        If the modulus is not finite or not above zero.

    Notes
    -----
    Thermoplastics above their softening follow it to stretches of about two; beyond, they stiffen.

    References
    ----------
    Treloar, The Physics of Rubber Elasticity (from memory).
    """
    within("shear modulus", shear_modulus, 0.0, unit="Pa", above=True)
    return np.array([[float(shear_modulus), 2.0]])


def mooney_rivlin(shear_modulus: float, second_share: float) -> np.ndarray:
    """Terms of the Mooney-Rivlin law.

    .. math:: W = C_1 (I_1 - 3) + C_2 (I_2 - 3), \\quad \\mu = 2 (C_1 + C_2)

    Parameters
    ----------
    shear_modulus : float
        Shear modulus at small strain, > 0. [Pa]
    second_share : float
        C2 / (C1 + C2), 0 to below 1; zero is the neo-Hookean law. [1]

    Returns
    -------
    array, shape (2, 2)
        Modulus [Pa] and exponent of each term.

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    A share above 0.18 removes the pressure maximum of a blown sphere: the bubble stays stable.

    References
    ----------
    Mooney, J. Appl. Phys. 11 (1940) 582 (from memory).
    """
    within("shear modulus", shear_modulus, 0.0, unit="Pa", above=True)
    within("second share", second_share, 0.0, 1.0, below=True)
    return np.array([[shear_modulus * (1.0 - second_share), 2.0],
                     [-shear_modulus * second_share, -2.0]])


def ogden(moduli, exponents) -> np.ndarray:
    """Terms of the Ogden law.

    .. math:: W = \\sum_i \\frac{\\mu_i}{\\alpha_i}
              (\\lambda_1^{\\alpha_i} + \\lambda_2^{\\alpha_i} + \\lambda_3^{\\alpha_i} - 3)

    Parameters
    ----------
    moduli : sequence of float
        mu_i, of the sign of its exponent. [Pa]
    exponents : sequence of float
        alpha_i, not zero. [1]

    Returns
    -------
    array, shape (n, 2)
        Modulus [Pa] and exponent of each term.

    Raises
    ------
    Refused
        If the counts differ, a value is not finite, or a product mu_i alpha_i is not above zero.

    Notes
    -----
    Products above zero make the energy convex in each stretch: the sheet never loses stiffness by
    itself. Laws that break this are refused.

    References
    ----------
    Ogden, Proc. R. Soc. Lond. A 326 (1972) 565-584 (from memory).
    """
    pairs = np.stack([np.atleast_1d(np.asarray(finite("Ogden modulus", moduli), float)),
                      np.atleast_1d(np.asarray(finite("Ogden exponent", exponents), float))], 1) \
        if np.size(moduli) == np.size(exponents) and np.size(moduli) else None
    if pairs is None:
        raise Refused("Ogden modulus", "Ogden moduli and exponents must be as many of each, "
                                       f"but they are {np.size(moduli)} and {np.size(exponents)}.")
    within("product of Ogden modulus and exponent", pairs[:, 0] * pairs[:, 1], 0.0, unit="Pa",
           above=True)
    return pairs


def shear_modulus(terms: np.ndarray) -> float:
    """Shear modulus at small strain, half the sum of modulus times exponent. [Pa]"""
    return float(0.5 * np.sum(terms[:, 0] * terms[:, 1]))


@njit(cache=True)
def power(base, exponent):
    """base ** exponent, quick for the exponents of the usual laws."""
    if exponent == 2.0:
        return base * base
    if exponent == -2.0:
        return 1.0 / (base * base)
    if exponent == 1.0:
        return base
    return base**exponent


@njit(cache=True)
def energy(stretch1, stretch2, terms):
    """Strain energy per reference volume at two in-plane principal stretches. [Pa]"""
    total = 0.0
    across = 1.0 / (stretch1 * stretch2)
    for i in range(terms.shape[0]):
        a = terms[i, 1]
        total += terms[i, 0] / a * (power(stretch1, a) + power(stretch2, a)
                                    + power(across, a) - 3.0)
    return total


@njit(cache=True)
def nominal_stress(stretch1, stretch2, terms):
    """First derivatives of the energy by both stretches: force per reference area. [Pa]"""
    across = 1.0 / (stretch1 * stretch2)
    first = 0.0
    second = 0.0
    for i in range(terms.shape[0]):
        a = terms[i, 1]
        out = power(across, a)
        first += terms[i, 0] * (power(stretch1, a) - out)
        second += terms[i, 0] * (power(stretch2, a) - out)
    return first / stretch1, second / stretch2


@njit(cache=True)
def stiffness(stretch1, stretch2, terms):
    """Second derivatives W11, W12, W22 of the energy by the stretches. [Pa]"""
    across = 1.0 / (stretch1 * stretch2)
    w11 = 0.0
    w12 = 0.0
    w22 = 0.0
    for i in range(terms.shape[0]):
        m = terms[i, 0]
        a = terms[i, 1]
        out = power(across, a)
        w11 += m * ((a - 1.0) * power(stretch1, a) + (a + 1.0) * out)
        w22 += m * ((a - 1.0) * power(stretch2, a) + (a + 1.0) * out)
        w12 += m * a * out
    return (w11 / (stretch1 * stretch1), w12 / (stretch1 * stretch2),
            w22 / (stretch2 * stretch2))


@njit(cache=True)
def natural_width(stretch):
    """Stretch across at which a strip pulled to `stretch` is free of stress across.

    For the isotropic incompressible strip it is stretch ** -1/2, whatever the law.
    """
    return 1.0 / np.sqrt(stretch)


@njit(cache=True)
def tension_field(stretch1, stretch2, terms):
    """Nominal stresses of a sheet that folds rather than bear compression. [Pa]

    Taut where both stresses pull; a wrinkled strip where the sheet is narrower across than its
    natural width; slack where it is short both ways.
    """
    large = max(stretch1, stretch2)
    small = min(stretch1, stretch2)
    if large <= 1.0:
        return 0.0, 0.0
    width = natural_width(large)
    if small >= width:
        return nominal_stress(stretch1, stretch2, terms)
    pull, _ = nominal_stress(large, width, terms)
    return (pull, 0.0) if stretch1 >= stretch2 else (0.0, pull)


def true_stress(stretch1, stretch2, terms: np.ndarray):
    """Principal true (Cauchy) stresses of the sheet in plane stress.

    .. math:: \\sigma_k = \\sum_i \\mu_i
              (\\lambda_k^{\\alpha_i} - (\\lambda_1 \\lambda_2)^{-\\alpha_i})

    Parameters
    ----------
    stretch1, stretch2 : float or array
        In-plane principal stretches, at least 0.001. [1]
    terms : array, shape (n, 2)
        Law, from `neo_hookean`, `mooney_rivlin` or `ogden`: moduli [Pa] and exponents.

    Returns
    -------
    tuple of arrays
        Stress along each principal direction. [Pa]

    Raises
    ------
    Refused
        If a stretch is not finite or too small.

    References
    ----------
    Ogden, Proc. R. Soc. Lond. A 326 (1972) 565-584 (from memory).
    """
    l1 = np.asarray(within("first stretch", stretch1, LEAST_STRETCH), dtype=float)
    l2 = np.asarray(within("second stretch", stretch2, LEAST_STRETCH), dtype=float)
    across = 1.0 / (l1 * l2)
    first = sum(m * (l1**a - across**a) for m, a in terms)
    second = sum(m * (l2**a - across**a) for m, a in terms)
    return first, second
