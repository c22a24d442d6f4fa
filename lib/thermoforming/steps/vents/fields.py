"""The inputs of the vents."""

from __future__ import annotations

from thermoforming.reference import rule
from thermoforming.steps.base import Choice, Flag, Number, Rows, Text
from thermoforming.steps.earlier import earlier, found
from thermoforming.steps.material import chosen_sheet
from thermoforming.steps.upstream import Upstream
from thermoforming.units import to_shown

PLACE, SHAPE, AIR, MACHINE, TIME, PRINT = ("Where", "Hole", "Air below the sheet", "Vacuum",
                                           "Time", "Hollow print")
ASSUMED = "an assumption; put in what applies"
FROM_BRIEF = "the brief"
PROPOSED, LISTED = "proposed", "listed"
MOVE, OMIT, ADD = "move", "omit", "add"
ROUND, SLOT = "round", "slot"


def usual_bore(upstream: Upstream):
    """Common practice by material and gauge: the rule that applies, as a `Rule`."""
    gauge = starting_gauge(upstream)
    if gauge < 1e-3:
        soft = chosen_sheet(upstream).text("structure") == "semi-crystalline"
        return rule("vent", "bore, thin polyolefin below 1 mm" if soft
                    else "bore, sheet below 1 mm")
    return rule("vent", "bore, sheet 1 to 3 mm" if gauge <= 3e-3 else "bore, sheet above 3 mm")


def starting_gauge(upstream: Upstream) -> float:
    """Gauge of the sheet before forming. [m]"""
    return float(earlier("thinning", "gauge", "starting_gauge",
                         otherwise=earlier("material", "gauge", otherwise=2e-3))(upstream))


def local_gauge(upstream: Upstream) -> float:
    """Gauge where the vents are: thinning's least, else the gauge over the area draw ratio. [m]"""
    least = earlier("thinning", "least_gauge", otherwise=None)(upstream)
    ratio = found(upstream, "brief", "draw_ratio_area") or 1.0
    usual = float(least) if least else max(starting_gauge(upstream) / max(ratio, 1.0), 1e-4)
    return round(usual, 5)


def _practice(case: str, shown: str = "mm") -> float:
    return float(to_shown(rule("vent", case).band.typical, shown))


def _placed(values) -> bool:
    return values["placing"] == PROPOSED


def _round(values) -> bool:
    return values["kind"] == ROUND


