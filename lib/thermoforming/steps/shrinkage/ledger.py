"""The ledger: every critical dimension with all that changes it on the way from file to part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band, sample
from thermoforming.physics.shrinkage import (
    common_scale,
    drawn_dimension,
    part_dimension,
    shrinkage_from_cold_tool,
    shrinkage_on_tool,
)
from thermoforming.physics.tolerance import (
    Stack,
    nearest_grade,
    realistic_tolerance,
    share_all_within,
    share_within,
    stack,
)
from thermoforming.reference import Material, rule
from thermoforming.reference.material import ROOM

SAMPLES = 2048
ALONG, ACROSS, HELD = "shrinkage along", "shrinkage across", "shrinkage held"
RUNNING, EXPANSION, SCALE = "tool temperature", "tool expansion", "build scale"
BUILT, CURED, GAUGE, MEASURED, TRIM = "build", "post-cure", "gauge", "measuring", "trimming"
DISTORTION = "distortion"
# What the figure adds up under one name.
GROUPS = {ALONG: "shrinkage", ACROSS: "shrinkage", HELD: "shrinkage", SCALE: BUILT,
          EXPANSION: RUNNING}


@dataclass(frozen=True, eq=False)
class Line:
    """One dimension of the ledger.

    Parameters
    ----------
    row : mapping
        As the brief has it.
    target : float
        Middle of its tolerance. [m]
    drawn : float
        What the tool is drawn with for it. [m]
    scale : float or None
        Factor from the part's tool side to the file; None for a trimmed edge. [-]
    stack : Stack
        Spread of the part's dimension. [m]
    """

    row: Mapping[str, Any]
    target: float
    drawn: float
    scale: float | None
    stack: Stack

    @property
    def low(self) -> float:
        return self.row["nominal"] - self.row["minus"]

    @property
    def high(self) -> float:
        return self.row["nominal"] + self.row["plus"]

    @property
    def half(self) -> float:
        """Half of the tolerance zone. [m]"""
        return (self.high - self.low) / 2

    @property
    def probability(self) -> float:
        return share_within(self.stack.samples, self.low, self.high)

    def realistic(self, coverage: float) -> float:
        """Plus and minus that the given share of parts keeps. [m]"""
        return realistic_tolerance(self.stack.samples, self.target, coverage)

    def grade(self, coverage: float) -> int:
        """ISO grade of that tolerance; 0 where the standard's formula does not reach."""
        known = self.row["nominal"] <= 0.5
        return nearest_grade(self.row["nominal"], self.realistic(coverage)) if known else 0

    def grouped(self) -> dict[str, float]:
        """Half width of each group of contributions, root sum of squares within it. [m]"""
        squares: dict[str, float] = {}
        for name, band in self.stack.contributions.items():
            group = GROUPS.get(name, name)
            squares[group] = squares.get(group, 0.0) + ((band.high - band.low) / 2) ** 2
        return {group: square**0.5 for group, square in squares.items()}

    @property
    def largest(self) -> str:
        groups = self.grouped()
        return max(groups, key=groups.get) if any(groups.values()) else ""


@dataclass(frozen=True, eq=False)
class Ledger:
    """All lines, and what holds for them together."""

    lines: tuple[Line, ...]
    bands: Mapping[str, Band]
    scales: Mapping[str, float]
    errors: Mapping[str, float]

    @property
    def joint(self) -> float:
        """Share of parts with every dimension in tolerance. [-]"""
        return self._joint(np.zeros(len(self.lines)))

    @property
    def joint_scaled(self) -> float:
        """The same when the whole part is scaled by one factor along each axis. [-]"""
        return self._joint([self.errors.get(line.row["name"], 0.0) for line in self.lines])

    def _joint(self, shifts) -> float:
        if not self.lines:
            return 1.0
        values = np.stack([np.broadcast_to(line.stack.samples, SAMPLES) + shift
                           for line, shift in zip(self.lines, shifts, strict=True)])
        return share_all_within(values, [line.low for line in self.lines],
                                [line.high for line in self.lines])


