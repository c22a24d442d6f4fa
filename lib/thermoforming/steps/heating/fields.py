"""The inputs of heating, cooling and cycle."""

from __future__ import annotations

from thermoforming.reference import rule
from thermoforming.steps.base import Choice, Flag, Number, Rows
from thermoforming.steps.earlier import earlier
from thermoforming.steps.material import chosen_sheet
from thermoforming.steps.upstream import Upstream
from thermoforming.units import to_shown

FIRST, SHEET, HEATER, ZONES = "Gauge and power", "Sheet", "Heater", "Heater zones"
AFTER, TOOL, CYCLE = "After the heater", "On the tool", "Cycle"
ASSUMED = "an assumption; put in what applies"
TABLE = "table of the chosen sheet"
COOLING = (("still", "still air"), ("fan", "fan"), ("mist", "water mist"))
FILM = {"still": "film coefficient, still air", "fan": "film coefficient, fan",
        "mist": "film coefficient, water mist"}


def _of_sheet(key: str, otherwise: float | None = None, shift: float = 0.0):
    def start(upstream: Upstream):
        sheet = chosen_sheet(upstream)
        if key in sheet:
            return sheet.band(key).typical + shift
        return otherwise
    return start


def _surface_limit(upstream: Upstream) -> float:
    sheet = chosen_sheet(upstream)
    key = "surface_limit" if "surface_limit" in sheet else "forming_high"
    return sheet.band(key).typical


def _ruled(key, label, topic, case, shown, low, high, group, **more) -> Number:
    known = rule(topic, case)
    return Number(key=key, label=label, shown=shown, low=low, high=high, group=group,
                  default=float(to_shown(known.band.typical, shown)),
                  origin=f"{known.source.citation} ({known.basis})", **more)


def _running_temperature(upstream: Upstream) -> float:
    """What the material page found, to whole degrees. [K]"""
    found = earlier("material", "running_temperature",
                    otherwise=_of_sheet("tool_temperature"))(upstream)
    return round(found - 273.15) + 273.15


def _two(values) -> bool:
    return values["sides"] == "two"


_SETTING = dict(shown="%", low=0, high=150, default=100, step=5)

