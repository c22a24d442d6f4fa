"""Levels 1 to 3 side by side: area ratio, geometric elements, membrane of revolution."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.geometry.forms import plan_area
from thermoforming.guard import Refused
from thermoforming.physics.thinning import axisymmetric as ax
from thermoforming.physics.thinning import design, elements
from thermoforming.physics.thinning.area import areal_draw_ratio
from thermoforming.steps.brief.part import kept, part_surface
from thermoforming.steps.thinning import hot_sheet
from thermoforming.steps.thinning.fields import BUBBLE, DRAPE, PLUG
from thermoforming.steps.upstream import Upstream

ELEMENTS, QUICK = 120, 40
UPRIGHT = np.radians(89.9)


@dataclass(frozen=True, eq=False)
class Round:
    """The form as a round one of the same area over perimeter. [m, rad]"""

    radius: float
    clamp: float
    depth: float
    wall_angle: float
    corner: float
    male: bool

    @property
    def profile(self) -> np.ndarray:
        """Tool profile from the axis outward, in the place it has at the end."""
        if self.male:
            top = self.radius - self.depth / np.tan(self.wall_angle)
            return ax.punch_profile(top, self.depth, 0.5 * np.pi - self.wall_angle, self.corner,
                                    self.corner, self.clamp)
        return ax.cup_profile(self.radius, self.depth, self.wall_angle, self.corner,
                              min(self.corner, 0.3 * (self.clamp - self.radius)), self.clamp)


@dataclass(frozen=True, eq=False)
class Levels:
    """What the three levels found; gauges over starting gauge. [1]"""

    area_ratio: float
    elements: Mapping[str, float]
    membrane: ax.Forming | None
    membrane_note: str
    form: Round
    ratio: Band | None
    responses: Mapping[str, design.Response]

    @property
    def elements_least(self) -> float:
        return min(self.elements.values())

    @property
    def membrane_least(self) -> float | None:
        return None if self.membrane is None else float(self.membrane.gauge.min())


def is_male(inputs: Mapping[str, Any], upstream: Upstream) -> bool:
    """Whether the sheet goes over the tool."""
    return upstream.input("brief", "side") == "male" or inputs["method"] == DRAPE


def frame_area(inputs) -> float:
    """Sheet inside the frame. [m2]"""
    return inputs["frame_x"] * inputs["frame_y"]


def formed_area(inputs, upstream: Upstream) -> float:
    """The tool's surface and the flat sheet between it and the frame. [m2]"""
    surface = part_surface(upstream)
    return surface.area + max(0.0, frame_area(inputs) - plan_area(surface))


def find_levels(inputs: Mapping[str, Any], upstream: Upstream) -> Levels:
    """All three levels for the inputs in force, kept while they do not change."""
    surface = part_surface(upstream)
    ratio = areal_draw_ratio(max(formed_area(inputs, upstream), frame_area(inputs)),
                             frame_area(inputs))
    form = round_form(inputs, upstream)
    bands = hot_sheet.sheet_bands(inputs, upstream)
    names = ("width", "length", "depth", "draft", "corner", "gauge", "pressure", "method", "law",
             "shear", "share", "exponent", "sticks", "friction", "edge_cooler", "bubble",
             "plug_share", "plug_clearance", "plug_friction", "plug_chill", "sheet_temperature",
             "frame_x", "frame_y")
    key = (*(inputs[name] for name in names), form.male, *bands.values())
    found = kept("levels", surface, lambda: _membrane(inputs, upstream, form, bands), key)
    filled = found[0].free_radius if found[0] is not None and found[0].complete else 0.0
    return Levels(float(ratio), _elements(inputs, form, filled), *found[:2], form, *found[2:])


def round_form(inputs, upstream: Upstream) -> Round:
    """The round form with the real one's area over perimeter, depth, draft and corner."""
    radius = inputs["width"] * inputs["length"] / (inputs["width"] + inputs["length"])
    angle = min(0.5 * np.pi - inputs["draft"], UPRIGHT)
    male = is_male(inputs, upstream)
    depth = min(inputs["depth"], 0.9 * radius * np.tan(angle))
    floor = radius - depth / np.tan(angle)
    corner = min(inputs["corner"], 0.4 * depth, 0.8 * floor / np.tan(0.5 * angle))
    if male:
        frame = inputs["frame_x"] * inputs["frame_y"] / (inputs["frame_x"] + inputs["frame_y"])
        return Round(radius, max(frame, 1.15 * radius + corner), depth, angle, corner, True)
    return Round(radius, 1.15 * radius, depth, angle, corner, False)


