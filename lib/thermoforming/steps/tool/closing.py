"""The ledger closed: each dimension as assumed on the shrinkage page and as found since."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from thermoforming.bands import Band
from thermoforming.geometry.pick import across
from thermoforming.guard import Refused
from thermoforming.reference.material import ROOM
from thermoforming.steps.base import as_band
from thermoforming.steps.brief.part import part_surface
from thermoforming.steps.brief.picked import DIRECTIONS, place_of
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.shrinkage.ledger import DISTORTION, GAUGE, RUNNING, Ledger, ledger
from thermoforming.steps.upstream import Upstream


@dataclass(frozen=True, eq=False)
class Closed:
    """Both ledgers and what differs between their assumptions."""

    assumed: Ledger
    found: Ledger
    moves: tuple[Move, ...]
    distortion: float

    def scale(self, which: str) -> tuple[float, float, float]:
        """Tool over part along x, y, z."""
        scales = (self.found if which == "closed" else self.assumed).scales
        return tuple(float(scales[axis]) for axis in "xyz")

    def shift(self, name: str) -> float:
        """How far the drawn dimension moves from assumed to found. [m]"""
        before = {line.row["name"]: line.drawn for line in self.assumed.lines}
        return next(line.drawn for line in self.found.lines
                    if line.row["name"] == name) - before[name]

    def use(self, line) -> float:
        """Share of half the tolerance by which the dimension is drawn differently."""
        return abs(self.shift(line.row["name"])) / max(line.half, 1e-9)

    def bowed(self, line) -> float:
        """Share of half the tolerance that the warm wall's distortion takes up."""
        bowed = self.distortion if line.row["restraint"] != "trim" else 0.0
        return bowed / max(line.half, 1e-9)


@dataclass(frozen=True)
class Move:
    """One thing that was assumed and has been found since."""

    label: str
    shown: str
    assumed: Band
    found: Band | None
    by: str


def closed(upstream: Upstream) -> Closed:
    """Both ledgers of a project whose thinning and wall may have been decided."""
    assumed = upstream.decision("shrinkage").inputs
    rows = upstream.input("brief", "dimensions")
    side = upstream.input("brief", "side")
    sheet, tool = chosen_sheet(upstream), chosen_tool(upstream)
    gauge, running = _gauge(upstream), _running(upstream)
    known = ({GAUGE: gauge} if gauge else {}) | ({RUNNING: running.shifted(-ROOM)} if running
                                                 else {})
    distortion = float(upstream.result("wall", "distortion")) if upstream.has("wall") else 0.0
    local = _local(rows, upstream, gauge, distortion)
    moves = (
        Move("gauge of the formed wall", "mm", _assumed_gauge(assumed), gauge, "thinning"),
        Move("running temperature of the tool", "°C", Band.around(
            assumed["tool_running_temperature"], assumed["running_spread"]), running, "wall"),
        Move("distortion of the warm wall", "mm", Band.exact(0.0),
             Band.exact(distortion) if upstream.has("wall") else None, "wall"),
    )
    return Closed(ledger(rows, assumed, sheet, tool, side),
                  ledger(rows, assumed, sheet, tool, side, known, local), moves, distortion)


def _gauge(upstream: Upstream) -> Band | None:
    """From the least gauge to the mean's like above it: what a wall may have where it counts."""
    if not upstream.has("thinning"):
        return None
    mean = as_band(upstream.result("thinning", "mean_gauge")).typical
    least = as_band(upstream.result("thinning", "least_gauge")).typical
    return Band(least, mean, max(mean, 2.0 * mean - least))


def _running(upstream: Upstream) -> Band | None:
    if not upstream.has("wall"):
        return None
    return as_band(upstream.result("wall", "running_temperature"))


def _assumed_gauge(inputs: Mapping[str, Any]) -> Band:
    return Band.around(inputs["assumed_gauge"], inputs["assumed_gauge"] * inputs["gauge_spread"])


def _local(rows, upstream: Upstream, gauge: Band | None, distortion: float) -> dict:
    """What holds for one dimension only: the gauge at its own two walls, and the distortion."""
    formed = upstream.arrays("thinning") if gauge else {}
    found: dict[str, dict[str, Band]] = {}
    for row in rows:
        if row["restraint"] == "trim":
            continue
        here = {DISTORTION: Band(0.0, distortion, distortion)} if distortion else {}
        at = _gauge_at(row, upstream, formed)
        if at is not None:
            here[GAUGE] = gauge.scaled(at / gauge.typical)
        found[row["name"]] = here
    return found


def _gauge_at(row: Mapping[str, Any], upstream: Upstream, formed) -> float | None:
    """Mean gauge where a dimension with a typed place meets the part; None without. [m]"""
    place = place_of(row.get("at") or "")
    if place is None or row["kind"] == "depth" or "node_gauge" not in formed:
        return None
    try:
        ends = across(part_surface(upstream), place, DIRECTIONS[row["direction"]]).ends
    except Refused:  # the brief page says what is wrong with the place
        return None
    _, nearest = cKDTree(formed["points"]).query(ends)
    return float(np.asarray(formed["node_gauge"], float)[nearest].mean())
