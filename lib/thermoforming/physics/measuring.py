"""What was measured and how far it can be trusted: temperatures, outliers, bias and capability."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats

from thermoforming.guard import Refused, finite, within

MAD_TO_SIGMA = 1.4826022185056018  # 1 / normal quantile of 0.75
OUTLYING = 3.5  # modified z above which a value is named; Iglewicz and Hoaglin 1993 (from memory)


def camera_temperature(reading: float, set_emissivity: float, emissivity: float,
                       reflected: float) -> float:
    r"""Surface temperature behind a thermal camera's reading taken at another emissivity.

    .. math:: T^4 = T_r^4 + \frac{\epsilon_s}{\epsilon}\left(T_i^4 - T_r^4\right)

    Parameters
    ----------
    reading : float
        Temperature T_i that the camera showed, absolute, > 0. [K]
    set_emissivity : float
        Emissivity set at the camera, above 0 to 1. [1]
    emissivity : float
        Emissivity of the surface, above 0 to 1. [1]
    reflected : float
        Temperature T_r of what the surface mirrors, absolute, > 0. [K]

    Returns
    -------
    float
        Temperature of the surface. [K]

    Raises
    ------
    Refused
        If out of range, or no temperature fits the reading.

    Notes
    -----
    Takes the whole spectrum; a camera sees a part of it, so a large correction is uncertain.
    Thin hot sheet may let heater radiation through and then reads wrong whatever the setting.
    """
    within("reading", reading, 0.0, unit="K", above=True)
    within("set emissivity", set_emissivity, 0.0, 1.0, above=True)
    within("emissivity", emissivity, 0.0, 1.0, above=True)
    within("reflected", reflected, 0.0, unit="K", above=True)
    fourth = reflected**4 + set_emissivity / emissivity * (reading**4 - reflected**4)
    if fourth <= 0.0:
        raise Refused("reading", f"reading {reading:.1f} K cannot come from a surface that "
                                 f"mirrors {reflected:.1f} K with these emissivities.")
    return fourth**0.25


def outlying(values) -> np.ndarray:
    r"""Modified z of each value, to be named as an outlier beyond 3.5.

    .. math:: z_i = \frac{x_i - \mathrm{med}(x)}{1.4826\,\mathrm{med}|x - \mathrm{med}(x)|}

    Parameters
    ----------
    values : array
        Residuals of one kind. [any]

    Returns
    -------
    array
        Signed distance from the median in robust standard deviations; 0 for fewer than five
        values, of which nobody can say which is wrong. [1]

    Raises
    ------
    Refused
        If a value is not finite.

    References
    ----------
    Iglewicz and Hoaglin, How to Detect and Handle Outliers, ASQC 1993 (from memory).
    """
    x = np.asarray(finite("values", values), float)
    if x.size < 5:
        return np.zeros_like(x)
    away = x - np.median(x)
    scale = MAD_TO_SIGMA * np.median(np.abs(away))
    if scale == 0.0:
        scale = np.mean(np.abs(away)) * math.sqrt(math.pi / 2.0)
    return away / scale if scale > 0.0 else np.zeros_like(x)


@dataclass(frozen=True)
class Agreement:
    """Measured against predicted: mean difference with its confidence limits, and scatter."""

    count: int
    bias: float
    low: float
    high: float
    scatter: float

    @property
    def biased(self) -> bool:
        """Whether zero lies outside the limits of the bias."""
        return not self.low <= 0.0 <= self.high


def agreement(measured, predicted, confidence: float = 0.95) -> Agreement:
    r"""Bias of a prediction with its limits, and the scatter around it.

    .. math:: b = \bar d \pm t_{(1+C)/2,\,n-1}\,\frac{s_d}{\sqrt n}, \qquad d = y - \hat y

    Parameters
    ----------
    measured, predicted : array
        Pairs, at least two. [any]
    confidence : float
        Two-sided confidence of the limits, above 0 and below 1. [1]

    Returns
    -------
    Agreement
        In the unit of the values.

    Raises
    ------
    Refused
        If fewer than two pairs, or not finite.
    """
    y = np.asarray(finite("measured", measured), float)
    difference = y - np.asarray(finite("predicted", predicted), float)
    if difference.size < 2:
        raise Refused("measured", "Bias and scatter need at least two measured values.")
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    n, bias, scatter = difference.size, difference.mean(), difference.std(ddof=1)
    half = stats.t.ppf((1 + confidence) / 2, n - 1) * scatter / math.sqrt(n)
    return Agreement(n, float(bias), float(bias - half), float(bias + half), float(scatter))


def performance_index(mean: float, deviation: float, lower: float, upper: float) -> float:
    r"""Smaller distance to a tolerance limit in units of three standard deviations.

    .. math:: P_{pk} = \min\left(\frac{U - \bar x}{3 s}, \frac{\bar x - L}{3 s}\right)

    Parameters
    ----------
    mean, deviation : float
        Mean and standard deviation (> 0) of the parts measured. [any]
    lower, upper : float
        Limits, lower below upper. [any]

    Returns
    -------
    float
        Performance index; 1.33 is usually asked for in series. [1]

    Raises
    ------
    Refused
        If out of range or not finite.

    References
    ----------
    ISO 22514-2, for normally distributed values (from memory).
    """
    finite("mean", mean)
    within("deviation", deviation, 0.0, above=True)
    within("upper limit", upper, lower, above=True)
    return min(upper - mean, mean - lower) / (3.0 * deviation)


def performance_bound(index: float, parts: int, confidence: float = 0.95) -> float:
    r"""Lower confidence bound of a performance index from few parts.

    .. math:: P_{lo} = P - z_C \sqrt{\frac{1}{9 n} + \frac{P^2}{2(n-1)}}

    Parameters
    ----------
    index : float
        Index found. [1]
    parts : int
        Parts it comes from, >= 2. [parts]
    confidence : float
        One-sided confidence, above 0 and below 1. [1]

    Returns
    -------
    float
        The bound. [1]

    Raises
    ------
    Refused
        If out of range or not finite.

    References
    ----------
    Bissell, Appl. Stat. 39 (1990) 331-340, normal approximation (from memory).
    """
    finite("index", index)
    within("parts", parts, 2)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    z = stats.norm.ppf(confidence)
    return float(index - z * math.sqrt(1.0 / (9 * parts) + index**2 / (2 * (parts - 1))))


def pooled_deviation(groups) -> tuple[float, int]:
    r"""Standard deviation within groups of repeats, and its degrees of freedom.

    .. math:: s^2 = \frac{\sum_g \sum_i (x_{gi} - \bar x_g)^2}{\sum_g (n_g - 1)}

    Parameters
    ----------
    groups : sequence of arrays
        Repeats of each dimension. [any]

    Returns
    -------
    tuple of float and int
        Deviation and degrees of freedom; (0, 0) where nothing was repeated.

    Raises
    ------
    Refused
        If a value is not finite.
    """
    arrays = [np.asarray(finite("groups", group), float) for group in groups]
    freedom = sum(a.size - 1 for a in arrays if a.size)
    if freedom < 1:
        return 0.0, 0
    squares = sum(float(np.sum((a - a.mean()) ** 2)) for a in arrays if a.size)
    return math.sqrt(squares / freedom), freedom
