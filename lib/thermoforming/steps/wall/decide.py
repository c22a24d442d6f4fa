"""The tool wall: hand calculation at once, finite elements and search beside the page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thermoforming.physics.toolwall.search import GOVERNS
from thermoforming.steps.base import Column, Grid, Outcome, Result, Run, Step
from thermoforming.steps.earlier import found as earlier_found
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.upstream import Upstream
from thermoforming.steps.wall import alternatives
from thermoforming.steps.wall.checks import checks_of
from thermoforming.steps.wall.fields import FIELDS, SIMULATED_BY
from thermoforming.steps.wall.findings import Found
from thermoforming.steps.wall.situation import Situation
from thermoforming.steps.wall.worked import worked


def situation(inputs: Mapping[str, Any], upstream: Upstream) -> Situation:
    """Inputs and the chosen materials together."""
    sheet = chosen_sheet(upstream)
    hot = earlier_found(upstream, "material", "sheet_temperature")
    if hot is None:
        hot = sheet.band("forming_normal").typical
    gauge = upstream.input("material", "gauge")
    return Situation(inputs, sheet, chosen_tool(upstream), float(gauge),
                     float(getattr(hot, "typical", hot)))


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """Everything that follows a control at once."""
    here = situation(inputs, upstream)
    found = Found(here, upstream.simulation)
    cool, materials = alternatives.ways_to_cool(here), alternatives.other_materials(here)
    tables = [_cool_table(cool), _materials_table(materials), _edges_table(found)]
    if found.simulation is not None and "lightest_standing" in found.simulation:
        tables.append(_lightest_table(found))
    return Outcome(_results(found), checks_of(found), worked(found), tuple(tables),
                   {"found": found, "materials": materials, "cool": cool})


def simulate(inputs: Mapping[str, Any], upstream: Upstream, run: Run) -> Mapping[str, Any]:
    """The solid model and the search."""
    return alternatives.simulate(situation(inputs, upstream), run)


def _results(found: Found) -> tuple[Result, ...]:
    """The first few are shown large."""
    first, second = _mechanical(found), _thermal(found)
    return (*first[:3], *second[:2], *first[3:], *second[2:])


def _mechanical(found: Found) -> tuple[Result, ...]:
    here = found.here
    governs = max(found.use, key=found.use.get)
    return (
        Result("deflection", "Deflection", found.deflection, "mm", "w",
               "Between clamped and supported edges, or by finite elements where they were run; "
               "with the bands of modulus and creep."),
        Result("permitted", "Permitted deflection", here.limits.deflection, "mm"),
        Result("governs", "What governs", f"{governs}, at {found.use[governs]:.0%} of its limit"),
        Result("mass", "Mass", found.mass, "kg", "m", "Wall, ribs and side walls, without base."),
        Result("build_time", "Time to make", found.build_time, "h",
               help="Volume by the process's rate."),
        Result("wall_thickness", "Wall", here.inputs["skin"], "mm", "t"),
        Result("load", "Greatest net pressure", here.load.pressure, "kPa", "p",
               "Positive inward, toward the hollow."),
        Result("stress", "Greatest stress", found.stress, "MPa", "σ"),
        Result("allowed_stress", "Allowed stress", found.allowed, "MPa"),
        Result("buckling", "Buckling load over load", min(found.buckling, 999.0), "-"),
        Result("modulus", "Modulus, warm and crept", here.warm.modulus, "MPa", "E"),
        Result("clamp_force", "Clamp force needed", found.clamp, "kN"),
    )


def _thermal(found: Found) -> tuple[Result, ...]:
    here, heat = found.here, found.here.heat
    count = heat.before_rest(here.temperature_limit)
    return (
        Result("running_temperature", "Wall when the part comes off", found.running, "°C", "T",
               "Mean through the wall at the end of the run; the band is that of contact."),
        Result("shots_before_rest", "Shots before it must rest",
               "no rest needed" if count is None else str(count)),
        Result("mean_peak", "Highest mean of the wall", heat.warmest, "°C"),
        Result("steady", "Highest mean after many shots", float(heat.steady.mean_peak[0]), "°C"),
        Result("face_peak", "Hottest forming face", float(heat.last.peak[0]), "°C"),
        Result("face_before", "Face before the last sheet", float(heat.last.face[0]), "°C"),
        Result("part_off", "Part's hottest point, taken off", float(heat.last.part[0]), "°C"),
        Result("rest", "Rest after the run", min(heat.cycle.rest(heat.walls[-1],
                                                                here.inputs["cooled_to"]), 86400.0),
               "min", help="Open, until the wall is down to the temperature chosen for it."),
        Result("distortion", "Distortion at temperature", found.distortion, "mm",
               help="For the ledger of dimensions: bowing, and what a fixed base forces."),
        Result("distortion_share", "Its share of the tolerance",
               found.distortion / here.inputs["tolerance"], "%"),
        Result("growth", "Growth beyond the base", found.growth, "mm",
               help="What slotted holes must allow."),
    )


def _edges_table(found: Found) -> Grid:
    rows = [{"what": f"by hand, {edge} edges", "panel": float(h.panel_deflection),
             "grid": float(h.grid_deflection), "sum": float(h.deflection),
             "side": float(h.side_deflection), "stress": float(h.stress)}
            for edge, h in found.by_edge.items()]
    s = found.simulation
    if s is not None:
        rows += [{"what": f"solid, {2 * n} elements between ribs, {u} unknowns", "panel": None,
                  "grid": None, "sum": float(w), "side": None,
                  "stress": float(s["stress"]) if n == s["fines"][-1] else None}
                 for n, w, u in zip(s["fines"], s["deflections"], s["unknowns"], strict=True)]
        rows.append({"what": "solid, extrapolated", "panel": None, "grid": None,
                     "sum": float(s["limit"]), "side": None, "stress": None})
    return Grid("edges", "Hand calculation and finite elements side by side", (
        Column("what", "Way"), Column("panel", "Panels", "mm"), Column("grid", "Ribs", "mm"),
        Column("sum", "Together", "mm"), Column("side", "Side walls", "mm"),
        Column("stress", "Greatest stress", "MPa")), tuple(rows))


def _cool_table(rows) -> Grid:
    return Grid("cool", "What would keep it cooler", (
        Column("way", "Way"), Column("cycle", "Cycle", "s"),
        Column("mean", "Wall, run's end", "°C"),
        Column("steady", "After many shots", "°C"), Column("peak", "Face, hottest", "°C"),
        Column("part", "Part taken off", "°C"), Column("shots", "Shots before rest")), rows)


def _materials_table(rows) -> Grid:
    shown = tuple({key: value for key, value in row.items() if key not in ("key", "warm")}
                  | {"stays": "yes" if row["warm"] else "no"} for row in rows)
    return Grid("materials", "Other tool materials on the same wall", (
        Column("material", "Material"), Column("mean", "Wall, run's end", "°C"),
        Column("limit", "Usable to", "°C"), Column("stays", "Within margin"),
        Column("peak", "Face, hottest", "°C"), Column("deflection", "Deflection, at most", "mm"),
        Column("skin", "Wall that holds", "mm"), Column("mass", "Mass then", "kg"),
        Column("time", "Time to make", "h")), shown)


def _lightest_table(found: Found) -> Grid:
    rows = [_lightest_row(found, name) for name in ("standing", "hanging")]
    return Grid("lightest", "Lightest walls that hold, found by trying all", (
        Column("ribs", "Ribs"), Column("skin", "Wall", "mm"), Column("rib", "Rib", "mm"),
        Column("height", "Height", "mm"), Column("along", "Along"), Column("across", "Across"),
        Column("mass", "Mass", "kg"), Column("time", "Time to make", "h"),
        Column("governs", "Governed by"), Column("passed", "Held, of those tried")), tuple(rows))


def _lightest_row(found: Found, name: str) -> dict[str, Any]:
    numbers = found.simulation[f"lightest_{name}"]
    if len(numbers) == 0:
        return dict.fromkeys(("skin", "rib", "height", "along", "across", "mass", "time", "passed")
                             ) | {"ribs": name, "governs": "none holds"}
    skin, rib, height, along, across, solid, governs, tried, passed = map(float, numbers)
    tool = found.here.tool
    return {"ribs": name, "skin": skin, "rib": rib, "height": height, "along": int(along),
            "across": int(across), "mass": solid * tool.band("density").typical,
            "time": alternatives.time_of(tool, solid), "governs": GOVERNS[int(governs)],
            "passed": f"{int(passed)} of {int(tried)}"}


STEP = Step(
    key="wall", number=7, title="Tool wall",
    question="How thick, ribbed and cooled must the hollow tool be to hold when it is warm, shot "
             "after shot?",
    fields=FIELDS, compute=compute, simulate=simulate, simulated_by=SIMULATED_BY,
    needs=("brief", "material"), uses=("heating",), cautions=("hot surfaces", "pressure"),
)
