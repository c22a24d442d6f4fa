"""What measured dimensions teach about shrinkage, and how the tool should be corrected.

The unknowns are the shrinkage along the extrusion, across it and on raised forms, and for each
dimension how much its place differs from its direction. A measured part is a linear combination
of them, so the update is a closed form.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.physics import learning, measuring
from thermoforming.physics.shrinkage import tool_dimension
from thermoforming.reference.material import ROOM
from thermoforming.steps.earlier import found, rows_found
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.shrinkage.ledger import (
    ACROSS,
    ALONG,
    HELD,
    faces_and_gauges,
    shares,
    shrinkages,
)
from thermoforming.steps.trial.fields import dimension_rows
from thermoforming.steps.upstream import Upstream

SHRINKAGES = (ALONG, ACROSS, HELD)
DRAWS = 4000  # parts drawn from the belief for the share with every dimension in tolerance
TRIANGLE = 6.0**0.5  # half width over standard deviation of a symmetric triangle


@dataclass(frozen=True)
class Dimension:
    """One dimension: its tolerance, the hot tool behind it, and how the unknowns enter."""

    name: str
    target: float
    low: float
    high: float
    tool: float  # cold
    tool_known: bool  # measured, not as drawn
    hot: float
    taken: float  # gauges between the tool's side and the side measured, as a length
    row: np.ndarray  # of the design
    values: np.ndarray
    shots: tuple[int, ...]

    def part(self, shrinkage):
        """The part's dimension at a shrinkage."""
        return self.hot * (1.0 - shrinkage) - self.taken

    def shrinkage(self, part):
        """The shrinkage that a measured part shows."""
        return 1.0 - (np.asarray(part, float) + self.taken) / self.hot


@dataclass(frozen=True)
class Model:
    """Dimensions, the belief before and after the data, and the scatter of parts."""

    dimensions: tuple[Dimension, ...]
    prior: learning.Belief
    posterior: learning.Belief
    scatter: float  # standard deviation of a part, measuring included [m]
    freedom: int  # of the repeats behind it
    growth: float  # hot over cold tool
    outliers: tuple[tuple[str, int, float], ...]  # name, shot, modified z
    build: float  # standard deviation of a new tool's dimension [m]

    def band(self, i: int, after: bool = True) -> Band:
        """Nine tenths of the belief about unknown i."""
        belief = self.posterior if after else self.prior
        mean, deviation = belief.mean[i], belief.deviation[i]
        return Band(mean - 1.645 * deviation, mean, mean + 1.645 * deviation)

    def of(self, dimension: Dimension, after: bool = True) -> tuple[float, float]:
        """Mean and deviation of the shrinkage of one dimension."""
        return (self.posterior if after else self.prior).of(dimension.row)

    def chance(self, dimension: Dimension) -> float:
        """Chance of a part in tolerance from the tool as it is."""
        mean, deviation = self.of(dimension)
        spread = np.hypot(dimension.hot * deviation, self.scatter)
        return float(learning.chance_within(dimension.part(mean), spread, dimension.low,
                                            dimension.high))

    def corrected_tool(self, dimension: Dimension) -> float:
        """Cold tool dimension that gives the middle of the tolerance."""
        mean, _ = self.of(dimension)
        return learning.corrected(dimension.target + dimension.taken, mean) / self.growth

    def corrected_chance(self, dimension: Dimension) -> float:
        """Chance of a part in tolerance from the corrected tool."""
        _, deviation = self.of(dimension)
        spread = np.sqrt((dimension.hot * deviation) ** 2 + self.scatter**2 + self.build**2)
        return float(learning.chance_within(dimension.target, spread, dimension.low,
                                            dimension.high))

    def all_within(self, corrected: bool, belief: learning.Belief | None = None) -> float:
        """Chance that a part has every dimension in tolerance, their common causes included."""
        belief = belief or self.posterior
        design = np.array([d.row for d in self.dimensions])
        rng = np.random.default_rng(1)
        errors = rng.multivariate_normal(np.zeros(len(belief.mean)), belief.covariance, DRAWS,
                                         method="eigh") @ design.T
        noise = self.scatter * rng.standard_normal(errors.shape)
        inside = np.ones(DRAWS, bool)
        for j, d in enumerate(self.dimensions):
            mean = d.target if corrected else d.part(belief.of(d.row)[0])
            part = mean - d.hot * errors[:, j] + noise[:, j]
            if corrected:
                part = part + self.build * rng.standard_normal(DRAWS)
            inside &= (d.low <= part) & (part <= d.high)
        return float(inside.mean())

    def after_more(self, parts: int) -> learning.Belief:
        """The belief's width after so many more parts, every dimension measured on each."""
        design = np.array([d.row for d in self.dimensions])
        noise = np.array([self.scatter / d.hot for d in self.dimensions]) / np.sqrt(parts)
        middle = design @ self.posterior.mean
        return learning.linear_update(self.posterior, design, middle, noise)


