"""The inputs of the choice of sheet and tool material."""

from __future__ import annotations

from thermoforming.reference import rule, sheets, tool_materials
from thermoforming.steps.base import Choice, Flag, Number, Rows, Text
from thermoforming.steps.earlier import earlier, found
from thermoforming.steps.material import own, sheet, tool
from thermoforming.steps.upstream import Upstream

OWN = "own"
FROM_BRIEF = "the brief, where it is saved"


def brief(*keys: str, otherwise):
    return earlier("brief", *keys, otherwise=otherwise)


def _pressure(upstream: Upstream) -> float:
    """Pressure on the sheet: the atmosphere less the vacuum, more where pressure forms it."""
    air = found(upstream, "brief", "ambient_pressure")
    left = found(upstream, "brief", "machine_vacuum")
    if air is None or left is None:
        return 95e3
    more = found(upstream, "brief", "forming_pressure_available") or 0.0
    return air - left + (more if found(upstream, "brief", "forming_method") == "pressure" else 0.0)


def _choices(table) -> tuple[tuple[str, str], ...]:
    return (*((key, material.text("short")) for key, material in table.items()),
            (OWN, "an own material, named below"))


def _weights(criteria, prefix: str, given: dict[str, int], group: str):
    return tuple(Number(key=f"{prefix}_{c.key}", label=c.label, shown="-", low=0, high=10, step=1,
                        default=given.get(c.key, 0), group=group, help=c.help,
                        origin="a first try; set what this part needs") for c in criteria)


ASK, TOOL = "What the part asks", "Tool and run"
ROOM = rule("choice", "room temperature in the shop").band.typical