def ledger(rows, inputs: Mapping[str, Any], sheet: Material, tool: Material, side: str,
           known: Mapping[str, Band] | None = None,
           local: Mapping[str, Mapping[str, Band]] | None = None,
           drawn: Mapping[str, float] | None = None) -> Ledger:
    """Work out every dimension.

    Parameters
    ----------
    rows : list of mapping
        Critical dimensions of the brief, SI.
    inputs : mapping
        Inputs of the step, SI.
    sheet, tool : Material
        What the part and the tool are made of.
    side : str
        female or male.
    known : mapping of str to Band, optional
        What a later page has found, in place of the common assumptions (RUNNING, GAUGE, ...).
    local : mapping of str to mapping of str to Band, optional
        What holds for one dimension only, by its name: its own GAUGE, its DISTORTION. [m]
    drawn : mapping of str to float, optional
        What the tool is drawn with already, by name of the dimension; else each is drawn so that
        the part comes out in the middle of its tolerance. [m]
    """
    bands = common_bands(inputs, sheet, tool) | dict(known or {})
    own = [_own_bands(row, tool, (local or {}).get(row["name"], {})) for row in rows]
    named = {f"{name} {i}": band for i, found in enumerate(own) for name, band in found.items()}
    samples = sample(bands | named, SAMPLES)
    lines = tuple(_line(row, inputs, sheet, bands | found,
                        samples | {name: samples[f"{name} {i}"] for name in found},
                        (drawn or {}).get(row["name"]))
                  for i, (row, found) in enumerate(zip(rows, own, strict=True)))
    scales, errors = _scales(lines, bands, inputs, side)
    return Ledger(lines, bands, scales, errors)


def common_bands(inputs, sheet: Material, tool: Material) -> dict[str, Band]:
    """What varies for all dimensions alike."""
    reference = inputs["measured_at"]
    gauge = inputs["assumed_gauge"]
    relative = tool.band("tolerance_relative").typical
    return shrinkages(inputs, sheet) | {
        RUNNING: _around(inputs["tool_running_temperature"] - ROOM, inputs["running_spread"]),
        EXPANSION: tool.band("expansion"),
        SCALE: _around(inputs["build_scale"], relative),
        CURED: _around(inputs["post_cure"], inputs["post_cure_spread"]),
        GAUGE: _around(gauge, gauge * inputs["gauge_spread"]),
        MEASURED: _around(reference - ROOM, inputs["measured_spread"])}


def shrinkages(inputs, sheet: Material) -> dict[str, Band]:
    """Shrinkage on the hot tool: from the table, or own figures turned to that reference."""
    if inputs["shrinkage_from"] == "table":
        return {ALONG: sheet.band("shrinkage_free_along"),
                ACROSS: sheet.band("shrinkage_free_across"),
                HELD: sheet.band("shrinkage_restrained")}
    turn = {"hot tool": lambda s: s, "part": shrinkage_on_tool,
            "cold tool": lambda s: shrinkage_from_cold_tool(s, inputs["own_expansion"],
                                                            inputs["own_rise"])}
    refer = turn[inputs["own_refers"]]
    return {name: Band(*(float(refer(inputs[key] + d * inputs["own_spread"])) for d in (-1, 0, 1)))
            for name, key in ((ALONG, "own_along"), (ACROSS, "own_across"),
                              (HELD, "own_restrained"))}


def shares(direction: str, restraint: str, extrusion: str) -> dict[str, float]:
    """Which shrinkage a dimension has: held on a raised form, else free along or across.

    Depth is drawn from both directions of the sheet and takes their mean.
    """
    if restraint == "male":
        return {HELD: 1.0}
    if direction == "z":
        return {ALONG: 0.5, ACROSS: 0.5}
    return {ALONG if direction == extrusion else ACROSS: 1.0}


def faces_and_gauges(row) -> tuple[float, float]:
    """How many built faces and how many gauges stand between the tool's and the part's dimension.

    A cavity measured across loses two faces' offset; on the free side it loses two gauges. A
    raised form is the other way round. A depth on the free side is changed by the difference of
    floor and rim only (see `_gauge_of`). Centre distances have neither.
    """
    if row["kind"] in ("centres", "depth"):
        return 0.0, 0.0
    sign = 1.0 if row["restraint"] == "male" else -1.0
    return 2.0 * sign, (-2.0 * sign if row["side"] == "free" else 0.0)


