"""Comparing candidates on stated weights, with the bands carried through by sampling.

Each criterion maps a property to a utility that is 0 at the worst and 1 at the best typical value
of all known materials, linear in the property or, for quantities that spread over decades, in its
logarithm. A candidate's score is the weighted mean of its utilities, sample by sample.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from zlib import crc32

import numpy as np

from thermoforming.bands import Band, sample, spread

COUNT = 1000  # samples of each candidate
TELLABLE = 0.9  # one is better than another when it is so in this share of the samples


@dataclass(frozen=True)
class Criterion:
    """What is compared: less or more is better, on a linear or logarithmic scale."""

    key: str
    label: str
    more_is_better: bool
    logarithmic: bool = False
    help: str = ""


@dataclass(frozen=True)
class Comparison:
    """Scores of candidates: samples, bands, how often each is first, how often i beats j."""

    keys: tuple[str, ...]
    samples: np.ndarray  # candidate, sample
    bands: tuple[Band, ...]
    first: np.ndarray
    beats: np.ndarray  # beats[i, j]: share of samples in which i scores above j

    def order(self) -> list[int]:
        """Candidates, the one that comes first most often at the front."""
        return sorted(range(len(self.keys)),
                      key=lambda i: (-self.first[i], -self.bands[i].typical))

    def alike(self) -> list[tuple[int, int]]:
        """Pairs that cannot be told apart: neither is better in nine of ten samples."""
        count = len(self.keys)
        return [(i, j) for i in range(count) for j in range(i + 1, count)
                if max(self.beats[i, j], self.beats[j, i]) < TELLABLE]


def sampled(name: str, bands: Mapping[str, Band]) -> Mapping[str, np.ndarray]:
    """Samples of one candidate's bands; its own seed, so that others do not move it."""
    return _sampled(name, tuple(sorted(bands.items())))


@lru_cache(maxsize=512)
def _sampled(name: str, bands: tuple[tuple[str, Band], ...]) -> Mapping[str, np.ndarray]:
    return sample(dict(bands), COUNT, seed=crc32(name.encode()))


def scale_of(criterion: Criterion, typical: Sequence[float]) -> tuple[float, float]:
    """Worst and best typical value over all known materials."""
    low, high = min(typical), max(typical)
    return (low, high) if criterion.more_is_better else (high, low)


def utility(criterion: Criterion, values, scale: tuple[float, float]):
    """0 at the worst, 1 at the best of the scale; beyond them it goes on."""
    transform = np.log if criterion.logarithmic else np.asarray
    worst, best, value = (transform(np.maximum(x, 1e-12) if criterion.logarithmic else x)
                          for x in (scale[0], scale[1], values))
    return np.full(np.shape(value), 0.5) if worst == best else (value - worst) / (best - worst)


def compared(keys: Sequence[str], criteria: Sequence[Criterion], weights: Mapping[str, float],
             samples: Mapping[str, Mapping[str, np.ndarray]],
             typical: Mapping[str, Mapping[str, float]],
             scales: Mapping[str, tuple[float, float]]) -> Comparison:
    """Compare candidates; with all weights at zero every one scores the same."""
    total = sum(weights[c.key] for c in criteria) or 1.0
    def score(values):
        return sum(weights[c.key] / total * utility(c, values[c.key], scales[c.key])
                   for c in criteria) + np.zeros(np.shape(values[criteria[0].key]))
    scores = np.array([score(samples[key]) for key in keys])
    bands = tuple(spread(row, float(score(typical[key]))) for key, row in zip(keys, scores))
    return Comparison(tuple(keys), scores, bands, _first(scores), _beats(scores))


def _first(scores: np.ndarray) -> np.ndarray:
    """Share of samples in which each candidate is first; ties are shared."""
    best = np.isclose(scores, scores.max(axis=0))
    return (best / best.sum(axis=0)).mean(axis=1)


def _beats(scores: np.ndarray) -> np.ndarray:
    difference = scores[:, None, :] - scores[None, :, :]
    return (difference > 1e-12).mean(axis=2) + 0.5 * (np.abs(difference) <= 1e-12).mean(axis=2)