FIELDS = (
    Choice(key="placing", label="Vents", default=PROPOSED, group=PLACE,
           options=((PROPOSED, "as the program places them"), (LISTED, "as listed below"))),
    Number(key="spacing", label="Apart at least", shown="mm", low=3, high=200, step=1,
           default=_practice("spacing along corners and edges"), group=PLACE, only_if=_placed,
           origin="common practice", help="Along corners and edges that the sheet reaches last."),
    Number(key="last", label="Landing last means", shown="%", low=50, high=99.9, step=1,
           default=90, group=PLACE, only_if=_placed, origin=ASSUMED,
           help="Share of the air that has gone before the sheet lands there."),
    Number(key="most", label="At most", shown="-", low=1, high=200, whole=True, default=60,
           group=PLACE, only_if=_placed, origin=ASSUMED, help="Number of vents."),
    Rows(key="changes", label="Changes to them", group=PLACE, most=100, only_if=_placed,
         help="By the numbers of the vent list; a new or moved vent goes to the tool face there.",
         columns=(Choice(key="what", label="Do", default=MOVE,
                         options=((MOVE, "move"), (OMIT, "leave out"), (ADD, "add"))),
                  Number(key="number", label="No.", shown="-", low=0, high=400, whole=True,
                         default=0),
                  Number(key="x", label="to x", shown="mm", low=-2000, high=2000, default=0),
                  Number(key="y", label="y", shown="mm", low=-2000, high=2000, default=0),
                  Text(key="why", label="Why", longest=40))),
    Rows(key="listed", label="Vents by hand", group=PLACE, most=200,
         only_if=lambda v: v["placing"] == LISTED,
         help="Each goes to the nearest place of the tool face below it.",
         columns=(Number(key="x", label="x", shown="mm", low=-2000, high=2000, default=0),
                  Number(key="y", label="y", shown="mm", low=-2000, high=2000, default=0),
                  Text(key="why", label="Why", longest=40))),
    Choice(key="kind", label="Kind", default=ROUND, group=SHAPE,
           options=((ROUND, "round hole"), (SLOT, "narrow slot"))),
    Number(key="bore", label="Bore", symbol="d", shown="mm", low=0.1, high=8, step=0.05,
           default=lambda up: usual_bore(up).band.typical, group=SHAPE, only_if=_round,
           origin="common practice for this gauge"),
    Number(key="gap", label="Slot gap", shown="mm", low=0.1, high=3, step=0.05, default=0.4,
           group=SHAPE, only_if=lambda v: not _round(v), origin=ASSUMED),
    Number(key="slot_width", label="Slot length", shown="mm", low=3, high=200, default=10,
           group=SHAPE, only_if=lambda v: not _round(v), origin=ASSUMED),
    Number(key="bore_length", label="Small bore left", symbol="L", shown="mm", low=0.2, high=60,
           step=0.5, default=4, group=SHAPE, origin="common practice: 3 to 6 mm",
           help="Narrow part; the rest is opened from behind."),
    Number(key="relief", label="Relief from behind", shown="mm", low=0.5, high=40, step=0.5,
           default=_practice("relief bore from behind"), group=SHAPE, origin="common practice"),
    Number(key="mark", label="Highest mark on the part", shown="mm", low=0.005, high=2, step=0.01,
           default=0.05, group=SHAPE, origin="an assumption: just felt by the finger"),
    Number(key="gauge", label="Local gauge", symbol="t", shown="mm", low=0.05, high=15, step=0.05,
           default=local_gauge, group=SHAPE,
           origin="thinning where it is saved, else gauge over the area draw ratio",
           help="Not used once a sheet has been formed on the mesh: then each vent has its own."),
    Number(key="volume", label="Air below the sheet", symbol="V", shown="L", low=0.001, high=3000,
           default=earlier("brief", "cavity_volume", otherwise=1e-3), group=AIR,
           origin="the part's cavity, from the brief"),
    Number(key="plenum", label="Hollow, box and hose", shown="L", low=0.02, high=3000, default=4,
           group=AIR, origin=ASSUMED, help="All other air between the vents and the valve."),
    Number(key="air_temperature", label="Temperature of that air", shown="°C", low=0, high=200,
           default=60, step=5, group=AIR, origin="an assumption: between tool and sheet"),
    Number(key="leak", label="Leak at the clamp", shown="L/min", low=0, high=2000, default=5,
           group=AIR, origin=ASSUMED,
           help="Free air at full vacuum; a band from none to three times this is carried."),
    Number(key="tank_volume", label="Tank", shown="L", low=1, high=5000,
           default=earlier("brief", "tank_volume", otherwise=0.15), group=MACHINE,
           origin=FROM_BRIEF),
    Number(key="tank_pressure", label="Tank before the shot", shown="kPa", low=0.1, high=90,
           default=12, group=MACHINE, origin=ASSUMED, help="Absolute."),
    Number(key="pump_speed", label="Pump", shown="m³/h", low=0.5, high=1000,
           default=earlier("brief", "pump_speed", otherwise=40 / 3600), group=MACHINE,
           origin=FROM_BRIEF),
    Number(key="pump_end", label="Pump ends at", shown="kPa", low=0.05, high=80,
           default=earlier("brief", "machine_vacuum", otherwise=5e3), group=MACHINE,
           origin=FROM_BRIEF, help="Absolute; the suction falls to nothing there."),
    Number(key="line_bore", label="Line, bore", shown="mm", low=3, high=150,
           default=earlier("brief", "line_bore", otherwise=25e-3), group=MACHINE,
           origin=FROM_BRIEF),
    Number(key="line_length", label="Line, length", shown="m", low=0.1, high=30,
           default=earlier("brief", "line_length", otherwise=2.5), group=MACHINE,
           origin=FROM_BRIEF),
    Number(key="fittings", label="Bends and fittings", shown="-", low=0, high=50, default=4,
           group=MACHINE, advanced=True, origin=ASSUMED,
           help="Sum of loss factors of the line; about 1 a bend."),
    Number(key="valve", label="Valve, bore", shown="mm", low=2, high=150, default=19,
           group=MACHINE, advanced=True, origin=ASSUMED,
           help="Free bore; it passes what a short bore of that size does."),
    Number(key="ambient", label="Air pressure outside", shown="kPa", low=60, high=110,
           default=earlier("brief", "ambient_pressure", otherwise=101325.0), group=MACHINE,
           advanced=True, origin=FROM_BRIEF),
    Number(key="formable", label="Sheet stays formable", symbol="τ_f", shown="s", low=0.3,
           high=600, step=0.5, default=lambda up: round(earlier(
               "heating", "formable_air", otherwise=15.0)(up), 1),
           group=TIME, origin="heating where it is saved; until then an assumption",
           help="In air, from the end of heating."),
    Number(key="transfer", label="Heater to valve", shown="s", low=0, high=60, step=0.5,
           default=earlier("heating", "transfer", otherwise=lambda _: rule(
               "heating", "transfer, heater off to contact").band.typical), group=TIME,
           origin="heating where it is saved, else common practice",
           help="From heater off to the opening of the vacuum valve."),
    Number(key="share", label="Vacuum that forms it", shown="%", low=30, high=99, step=1,
           default=90, group=TIME, origin=ASSUMED, help="Share of the final vacuum."),
    Number(key="cycle", label="Shot to shot", shown="s", low=5, high=3600, step=5,
           default=lambda up: round(earlier("heating", "cycle", otherwise=earlier(
               "material", "cycle", otherwise=120.0))(up)), group=TIME,
           origin="heating or material where saved"),
    Flag(key="hollow", label="The print is hollow", default=True, group=PRINT, advanced=True,
         help="Then liquid resin must run out and air in."),
    Number(key="hollow_volume", label="Hollow", shown="L", low=0.005, high=500, default=0.5,
           group=PRINT, advanced=True, only_if=lambda v: v["hollow"], origin=ASSUMED),
    Number(key="drain", label="Drain bore", shown="mm", low=0.5, high=40, default=5, group=PRINT,
           advanced=True, only_if=lambda v: v["hollow"], origin=ASSUMED),
    Number(key="resin_viscosity", label="Resin viscosity", shown="mPa·s", low=20, high=20000,
           default=1000, group=PRINT, advanced=True, only_if=lambda v: v["hollow"],
           origin="an assumption; the data sheet says it"),
)