def _own_bands(row, tool: Material, local: Mapping[str, Band]) -> dict[str, Band]:
    """What varies for one dimension by itself."""
    if row["restraint"] == "trim":
        return {TRIM: _around(0.0, rule("tolerance", "cut to cut").band.typical)}
    return {BUILT: _around(0.0, tool.band("tolerance_fixed").typical), **local}


def _line(row, inputs, sheet: Material, bands, samples, drawn: float | None) -> Line:
    target = row["nominal"] + (row["plus"] - row["minus"]) / 2
    expansion = sheet.band("expansion").typical
    if row["restraint"] == "trim":
        used = {name: bands[name] for name in (MEASURED, TRIM)}
        found = stack(lambda **v: (target + v[TRIM]) * (1.0 + expansion * v[MEASURED]), used,
                      samples)
        return Line(row, target, target, None, found)
    share = shares(row["direction"], row["restraint"], inputs["extrusion"])
    faces, gauges, rim = _gauge_of(row, inputs)
    chain = _chain(share, faces, gauges, inputs["build_offset"], expansion, rim)
    names = (*share, RUNNING, EXPANSION, SCALE, CURED, MEASURED, BUILT)
    names += (GAUGE,) if gauges else ()
    names += (DISTORTION,) if DISTORTION in bands else ()
    used = {name: bands[name] for name in names}
    at = {name: band.typical for name, band in used.items()}
    if drawn is None:
        drawn = float(drawn_dimension(target, **chain(at)))
    found = stack(lambda **v: part_dimension(drawn + v[BUILT] + v.get(DISTORTION, 0.0),
                                             **chain(v)), used, samples)
    toolside = target / (1.0 + expansion * at[MEASURED]) + gauges * (at.get(GAUGE, rim) - rim)
    return Line(row, target, drawn, drawn / toolside, found)


def _gauge_of(row, inputs) -> tuple[float, float, float]:
    """Faces, gauges, and the gauge of the rim that is taken off a depth's.

    Seen on the free side, a cavity is deeper than its tool by the gauge of the rim less that of
    the floor; a raised form is higher by that of its top less that of the rim.
    """
    faces, gauges = faces_and_gauges(row)
    if row["kind"] == "depth" and row["side"] == "free":
        return faces, (-1.0 if row["restraint"] == "male" else 1.0), inputs["rim_gauge"]
    return faces, gauges, 0.0


def _chain(share, faces, gauges, offset, part_expansion, rim: float = 0.0):
    """The arguments of the dimension chain from named values."""
    def arguments(v):
        return dict(shrinkage=sum(weight * v[name] for name, weight in share.items()),
                    expansion=v[EXPANSION], temperature_rise=v[RUNNING], build_scale=v[SCALE],
                    build_offset=offset, faces=faces, post_cure=v[CURED],
                    gauge=v.get(GAUGE, rim) - rim, gauges=gauges, part_expansion=part_expansion,
                    measured_above=v[MEASURED])
    return arguments


def _scales(lines, bands, inputs, side: str):
    """One factor along each axis, and the error it leaves in each dimension."""
    scales, errors = {}, {}
    for axis in "xyz":
        here = [line for line in lines if line.scale and line.row["direction"] == axis]
        if here:
            weights = [(line.target / max(line.half, 1e-6)) ** 2 for line in here]
            scales[axis] = common_scale([line.scale for line in here], weights)
        else:
            share = shares(axis, side, inputs["extrusion"])
            chain = _chain(share, 0.0, 0.0, 0.0, 0.0)
            at = {name: band.typical for name, band in bands.items()} | {MEASURED: 0.0}
            scales[axis] = float(drawn_dimension(1.0, **chain(at)))
        errors |= {line.row["name"]: (scales[axis] / line.scale - 1.0) * line.target
                   for line in here}
    return scales, errors


def _around(middle: float, half: float) -> Band:
    return Band.around(middle, abs(half))
