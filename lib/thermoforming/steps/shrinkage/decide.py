"""Tool dimensions, tolerances, draft and release in one outcome."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.geometry.forms import plan_area
from thermoforming.physics.release import blow_off_pressure
from thermoforming.reference import Material, rule
from thermoforming.steps.base import Outcome, Result, Step
from thermoforming.steps.brief.part import part_surface
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.shrinkage.checks import RADIUS_RULE, checks
from thermoforming.steps.shrinkage.fields import FIELDS
from thermoforming.steps.shrinkage.grip import Release, release_of
from thermoforming.steps.shrinkage.ledger import Ledger, ledger
from thermoforming.steps.shrinkage.tables import tables
from thermoforming.steps.shrinkage.walls import (
    Details,
    Walls,
    details_of,
    pull_words,
    steps_by_build,
    walls_of,
)
from thermoforming.steps.shrinkage.worked import worked
from thermoforming.steps.upstream import Upstream


@dataclass(frozen=True, eq=False)
class Found:
    """Everything worked out, before it is put into words."""

    brief: Mapping[str, Any]
    inputs: Mapping[str, Any]
    sheet: Material
    tool: Material
    gauge: float
    ledger: Ledger
    walls: Walls
    details: Details
    release: Release
    plan: float
    steps: Mapping[str, tuple[float, float]]


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """Ledger, scale, draft, undercut, radii, layer steps and release of the part."""
    found = _found(inputs, upstream)
    return Outcome(_results(found), checks(found), worked(found), tables(found), _arrays(found))


def _found(inputs, upstream: Upstream) -> Found:
    brief = upstream.decision("brief").inputs
    sheet, tool = chosen_sheet(upstream), chosen_tool(upstream)
    surface = part_surface(upstream)
    gauge = float(upstream.input("material", "gauge"))
    walls = walls_of(surface, inputs, sheet, brief["texture_depth"])
    plan = plan_area(surface)
    return Found(brief, inputs, sheet, tool, gauge,
                 ledger(brief["dimensions"], inputs, sheet, tool, brief["side"]), walls,
                 details_of(surface, gauge * rule("radius", RADIUS_RULE).band.typical),
                 release_of(surface, walls, inputs, sheet, brief["minimum_wall"], plan), plan,
                 steps_by_build(walls, inputs["layer_height"]))


def _results(found: Found) -> tuple[Result, ...]:
    walls, release, scales = found.walls, found.release, found.ledger.scales
    worst = min(found.ledger.lines, key=lambda line: line.probability, default=None)
    return (
        Result("joint", "All in tolerance", found.ledger.joint, "%", "",
               "Share of parts with every critical dimension in tolerance."),
        Result("worst_dimension", "Weakest dimension", worst.row["name"] if worst else "none"),
        Result("short_area", "Walls short of draft", walls.short_area, "cm²"),
        Result("undercut_area", "Undercut", walls.found.area, "cm²"),
        Result("release_force", "Force to free the part", release.total, "N", "F",
               "Grip of raised forms and webs, at the temperature of stripping."),
        *(Result(f"larger_{axis}", f"Tool larger along {axis} by", scales[axis] - 1.0, "%")
          for axis in "xyz"),
        Result("joint_scaled", "All in tolerance, one scale an axis", found.ledger.joint_scaled,
               "%"),
        *(Result(f"scale_{axis}", f"Scale along {axis}", scales[axis], significant=6)
          for axis in "xyz"),
        Result("pull", "Pull", pull_words(walls.found.pull)),
        *(Result(f"pull_{axis}", f"Pull, share along {axis}", float(walls.found.pull[i]))
          for i, axis in enumerate("xyz")),
        Result("undercut_volume", "Volume in undercuts", _volume(walls), "cm³"),
        Result("required_draft", "Draft wanted, walls it leaves", walls.required_free, "°"),
        Result("required_draft_held", "Draft wanted, walls it grips", walls.required_held, "°"),
        Result("external_radius", "Smallest external radius", _finite(found.details.external),
               "mm"),
        Result("internal_radius", "Smallest internal radius", _finite(found.details.internal),
               "mm"),
        Result("suction", "Suction if lifted flat", release.suction, "N"),
        Result("air", "Air that must follow", found.plan * found.inputs["lift_speed"], "L/min"),
        Result("blow_off", "Air pressure that frees it", blow_off_pressure(
            release.total.typical, found.plan), "kPa"),
        Result("wall_use", "Strength used by release", release.use, "%"),
        Result("step_roughness", "Ra of layer steps on walls", _step(found), "µm"),
    )


def _step(found: Found) -> float:
    return 0.0 if found.inputs["smoothed"] else found.steps["z"][0]


def _volume(walls: Walls) -> float:
    return float(sum(region.volume for region in walls.undercuts))


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _arrays(found: Found) -> dict[str, Any]:
    walls = found.walls
    flagged = np.zeros(len(walls.found.drafts), dtype=np.int8)
    flagged[walls.is_short] = 1
    flagged[walls.found.hidden >= 0.5] = 2
    return {"surface": walls.surface, "drafts": walls.found.drafts, "flagged": flagged,
            "radii": found.details.radii, "gauge": found.gauge,
            "details": [*found.details.tight, *found.details.flats],
            "regions": [*walls.undercuts, *walls.short], "bands": walls.bands,
            "lines": found.ledger.lines, "release": found.release,
            "required": Band(min(walls.required_free, walls.required_held),
                             min(walls.required_free, walls.required_held),
                             max(walls.required_free, walls.required_held)),
            "yield_wanted": found.inputs["yield_wanted"]}


STEP = Step(
    key="shrinkage", number=3, title="Shrinkage and draft",
    question="With which dimensions is the tool drawn, do they hold the tolerances, and does the "
             "part come off?",
    fields=FIELDS, compute=compute, needs=("brief", "material"), cautions=("hot surfaces",),
)
