"""Numbers with a range: low, typical, high; how they are sampled and how results carry them.

`low` and `high` are the limits within which nearly all values lie; a band is sampled as a
triangle with its mode at `typical`. A result's band runs from the 5th to the 95th percentile of
the sample, with the value at the typical inputs between them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import qmc

from thermoforming.guard import Refused, finite


@dataclass(frozen=True)
class Band:
    """Low, typical and high value of one quantity, in one (SI) unit."""

    low: float
    typical: float
    high: float

    def __post_init__(self):
        for name in ("low", "typical", "high"):
            object.__setattr__(self, name, float(finite(name, getattr(self, name))))
        if not self.low <= self.typical <= self.high:
            raise Refused("band", f"A band must be in order low, typical, high, but it is "
                                  f"{self.low:g}, {self.typical:g}, {self.high:g}.")

    @classmethod
    def exact(cls, value: float) -> Band:
        """A band without width."""
        return cls(value, value, value)

    @classmethod
    def around(cls, typical: float, half_width: float) -> Band:
        """Typical plus and minus a half width."""
        return cls(typical - half_width, typical, typical + half_width)

    def scaled(self, factor: float) -> Band:
        """The band times a factor of either sign."""
        ends = sorted((self.low * factor, self.high * factor))
        return Band(ends[0], self.typical * factor, ends[1])

    def shifted(self, amount: float) -> Band:
        """The band plus an amount."""
        return Band(self.low + amount, self.typical + amount, self.high + amount)

    def quantile(self, probability):
        """Quantile of the triangular distribution, vectorised. [unit of the band]"""
        p = np.asarray(probability, dtype=float)
        width = self.high - self.low
        if width == 0.0:
            return np.full_like(p, self.typical)
        mode = (self.typical - self.low) / width
        rising = self.low + width * np.sqrt(p * mode)
        falling = self.high - width * np.sqrt((1.0 - p) * (1.0 - mode))
        return np.where(p < mode, rising, falling)

    @property
    def is_exact(self) -> bool:
        return self.low == self.high


def sample(bands: Mapping[str, Band], count: int = 512, seed: int = 1) -> dict[str, np.ndarray]:
    """Latin hypercube sample of independent bands.

    Parameters
    ----------
    bands : mapping of str to Band
        What varies.
    count : int
        Number of samples, >= 2.
    seed : int
        The same seed gives the same sample, so that a record can be recomputed.

    Returns
    -------
    dict of str to array, shape (count,)
    """
    names = sorted(bands)
    if not names:
        return {}
    points = qmc.LatinHypercube(d=len(names), rng=seed).random(count)
    return {name: bands[name].quantile(points[:, i]) for i, name in enumerate(names)}


def spread(values, typical: float) -> Band:
    """Band of a sampled result: 5th percentile, value at typical inputs, 95th percentile."""
    low, high = np.percentile(finite("sampled result", values), [5.0, 95.0])
    return Band(min(low, typical), typical, max(high, typical))


def carry(function: Callable, bands: Mapping[str, Band], count: int = 512, seed: int = 1,
          **fixed) -> Band:
    """Carry bands through a vectorised function of keyword arguments to the band of its result.

    >>> carry(lambda width, scale: width * scale, {"width": Band(9, 10, 11)}, scale=2.0).typical
    20.0
    """
    typical = float(function(**{name: band.typical for name, band in bands.items()}, **fixed))
    if all(band.is_exact for band in bands.values()):
        return Band.exact(typical)
    return spread(function(**sample(bands, count, seed), **fixed), typical)