def model(inputs: Mapping[str, Any], upstream: Upstream, tool_temperature: float) -> Model | None:
    """The dimensions with what was measured, and the belief before and after; None without any."""
    rows = dimension_rows(upstream)
    if not rows:
        return None
    growth = 1.0 + chosen_tool(upstream).band("expansion").typical * (tool_temperature - ROOM)
    moments = _moments(upstream)
    dimensions = tuple(_dimension(row, i, len(rows), inputs, upstream, growth, moments)
                       for i, row in enumerate(rows))
    prior = _prior(dimensions, inputs, moments)
    scatter, freedom = _scatter(dimensions, inputs)
    posterior = _updated(dimensions, prior, scatter)
    outliers = _outliers(dimensions, posterior)
    if inputs["leave_out"] and outliers:
        dimensions = _without(dimensions, outliers)
        scatter, freedom = _scatter(dimensions, inputs)
        posterior = _updated(dimensions, prior, scatter)
    build = inputs["build_tolerance"] / TRIANGLE
    return Model(dimensions, prior, posterior, scatter, freedom, growth, outliers, build)


def shrinkage_bands(upstream: Upstream) -> dict[str, Band]:
    """Shrinkage on the hot tool as believed before the trial."""
    if upstream.has("shrinkage"):
        return shrinkages(upstream.decision("shrinkage").inputs, chosen_sheet(upstream))
    return shrinkages({"shrinkage_from": "table"}, chosen_sheet(upstream))


def _moments(upstream) -> dict[str, tuple[float, float]]:
    return {name: learning.band_moments(band) for name, band in shrinkage_bands(upstream).items()}


def _dimension(row, number, count, inputs, upstream, growth, moments) -> Dimension:
    share = shares(row["direction"], row["restraint"],
                   found(upstream, "shrinkage", "extrusion") or "x")
    _, gauges = faces_and_gauges(row)
    taken = gauges * inputs["local_gauge"]
    target = row["nominal"] + (row["plus"] - row["minus"]) / 2
    expected = sum(weight * moments[name][0] for name, weight in share.items())
    measured = {r["name"]: r["value"] for r in inputs["tool_dimensions"]}
    drawn = _drawn(upstream).get(row["name"])
    if drawn is None:
        drawn = float(tool_dimension(target + taken, expected)) / growth
    tool = measured.get(row["name"], drawn)
    design = np.zeros(len(SHRINKAGES) + count)
    for name, weight in share.items():
        design[SHRINKAGES.index(name)] = weight
    design[len(SHRINKAGES) + number] = 1.0
    seen = [r for r in inputs["dimensions"] if r["name"] == row["name"]]
    return Dimension(row["name"], target, row["nominal"] - row["minus"],
                     row["nominal"] + row["plus"], tool, row["name"] in measured, tool * growth,
                     taken, design, np.array([r["value"] for r in seen]),
                     tuple(int(r["shot"]) for r in seen))


def _drawn(upstream) -> dict[str, float]:
    """What the tool was drawn with, from the tool page where it is saved, else the early ledger."""
    early = {r["name"]: r["drawn"] for r in rows_found(upstream, "shrinkage", "ledger")}
    return early | {r["name"]: r["found"] for r in rows_found(upstream, "tool", "closed")
                    if r["found"]}


def _prior(dimensions, inputs, moments) -> learning.Belief:
    mean = np.concatenate([[moments[name][0] for name in SHRINKAGES], np.zeros(len(dimensions))])
    build = inputs["build_tolerance"] / TRIANGLE
    local = [np.hypot(inputs["local_scatter"], 0.0 if d.tool_known else build / d.hot)
             for d in dimensions]
    deviation = np.concatenate([[moments[name][1] for name in SHRINKAGES], local])
    return learning.Belief(mean, np.diag(deviation**2))


def _scatter(dimensions, inputs) -> tuple[float, int]:
    """Deviation from part to part: what was expected and what repeats show, by their weights."""
    found_deviation, freedom = measuring.pooled_deviation([d.values for d in dimensions])
    weight = inputs["scatter_weight"]
    pooled = (weight * inputs["part_scatter"] ** 2 + freedom * found_deviation**2) / (
        weight + freedom)
    return float(np.sqrt(pooled)), freedom


def _updated(dimensions, prior, scatter) -> learning.Belief:
    design = [d.row for d in dimensions for _ in d.values]
    data = np.concatenate([d.shrinkage(d.values) for d in dimensions])
    noise = np.concatenate([np.full(d.values.size, scatter / d.hot) for d in dimensions])
    return learning.linear_update(prior, design, data, noise) if data.size else prior


def _outliers(dimensions, posterior) -> tuple[tuple[str, int, float], ...]:
    """Values far from what their dimension now is believed to be."""
    named = [(d.name, shot) for d in dimensions for shot in d.shots]
    residuals = [value - d.part(posterior.of(d.row)[0]) for d in dimensions for value in d.values]
    if not residuals:
        return ()
    return tuple((name, shot, float(z)) for (name, shot), z in
                 zip(named, measuring.outlying(residuals), strict=True)
                 if abs(z) > measuring.OUTLYING)


def _without(dimensions, outliers) -> tuple[Dimension, ...]:
    out = {(name, shot) for name, shot, _ in outliers}
    kept = []
    for d in dimensions:
        keep = [i for i, shot in enumerate(d.shots) if (d.name, shot) not in out]
        kept.append(Dimension(**{**d.__dict__, "values": d.values[keep],
                                 "shots": tuple(d.shots[i] for i in keep)}))
    return tuple(kept)