FIELDS = (
    Number(key="gauge", label="Starting gauge", symbol="t_0", shown="mm", low=0.15, high=15,
           step=0.1, group=FIRST, default=earlier("thinning", "gauge", otherwise=earlier(
               "material", "gauge", otherwise=2e-3)), origin="thinning, else material"),
    Choice(key="sides", label="Heater on", default=earlier("brief", "heater_sides",
                                                           otherwise="two"), group=FIRST,
           options=(("two", "both sides"), ("one", "one side, above")), origin="the brief"),
    Number(key="power", label="Heater power", symbol="P", shown="kW/m²", low=1, high=80, step=0.5,
           group=FIRST, default=earlier("brief", "heater_power", otherwise=25e3),
           origin="the brief", help="Electric, by area of heater, each side."),
    Number(key="running", label="Runs at", shown="%", low=5, high=100, step=1, default=60,
           group=FIRST, origin=ASSUMED, help="Share of that power, mean over the shot."),
    Number(key="typed_time", label="Heating time by hand", shown="s", low=1, high=1800, step=1,
           optional=True, default=None, group=FIRST,
           origin="blank: until the core is there"),
    Number(key="core", label="Core must reach", symbol="T_c", shown="°C", low=50, high=300,
           step=1, group=SHEET, default=earlier("material", "sheet_temperature",
                                                otherwise=_of_sheet("forming_normal")),
           origin="sheet and tool material: sheet when formed"),
    Number(key="surface_limit", label="Surface never above", shown="°C", low=60, high=400,
           step=1, group=SHEET, default=_surface_limit, origin=TABLE),
    Number(key="forming_low", label="Too cold to form below", shown="°C", low=40, high=300,
           step=1, group=SHEET, default=_of_sheet("forming_low"), origin=TABLE),
    Number(key="start", label="Sheet at first", shown="°C", low=-10, high=120, step=1,
           group=SHEET, default=earlier("material", "ambient", otherwise=296.15),
           origin="shop temperature, or that of the drying oven"),
    Number(key="below", label="Lower against upper", shown="%", low=0, high=200, step=5,
           default=100, group=HEATER, only_if=_two, origin="even heating"),
    Number(key="distance", label="Heater to sheet", shown="mm", low=20, high=800, step=5,
           default=150, group=HEATER, origin=ASSUMED),
    Number(key="heater_x", label="Heater, x", shown="mm", low=50, high=5000, step=10,
           group=HEATER, default=earlier("brief", "forming_x", otherwise=0.56),
           origin="the forming area in the brief"),
    Number(key="heater_y", label="Heater, y", shown="mm", low=50, high=5000, step=10,
           group=HEATER, default=earlier("brief", "forming_y", otherwise=0.41),
           origin="the forming area in the brief"),
    _ruled("heater_emissivity", "Emissivity of the heater", "heating",
           "emissivity, ceramic heater", "-", 0.05, 1, HEATER, advanced=True, step=0.01),
    Number(key="emissivity", label="Emissivity of the sheet", shown="-", low=0.05, high=1,
           step=0.01, group=HEATER, default=_of_sheet("emissivity", 0.9), origin=TABLE,
           advanced=True),
    Number(key="absorption_depth", label="Radiation goes in", shown="mm", low=0, high=20,
           step=0.05, group=HEATER, default=_of_sheet("absorption_depth", 0.0), origin=TABLE,
           advanced=True, help="Depth over which it falls to 37 %; 0 if all stays at the face."),
    Number(key="oven_air", label="Air in the heater", shown="°C", low=0, high=400, step=5,
           default=80, group=HEATER, origin=ASSUMED, advanced=True),
    _ruled("oven_film", "Film coefficient there", "heating", "film coefficient, oven air",
           "W/(m²·K)", 0, 100, HEATER, advanced=True),
    Number(key="sheet_x", label="Sheet in the frame, x", shown="mm", low=20, high=4000, step=5,
           group=ZONES, default=earlier("brief", "blank_x", otherwise=0.3),
           origin="blank of the brief"),
    Number(key="sheet_y", label="Sheet in the frame, y", shown="mm", low=20, high=4000, step=5,
           group=ZONES, default=earlier("brief", "blank_y", otherwise=0.22),
           origin="blank of the brief"),
    Rows(key="zones", label="Zones, rows from the front (low y) to the back", group=ZONES, most=8,
         fewest=1, default=[dict(left=1.0, middle=1.0, right=1.0)] * 3,
         help="Setting of each zone against the mean power, left to right.",
         columns=(Number(key="left", label="Left", **_SETTING),
                  Number(key="middle", label="Middle", **_SETTING),
                  Number(key="right", label="Right", **_SETTING))),
    _ruled("transfer", "Heater off to vacuum", "heating", "transfer, heater off to contact", "s",
           0, 60, AFTER, step=0.5),
    Number(key="spread", label="Even enough within", shown="K", low=1, high=60, step=1,
           default=15, group=AFTER, origin=ASSUMED, help="Surface to core when it is formed."),
    Number(key="air", label="Air in the shop", shown="°C", low=-10, high=60, step=1, group=AFTER,
           default=earlier("material", "ambient", otherwise=296.15), origin="material"),
    Number(key="clearance", label="Room below the sheet", shown="mm", low=5, high=1000, step=5,
           default=150, group=AFTER, origin=ASSUMED,
           help="To the lower heater or its guard, from the clamp plane."),
    Number(key="grown", label="Growth the clamp holds back", shown="%", low=0, high=100, step=5,
           default=50, group=AFTER, advanced=True,
           origin="an assumption: reversion of the sheet takes up the rest",
           help="Share of the thermal expansion that hangs as slack."),
    Number(key="tool_start", label="Tool before the shot", symbol="T_t", shown="°C", low=0,
           high=200, step=1, group=TOOL, default=_running_temperature,
           origin="running temperature found with the material"),
    Number(key="wall", label="Tool wall", symbol="L", shown="mm", low=0.5, high=100, step=0.5,
           group=TOOL, default=earlier("material", "wall", otherwise=6e-3), origin="material"),
    Number(key="contact", label="Contact conductance", shown="W/(m²·K)", low=10, high=20000,
           group=TOOL, default=float(rule("contact", "conductance, sheet on tool, vacuum")
                                     .band.typical), step=10,
           origin="rule for vacuum forming (from memory)",
           help="Between sheet and tool; falls once the part shrinks off a wall."),
    Choice(key="cooling", label="On the free side", options=COOLING, default=earlier(
        "material", "cooling", otherwise="fan"), group=TOOL, origin="material"),
    Number(key="back_film", label="Film behind the wall", shown="W/(m²·K)", low=0, high=5000,
           default=10, group=TOOL, advanced=True,
           origin="still air; with channels their conductance"),
    Number(key="thickest", label="Thickest place", symbol="t_max", shown="mm", low=0.1, high=15,
           step=0.05, group=TOOL, default=earlier("thinning", "gauge", otherwise=earlier(
               "material", "gauge", otherwise=2e-3)), origin="where the sheet is not drawn",
           help="The slowest place decides."),
    Number(key="set", label="Set: may leave below", shown="°C", low=20, high=250, step=1,
           group=TOOL, default=_of_sheet("set_temperature"), origin=TABLE,
           help="Hottest place of the part."),
    Number(key="grip", label="Grips the tool below", shown="°C", low=0, high=200, step=1,
           group=TOOL, default=_of_sheet("set_temperature", shift=-30.0),
           origin="an assumption: 30 K below the set temperature",
           help="Mean of the part; colder, a male form is held by its shrinkage."),
    Number(key="load", label="Load and clamp", shown="s", low=0, high=600, step=1, default=12,
           group=CYCLE, origin=ASSUMED),
    Number(key="evacuate", label="Vacuum", shown="s", low=0.1, high=60, step=0.1, default=2,
           group=CYCLE, origin="an assumption; the vent page finds it"),
    Number(key="eject", label="Air eject and unload", shown="s", low=0, high=600, step=1,
           default=10, group=CYCLE, origin=ASSUMED),
    Flag(key="overlap", label="Heats the next sheet meanwhile", default=False, group=CYCLE,
         origin="single-station machine", help="Two stations: heater and tool work side by side."),
    Number(key="pause", label="Extra pause", shown="s", low=0, high=1800, step=5, default=0,
           group=CYCLE, origin="none", help="For the tool to cool between shots."),
    Number(key="shots", label="Shots in a row", shown="shots", low=1, high=5000, whole=True,
           group=CYCLE, default=earlier("brief", "batch", otherwise=40.0), origin="the brief"),
)
