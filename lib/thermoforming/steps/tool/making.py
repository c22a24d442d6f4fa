"""From decisions to the solid's plan, and the build as a long run beside the page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermoforming.geometry.draft import draft_angles, undercut
from thermoforming.geometry.solid import Channel, Drain, Hole, ToolPlan, Vent, build
from thermoforming.geometry.solid.body import rim_loop, scaled
from thermoforming.geometry.solid.build import Stopped
from thermoforming.geometry.surface import Surface
from thermoforming.steps.base import Cancelled, Run
from thermoforming.steps.brief.part import part_surface
from thermoforming.steps.earlier import found, rows_found
from thermoforming.steps.thinning.whole import RATE, form_on
from thermoforming.steps.tool.closing import closed
from thermoforming.steps.upstream import Upstream


def plan_of(inputs: Mapping[str, Any], upstream: Upstream) -> ToolPlan:
    """What is to be built, in tool coordinates."""
    scale = closed(upstream).scale(inputs["scale_from"])
    face = scaled(part_surface(upstream), scale)
    low, high = _outline(face, inputs["run_off"])
    hollow = inputs["hollow"]
    return ToolPlan(
        scale=scale, run_off=inputs["run_off"], below=inputs["below"],
        wall=inputs["wall"] if hollow else 0.0,
        ribs=(inputs["ribs_across"], inputs["ribs_along"]) if hollow else (0, 0),
        rib_thickness=inputs["rib_thickness"], rib_height=inputs["rib_height"],
        air_notch=inputs["air_notch"], vents=_vents(upstream, scale),
        drains=_drains(inputs, low, high) if hollow else (),
        holes=_fixings(inputs, low, high) + _dowels(inputs, low, high),
        channels=_channels(upstream, low, high),
        build=tuple(float(upstream.input("brief", f"build_{axis}")) for axis in "xyz"),
        joint_clearance=inputs["joint_clearance"], cell=inputs["cell"])


def simulate(inputs: Mapping[str, Any], upstream: Upstream, run: Run) -> dict[str, Any]:
    """Build the tool, then form the sheet on it again; arrays for the page and the files."""
    share = 0.8 if inputs["form_again"] else 1.0
    try:
        built = build(part_surface(upstream), plan_of(inputs, upstream),
                      lambda fraction, text: run.report(share * fraction, text))
    except Stopped:
        raise Cancelled from None
    report = built.audit
    arrays: dict[str, Any] = {
        "vertices": built.whole.vertices, "faces": built.whole.faces,
        "measures": np.array([report.volume, report.area, report.triangles, report.bodies,
                              report.vents_open, report.vents, report.face_error,
                              _or_nan(report.least_wall), _or_nan(report.least_gap)]),
        "faults": np.array([fault.text for fault in report.faults] or [""]),
        "fault_places": np.array([fault.place or (np.nan,) * 3 for fault in report.faults]
                                 or [(np.nan,) * 3]),
        "notes": np.array(report.notes or ("",)),
        "pieces": np.array(len(built.pieces)),
    }
    for k, piece in enumerate(built.pieces):
        arrays[f"piece_{k}_vertices"], arrays[f"piece_{k}_faces"] = piece.vertices, piece.faces
    arrays["built_draft"] = _draft(upper_face(built.whole))
    if inputs["form_again"]:
        scale = closed(upstream).scale(inputs["scale_from"])
        arrays |= _form_again(scaled(part_surface(upstream), scale), upstream, run, share)
    return arrays


def upper_face(tool: Surface) -> Surface:
    """What the sheet meets: the triangles of the tool that look up and see the sky."""
    return tool.part((tool.normals[:, 2] > 0.02) & (undercut(tool).hidden < 0.5))


def _draft(face: Surface) -> np.ndarray:
    """Least draft, by area share of 1 %, and the undercut area of what was built. [rad, m2]"""
    drafts = draft_angles(face)
    order = np.argsort(drafts)
    share = np.cumsum(face.areas[order]) / face.area
    return np.array([float(drafts[order][np.searchsorted(share, 0.01)]),
                     float(undercut(face).area)])


def _form_again(face: Surface, upstream: Upstream, run: Run, share: float) -> dict[str, Any]:
    """The thinning run on the scaled face; the audit proves how near the built face is to it.

    The built face itself has the mouths of the vents in it, into which a sheet of this mesh would
    have to be refined for nothing: the vents page holds how far it bulges into them.
    """
    if not upstream.has("thinning"):
        return {}
    given = upstream.decision("thinning").inputs
    formed = form_on(face, given, upstream, given["mesh_size"], RATE,
                     lambda f, text: run.report(share + (1 - share) * f, "forming on it again"))
    least, where = formed.least
    return {"formed_again": np.array([least, *where, float(formed.valid)])}


def _outline(face: Surface, run_off: float):
    rim = face.vertices[rim_loop(face)][:, :2]
    return rim.min(axis=0) - run_off, rim.max(axis=0) + run_off


def _vents(upstream: Upstream, scale) -> tuple[Vent, ...]:
    return tuple(Vent(int(row["number"]), row["x"] * scale[0], row["y"] * scale[1],
                      row["z"] * scale[2], row["bore"], row["depth"], row["relief"])
                 for row in rows_found(upstream, "vents", "vent_list"))


def _drains(inputs, low, high) -> tuple[Drain, ...]:
    """Spread over the two short sides, away from the ribs that may stand in the middle."""
    places = []
    for k in range(inputs["drains"]):
        side = low[0] if k % 2 == 0 else high[0]
        across = (k // 2 + 1) / (inputs["drains"] // 2 + 2)
        places.append(Drain(float(side), float(low[1] + across * (high[1] - low[1])),
                            inputs["drain_bore"]))
    return tuple(places)


def _fixings(inputs, low, high) -> tuple[Hole, ...]:
    """Along the flange: the corners first, then the middles of the long sides."""
    inset = inputs["run_off"] / 2
    if inset < inputs["fixing_bore"] / 2 + 0.5e-3 or inputs["fixings"] == 0:
        return ()
    a, b = low + inset, high - inset
    corners = [(a[0], a[1]), (b[0], b[1]), (a[0], b[1]), (b[0], a[1])]
    extra = max(0, inputs["fixings"] - 4)
    upper, lower = (extra + 1) // 2, extra // 2
    along = [(a[0] + (b[0] - a[0]) * (k + 1) / (upper + 1), b[1]) for k in range(upper)]
    along += [(a[0] + (b[0] - a[0]) * (k + 1) / (lower + 1), a[1]) for k in range(lower)]
    return tuple(Hole(float(x), float(y), inputs["fixing_bore"])
                 for x, y in (corners + along)[: inputs["fixings"]])


def _dowels(inputs, low, high) -> tuple[Hole, ...]:
    """Two blind holes from below, in the middles of the outer short walls."""
    if not inputs["dowels"]:
        return ()
    middle, bore = 0.5 * (low[1] + high[1]), inputs["dowel_bore"]
    room = max(inputs["wall"] if inputs["hollow"] else bore, bore + 2e-3)
    return tuple(Hole(float(x), float(middle), bore, 10e-3)
                 for x in (low[0] + room / 2, high[0] - room / 2))


def _channels(upstream: Upstream, low, high) -> tuple[Channel, ...]:
    """One channel in passes along x at the pitch of the wall page, in and out at the ends."""
    if not found(upstream, "wall", "channels"):
        return ()
    wall = upstream.decision("wall").inputs
    reach = 3e-3
    passes = max(1, int((high[1] - low[1] - 2 * wall["pitch"]) // wall["pitch"]) + 1)
    ys = 0.5 * (low[1] + high[1]) + wall["pitch"] * (np.arange(passes) - (passes - 1) / 2)
    turn = wall["channel_depth"] + wall["bore"]
    path: list[tuple[float, float]] = []
    for k, y in enumerate(ys):
        left = low[0] - reach if k == 0 else low[0] + turn
        right = high[0] - turn
        ends = [(left, y), (right, y)] if k % 2 == 0 else [(right, y), (left, y)]
        path += [(float(x), float(v)) for x, v in ends]
    last = path[-1]
    out = (high[0] + reach if passes % 2 else low[0] - reach, last[1])
    path[-1] = out
    return (Channel(tuple(path), wall["bore"], wall["channel_depth"]),)


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value
