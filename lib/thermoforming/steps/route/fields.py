"""The inputs of route, cost and tool life."""

from __future__ import annotations

import math

from thermoforming.reference import rules, sheets, tool_materials
from thermoforming.steps import experience
from thermoforming.steps.base import Choice, Flag, Number, Rows, Text
from thermoforming.steps.earlier import earlier, found
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.upstream import Upstream

PRINTED, MILLED, CAST, BOUGHT = "printed", "milled", "cast", "bought"
WAYS = ((PRINTED, "printed here"), (MILLED, "milled here"), (CAST, "cast here"),
        (BOUGHT, "bought"))
TRY = "a first try; set your own"
BRIEF = "the brief, where it is saved"
LARGEST = 100_000

# What locates the part while it is trimmed: words of common practice, no source.
DATUMS = {
    "hand knife or shears": "the formed step of the rim, by eye or along a scribed line",
    "hand router along a template": "the cavities, dropped over a plug that carries the template",
    "numerically controlled router": "two cavities far apart on a vacuum fixture, rim face down",
    "steel-rule die in a press": "one cavity in a nest that guides the die",
    "punch and die": "one cavity on a locating plug in the die",
}


def _tool_keys(_=None) -> tuple[tuple[str, str], ...]:
    return tuple((key, material.text("short")) for key, material in tool_materials().items())


def tool_key(upstream: Upstream) -> str:
    """Shared tool material of the saved choice (of an own one, what it is like)."""
    if not upstream.has("material"):
        return next(iter(tool_materials()))
    made = chosen_tool(upstream)
    return made.key if made.key in tool_materials() else made.base


def sheet_key(upstream: Upstream) -> str:
    """Shared sheet of the saved choice (of an own one, what it is like)."""
    chosen = chosen_sheet(upstream)
    return chosen.key if chosen.key in sheets() else chosen.base


def _way(key: str) -> str:
    material = tool_materials()[key]
    return PRINTED if material.flag("printed") else MILLED if "build_rate" in material else CAST


def _first_routes(upstream: Upstream) -> list[dict]:
    """The chosen tool material made here, and what else it is usually weighed against."""
    chosen = tool_key(upstream)
    rows = [_route(chosen, _way(chosen))]
    rows += [_route(key, way) for key, way in
             (("photopolymer_heat", PRINTED), ("board_dense", MILLED), ("epoxy_cast", CAST),
              ("aluminium_machined", BOUGHT)) if key != chosen and key in tool_materials()]
    rows[0]["chosen"] = True
    return rows


def _route(key: str, way: str) -> dict:
    material = tool_materials()[key]
    return {"name": f"{material.text('short')}, {dict(WAYS)[way]}", "way": way, "material": key,
            "price_low": None, "price_high": None, "days_low": None, "days_high": None,
            "cycle": None, "chosen": False}


def _size(axis: str):
    return lambda upstream: found(upstream, "brief", f"footprint_{axis}") or 0.2


def _depth(upstream: Upstream) -> float:
    return found(upstream, "brief", "draw_depth") or 0.04


def _height(upstream: Upstream) -> float:
    return found(upstream, "brief", "tool_z") or _depth(upstream) + 0.01


def _block(upstream: Upstream) -> float:
    x, y = (found(upstream, "brief", f"tool_{axis}") or _size(axis)(upstream) for axis in "xy")
    return (x + 0.01) * (y + 0.01) * (_height(upstream) + 0.01)


def _blank(axis: str):
    return earlier("brief", f"blank_{axis}", otherwise=lambda u: _size(axis)(u) + 0.05)


def _batches(upstream: Upstream) -> int:
    run = found(upstream, "brief", "batch")
    return int(math.ceil(found(upstream, "brief", "quantity") / run)) if run else 1


def _forms(upstream: Upstream) -> int:
    counts = [found(upstream, "brief", f"forms_{axis}") or 1 for axis in "xy"]
    return int(counts[0] * counts[1])


def _edge(upstream: Upstream) -> float:
    return 2 * (_size("x")(upstream) + _size("y")(upstream))


def _area(upstream: Upstream) -> float:
    ratio = found(upstream, "brief", "draw_ratio_area")
    return _size("x")(upstream) * _size("y")(upstream) * float(getattr(ratio, "typical",
                                                                       ratio or 1.5))


WHAT, ROUTES = "What is wanted", "Routes"
TOOL, PART, TRIM, LIFE = "Making the tool", "Making parts", "Trimming", "Tool life"

