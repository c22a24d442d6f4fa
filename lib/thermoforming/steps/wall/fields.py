"""The inputs of the wall page."""

from __future__ import annotations

from thermoforming.reference import rule, tool_materials
from thermoforming.steps.base import Choice, Flag, Number
from thermoforming.steps.earlier import earlier, found, rows_found
from thermoforming.units import to_shown

WALL, LOAD, LIMITS, HEAT = "The wall", "Load", "What it must keep", "Heat"
CHANNELS, BASE, SEARCH = "Channels", "Base and fixing", "Search"
ASSUMED = "an assumption; put in what applies"
FIRST = "a first try; the search below finds better"
AIR = (("still", "still air"), ("fan", "fan"), ("mist", "water mist"))
NO_FILL = "none"


def _hanging(v) -> bool:
    return v["ribs"] == "hanging"


def _pressed(v) -> bool:
    return v["forming_pressure"] > 0.0


def _cooled(v) -> bool:
    return v["channels"]


def ruled(key, label, topic, case, shown, low, high, group, **more) -> Number:
    """A number whose default is the typical value of a design rule."""
    known = rule(topic, case)
    return Number(key=key, label=label, shown=shown, low=low, high=high, group=group,
                  default=float(to_shown(known.band.typical, shown)),
                  origin=f"{known.source.citation} ({known.basis})", **more)


def _tolerance(upstream) -> float:
    """Half of the tightest tolerance among the part's dimensions."""
    rows = rows_found(upstream, "brief", "dimensions")
    widths = [row["plus"] + row["minus"] for row in rows]
    return min(widths) / 2.0 if widths else 0.5e-3


def _contact(upstream) -> float:
    return rule("contact", "conductance, sheet on tool, vacuum").band.typical


def _depth(upstream) -> float:
    height = found(upstream, "brief", "tool_z")
    return 0.04 if height is None else max(0.01, float(height))


def _forming_pressure(upstream) -> float:
    if found(upstream, "brief", "forming_method") != "pressure":
        return 0.0
    return float(found(upstream, "brief", "forming_pressure_available") or 0.0)


def _open_time(upstream) -> float:
    cycle = found(upstream, "heating", "cycle", "cycle_time")
    contact = found(upstream, "heating", "contact_time", "cooling_time")
    return 45.0 if cycle is None or contact is None else max(1.0, _number(cycle) - _number(contact))


def _air_above(upstream) -> str:
    way = found(upstream, "heating", "cooling")
    return way if way in dict(AIR) else "fan"


def _number(value) -> float:
    return float(getattr(value, "typical", value))


_SOLID = tuple((key, m.text("short")) for key, m in tool_materials().items())

