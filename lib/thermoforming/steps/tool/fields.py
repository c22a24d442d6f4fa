"""The inputs of the tool page; most default to what the earlier pages decided."""

from __future__ import annotations

from thermoforming.steps.base import Choice, Flag, Number
from thermoforming.steps.brief.part import part_surface
from thermoforming.steps.earlier import earlier

BODY, HOLLOW, FITTINGS, CHECKING = "Body", "Hollow", "Fittings", "Building and checking"
ASSUMED = "an assumption; put in what applies"


def _hollow(v) -> bool:
    return v["hollow"]


def _dowelled(v) -> bool:
    return v["dowels"]


def _standing(upstream):
    """Ribs that stand on the base are as high as the room; hanging ones as the wall page says."""
    standing = upstream.input("wall", "ribs") == "standing"
    return 1.0 if standing else float(upstream.input("wall", "rib_height"))


def _deepest(upstream):
    """Middle in x of what lies deepest, to the millimetre."""
    corners = part_surface(upstream).vertices
    low, high = corners[:, 2].min(), corners[:, 2].max()
    return round(float(corners[corners[:, 2] < low + 0.01 * (high - low), 0].mean()), 3)


FIELDS = (
    Choice(key="scale_from", label="Scaled by", default="closed", group=BODY,
           options=(("closed", "the ledger as closed here"),
                    ("shrinkage", "the shrinkage page, as assumed there"))),
    Number(key="run_off", label="Flange beyond the rim", shown="mm", low=0, high=200, step=1,
           default=earlier("brief", "tool_rim", otherwise=0.01), group=BODY,
           origin="the brief"),
    Number(key="below", label="Below the deepest place", shown="mm", low=2, high=300, step=1,
           default=earlier("brief", "tool_base", otherwise=0.015), group=BODY,
           origin="the brief"),
    Flag(key="hollow", label="Hollow", default=True, group=HOLLOW),
    Number(key="wall", label="Wall", symbol="t", shown="mm", low=1, high=60, step=0.5,
           default=earlier("wall", "skin", otherwise=0.006), group=HOLLOW, only_if=_hollow,
           origin="the wall page"),
    Number(key="ribs_across", label="Ribs across the length", shown="-", low=0, high=60,
           whole=True, default=earlier("wall", "ribs_across", otherwise=0), group=HOLLOW,
           only_if=_hollow, origin="the wall page"),
    Number(key="ribs_along", label="Ribs along the length", shown="-", low=0, high=60, whole=True,
           default=earlier("wall", "ribs_along", otherwise=0), group=HOLLOW, only_if=_hollow,
           origin="the wall page"),
    Number(key="rib_thickness", label="Rib", symbol="b", shown="mm", low=0.5, high=40, step=0.5,
           default=earlier("wall", "rib_thickness", otherwise=0.003), group=HOLLOW,
           only_if=_hollow, origin="the wall page"),
    Number(key="rib_height", label="Rib, height below the wall", shown="mm", low=1, high=1000,
           default=_standing, group=HOLLOW, only_if=_hollow,
           origin="the wall page; 1000 mm for ribs that stand on the base"),
    Number(key="air_notch", label="Air openings in ribs, height", shown="mm", low=1, high=60,
           step=0.5, default=6, group=HOLLOW, only_if=_hollow, origin=ASSUMED),
    Number(key="drains", label="Drain holes", shown="-", low=0, high=8, whole=True, default=2,
           group=FITTINGS, origin=ASSUMED, only_if=_hollow,
           help="Just above the base, so that no liquid stays in a hollow print."),
    Number(key="drain_bore", label="Drain, bore", shown="mm", low=1, high=20, step=0.5, default=5,
           group=FITTINGS, origin=ASSUMED, only_if=_hollow),
    Number(key="fixings", label="Fixing holes in the flange", shown="-", low=0, high=24,
           whole=True, default=earlier("wall", "fixings", otherwise=4), group=FITTINGS,
           origin="the wall page"),
    Number(key="fixing_bore", label="Fixing, clearance bore", shown="mm", low=1, high=20, step=0.1,
           default=5.5, group=FITTINGS,
           origin="clearance hole of the medium series for an M5 screw, ISO 273 (from memory)"),
    Flag(key="dowels", label="Two dowel holes in the base", default=True, group=FITTINGS),
    Number(key="dowel_bore", label="Dowel, bore", shown="mm", low=1, high=20, step=0.1, default=6,
           group=FITTINGS, only_if=_dowelled, origin=ASSUMED),
    Number(key="joint_clearance", label="Joints, play all round", shown="mm", low=0, high=1,
           step=0.01, default=0.15, group=CHECKING, origin=ASSUMED),
    Number(key="face_error", label="Face may be off by", shown="mm", low=0.005, high=1, step=0.005,
           default=0.05, group=CHECKING, origin=ASSUMED),
    Number(key="cell", label="Grid of the room below", shown="mm", low=0.2, high=3, step=0.1,
           default=0.6, group=CHECKING, advanced=True, origin="fine enough for a 6 mm wall",
           help="The wall comes out thicker by up to this."),
    Flag(key="form_again", label="Form the sheet on it again", default=True, group=CHECKING,
         help="The thinning run repeated, coarse, on the scaled face."),
    Number(key="caution_share", label="Caution when a dimension moves by", shown="%", low=1,
           high=100, default=20, group=CHECKING, origin=ASSUMED,
           help="Of half its tolerance, between what was assumed and what was found."),
)
LOOK = "Look at"
FIELDS += (
    Choice(key="cut_across", label="Section across", default="x", group=LOOK,
           options=(("x", "x"), ("y", "y"))),
    Number(key="cut_at", label="Section at", shown="mm", low=-2000, high=2000, step=1,
           default=_deepest, group=LOOK, origin="the middle of the deepest place"),
)
BUILT_BY = tuple(f.key for f in FIELDS if f.key not in (
    "face_error", "caution_share", "cut_across", "cut_at"))