FIELDS = (
    Number(key="quantity", label="Good parts wanted", symbol="N", shown="parts", low=1,
           high=LARGEST, whole=True, default=earlier("brief", "quantity", otherwise=80),
           group=WHAT, origin=BRIEF),
    Number(key="batches", label="In batches", shown="-", low=1, high=100, whole=True,
           default=_batches, group=WHAT, origin=BRIEF),
    Number(key="due", label="Last part due in", shown="d", low=0.5, high=1000, optional=True,
           default=None, group=WHAT, origin="blank: no date"),
    Text(key="currency", label="Money is in", default="money", longest=20, group=WHAT,
         help="A label; rates, prices and results are all in this currency."),
    Rows(key="routes", label="Routes to compare", default=_first_routes, fewest=1, most=8,
         group=ROUTES,
         help="Blank prices and days are worked out. “Bought for” is the whole tool of a "
              "bought route, else what is bought for it (pattern, inserts).",
         columns=(
             Text(key="name", label="Name", longest=60),
             Choice(key="way", label="How", options=WAYS, default=PRINTED),
             Choice(key="material", label="Material", options=_tool_keys, default=tool_key),
             Number(key="price_low", label="Bought for, from", shown="money", low=0, high=1e6,
                    optional=True),
             Number(key="price_high", label="to", shown="money", low=0, high=1e6, optional=True),
             Number(key="days_low", label="Ready in, from", shown="d", low=0, high=500,
                    optional=True),
             Number(key="days_high", label="to", shown="d", low=0, high=500, optional=True),
             Number(key="cycle", label="Cycle", shown="s", low=1, high=7200, optional=True,
                    help="Blank: as below."),
             Flag(key="chosen", label="Chosen", default=False),
         )),
    Rows(key="rates", label="Your own rates", group=ROUTES, most=30,
         help="One row a material; blank cells keep the table's value, which is from memory.",
         columns=(
             Choice(key="material", label="Material", options=_tool_keys, default=tool_key),
             Number(key="price", label="Material", shown="money/kg", low=0, high=5000,
                    optional=True),
             Number(key="machine_rate", label="Machine", shown="money/h", low=0, high=1000,
                    optional=True),
             Number(key="build_rate", label="Makes or removes", shown="cm³/h", low=0.1, high=1e6,
                    optional=True),
             Number(key="hand_work", label="Hand work", shown="h", low=0, high=400,
                    optional=True),
         )),
    Number(key="spread", label="Typed rates are good to ±", shown="%", low=0, high=60, step=1,
           default=10, group=ROUTES, origin=TRY),
    Number(key="labour_rate", label="Labour", shown="money/h", low=0, high=500, step=1,
           default=40, group=ROUTES, origin=TRY),

    Number(key="solid_volume", label="Solid of the print", symbol="V", shown="cm³", low=1,
           high=200_000, step=5, group=TOOL, origin="the tool page; else a quarter of the block",
           default=earlier("tool", "volume", otherwise=lambda u: _block(u) / 4),
           help="Hollow, as printed, with supports."),
    Number(key="print_height", label="Height as built", symbol="H", shown="mm", low=1, high=2000,
           step=1, default=_height, group=TOOL, origin="the tool's height in the brief"),
    Number(key="layer_time", label="Lost at each layer", symbol="t_h", shown="s", low=0, high=300,
           step=0.5, default=6, group=TOOL, origin=TRY, help="Recoating and lifting."),
    Number(key="block_volume", label="Block to mill or cast", shown="cm³", low=1, high=1e6,
           step=10, default=_block, group=TOOL, origin="the tool in the brief, and 10 mm"),
    Number(key="removed_volume", label="Milled away", symbol="V_-", shown="cm³", low=1, high=1e6,
           step=10, default=lambda u: 0.45 * _block(u), group=TOOL,
           origin="45 % of the block until you know better"),
    Number(key="finished_area", label="Face to finish", symbol="A", shown="cm²", low=1, high=1e6,
           step=5, default=_area, group=TOOL, origin="footprint times area draw ratio"),
    Number(key="stepover", label="Finishing stepover", symbol="s", shown="mm", low=0.05, high=3,
           step=0.05, default=0.3, group=TOOL, advanced=True, origin=TRY),
    Number(key="feed", label="Finishing feed", symbol="v", shown="m/s", low=0.005, high=0.3,
           step=0.005, default=0.04, group=TOOL, advanced=True, origin=TRY),
    Number(key="setup", label="Set-up of printer or mill", symbol="t_0", shown="h", low=0, high=40,
           step=0.25, default=1, group=TOOL, advanced=True, origin=TRY),
    Number(key="waste", label="Material bought in excess", shown="%", low=0, high=200, step=5,
           default=15, group=TOOL, advanced=True, origin=TRY),
    Number(key="finishing", label="Inserts, fittings, coating", shown="money", low=0, high=2000,
           step=5, default=15, group=TOOL, advanced=True, origin=TRY),
    Number(key="queue", label="Machine is free in", shown="d", low=0, high=100, step=0.5,
           default=1, group=TOOL, origin=TRY, help="Wait before a tool made here is begun."),
    Number(key="machine_day", label="Machine runs a day", shown="h", low=1, high=24, step=1,
           default=20, group=TOOL, advanced=True, origin=TRY),
    Number(key="work_day", label="Working day", shown="h", low=1, high=24, step=0.5, default=7.5,
           group=TOOL, advanced=True, origin=TRY),
    Flag(key="spares_first", label="Spares made with the first tool", default=True, group=TOOL,
         help="Else each is made when the one before it ends, and the job waits."),

    Number(key="cycle", label="Cycle", shown="s", low=3, high=800, step=1, group=PART,
           default=earlier("heating", "cycle", otherwise=90.0),
           origin="the heating page, where it is saved"),
    Number(key="forms", label="Parts formed at once", shown="-", low=1, high=64, whole=True,
           default=_forms, group=PART,
           origin=BRIEF, help="Each takes a tool of its own."),
    Number(key="blank_x", label="Blank, along x", shown="mm", low=20, high=4000, step=1,
           default=_blank("x"), group=PART, origin=BRIEF),
    Number(key="blank_y", label="Blank, along y", shown="mm", low=20, high=4000, step=1,
           default=_blank("y"), group=PART, origin=BRIEF),
    Number(key="stock_x", label="Stock sheet, along extrusion", shown="mm", low=100, high=6000,
           step=10, default=earlier("brief", "stock_x", "stock_length", otherwise=2.0),
           group=PART, origin=BRIEF),
    Number(key="stock_y", label="Stock sheet, across", shown="mm", low=100, high=4000, step=10,
           default=earlier("brief", "stock_y", "stock_width", otherwise=1.0), group=PART,
           origin=BRIEF),
    Flag(key="turn", label="Blanks may lie across", group=PART, origin=BRIEF,
         default=earlier("brief", "turn_blanks", otherwise=False),
         help="Turned blanks shrink along the other side of the part."),
    Number(key="kerf", label="Cut width", shown="mm", low=0, high=20, step=0.5, group=PART,
           default=earlier("brief", "kerf", otherwise=0.003), advanced=True, origin=BRIEF),
    Number(key="edge", label="Edge trimmed off the stock", shown="mm", low=0, high=100, step=1,
           default=5, group=PART, advanced=True, origin=TRY),
    Number(key="sheet_price", label="Price of the sheet", shown="money/kg", low=0.1, high=500,
           optional=True, default=None, group=PART, origin="blank: the table's, from memory"),
    Number(key="part_area", label="Sheet that leaves as part", shown="cm²", low=0.1, high=1e6,
           step=5, default=lambda u: _size("x")(u) * _size("y")(u), group=PART, advanced=True,
           origin="footprint within the trim line, as flat sheet"),
    Number(key="forming_rate", label="Forming machine", shown="money/h", low=0, high=1000, step=1,
           default=20, group=PART, origin=TRY),
    Number(key="attendance", label="Operator's share of the cycle", shown="%", low=0, high=300,
           step=5, default=100, group=PART, origin=TRY),
    Number(key="scrap", label="Rejected", symbol="q", shown="%", low=0, high=80, step=1, default=6,
           group=PART, origin=TRY),
    Number(key="startup", label="Start-up shots a batch", shown="shots", low=0, high=200,
           whole=True, group=PART, origin="the heating page, where it is saved",
           default=earlier("heating", "startup_shots", otherwise=4)),
    Number(key="setup_batch", label="Set-up of a batch", shown="h", low=0, high=40, step=0.25,
           default=0.75, group=PART, advanced=True, origin=TRY),
    Number(key="regrind", label="Offcuts are worth", shown="money/kg", low=0, high=50, step=0.05,
           default=0.2, group=PART, advanced=True, origin=TRY),

    Choice(key="trim", label="Method", group=TRIM, default="hand router along a template",
           options=tuple((name, name) for name in rules("trim tolerance"))),
    Number(key="trim_length", label="Edge to trim", shown="mm", low=50, high=10_000, step=10,
           default=_edge, group=TRIM, origin="footprint all round"),
    Number(key="fixture", label="Fixture or die", shown="money", low=0, high=5000, step=10,
           default=60,
           group=TRIM, origin=TRY),
    Number(key="trim_rate", label="Trimming machine", shown="money/h", low=0, high=500, step=1,
           default=5, group=TRIM, advanced=True, origin=TRY),
    Text(key="datums", label="Located by", default="", longest=200, group=TRIM,
         help="What of the part sits in the fixture; blank: what is usual for the method."),

    Number(key="shape", label="Weibull shape, assumed", symbol="β", shown="-", low=0.5, high=8,
           step=0.1, default=2, group=LIFE, origin="an assumption: tools of plastic wear and tire",
           help="1: any shot may end the tool; above 1: it wears."),
    Number(key="confidence", label="Confidence", symbol="C", shown="%", low=50, high=99, step=1,
           default=90, group=LIFE, origin=TRY),
    Number(key="risk", label="Accepted risk of running out", shown="%", low=0.5, high=50, step=0.5,
           default=5, group=LIFE, origin=TRY),
    Rows(key="experience", label="Runs of tools seen before", columns=experience.COLUMNS,
         group=LIFE, most=300,
         help="From other projects' trials, or typed with their origin; see below what counts."),
    Number(key="nearness", label="Sheet may have been cooler by", shown="K", low=0, high=80,
           step=1, default=15, group=LIFE, advanced=True, origin=TRY,
           help="A run with cooler sheet than that was too gentle to count here."),
)
