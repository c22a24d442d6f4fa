"""What measured parts teach: updating by Bayes, correcting the tool, and the worth of more data.

Everything here is normal and linear, so that the updates are closed forms anyone can check.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from thermoforming.bands import Band
from thermoforming.guard import Refused, finite, within

GRID = 400  # values that a belief on a grid is held at

def band_moments(band: Band) -> tuple[float, float]:
    r"""Mean and standard deviation of a band's triangle.

    .. math:: \mu = \frac{a+m+b}{3}, \qquad \sigma^2 = \frac{a^2+m^2+b^2-am-ab-mb}{18}

    Parameters
    ----------
    band : Band
        Low a, typical m, high b. [any]

    Returns
    -------
    tuple of float
        Mean and standard deviation. [any]
    """
    a, m, b = band.low, band.typical, band.high
    return (a + m + b) / 3.0, math.sqrt(max(a*a + m*m + b*b - a*m - a*b - m*b, 0.0) / 18.0)


def normal_update(mean: float, deviation: float, data, noise: float) -> tuple[float, float]:
    r"""Normal belief about a number after repeated measurement with known noise.

    .. math:: \frac{1}{\sigma'^2} = \frac{1}{\sigma^2} + \frac{n}{s^2}, \qquad
              \mu' = \sigma'^2\left(\frac{\mu}{\sigma^2} + \frac{n\bar y}{s^2}\right)

    Parameters
    ----------
    mean, deviation : float
        Belief before; deviation > 0. [any]
    data : array
        Measured values; may be empty. [any]
    noise : float
        Standard deviation of one measured value, > 0. [any]

    Returns
    -------
    tuple of float
        Mean and deviation after. [any]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    within("deviation", deviation, 0.0, above=True)
    within("noise", noise, 0.0, above=True)
    y = np.asarray(finite("data", data), float)
    precision = 1.0 / deviation**2 + y.size / noise**2
    after = (finite("mean", mean) / deviation**2 + y.sum() / noise**2) / precision
    return float(after), precision**-0.5


def grid_update(band: Band, grid, predicted, data, noise: float) -> Band:
    r"""Belief about a number that a model turns into what was measured.

    .. math:: p(x) \propto p_0(x) \prod_i \exp\left(-\frac{(y_i - f_i(x))^2}{2 s^2}\right)

    In words: the band's triangle, times how well each value of the number explains the data; the
    model is linear between the values at which it was run.

    Parameters
    ----------
    band : Band
        Belief before. [any]
    grid : array, shape (k,)
        Rising values at which the model was run; the band must lie within them. [any]
    predicted : array, shape (k, n)
        What it predicts at each for every measurement. [any]
    data : array, shape (n,)
        What was measured. [any]
    noise : float
        Standard deviation of a measured value around the model, > 0. [any]

    Returns
    -------
    Band
        5th percentile, mean and 95th percentile of the belief after. [any]

    Raises
    ------
    Refused
        If shapes do not fit, a number is not finite, or the band reaches beyond the grid.
    """
    x = np.asarray(finite("grid", grid), float)
    y = np.atleast_1d(np.asarray(finite("data", data), float))
    f = np.asarray(finite("predicted", predicted), float).reshape(x.size, -1)
    within("noise", noise, 0.0, above=True)
    within("band", [band.low, band.high], float(x[0]), float(x[-1]))
    if f.shape[1] != y.size or band.is_exact:
        raise Refused("predicted", "predicted must have a column for every measured value, and "
                                   "the band must have a width.")
    places = (np.arange(GRID) + 0.5) / GRID
    values = band.quantile(places)  # each stands for the same share of the belief before
    misfit = [np.sum(((y - [np.interp(v, x, column) for column in f.T]) / noise) ** 2)
              for v in values]
    weight = np.exp(-0.5 * (np.array(misfit) - min(misfit)))
    weight /= weight.sum()
    low, high = np.interp([0.05, 0.95], np.cumsum(weight) - 0.5 * weight, values)
    mean = float(weight @ values)
    return Band(min(low, mean), mean, max(high, mean))


@dataclass(frozen=True)
class Belief:
    """Joint normal belief about several numbers: mean and covariance."""

    mean: np.ndarray
    covariance: np.ndarray

    @property
    def deviation(self) -> np.ndarray:
        return np.sqrt(np.diag(self.covariance))

    def of(self, row) -> tuple[float, float]:
        """Mean and deviation of a linear combination of the numbers."""
        a = np.asarray(row, float)
        return float(a @ self.mean), math.sqrt(max(float(a @ self.covariance @ a), 0.0))


def linear_update(prior: Belief, design, data, noise) -> Belief:
    r"""Joint belief after measuring linear combinations with known noise.

    .. math:: \Sigma'^{-1} = \Sigma^{-1} + A^T W A, \qquad
              \mu' = \mu + \Sigma' A^T W (y - A\mu), \qquad W = \mathrm{diag}(1/s^2)

    Parameters
    ----------
    prior : Belief
        Belief before; covariance positive definite.
    design : array, shape (measurements, numbers)
        Each row says which combination was measured. [1]
    data : array, shape (measurements,)
        What was found. [any]
    noise : array, shape (measurements,)
        Standard deviation of each, > 0. [any]

    Returns
    -------
    Belief
        Belief after.

    Raises
    ------
    Refused
        If shapes do not fit, or a number is not finite or out of range.

    References
    ----------
    Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, chapter 14 (from memory).
    """
    y = np.atleast_1d(np.asarray(finite("data", data), float))
    if y.size == 0:
        return prior
    a = np.asarray(finite("design", design), float).reshape(y.size, -1)
    s = np.broadcast_to(np.asarray(within("noise", noise, 0.0, above=True), float), y.shape)
    if a.shape[1] != prior.mean.size:
        raise Refused("design", "design must have a column for each number believed in.")
    # In the space of the data: exact also where some numbers are known without doubt.
    gain = np.linalg.solve(a @ prior.covariance @ a.T + np.diag(s**2), a @ prior.covariance).T
    covariance = prior.covariance - gain @ a @ prior.covariance
    return Belief(prior.mean + gain @ (y - a @ prior.mean), (covariance + covariance.T) / 2.0)


def chance_within(mean, deviation, lower, upper):
    r"""Chance that a normal value lies between two limits.

    .. math:: P = \Phi\left(\frac{U-\mu}{\sigma}\right) - \Phi\left(\frac{L-\mu}{\sigma}\right)

    Parameters
    ----------
    mean : float or array
        Mean. [any]
    deviation : float or array
        Standard deviation, > 0. [any]
    lower, upper : float or array
        Limits. [any]

    Returns
    -------
    float or array
        Chance. [1]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    finite("mean", mean)
    s = np.asarray(within("deviation", deviation, 0.0, above=True), float)
    return (ndtr((np.asarray(finite("upper", upper)) - mean) / s)
            - ndtr((np.asarray(finite("lower", lower)) - mean) / s))[()]


def moved(before_mean, before_deviation, after_mean, after_deviation) -> tuple[float, float]:
    r"""How far data moved a belief, and what is left of its width.

    .. math:: z = \frac{\mu' - \mu}{\sigma}, \qquad k = \frac{\sigma'}{\sigma}

    Parameters
    ----------
    before_mean, before_deviation : float
        Belief before; deviation > 0. [any]
    after_mean, after_deviation : float
        Belief after; deviation >= 0. [any]

    Returns
    -------
    tuple of float
        Shift in deviations of the belief before, and share of its width that is left. [1, 1]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    within("deviation before", before_deviation, 0.0, above=True)
    within("deviation after", after_deviation, 0.0)
    shift = (finite("mean after", after_mean) - finite("mean before", before_mean))
    return shift / before_deviation, after_deviation / before_deviation


def corrected(target: float, shrinkage: float) -> float:
    r"""Tool dimension that gives the target on average.

    .. math:: L = \frac{L_{part}}{1 - S}

    Parameters
    ----------
    target : float
        Middle of the part's tolerance, > 0. [m]
    shrinkage : float
        Shrinkage of this dimension as learned, from -0.1 to 0.2. [1]

    Returns
    -------
    float
        Tool dimension. [m]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    within("target", target, 0.0, unit="m", above=True)
    within("shrinkage", shrinkage, -0.1, 0.2)
    return target / (1.0 - shrinkage)


def deviation_after(deviation, noise, parts: int):
    r"""Width of a belief after so many more parts, before any of them is made.

    .. math:: \sigma_n = \left(\frac{1}{\sigma^2} + \frac{n}{s^2}\right)^{-1/2}

    Parameters
    ----------
    deviation : float or array
        Belief's deviation now, >= 0. [any]
    noise : float or array
        Deviation of one part around it, > 0. [any]
    parts : int
        Further parts, >= 0. [parts]

    Returns
    -------
    float or array
        Deviation then; with normal numbers it does not depend on what will be found. [any]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    sigma = np.asarray(within("deviation", deviation, 0.0), float)
    within("noise", noise, 0.0, above=True)
    within("parts", parts, 0)
    return (sigma * noise / np.sqrt(noise**2 + parts * sigma**2))[()]


def worth_of_trial(good_now: float, good_then: float, quantity: float, part: float,
                   trial: float) -> float:
    r"""Money that another trial is expected to save.

    .. math:: G = N c \left(\frac{1}{P_0} - \frac{1}{P_n}\right) - c_{trial}

    In words: rejects not made because the tool is corrected with more knowledge, less what the
    trial costs.

    Parameters
    ----------
    good_now, good_then : float
        Share of good parts if the tool is corrected now, or after the trial, above 0 to 1. [1]
    quantity : float
        Good parts still wanted, > 0. [parts]
    part : float
        Cost of making a part, good or not, >= 0. [money]
    trial : float
        Cost of the trial: its parts, set-up, waiting, >= 0. [money]

    Returns
    -------
    float
        Expected gain, negative where the trial costs more than it saves. [money]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    within("good now", good_now, 0.0, 1.0, above=True)
    within("good then", good_then, 0.0, 1.0, above=True)
    within("quantity", quantity, 0.0, above=True)
    within("part", part, 0.0)
    within("trial", trial, 0.0)
    return quantity * part * (1.0 / good_now - 1.0 / good_then) - trial
