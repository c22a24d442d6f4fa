"""The inputs of the thinning page."""

from __future__ import annotations

import numpy as np

from thermoforming.geometry.curvature import smallest_radius
from thermoforming.physics.thinning.elements import box
from thermoforming.reference import rule
from thermoforming.steps.base import Choice, File, Flag, Number
from thermoforming.steps.brief.part import bends_of, forms_of, kept, part_surface
from thermoforming.steps.earlier import earlier, found
from thermoforming.steps.material import chosen_sheet
from thermoforming.steps.thinning import hot_sheet
from thermoforming.steps.thinning.hot_sheet import LAWS, MOONEY, OGDEN, TABLE
from thermoforming.steps.upstream import Upstream
from thermoforming.units import to_shown

SHEET, METHOD, FORM, RUN, LOOK, PRINT = ("Sheet", "Forming", "Form for levels 2 and 3",
                                         "Run on the tool's mesh", "Look at", "Printed picture")
STRAIGHT, DRAPE, PLUG, BUBBLE, PRESSURE = ("straight vacuum", "drape", "plug assist",
                                           "pre-stretch", "pressure")
METHODS = ((STRAIGHT, "straight vacuum"), (DRAPE, "drape, then vacuum"),
           (PLUG, "plug assist"), (BUBBLE, "pre-stretched bubble"), (PRESSURE, "pressure forming"))
MEASURED = "measured on the mesh"
BRIEF = "the brief"


def deepest(upstream: Upstream):
    """The form that thins the sheet most by geometric elements, or None on a flat part."""
    listed = forms_of(part_surface(upstream))
    letter = "B" if found(upstream, "brief", "side") == "male" else "C"
    outer = [form for form in listed if form.name[0] == letter and not form.inside]
    radius = found(upstream, "brief", "smallest_internal") or 5e-3
    return min(outer or listed, key=lambda form: _thinned(form, radius), default=None)


def _held(radius: float, form) -> float:
    """The corner radius, within what the form can hold. [m]"""
    return float(np.clip(radius, 3e-4, 0.45 * min(form.depth, form.width / 2)))


def _thinned(form, radius: float) -> float:
    """Gauge in the corner of a box of the form's size. [1]"""
    return box(form.length, form.width, form.depth, _held(radius, form)).corner


def _measure(name: str, otherwise: float):
    def start(upstream: Upstream):
        form = deepest(upstream) if upstream.has("brief") else None
        return float(getattr(form, name)) if form else otherwise
    return start


def _corner(upstream: Upstream) -> float:
    """Smallest internal radius of the part, kept within what the form can hold. [m]"""
    radius = found(upstream, "brief", "smallest_internal") or 5e-3
    form = deepest(upstream) if upstream.has("brief") else None
    return _held(radius, form) if form else radius


def _draft(upstream: Upstream) -> float:
    """Mean draft of the walls, weighted by area. [rad]"""
    if not upstream.has("brief"):
        return np.radians(5.0)
    surface = part_surface(upstream)
    angle = np.arccos(np.clip(surface.normals[:, 2], -1.0, 1.0))
    wall = (angle > np.radians(60.0)) & (angle < np.radians(90.0))
    if not wall.any():
        return np.radians(5.0)
    mean = float(np.average(np.radians(90.0) - angle[wall], weights=surface.areas[wall]))
    return float(np.clip(mean, 0.0, np.radians(30.0)))


def _frame(axis: int):
    def start(upstream: Upstream):
        margin = found(upstream, "brief", "trim_margin") or 0.0
        size = part_surface(upstream).size[axis] if upstream.has("brief") else (0.24, 0.16)[axis]
        return float(size + 2.0 * margin)
    return start


def _pull(upstream: Upstream) -> float:
    """Pressure across the sheet: air outside less what the pump leaves, plus forming pressure."""
    outside = found(upstream, "brief", "ambient_pressure") or 101325.0
    left = found(upstream, "brief", "machine_vacuum") or 5e3
    pressed = found(upstream, "brief", "forming_pressure_available") or 0.0
    uses = found(upstream, "brief", "forming_method") == PRESSURE
    return float(outside - left + (pressed if uses else 0.0))


def _mesh_size(upstream: Upstream) -> float:
    size = part_surface(upstream).size[:2] if upstream.has("brief") else np.array([0.24, 0.16])
    return float(np.sqrt(size[0] * size[1]) / 50.0)


def _of_material(value):
    """A default from the chosen sheet, at the temperature of the saved choice."""
    def start(upstream: Upstream):
        material = chosen_sheet(upstream)
        return value(material, earlier("material", "sheet_temperature", otherwise=lambda _:
                                       material.band("forming_normal").typical)(upstream))
    return start


