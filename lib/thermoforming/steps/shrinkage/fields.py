"""The inputs of shrinkage, draft and release."""

from __future__ import annotations

from thermoforming.reference import rule
from thermoforming.steps.base import Choice, Flag, Number, as_band, typical
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.upstream import Upstream
from thermoforming.units import to_shown

WARM, SHRINK, BUILD = "Running and gauge (assumed here)", "Shrinkage", "Building and measuring"
DRAFT, RELEASE = "Draft", "Release"
ASSUMED = "an assumption; put in what applies"
ICE = 273.15  # K


def _running(upstream: Upstream) -> float:
    """To the whole degree Celsius."""
    return round(typical(upstream.result("material", "running_temperature")) - ICE) + ICE


def _running_spread(upstream: Upstream) -> float:
    """Half of the range that the material page found, in whole kelvin."""
    band = as_band(upstream.result("material", "running_temperature"))
    return float(min(max(round((band.high - band.low) / 2), 1), 60))


def _gauge(upstream: Upstream) -> float:
    """Starting gauge by area draw ratio, to the hundredth of a millimetre."""
    gauge = float(upstream.input("material", "gauge"))
    return round(gauge / float(upstream.result("brief", "draw_ratio_area")), 5)


def _layer(upstream: Upstream) -> float:
    tool = chosen_tool(upstream)
    printed = tool.flag("printed") and "layer_height" in tool
    return tool.band("layer_height").typical if printed else 0.0


def _strip(upstream: Upstream) -> float:
    return chosen_sheet(upstream).band("set_temperature").typical - 15.0


def _open_area(upstream: Upstream) -> float:
    share = rule("vent", "open area, share of projected area").band.typical
    return share * float(upstream.result("brief", "footprint_x")) * float(
        upstream.result("brief", "footprint_y"))


def _own(values) -> bool:
    return values["shrinkage_from"] == "own"


def _own_cold(values) -> bool:
    return _own(values) and values["own_refers"] == "cold tool"


def _own_pull(values) -> bool:
    return values["pull_from"] == "own"


def _percent(key, label, default, **more):
    return Number(key=key, label=label, shown="%", low=-2, high=8, default=default, step=0.05,
                  group=SHRINK, only_if=_own, origin=ASSUMED, **more)