def corner_formed(inputs, filled: float) -> float:
    """The corner's radius, or the radius that the pressure forms if that is larger. [m]"""
    return min(max(inputs["corner"], filled), inputs["depth"], 0.5 * inputs["width"],
               0.5 * inputs["length"])


def _elements(inputs, form: Round, filled: float) -> dict[str, float]:
    """Gauge of the parts of the form by geometric elements; corners as far as they fill."""
    if form.male:
        top = form.radius - form.depth / np.tan(form.wall_angle)
        draft = 0.5 * np.pi - form.wall_angle
        return {"tent before the vacuum": elements.tent_gauge(top, form.clamp, form.depth),
                "wall and flange": elements.drape_gauge(top, form.clamp, form.depth, draft)}
    found = elements.box(inputs["length"], inputs["width"], inputs["depth"],
                         corner_formed(inputs, filled))
    return {"rim": found.rim, "floor": found.floor, "edge of the floor": found.edge,
            "corner of the floor": found.corner}


def plug_profile(form: Round, share: float, clearance: float) -> tuple[np.ndarray, float]:
    """Profile of a plug that keeps clear of the tool, and its travel. [m]"""
    travel = share * (form.depth - clearance)
    cot = 1.0 / np.tan(form.wall_angle)
    nose = form.radius - travel * cot - clearance
    if nose <= 0.0 or travel <= 0.0:
        raise Refused("plug_clearance", f"A clearance of {clearance * 1e3:.3g} mm leaves no plug "
                                        "in this form; make it smaller.")
    corner = min(form.corner, 0.4 * nose, 0.4 * travel)
    return ax.fillet([(0.0, 0.0), (nose, 0.0), (nose + form.depth * cot, form.depth)],
                     [corner]), travel


def solve_round(inputs, form: Round, law, friction: float, count: int, *, stiffness=None,
                gauge: float | None = None, bubble: float | None = None,
                plug_share: float | None = None, tell=None) -> ax.Forming:
    """The membrane of revolution on the round form by the chosen method."""
    sheet = ax.Sheet(form.clamp, gauge or inputs["gauge"], law, count, stiffness)
    method = inputs["method"]
    plug = None
    if method == PLUG and not form.male:
        profile, travel = plug_profile(form, plug_share or inputs["plug_share"],
                                       inputs["plug_clearance"])
        plug = ax.Plug(profile, travel, inputs["plug_friction"], inputs["plug_chill"])
    height = (bubble if bubble is not None else inputs["bubble"]) if method == BUBBLE else 0.0
    grip = ax.STICKS if friction >= hot_sheet.STICKING else friction
    return ax.form(sheet, form.profile, inputs["pressure"], friction=grip,
                   rise=1.002 * form.depth if form.male else 0.0, bubble=height, plug=plug,
                   tell=tell)


def _stiffness(inputs, upstream, form, count):
    relative = hot_sheet.stiffness_map(inputs, upstream, (form.clamp, form.clamp))
    if relative is None:
        return None
    middle = (np.arange(count) + 0.5) / count * form.clamp
    return relative(np.column_stack([middle, np.zeros(count)]))


def _membrane(inputs, upstream, form, bands):
    """Level 3 at typical inputs, and how its least gauge answers to the bands."""
    try:
        run = solve_round(inputs, form, hot_sheet.law_of(inputs), bands["friction"].typical,
                          ELEMENTS, stiffness=_stiffness(inputs, upstream, form, ELEMENTS))
    except (Refused, ArithmeticError) as problem:
        return None, str(problem), None, {}
    note = "" if run.complete else "stopped before the pressure was reached"
    least = float(run.gauge.min())
    stiffness = _stiffness(inputs, upstream, form, QUICK)

    def quick(shear, shape, friction):
        law = hot_sheet.terms(inputs["law"], shear, shape)
        return float(solve_round(inputs, form, law, friction, QUICK,
                                 stiffness=stiffness).gauge.min())

    try:
        found = design.responses(quick, bands)
    except (Refused, ArithmeticError) as problem:
        return run, f"no bands: {problem}", None, {}
    band = design.ratio_band(least, bands, found)
    return run, note, Band(*(min(1.0, end) for end in (band.low, band.typical, band.high))), found