def _section_at(upstream: Upstream) -> float:
    form = deepest(upstream) if upstream.has("brief") else None
    return round(float(form.centre[1]), 3) if form else 0.0


def _practice(topic: str, case: str, shown: str) -> float:
    return float(to_shown(rule(topic, case).band.typical, shown))


def _plug(values) -> bool:
    return values["method"] == PLUG


def _bubble(values) -> bool:
    return values["method"] == BUBBLE


FIELDS = (
    Number(key="gauge", label="Starting gauge", symbol="t_0", shown="mm", low=0.1, high=20,
           step=0.1, default=earlier("material", "gauge", otherwise=2e-3), group=SHEET,
           origin="sheet and tool material"),
    Number(key="minimum_wall", label="Least wall asked for", symbol="t_min", shown="mm", low=0.05,
           high=15, step=0.05, default=earlier("brief", "minimum_wall", otherwise=6e-4),
           group=SHEET, origin=BRIEF),
    Number(key="sheet_temperature", label="Sheet when formed", symbol="T_s", shown="°C", low=60,
           high=350, step=1, group=SHEET, origin="sheet and tool material",
           default=_of_material(lambda material, hot: hot)),
    Number(key="shear", label="Shear modulus, hot", symbol="μ", shown="MPa", low=0.005, high=20,
           step=0.01, group=SHEET, origin=TABLE + ", at that choice's temperature",
           default=_of_material(lambda m, hot: hot_sheet.shear_band(m, hot).typical),
           help="At forming temperature and speed. Doubtful: measure it where it matters."),
    Choice(key="law", label="Law of the hot sheet", default=MOONEY, options=LAWS, group=SHEET,
           origin="stiffens a little as it is drawn",
           help="How stress grows with stretch; the shear modulus is the same in all."),
    Number(key="share", label="Share of C2", symbol="C2/(C1+C2)", shown="-", low=0, high=0.9,
           step=0.01, group=SHEET, only_if=lambda v: v["law"] == MOONEY, advanced=True,
           default=_of_material(lambda m, _: hot_sheet.shape_band(m, MOONEY).typical),
           origin=TABLE),
    Number(key="exponent", label="Exponent", symbol="α", shown="-", low=0.6, high=8, step=0.1,
           group=SHEET, only_if=lambda v: v["law"] == OGDEN, advanced=True,
           default=_of_material(lambda m, _: hot_sheet.shape_band(m, OGDEN).typical),
           origin=TABLE),
    Flag(key="sticks", label="Sheet sticks where it lands", default=True, group=SHEET,
         origin="common practice: a hot sheet hardly slips on a cooler dry tool"),
    Number(key="friction", label="Friction on the tool", symbol="μ_f", shown="-", low=0, high=5,
           step=0.05, group=SHEET, only_if=lambda v: not v["sticks"], origin=TABLE,
           default=_of_material(lambda m, _: m.band("friction_tool").typical)),
    Number(key="edge_cooler", label="Edge cooler than middle by", symbol="ΔT", shown="K", low=-60,
           high=60, default=0, step=1, group=SHEET, advanced=True, origin="even heating",
           help="Temperature map: falls with the square of the distance from the middle."),
    Choice(key="method", label="Forming method", options=METHODS, group=METHOD,
           default=earlier("brief", "forming_method", otherwise=STRAIGHT), origin=BRIEF),
    Number(key="pressure", label="Pressure across the sheet at the end", symbol="p",
           shown="kPa", low=1, high=1000, step=1, default=_pull, group=METHOD,
           origin="air outside less what the pump leaves, plus forming pressure",
           help="The vent page says how much of it is reached in time."),
    Number(key="plug_share", label="Plug goes down to", shown="%", low=10, high=100, step=1,
           default=_practice("plug", "depth, share of cavity", "%"), group=METHOD,
           only_if=_plug, origin="design rule: share of the cavity's depth"),
    Number(key="plug_clearance", label="Plug clear of the tool by", shown="mm", low=0.3, high=50,
           step=0.5, default=_practice("plug", "clearance beyond the formed sheet", "mm"),
           group=METHOD, only_if=_plug, origin="design rule"),
    Number(key="plug_friction", label="Friction on the plug", shown="-", low=0, high=5, step=0.05,
           group=METHOD, only_if=_plug, origin=TABLE,
           default=_of_material(lambda m, _: m.band("friction_plug").typical)),
    Number(key="plug_chill", label="Stiffer where the plug chilled it", shown="-", low=1, high=20,
           step=0.1, default=1.5, group=METHOD, only_if=_plug, origin="an assumption",
           help="Stiffness of the sheet the plug touched over that of the rest."),
    Number(key="bubble", label="Bubble height", shown="mm", low=1, high=500, step=1, group=METHOD,
           only_if=_bubble, origin="half the depth: a start for a search",
           default=lambda up: max(1e-3, 0.5 * _measure("depth", 0.03)(up))),
    Flag(key="search", label="Search the best height with the run", group=METHOD,
         only_if=lambda v: v["method"] in (PLUG, BUBBLE), default=False,
         help="Finds on level 3 the plug or bubble height with the largest least gauge."),
    Number(key="frame_x", label="Frame opening along x", shown="mm", low=10, high=4000, step=1,
           default=_frame(0), group=METHOD, advanced=True, origin="part plus trim margin"),
    Number(key="frame_y", label="Frame opening along y", shown="mm", low=10, high=4000, step=1,
           default=_frame(1), group=METHOD, advanced=True, origin="part plus trim margin"),
    Number(key="frame_height", label="Frame above the rim (male: above the foot)", shown="mm",
           low=-500, high=500, step=1, default=earlier("brief", "clamp_height", otherwise=0.0),
           group=METHOD, advanced=True, origin=BRIEF),
    Number(key="width", label="Width of the form", symbol="W", shown="mm", low=2, high=3000,
           default=_measure("width", 0.1), group=FORM, advanced=True, origin=MEASURED,
           help="The form that thins the sheet most."),
    Number(key="length", label="Length of the form", symbol="L", shown="mm", low=2, high=3000,
           default=_measure("length", 0.1), group=FORM, advanced=True, origin=MEASURED),
    Number(key="depth", label="Depth or height of the form", symbol="h", shown="mm", low=0.5,
           high=1500, default=_measure("depth", 0.03), group=FORM, advanced=True,
           origin=MEASURED),
    Number(key="draft", label="Draft of the form", shown="°", low=0, high=45, default=_draft,
           group=FORM, advanced=True, origin=MEASURED),
    Number(key="corner", label="Corner radius of the form", symbol="r", shown="mm", low=0.1,
           high=500, default=_corner, group=FORM, advanced=True, origin=MEASURED),
    Number(key="mesh_size", label="Edge of the sheet's triangles", shown="mm", low=0.3, high=100,
           step=0.5, default=_mesh_size, group=RUN, advanced=True,
           origin="a fiftieth of the part"),
    Flag(key="verify", label="Run again at half the rate to verify", default=True, group=RUN,
         advanced=True, help="Takes twice as long as the run itself."),
    Number(key="moment", label="Moment of forming", shown="%", low=0, high=100, step=2,
           default=100, group=LOOK, help="Share of the run: from the flat sheet to the end."),
    Choice(key="section_along", label="Section along", default="x", group=LOOK,
           options=(("x", "x"), ("y", "y"))),
    Number(key="section_at", label="Section at", shown="mm", low=-2000, high=2000, step=1,
           default=_section_at, group=LOOK, origin="through the deepest form",
           help="Place of the section on the other axis."),
    File(key="picture", label="Picture as it shall look on the part", kinds=(".png", ".jpg",
         ".jpeg"), group=PRINT, largest=20_000_000, advanced=True,
         help="Seen from above. Without one a test card shows how print is drawn out."),
    Number(key="picture_width", label="Picture's width on the part", shown="mm", low=1, high=4000,
           step=1, default=lambda up: float(part_surface(up).size[0]) if up.has("brief")
           else 0.24, group=PRINT, advanced=True, origin="the part's length"),
    Number(key="picture_x", label="Picture's middle, x", shown="mm", low=-2000, high=2000,
           step=1, default=0, group=PRINT, advanced=True),
    Number(key="picture_y", label="Picture's middle, y", shown="mm", low=-2000, high=2000,
           step=1, default=0, group=PRINT, advanced=True),
)
SIMULATED_BY = ("gauge", "shear", "law", "share", "exponent", "sticks", "friction", "edge_cooler",
                "sheet_temperature", "method", "pressure", "plug_share", "plug_clearance",
                "plug_friction", "plug_chill", "bubble", "search", "frame_x", "frame_y",
                "frame_height", "mesh_size", "verify")


def corner_limit(upstream: Upstream) -> float:
    """Smallest internal radius on the part, infinite where there is none. [m]"""
    surface = part_surface(upstream)
    return kept("internal radius", surface,
                lambda: smallest_radius(bends_of(surface), external=False))