FIELDS = (
    Number(key="tool_running_temperature", label="Tool runs at", symbol="T_tool", shown="°C",
           low=0, high=220, step=1, default=_running, group=WARM,
           origin="heat balance of the material page; the wall page finds it"),
    Number(key="running_spread", label="Running, give or take", shown="K", low=0, high=60, step=1,
           default=_running_spread, group=WARM, origin="heat balance of the material page"),
    Number(key="assumed_gauge", label="Gauge of the formed wall", symbol="t", shown="mm",
           low=0.03, high=15, step=0.05, default=_gauge, group=WARM,
           origin="starting gauge by area draw ratio; the thinning page finds it"),
    Number(key="rim_gauge", label="Gauge of the rim", symbol="t_r", shown="mm", low=0.03, high=15,
           step=0.05, default=lambda upstream: float(upstream.input("material", "gauge")),
           group=WARM, advanced=True, origin="the rim is not drawn: the starting gauge",
           help="A depth on the free side grows where the floor is thinner than the rim."),
    Number(key="gauge_spread", label="Gauge, give or take", shown="%", low=0, high=80, step=1,
           default=30, group=WARM, origin=ASSUMED),
    Choice(key="extrusion", label="Extrusion lies along", default="x", group=SHRINK,
           options=(("x", "x of the part"), ("y", "y of the part"))),
    Choice(key="shrinkage_from", label="Shrinkage from", default="table", group=SHRINK,
           options=(("table", "the sheet's table"), ("own", "own figures"))),
    _percent("own_along", "Free, along", 0.55),
    _percent("own_across", "Free, across", 0.5),
    _percent("own_restrained", "Held by the tool", 0.4),
    Number(key="own_spread", label="Own figures, give or take", shown="%", low=0, high=3, step=0.05,
           default=0.1, group=SHRINK, only_if=_own, origin=ASSUMED),
    Choice(key="own_refers", label="Figures refer to", default="hot tool", group=SHRINK,
           only_if=_own, options=(("hot tool", "the hot tool"), ("cold tool", "the cold tool"),
                                  ("part", "the part")),
           help="A figure against a cold tool has that tool's growth in it; it is taken out."),
    Number(key="own_expansion", label="Expansion of that tool", shown="10⁻⁶/K", low=0, high=300,
           default=23, group=SHRINK, only_if=_own_cold, origin="aluminium, if that was the tool"),
    Number(key="own_rise", label="It ran above 23 °C by", shown="K", low=-20, high=200,
           default=40, group=SHRINK, only_if=_own_cold, origin=ASSUMED),
    Number(key="build_scale", label="Build comes out larger by", shown="%", low=-3, high=3,
           step=0.01, default=0, group=BUILD, origin="none known; measure a test piece",
           help="Known, so it is taken out of the file. What is unknown comes from the table."),
    Number(key="build_offset", label="Faces come out proud by", shown="mm", low=-1, high=1,
           step=0.01, default=0, group=BUILD, origin="none known; measure a test piece"),
    Number(key="post_cure", label="Change in post-cure", shown="%", low=-3, high=3, step=0.01,
           default=0, group=BUILD, origin="none known; measure before and after"),
    Number(key="post_cure_spread", label="Post-cure, give or take", shown="%", low=0, high=2,
           step=0.01, default=0.05, group=BUILD, origin=ASSUMED),
    Number(key="measured_at", label="Part is measured at", shown="°C", low=-20, high=60, step=1,
           default=23, group=BUILD, advanced=True, origin="standard atmosphere of ISO 291"),
    Number(key="measured_spread", label="Measuring, give or take", shown="K", low=0, high=20,
           step=0.5, default=2, group=BUILD, advanced=True, origin=ASSUMED),
    Number(key="yield_wanted", label="Parts wanted in tolerance", shown="%", low=50, high=99.9,
           step=0.5, default=95, group=BUILD, origin=ASSUMED),
    Choice(key="pull_from", label="Part is pulled", default="up", group=DRAFT,
           options=(("up", "straight up"), ("best", "the way with the least undercut"),
                    ("own", "tilted by hand"))),
    Number(key="tilt_x", label="Tilt towards x", shown="°", low=-40, high=40, step=0.25,
           default=0, group=DRAFT, only_if=_own_pull, origin="upright"),
    Number(key="tilt_y", label="Tilt towards y", shown="°", low=-40, high=40, step=0.25,
           default=0, group=DRAFT, only_if=_own_pull, origin="upright"),
    Number(key="layer_height", label="Layer of the print", symbol="h", shown="mm", low=0, high=1,
           step=0.01, default=_layer, group=DRAFT, origin="the tool material's table; 0 if milled"),
    Flag(key="smoothed", label="Walls smoothed after the build", group=DRAFT,
         help="Sanded or coated until the steps are gone."),
    Number(key="strip_temperature", label="Part is stripped at", symbol="T", shown="°C", low=0,
           high=220, step=1, default=_strip, group=RELEASE,
           origin="15 K below the set temperature", help="Mean temperature of the part."),
    Number(key="lift_speed", label="Lifted at", symbol="v", shown="m/s", low=0, high=1,
           step=0.01,
           default=float(to_shown(rule("release", "lifting speed, by hand").band.typical, "m/s")),
           group=RELEASE, origin="common practice, by hand"),
    Number(key="open_area", label="Vents and gaps, open", symbol="A_v", shown="mm²", low=0.1,
           high=5000, default=_open_area, group=RELEASE,
           origin="usual share of the projected area; the vents page finds it"),
)
