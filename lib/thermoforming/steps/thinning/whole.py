"""Level 4: the run on the tool's own mesh, coarse first, then fine, then verified."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermoforming.geometry.flange import with_flange
from thermoforming.geometry.plug import plug_surface
from thermoforming.geometry.surface import Surface
from thermoforming.physics.thinning import design, membrane
from thermoforming.physics.thinning.contact import distances
from thermoforming.physics.thinning.contact import surface as contact_surface
from thermoforming.physics.thinning.pockets import find_pockets
from thermoforming.physics.thinning.sheet import rectangle
from thermoforming.physics.thinning.verdict import half_rate
from thermoforming.steps.base import Cancelled
from thermoforming.steps.brief.part import part_surface
from thermoforming.steps.thinning import hot_sheet
from thermoforming.steps.thinning.fields import BUBBLE, PLUG
from thermoforming.steps.thinning.levels import is_male, round_form, solve_round
from thermoforming.steps.upstream import Upstream

COARSER, FRAMES, RATE = 2.0, 16, 0.01
SEARCH_RUNS = 12
SINK, COARSE_SINK = 2e-5, 2e-4  # how deep edges of the picture may cut into the tool [m]
NOT_YET, DIFFERS, AGREES = -1, 0, 1


def simulate(inputs: Mapping[str, Any], upstream: Upstream, run) -> dict[str, Any]:
    """Form the sheet on the project's mesh; arrays and numbers for `compute` and the record.

    The coarse sheet comes first, then the fine one, both marked as not verified; then the fine
    run again at half the loading rate, which must give the same gauge.
    """
    searched = _search(inputs, upstream, run) if _searches(inputs) else {}
    begin = 0.25 if searched else 0.0
    fine = inputs["mesh_size"]
    coarse = _form(inputs, upstream, COARSER * fine, RATE, _share(run, begin, begin + 0.08,
                                                                  "coarse run"))
    run.preview(_arrays(coarse, upstream, "coarse") | searched)
    ends = 0.45 if inputs["verify"] else 0.98
    formed = _form(inputs, upstream, fine, RATE, _share(run, begin + 0.08, ends, "fine run"))
    found = _arrays(formed, upstream, "fine") | searched
    if not inputs["verify"]:
        return found
    run.preview(found)
    again = _form(inputs, upstream, fine, 0.5 * RATE, _share(run, ends, 0.99, "verifying"))
    return found | _verdict(formed, again)


def _searches(inputs) -> bool:
    return inputs["search"] and inputs["method"] in (PLUG, BUBBLE)


def _share(run, low: float, high: float, name: str):
    """Progress of a part of the run."""
    def progress(fraction: float, text: str) -> bool:
        return run.report(low + fraction * (high - low), f"{name}: {text}")
    return progress


def _form(inputs, upstream, mesh_size: float, rate: float, progress) -> membrane.Formed:
    return form_on(part_surface(upstream), inputs, upstream, mesh_size, rate, progress)


def form_on(surface: Surface, inputs: Mapping[str, Any], upstream: Upstream, mesh_size: float,
            rate: float, progress) -> membrane.Formed:
    """Form the sheet that the inputs describe on a surface: the part's, or a tool's. [m]"""
    male = is_male(inputs, upstream)
    low, high = surface.bounds
    middle = 0.5 * (low + high)[:2]
    # A male tool has ended its rise when its foot stands in the plane of the frame.
    height = inputs["frame_height"] + (float(low[2]) if male else float(high[2]))
    clamp = rectangle(middle, inputs["frame_x"], inputs["frame_y"], height)
    if not male:
        surface = with_flange(surface, max(inputs["frame_x"], inputs["frame_y"]))
    try:
        return membrane.form(surface.vertices, surface.faces, clamp, inputs["gauge"],
                             hot_sheet.law_of(inputs), inputs["pressure"], mesh_size,
                             None if inputs["sticks"] else inputs["friction"],
                             _method(inputs, part_surface(upstream), male), rate=rate,
                             progress=progress, stiffness=_stiffness(inputs, upstream, middle),
                             sink=SINK if mesh_size <= inputs["mesh_size"] else COARSE_SINK)
    except membrane.Cancelled:
        raise Cancelled() from None


def _method(inputs, surface, male: bool) -> membrane.Method:
    kind = membrane.DRAPE if male else membrane.STRAIGHT
    bubble = inputs["bubble"] if inputs["method"] == BUBBLE else 0.0
    plug = None
    if inputs["method"] == PLUG:
        body = plug_surface(surface, inputs["plug_clearance"], inputs["plug_share"])
        plug = membrane.Plug(body.vertices, body.faces, inputs["plug_friction"],
                             inputs["plug_chill"])
    return membrane.Method(kind, bubble, plug)


def _stiffness(inputs, upstream, middle):
    half = (0.5 * inputs["frame_x"], 0.5 * inputs["frame_y"])
    relative = hot_sheet.stiffness_map(inputs, upstream, half)
    return None if relative is None else lambda flat: relative(flat - middle)


def _arrays(formed: membrane.Formed, upstream: Upstream, level: str) -> dict[str, Any]:
    """What is kept of a run, in plain arrays."""
    surface = part_surface(upstream)
    tool = with_flange(surface, 0.5 * float(surface.size.max()))
    gap = distances(contact_surface(tool.vertices, tool.faces), formed.points)
    picked = np.unique(np.linspace(0, len(formed.snapshots) - 1, FRAMES).astype(int))
    frames = [formed.snapshots[i] for i in picked]
    return {
        "level": level, "verified": NOT_YET, "difference": np.nan,
        "flat": formed.flat.astype(np.float32), "points": formed.points.astype(np.float32),
        "triangles": formed.triangles.astype(np.int32),
        "gauge": formed.gauge.astype(np.float32),
        "node_gauge": formed.node_gauge.astype(np.float32),
        "stretches": formed.stretches.astype(np.float32),
        "stresses": formed.stresses.astype(np.float32),
        "landed": np.where(formed.clamped, 0.0, formed.landed).astype(np.float32),
        "on_tool": formed.on_tool,
        "clamped": formed.clamped, "wrinkled": formed.wrinkled, "gap": gap.astype(np.float32),
        "curve": formed.curve, "end_pressure": formed.end_pressure,
        "starting_gauge": formed.starting_gauge, "mesh_size": formed.mesh_size,
        "frames": _coarsened(np.array([f.points for f in frames] + [formed.points])),
        "frame_stage": np.array([f.stage for f in frames] + ["The end"]),
        "frame_volume": np.array([f.volume for f in frames] + [formed.curve[-1, 0]]),
        "frame_pressure": np.array([f.pressure for f in frames] + [formed.end_pressure]),
        "pockets": _pockets(formed, gap),
        "check_name": np.array([c.name for c in formed.checks]),
        "check_value": np.array([float(c.value) for c in formed.checks]),
        "check_limit": np.array([float(c.limit) for c in formed.checks]),
        "check_passed": np.array([bool(c.passed) for c in formed.checks]),
        "check_text": np.array([c.text for c in formed.checks]),
    }


def _pockets(formed: membrane.Formed, gap) -> np.ndarray:
    """Spaces of air that no further cut divides: place, cut off at, empty at, air, sheet area."""
    drawn = [s for s in formed.snapshots if "vacuum" in s.stage]
    frames = np.array([s.points for s in drawn] + [formed.points])
    volumes = np.array([s.volume for s in drawn] + [formed.curve[-1, 0]])
    found = find_pockets(frames, volumes, formed.landed, formed.triangles, formed.clamped, gap)
    parents = {pocket.parent for pocket in found}
    rows = [(*p.last, p.born, p.closed, p.air, p.area)
            for i, p in enumerate(found) if i not in parents]
    return np.array(rows, float).reshape(-1, 7)


def _coarsened(points: np.ndarray) -> np.ndarray:
    """Positions to 15 micrometres, which is all a picture needs and packs small. [m]"""
    return (np.rint(points * 2.0**16) / 2.0**16).astype(np.float32)


def _verdict(formed: membrane.Formed, again: membrane.Formed) -> dict[str, Any]:
    """Gauge of the run against that at half the rate."""
    check = half_rate(formed, again)
    return {"verified": AGREES if check.passed else DIFFERS, "difference": float(check.value),
            "most_difference": float(check.limit), "least_again": float(again.node_gauge.min())}


def _search(inputs, upstream, run) -> dict[str, Any]:
    """The plug or bubble height with the largest least gauge, on the round form."""
    form, law = round_form(inputs, upstream), hot_sheet.law_of(inputs)
    friction = hot_sheet.sheet_bands(inputs, upstream)["friction"].typical
    plugs = inputs["method"] == PLUG
    low, high = (0.2, 0.98) if plugs else (0.1 * form.depth, 1.2 * form.depth)
    tried = []

    def tell(fraction):
        return run.report(0.25 * (len(tried) + fraction) / SEARCH_RUNS,
                          "searching the best height")

    def least(setting):
        more = {"plug_share": setting} if plugs else {"bubble": setting}
        found = solve_round(inputs, form, law, friction, 80, tell=tell, **more)
        tried.append((setting, float(found.gauge.min())))
        return tried[-1][1]

    try:
        best, value = design.best_setting(least, low, high, SEARCH_RUNS)
    except InterruptedError:
        raise Cancelled() from None
    return {"search": np.array(sorted(tried)), "best_setting": best, "best_ratio": value}