FIELDS = (
    Choice(key="sheet", label="Chosen sheet", options=_choices(sheets()), default="hips",
           group="The choice", origin="a first try",
           help="Compare below, then choose; the page says what speaks against it."),
    Text(key="own_sheet", label="Own sheet, by name", longest=60, group="The choice",
         only_if=lambda v: v["sheet"] == OWN),
    Choice(key="tool_material", label="Chosen tool material",
           options=_choices(tool_materials()), default="photopolymer_heat", group="The choice",
           origin="a first try", help="Material and the process that makes the tool of it."),
    Text(key="own_tool", label="Own tool material, by name", longest=60, group="The choice",
         only_if=lambda v: v["tool_material"] == OWN),
    Number(key="gauge", label="Starting gauge", symbol="t_0", shown="mm", low=0.15, high=15,
           step=0.1, default=2, group=ASK,
           origin="an assumption; the thinning page proposes a gauge"),
    Number(key="sheet_temperature", label="Sheet when formed", symbol="T_s", shown="°C", low=60,
           high=260, step=1, optional=True, default=None, group=ASK,
           origin="blank: the sheet's normal forming temperature",
           help="Temperature of the sheet when it touches the tool."),
    Number(key="service_high", label="Warmest service", shown="°C", low=-20, high=150, step=1,
           default=brief("service_high", otherwise=323.15), group=ASK, origin=FROM_BRIEF),
    Number(key="service_low", label="Coldest service", shown="°C", low=-80, high=40, step=1,
           default=brief("service_low", otherwise=263.15), group=ASK, origin=FROM_BRIEF),
    Number(key="depth_ratio", label="Depth to width", symbol="H/W", shown="-", low=0.01, high=4,
           step=0.01, default=brief("draw_ratio_depth", otherwise=0.4),
         group=ASK, origin=FROM_BRIEF,
           help="Deepest cavity, depth by its lesser opening width."),
    Number(key="area_ratio", label="Area draw ratio", shown="-", low=1, high=12, step=0.05,
           default=brief("draw_ratio_area", otherwise=1.8),
         group=ASK, origin=FROM_BRIEF),
    Flag(key="assisted", label="Plug or pre-stretch", default=brief("assisted", otherwise=False),
         group=ASK,
         origin=FROM_BRIEF),
    Flag(key="clear", label="Must be clear", default=brief("clear", otherwise=False), group=ASK,
         origin=FROM_BRIEF),
    Flag(key="outdoor", label="Stands outdoors", default=brief("outdoor", otherwise=False),
         group=ASK,
         origin=FROM_BRIEF),
    Flag(key="food_contact", label="Touches food", default=brief("food_contact", otherwise=False),
         group=ASK, origin=FROM_BRIEF),
    Flag(key="flame", label="Must not keep burning", default=brief("flame", otherwise=False),
         group=ASK,
         origin=FROM_BRIEF),
    Number(key="impact", label="Least impact strength", shown="kJ/m²", low=0.5, high=90,
           optional=True, default=None, group=ASK, origin="blank: not asked",
           help="Charpy notched at 23 °C; blank if it does not matter."),
    Number(key="oven_limit", label="Hottest sheet the oven reaches", shown="°C", low=80, high=260,
           step=5, default=brief("oven_limit", otherwise=473.15), group=ASK, origin=FROM_BRIEF),
    Flag(key="oven", label="Drying oven at hand", default=True, group=ASK,
         origin="usual in a forming shop"),
    *_weights(sheet.CRITERIA, "sheet", dict(price=5, window=4, shrinkage=3, toughness=2),
              "Weights: sheet"),
    Number(key="quantity", label="Parts wanted", shown="parts", low=1, high=1e6, whole=True,
           default=brief("quantity", otherwise=80.0), group=TOOL, origin=FROM_BRIEF),
    Number(key="days", label="Tool ready within", shown="d", low=0.5, high=200,
           default=brief("days", otherwise=10 * 86400.0), group=TOOL, origin=FROM_BRIEF),
    Number(key="tool_length", label="Tool length", shown="mm", low=20, high=3000,
           default=brief("tool_x", otherwise=0.300), group=TOOL, origin=FROM_BRIEF),
    Number(key="tool_width", label="Tool width", shown="mm", low=20, high=3000,
           default=brief("tool_y", otherwise=0.180), group=TOOL, origin=FROM_BRIEF),
    Number(key="tool_height", label="Tool height", shown="mm", low=5, high=1500,
           default=brief("tool_z", otherwise=0.060), group=TOOL, origin=FROM_BRIEF),
    *(Number(key=f"build_{axis}", label=f"Printer's build volume, {axis}", shown="mm", low=20,
             high=4000, optional=True, default=brief(f"build_{axis}", otherwise=None), group=TOOL,
             advanced=True, origin="the brief; blank: usual for the process") for axis in "xyz"),
    Number(key="pressure", label="Forming pressure", symbol="p", shown="kPa", low=10, high=800,
           default=_pressure, group=TOOL,
           origin="the brief's air pressure less the pump's, or vacuum of 95 % of an atmosphere"),
    Number(key="cycle", label="Shot to shot", symbol="t_c", shown="s", low=10, high=1800, step=5,
           default=120, group=TOOL, origin="an assumption; the heating page finds it",
           help="Time from one shot to the next."),
    Number(key="run_shots", label="Shots in a row", shown="shots", low=1, high=100_000,
           whole=True, default=brief("batch", otherwise=40.0), group=TOOL,
           origin="an assumption: half a shift", help="Without a pause in which the tool cools."),
    Choice(key="cooling", label="Tool cooling", options=tool.COOLING, default="fan", group=TOOL,
           origin="the least that most shops have"),
    Number(key="roughness", label="Roughest face allowed", symbol="R_a", shown="µm", low=0.1,
           high=100, optional=True, default=None, group=TOOL, origin="blank: not asked"),
    Flag(key="finishing", label="Finishing by hand is fine", default=True, group=TOOL,
         origin="usual for a few tools"),
    Number(key="wall", label="Tool wall", symbol="L", shown="mm", low=1, high=100, step=0.5,
           default=6, group=TOOL, advanced=True,
           origin="an assumption; the wall page decides it"),
    Number(key="span", label="Span between ribs", symbol="a", shown="mm", low=5, high=400, step=1,
           default=40, group=TOOL, advanced=True,
           origin="an assumption; the wall page decides it"),
    Number(key="ambient", label="Shop temperature", symbol="T_a", shown="°C", low=0, high=50,
           default=ROOM - 273.15, group=TOOL, advanced=True, origin="table of rules"),
    *_weights(tool.CRITERIA, "tool", dict(cost=3, days=3, accuracy=4, finish=4, life=2, reserve=3),
              "Weights: tool material"),
    Rows(key="own", label="Own materials", columns=own.columns(), group="Own materials",
         advanced=True, most=200,
         help="One row a value from a data sheet; the rest is taken from the material it is like."),
)