FIELDS = (
    Number(key="length", label="Length between side walls", symbol="L", shown="mm", low=10,
           high=2000, step=1, group=WALL, default=earlier("brief", "footprint_x", otherwise=0.24),
           origin="the part's length", help="The wall is taken as flat over this plan; cavities "
           "and raised forms usually stiffen it."),
    Number(key="width", label="Width between side walls", symbol="W", shown="mm", low=10,
           high=2000, step=1, group=WALL, default=earlier("brief", "footprint_y", otherwise=0.16),
           origin="the part's width"),
    ruled("skin", "Wall", "wall", "wall of a hollow printed tool", "mm", 0.5, 60, WALL,
          symbol="t", step=0.1, help="Thickness of the forming wall between ribs."),
    Choice(key="ribs", label="Ribs", default="standing", group=WALL, origin=FIRST,
           options=(("standing", "stand on the base"), ("hanging", "hang free"))),
    Number(key="ribs_along", label="Ribs along", symbol="n_x", shown="-", low=0, high=40,
           whole=True, default=3, group=WALL, origin=FIRST, help="That run along the length."),
    Number(key="ribs_across", label="Ribs across", symbol="n_y", shown="-", low=0, high=40,
           whole=True, default=5, group=WALL, origin=FIRST, help="That run across it."),
    Number(key="rib_thickness", label="Rib", symbol="b", shown="mm", low=0.5, high=40, step=0.1,
           default=4, group=WALL, origin=FIRST, help="Thickness of the ribs."),
    Number(key="rib_height", label="Rib height", symbol="h", shown="mm", low=0, high=400,
           step=0.5, default=20, group=WALL, origin=FIRST, only_if=_hanging,
           help="Below the wall's inner face."),
    Number(key="depth", label="Height of the hollow", symbol="H", shown="mm", low=3, high=800,
           step=1, group=WALL, default=_depth, origin="the tool's height in the brief",
           help="From the wall's inner face down to the base."),
    Number(key="side", label="Side walls", symbol="s", shown="mm", low=0.5, high=60, step=0.1,
           default=6, group=WALL, origin=FIRST),
    Flag(key="sides_form", label="Side walls form the part", group=WALL, advanced=True,
         default=lambda upstream: found(upstream, "brief", "side") == "male",
         help="Yes for a male tool: then their deflection counts like that of the top."),
    Number(key="fillet", label="Fillets at ribs", symbol="r", shown="mm", low=0.1, high=30,
           step=0.1, default=2, group=WALL, origin=ASSUMED, advanced=True),
    Number(key="boss_radius", label="Largest round flat, radius", shown="mm", low=0, high=300,
           step=0.5, default=12, group=WALL, origin=ASSUMED, advanced=True,
           help="Top of a boss without rib below it; 0 for none."),
    Choice(key="hollow", label="The hollow is", default="vacuum", group=LOAD, origin=ASSUMED,
           options=(("vacuum", "the plenum: vents open into it"),
                    ("atmosphere", "open to the room: vents are piped"))),
    Number(key="ambient_pressure", label="Air pressure", symbol="p_a", shown="kPa", low=60,
           high=110, step=0.1, group=LOAD, advanced=True,
           default=earlier("brief", "ambient_pressure", otherwise=101325.0)),
    Number(key="plenum", label="Pressure the vacuum reaches", symbol="p_v", shown="kPa", low=0.1,
           high=60, step=0.5, group=LOAD, help="Absolute.",
           default=earlier("brief", "machine_vacuum", otherwise=10e3), origin="the brief"),
    Number(key="forming_pressure", label="Forming pressure", symbol="p_f", shown="kPa", low=0,
           high=1000, step=5, group=LOAD, default=_forming_pressure, origin="the brief",
           help="Above the atmosphere; 0 for vacuum forming."),
    Number(key="sealed_x", label="Pressure box inside, long", shown="mm", low=10, high=4000,
           group=LOAD, only_if=_pressed, default=earlier("brief", "blank_x", otherwise=0.3)),
    Number(key="sealed_y", label="Pressure box inside, wide", shown="mm", low=10, high=3000,
           group=LOAD, only_if=_pressed, default=earlier("brief", "blank_y", otherwise=0.22)),
    Number(key="clamp", label="Clamp force at hand", shown="kN", low=0, high=5000, default=20,
           group=LOAD, only_if=_pressed, origin=ASSUMED),
    Number(key="run", label="Shots in a row", shown="shots", low=1, high=5000, whole=True,
           group=LOAD, default=earlier("brief", "batch", otherwise=40.0), origin="the brief"),
    Number(key="shots", label="Shots in all", shown="shots", low=1, high=1e6, whole=True,
           group=LOAD, default=earlier("brief", "quantity", otherwise=80.0), origin="the brief"),
    Number(key="tolerance", label="Part's tightest tolerance", symbol="T", shown="mm", low=0.02,
           high=10, step=0.05, group=LIMITS, default=_tolerance, help="Plus or minus.",
           origin="half of the narrowest in the brief"),
    ruled("share", "Share for the tool's deflection", "wall",
          "share of part tolerance for tool deflection", "%", 1, 100, LIMITS, step=1),
    ruled("factor", "Safety factor on strength", "wall",
          "safety factor on strength, printed tool", "-", 1, 10, LIMITS, symbol="n", step=0.5),
    ruled("buckling_factor", "Safety factor on buckling", "wall", "safety factor on buckling",
          "-", 1, 10, LIMITS, step=0.5),
    ruled("margin", "Stay below the usable limit by", "wall", "stay below the usable limit by",
          "K", 0, 80, LIMITS, step=1),
    Number(key="contact_time", label="Sheet on the tool", symbol="t_c", shown="s", low=1,
           high=1800, step=1, group=HEAT, origin=ASSUMED,
           default=earlier("heating", "contact_time", "cooling_time", otherwise=60.0)),
    Number(key="open_time", label="Tool open", symbol="t_o", shown="s", low=1, high=3600, step=1,
           group=HEAT, default=_open_time, origin=ASSUMED, help="From part off to the next sheet."),
    Number(key="contact", label="Contact of sheet and tool", shown="W/(m²·K)", low=10, high=20000,
           step=10, group=HEAT, origin="heating; else the rule for vacuum",
           default=earlier("heating", "contact", otherwise=_contact)),
    Choice(key="face_air", label="Cooling from above", options=AIR, group=HEAT, origin="heating",
           default=_air_above, help="Of the sheet on the tool, and of the open face."),
    Choice(key="back_air", label="Cooling of the back", options=AIR, default="still", group=HEAT,
           origin=ASSUMED, help="Inside the hollow."),
    ruled("ambient", "Shop", "choice", "room temperature in the shop", "°C", 0, 50, HEAT, step=1,
          advanced=True),
    Choice(key="fill", label="Hollow filled with", default=NO_FILL, group=HEAT,
           options=((NO_FILL, "nothing"), *_SOLID), help="Behind the wall; counts for heat only."),
    Number(key="fill_thickness", label="Filling", shown="mm", low=1, high=300, step=1, default=20,
           group=HEAT, origin=ASSUMED, only_if=lambda v: v["fill"] != NO_FILL),
    Number(key="cooled_to", label="Rest until the wall is at", shown="°C", low=5, high=120, step=1,
           default=35, group=HEAT, advanced=True, origin=ASSUMED),
    Flag(key="channels", label="Water in channels", group=CHANNELS),
    ruled("bore", "Bore", "cooling", "channel diameter", "mm", 1, 40, CHANNELS, symbol="d",
          step=0.5, only_if=_cooled),
    Number(key="channel_depth", label="Middle below the face", symbol="z", shown="mm", low=1,
           high=100, step=0.5, default=12, group=CHANNELS, origin=ASSUMED, only_if=_cooled),
    Number(key="pitch", label="Pitch", symbol="w", shown="mm", low=3, high=200, step=1, default=24,
           group=CHANNELS, origin=ASSUMED, only_if=_cooled),
    Number(key="flow", label="Flow through one channel", shown="L/min", low=0.01, high=100,
           step=0.1, default=3, group=CHANNELS, origin=ASSUMED, only_if=_cooled),
    Number(key="inlet", label="Water enters at", shown="°C", low=5, high=88, step=1, default=20,
           group=CHANNELS, origin=ASSUMED, only_if=_cooled),
    Number(key="turns", label="Sharp turns of one channel", shown="-", low=0, high=200, whole=True,
           default=2, group=CHANNELS, origin=ASSUMED, only_if=_cooled, advanced=True),
    ruled("pump", "Pressure the cooler gives", "cooling", "pressure that a tool cooler gives",
          "kPa", 5, 2000, CHANNELS, only_if=_cooled, advanced=True),
    Choice(key="base", label="Base", options=_SOLID, default="mdf", group=BASE, origin=ASSUMED),
    Number(key="base_thickness", label="Base", shown="mm", low=3, high=100, step=1, default=18,
           group=BASE, origin=ASSUMED, advanced=True),
    Number(key="base_span", label="Base, clear span over the machine", shown="mm", low=0,
           high=2000, step=5, default=0, group=BASE, advanced=True, origin="lies on it all over",
           help="0 where the machine's table carries the base everywhere."),
    Number(key="base_temperature", label="Base runs at", shown="°C", low=0, high=120, step=1,
           default=30, group=BASE, origin=ASSUMED, advanced=True),
    Choice(key="held", label="Fixed to the base", default="slots", group=BASE, origin=ASSUMED,
           options=(("slots", "held down all round, in slots"), ("middle", "in the middle only"),
                    ("ends", "fast at its ends"))),
    Number(key="fixings", label="Fixings", shown="-", low=1, high=100, whole=True, default=6,
           group=BASE, origin=ASSUMED),
    Number(key="insert", label="Insert, outer diameter", shown="mm", low=1, high=40, step=0.1,
           default=6.4, group=BASE, origin=ASSUMED, advanced=True),
    Number(key="engagement", label="Insert, length", shown="mm", low=1, high=100, step=0.5,
           default=9.5, group=BASE, origin=ASSUMED, advanced=True),
    Number(key="most_ribs", label="Most ribs to try", shown="-", low=1, high=20, whole=True,
           default=10, group=SEARCH, origin=ASSUMED, advanced=True),
    ruled("gap", "Clear between ribs", "wall", "least clear distance between ribs", "mm", 1, 100,
          SEARCH, advanced=True, step=1),
)

#: What the finite elements, the search and the comparison depend on.
SIMULATED_BY = tuple(f.key for f in FIELDS if f.group not in (CHANNELS, BASE) and f.key not in (
    "fillet", "boss_radius", "sides_form", "sealed_x", "sealed_y", "clamp", "cooled_to")) + (
        "channels", "bore", "channel_depth", "pitch", "flow", "inlet", "held")
