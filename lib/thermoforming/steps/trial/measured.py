"""What was measured, corrected and set against what was predicted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from thermoforming.bands import Band
from thermoforming.physics import measuring
from thermoforming.steps.base import as_band
from thermoforming.steps.earlier import found
from thermoforming.steps.trial.fields import CAMERA, GOOD, REJECTED, STARTUP
from thermoforming.steps.upstream import Upstream

NEAR = 0.015  # a point farther than this from the predicted part lies somewhere else [m]

ALLOWED = 0.1  # share of a time that a stopwatch and a prediction without a band may miss

# What is timed at the machine, and where its prediction is saved.
TIMES = (("heating_time", "Heating", "heating", ("heating_time",)),
         ("vacuum_time", "Vacuum below the sheet", "vents", ("time",)),
         ("cooling_time", "On the tool", "heating", ("contact_time",)),
         ("cycle", "Cycle", "heating", ("cycle",)))


@dataclass(frozen=True)
class Shots:
    """The shots in short."""

    count: int
    good: int
    rejected: int
    startup: int
    sheet: np.ndarray  # surface temperatures, the camera's corrected [K]
    tool: np.ndarray  # of the tool, start-up left out [K]

    @property
    def judged(self) -> int:
        """Shots that were to give a part."""
        return self.good + self.rejected


def shots(inputs: Mapping[str, Any]) -> Shots:
    """Counts and temperatures of the shots typed."""
    rows = inputs["shots"]
    counts = [sum(row["verdict"] == verdict for row in rows)
              for verdict in (GOOD, REJECTED, STARTUP)]
    sheet = [sheet_temperature(row, inputs) for row in rows if row["sheet_temperature"] is not None]
    warm = [row["tool_temperature"] for row in rows
            if row["tool_temperature"] is not None and row["verdict"] != STARTUP]
    return Shots(len(rows), *counts, np.array(sheet), np.array(warm))


def sheet_temperature(row: Mapping[str, Any], inputs: Mapping[str, Any]) -> float:
    """The sheet's temperature behind a reading; a camera's is corrected for emissivity. [K]"""
    if row["read_by"] != CAMERA:
        return row["sheet_temperature"]
    return measuring.camera_temperature(row["sheet_temperature"], inputs["set_emissivity"],
                                        inputs["emissivity"], inputs["reflected"])


@dataclass(frozen=True)
class Compared:
    """One kind of measurement set against its prediction, point by point."""

    names: tuple[str, ...]
    measured: np.ndarray
    predicted: np.ndarray
    places: np.ndarray  # (n, 3), zeros where there is no place
    z: np.ndarray  # modified z of the residuals

    @property
    def agreement(self) -> measuring.Agreement | None:
        return (measuring.agreement(self.measured, self.predicted)
                if len(self.names) > 1 else None)

    @property
    def outliers(self) -> tuple[str, ...]:
        return tuple(name for name, z in zip(self.names, self.z, strict=True)
                     if abs(z) > measuring.OUTLYING)


def gauges(inputs: Mapping[str, Any], upstream: Upstream) -> Compared | None:
    """Measured gauge against the thinning page's map; None without points or map.

    The map is scaled where the sheet used was thicker or thinner than decided. A point is set
    against the nearest node of the formed sheet.
    """
    rows = inputs["gauges"]
    formed = thinning_map(upstream)
    if not rows or formed is None:
        return None
    places = np.array([[row["x"], row["y"], row["z"]] for row in rows])
    distance, nearest = formed.tree.query(places)
    near = distance <= NEAR
    if not near.any():
        return None
    scale = _gauge_scale(inputs, upstream)
    kept = [row for row, ok in zip(rows, near, strict=True) if ok]
    measured = np.array([row["gauge"] for row in kept])
    predicted = formed.gauge[nearest[near]] * scale
    return Compared(tuple(f"{row['point']}, shot {row['shot']:.0f}" for row in kept), measured,
                    predicted, places[near], measuring.outlying(measured / predicted - 1.0))


def far_points(inputs: Mapping[str, Any], upstream: Upstream) -> list[str]:
    """Points that lie nowhere near the predicted part."""
    formed = thinning_map(upstream)
    if formed is None or not inputs["gauges"]:
        return []
    places = np.array([[row["x"], row["y"], row["z"]] for row in inputs["gauges"]])
    distance, _ = formed.tree.query(places)
    return [row["point"] for row, d in zip(inputs["gauges"], distance, strict=True) if d > NEAR]


@dataclass(frozen=True)
class Formed:
    """The formed sheet of the thinning page: nodes, triangles, gauge at the nodes."""

    nodes: np.ndarray
    triangles: np.ndarray
    gauge: np.ndarray
    tree: cKDTree


_formed: dict[str, Formed] = {}  # the one looked at last, by the hash of its file


def thinning_map(upstream: Upstream) -> Formed | None:
    """The formed sheet, where the thinning page has formed one on the part's mesh."""
    sha256 = upstream.decision("thinning").files.get("simulation") if upstream.has(
        "thinning") else None
    if sha256 is None:
        return None
    if sha256 not in _formed:
        arrays = upstream.arrays("thinning")
        nodes = np.asarray(arrays["points"], float)
        _formed.clear()
        _formed[sha256] = Formed(nodes, arrays["triangles"],
                                 np.asarray(arrays["node_gauge"], float), cKDTree(nodes))
    return _formed[sha256]


def _gauge_scale(inputs, upstream) -> float:
    decided = found(upstream, "thinning", "gauge") or found(upstream, "material", "gauge")
    if inputs["sheet_gauge"] is None or decided is None:
        return 1.0
    return inputs["sheet_gauge"] / as_band(decided).typical


@dataclass(frozen=True)
class Timed:
    """One time at the machine against its prediction."""

    name: str
    predicted: Band | None
    values: np.ndarray

    @property
    def inside(self) -> bool | None:
        """Whether the mean lies in the predicted band; None without a prediction."""
        if self.predicted is None:
            return None
        slack = ALLOWED * self.predicted.typical
        return (self.predicted.low - slack <= self.values.mean()
                <= self.predicted.high + slack)


def times(inputs: Mapping[str, Any], upstream: Upstream) -> tuple[Timed, ...]:
    """Times measured on good shots against the pages that predict them."""
    compared = []
    for key, name, step, results in TIMES:
        values = [row[key] for row in inputs["shots"]
                  if row[key] is not None and row["verdict"] != STARTUP]
        if values:
            saved = found(upstream, step, *results)
            compared.append(Timed(name, None if saved is None else as_band(saved),
                                  np.array(values)))
    return tuple(compared)
