"""Stacks of tolerances: worst case, root sum of squares, sampled; what is realistic."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from thermoforming.bands import Band, sample, spread
from thermoforming.guard import Refused, finite, one_of, within

# Multiples of the standard tolerance factor i by grade, ISO 286-1 (from memory).
GRADES = {5: 7, 6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100, 12: 160, 13: 250, 14: 400, 15: 640,
          16: 1000, 17: 1600, 18: 2500}
# Limits of the ranges of nominal sizes up to 500 mm, ISO 286-1 (from memory) [m].
_SIZES = tuple(mm * 1e-3 for mm in (1, 3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500))


def worst_case(half_widths) -> float:
    """Sum of the half widths: everything at its limit at once.

    Parameters
    ----------
    half_widths : array
        Half of each tolerance zone, >= 0. [m]

    Returns
    -------
    float
        Half width of the sum. [m]

    Raises
    ------
    Refused
        If one is not finite or negative.
    """
    return float(np.sum(within("half widths", half_widths, 0.0)))


def root_sum_square(half_widths) -> float:
    """Square root of the sum of squares: independent, centred contributions.

    Parameters
    ----------
    half_widths : array
        Half of each tolerance zone, >= 0. [m]

    Returns
    -------
    float
        Half width of the sum at the same level of confidence. [m]

    Raises
    ------
    Refused
        If one is not finite or negative.
    """
    return float(np.sqrt(np.sum(np.square(within("half widths", half_widths, 0.0)))))


@dataclass(frozen=True, eq=False)
class Stack:
    """How the bands of the inputs spread one dimension.

    Parameters
    ----------
    typical : float
        Value with every input typical.
    contributions : mapping of str to Band
        Change of the value when one input alone runs over its band; zero at typical.
    worst, rss, sampled : Band
        Everything at its limit; root sum of squares; 5th to 95th percentile of the sample.
    samples : array
        The sample itself.
    """

    typical: float
    contributions: Mapping[str, Band]
    worst: Band
    rss: Band
    sampled: Band
    samples: np.ndarray

    @property
    def largest(self) -> str:
        """Name of the input that spreads the value most; empty if none does."""
        if not self.contributions:
            return ""
        name = max(self.contributions, key=lambda n: _width(self.contributions[n]))
        return name if _width(self.contributions[name]) > 0.0 else ""

    def share(self, name: str) -> float:
        """Share of an input in the sum of squares. [1]"""
        total = sum(_width(band) ** 2 for band in self.contributions.values())
        return _width(self.contributions[name]) ** 2 / total if total else 0.0


def stack(function: Callable, bands: Mapping[str, Band],
          samples: Mapping[str, np.ndarray] | None = None, count: int = 2048, **fixed) -> Stack:
    """Spread of a function of banded inputs, three ways.

    Parameters
    ----------
    function : callable
        Vectorised function of keyword arguments, monotonic in each banded input.
    bands : mapping of str to Band
        What varies. [any]
    samples : mapping of str to array, optional
        A common sample of the inputs, so that several dimensions vary together. [any]
    count : int
        Size of the sample when none is given, >= 2.
    fixed
        Arguments that do not vary.

    Returns
    -------
    Stack
        Typical value, contributions and the three spreads. [any]

    Raises
    ------
    Refused
        If a result is not finite.

    Notes
    -----
    The worst case takes every input at the end of its band that lowers (raises) the value, which
    is exact for a monotonic function. Contributions are found one at a time.
    """
    names = list(bands)
    if samples is None:
        samples = sample(bands, count)
    alone = {name: np.tile(bands[name].typical, 1 + 2 * len(names)) for name in names}
    for i, name in enumerate(names):
        alone[name][1 + 2 * i:3 + 2 * i] = bands[name].low, bands[name].high
    first = len(names) * 2 + 1
    found = _called(function, {name: np.concatenate([alone[name], samples[name]])
                               for name in names}, fixed)
    typical, ends = float(found[0]), (found[1:first] - found[0]).reshape(-1, 2)
    varied = found[first:] if names else found
    contributions = {name: Band(min(*pair, 0.0), 0.0, max(*pair, 0.0))
                     for name, pair in zip(names, ends.tolist(), strict=True)}
    corners = _called(function, {name: np.array([(band.low, band.high)[_end(pair, sign)]
                                                 for sign in (-1, 1)])
                                 for (name, band), pair in zip(bands.items(), ends, strict=True)},
                      fixed)
    sides = [float(np.sqrt(sum(getattr(band, side) ** 2 for band in contributions.values())))
             for side in ("low", "high")]
    return Stack(typical, contributions,
                 Band(min(float(corners[0]), typical), typical, max(float(corners[-1]), typical)),
                 Band(typical - sides[0], typical, typical + sides[1]),
                 spread(varied, typical), varied)


def _called(function: Callable, values: Mapping[str, np.ndarray], fixed) -> np.ndarray:
    """The function of all scenarios at once, finite, one number a scenario."""
    result = np.asarray(finite("stack", function(**values, **fixed)), dtype=float)
    return np.broadcast_to(result, next((v.shape for v in values.values()), (1,)))


def share_within(samples, low, high) -> float:
    """Share of a sample between two limits.

    Parameters
    ----------
    samples : array
        Values. [any]
    low, high : float
        Limits, both included. [any]

    Returns
    -------
    float
        Estimate of the probability. [1]

    Raises
    ------
    Refused
        If a value is not finite or the limits are in the wrong order.
    """
    finite("samples", samples)
    within("upper limit", high, low)
    return float(np.mean((np.asarray(samples) >= low) & (np.asarray(samples) <= high)))


def share_all_within(samples, lows, highs) -> float:
    """Share of joint samples for which every dimension lies between its limits.

    Parameters
    ----------
    samples : array, shape (dimensions, count)
        Values drawn together. [any]
    lows, highs : array, shape (dimensions,)
        Limits, both included. [any]

    Returns
    -------
    float
        Estimate of the joint probability. [1]

    Raises
    ------
    Refused
        If a value is not finite or the shapes do not fit.
    """
    values = np.atleast_2d(finite("samples", samples))
    lows, highs = (np.asarray(limit, dtype=float).reshape(-1, 1) for limit in (lows, highs))
    if not len(values) == len(lows) == len(highs):
        raise Refused("samples", "There must be one lower and one upper limit per dimension.")
    return float(np.mean(np.all((values >= lows) & (values <= highs), axis=0)))


def realistic_tolerance(samples, target: float, coverage: float = 0.95) -> float:
    """Plus-and-minus tolerance about a target that the given share of a sample keeps.

    Parameters
    ----------
    samples : array
        Values. [m]
    target : float
        Middle of the tolerance. [m]
    coverage : float
        Share that must be in tolerance, above 0, below 1. [1]

    Returns
    -------
    float
        Half width. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("coverage", coverage, 0.0, 1.0, above=True, below=True)
    away = np.abs(np.asarray(finite("samples", samples), dtype=float) - finite("target", target))
    return float(np.quantile(away, coverage))


def standard_tolerance(dimension: float, grade: int) -> float:
    r"""Width of the ISO tolerance zone of a grade, before the standard's rounding.

    .. math:: IT = k\,(0.45\,\sqrt[3]{D} + 0.001\,D)\ \mathrm{\mu m},\quad D\ \mathrm{in\ mm}

    Parameters
    ----------
    dimension : float
        Nominal size, above 0, at most 0.5. [m]
    grade : int
        5 to 18.

    Returns
    -------
    float
        Whole width of the zone, so plus and minus half of it. [m]

    Raises
    ------
    Refused
        If the size is out of range or the grade is not among 5 to 18.

    Notes
    -----
    D is the geometric mean of the ends of the size range. The standard rounds; differences of a
    few percent to its table are usual.

    References
    ----------
    ISO 286-1 (formula from memory).
    """
    within("dimension", dimension, 0.0, 0.5, "m", above=True)
    one_of("grade", grade, tuple(GRADES))
    place = int(np.searchsorted(_SIZES, dimension - 1e-12, side="left"))
    low, high = _SIZES[max(place - 1, 0)], _SIZES[max(place, 1)]
    mean = (low * high) ** 0.5 * 1e3
    return GRADES[grade] * (0.45 * mean ** (1.0 / 3.0) + 0.001 * mean) * 1e-6


def nearest_grade(dimension: float, half_width: float) -> int:
    """The finest ISO grade whose zone holds plus and minus a half width; 0 if none does.

    Parameters
    ----------
    dimension : float
        Nominal size, above 0, at most 0.5. [m]
    half_width : float
        Half of the zone, >= 0. [m]

    Returns
    -------
    int
        5 to 18, or 0 when even the coarsest is narrower. [1]

    Raises
    ------
    Refused
        If a value is out of range.
    """
    within("half width", half_width, 0.0, unit="m")
    return next((grade for grade in GRADES
                 if standard_tolerance(dimension, grade) >= 2.0 * half_width), 0)


def _width(band: Band) -> float:
    return band.high - band.low


def _end(pair, sign: int) -> int:
    """Which end of an input (0 low, 1 high) moves the value most in the direction of the sign."""
    return int(sign * pair[1] > sign * pair[0])
