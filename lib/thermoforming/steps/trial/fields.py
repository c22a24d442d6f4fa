"""What is typed, pasted or read of a trial."""

from __future__ import annotations

from thermoforming.reference.tables import read
from thermoforming.steps import experience
from thermoforming.steps.base import Choice, Flag, Number, Rows, Text
from thermoforming.steps.earlier import earlier, found
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.upstream import Upstream

RUN, MEASURED, DEFECTS, LEARN, NEXT = ("The run", "Measured on the parts", "What went wrong",
                                       "Learning", "Another trial")
GOOD, REJECTED, STARTUP = "good", "rejected", "startup"
VERDICTS = ((GOOD, "good"), (REJECTED, "rejected"), (STARTUP, "start-up"))
CAMERA = "camera"
READ_BY = (("thermocouple", "thermocouple"), ("label", "label"), (CAMERA, "thermal camera"),
           ("", "not measured"))
TRY = "a first try; set your own"


def defect_labels() -> tuple[tuple[str, str], ...]:
    """The trade's names of defects, by key."""
    return tuple(dict.fromkeys((row["defect"], row["label"]) for row in read("defects")))


def dimension_rows(upstream: Upstream) -> list[dict]:
    """The critical dimensions of the brief that a tool can be corrected for."""
    rows = found(upstream, "brief", "dimensions") or []
    return [row for row in rows if row["restraint"] != "trim"]


def _names(upstream: Upstream) -> tuple[tuple[str, str], ...]:
    rows = dimension_rows(upstream)
    return tuple((row["name"], row["name"]) for row in rows) or (("", "none in the brief"),)


def _first_name(upstream: Upstream) -> str:
    return _names(upstream)[0][0]


def _seconds(key: str, label: str) -> Number:
    return Number(key=key, label=label, shown="s", low=0, high=7200, optional=True)


def _kelvin(key: str, label: str, help: str) -> Number:
    return Number(key=key, label=label, shown="°C", low=-20, high=350, optional=True, help=help)


def _build_tolerance(upstream: Upstream) -> float:
    if not upstream.has("material"):
        return 2e-4
    return chosen_tool(upstream).band("tolerance_fixed").typical


def _emissivity(upstream: Upstream) -> float:
    sheet = chosen_sheet(upstream) if upstream.has("material") else {}
    return sheet.band("emissivity").typical if "emissivity" in sheet else 0.95


SHOT = Number(key="shot", label="Shot", shown="-", low=1, high=1_000_000, whole=True, default=1)

FIELDS = (
    Text(key="trial", label="Trial", default="first articles", longest=80, group=RUN,
         help="What tells this trial from the next one: date, machine, operator."),
    Rows(key="shots", label="Shots", group=RUN, most=1000, columns=(
        SHOT,
        _kelvin("sheet_temperature", "Sheet at", "Its hottest face when the heater leaves."),
        Choice(key="read_by", label="Read by", options=READ_BY, default="thermocouple"),
        _kelvin("tool_temperature", "Tool at", "Its face just before the sheet lands."),
        _seconds("heating_time", "Heating"), _seconds("vacuum_time", "Vacuum"),
        _seconds("cooling_time", "On tool"),
        _kelvin("part_temperature", "Part off at", "Its hottest face when it is taken off."),
        _seconds("cycle", "Cycle"),
        Choice(key="verdict", label="Part is", options=VERDICTS, default=GOOD),
        Text(key="note", label="Note", longest=300),
    ), help="Blank what was not measured; the part's verdict is the shop's."),
    Rows(key="tools_run", label="Tools used", group=RUN, most=100, columns=(
        Text(key="tool", label="Tool", default="tool 1", longest=60),
        Number(key="shots", label="Shots so far", shown="shots", low=0, high=10_000_000,
               whole=True, default=0),
        Choice(key="ended", label="Ended by", options=experience.ENDS,
               default=experience.RUNNING),
    ), help="All shots since it was new: this is the evidence on tool life."),
    Number(key="sheet_gauge", label="Gauge of the sheet used", shown="mm", low=0.1, high=20,
           optional=True, default=None, group=RUN, origin="blank: as decided"),
    Flag(key="dried", label="Sheet was dried", default=True, group=RUN),
    Number(key="set_emissivity", label="Emissivity set at the camera", symbol="ε_s", shown="-",
           low=0.05, high=1, step=0.01, default=0.95, group=RUN, advanced=True, origin=TRY),
    Number(key="emissivity", label="Emissivity of the sheet", symbol="ε", shown="-", low=0.05,
           high=1, step=0.01, default=_emissivity, group=RUN, advanced=True,
           origin="the sheet's table"),
    Number(key="reflected", label="What the sheet mirrors is at", shown="°C", low=0, high=500,
           step=1, default=25, group=RUN, advanced=True, origin=TRY),

    Rows(key="dimensions", label="Dimensions of parts", group=MEASURED, most=2000, columns=(
        SHOT,
        Choice(key="name", label="Name", options=_names, default=_first_name),
        Number(key="value", label="Measured", shown="mm", low=0.01, high=5000, default=1),
    ), help="At rest for a day at 23 °C; names are those of the brief."),
    Rows(key="tool_dimensions", label="The tool, cold", group=MEASURED, most=60, columns=(
        Choice(key="name", label="Name", options=_names, default=_first_name),
        Number(key="value", label="Measured", shown="mm", low=0.01, high=5000, default=1),
    ), help="What the tool really measures; without it, it is taken to be as drawn."),
    Rows(key="gauges", label="Gauge at points", group=MEASURED, most=2000, columns=(
        SHOT,
        Text(key="point", label="Point", default="P1", longest=40),
        Number(key="x", label="x", shown="mm", low=-5000, high=5000, default=0),
        Number(key="y", label="y", shown="mm", low=-5000, high=5000, default=0),
        Number(key="z", label="z", shown="mm", low=-5000, high=5000, default=0),
        Number(key="gauge", label="Gauge", shown="mm", low=0.01, high=20, default=1),
    ), help="Coordinates of the part as in the brief; pick them on the map below."),
    Rows(key="photos", label="Photos and files", group=MEASURED, most=200, columns=(
        SHOT,
        Text(key="name", label="File", longest=200),
        Text(key="sha256", label="SHA-256", longest=64),
        Text(key="what", label="Shows", longest=300),
    ), help="Kept in the project under their hash."),

    Rows(key="defects", label="Defects", group=DEFECTS, most=200, columns=(
        Choice(key="defect", label="Defect", options=defect_labels(), default="poor_detail"),
        Text(key="where", label="Where", longest=120),
        Number(key="shots", label="On shots", shown="shots", low=1, high=100_000, whole=True,
               default=1),
    )),

    Number(key="tool_at", label="Tool ran at", shown="°C", low=-20, high=300, step=1,
           group=LEARN, default=earlier("wall", "running_temperature", otherwise=earlier(
               "shrinkage", "tool_running_temperature", otherwise=318.15)),
           origin="the wall page; used where no shot has its tool measured"),
    Number(key="local_gauge", label="Formed gauge", shown="mm", low=0.03, high=15, step=0.05,
           default=earlier("shrinkage", "assumed_gauge", otherwise=earlier(
               "material", "gauge", otherwise=0.001)),
           group=LEARN, advanced=True, origin="the shrinkage page",
           help="Counts only for dimensions measured on the free side."),
    Number(key="part_scatter", label="Parts scatter by ±", symbol="s", shown="mm", low=0.005,
           high=2, step=0.005, default=0.05, group=LEARN, origin=TRY,
           help="Standard deviation from part to part, measuring included, as expected before."),
    Number(key="scatter_weight", label="That counts as", shown="parts", low=1, high=50,
           whole=True, default=4, group=LEARN, advanced=True, origin=TRY,
           help="How many measured parts it takes to outweigh the expectation."),
    Number(key="local_scatter", label="Places differ by ±", symbol="τ", shown="%", low=0.001,
           high=1, step=0.005, default=0.05, group=LEARN, origin=TRY,
           help="Shrinkage of one dimension against others in its direction."),
    Flag(key="leave_out", label="Leave named outliers out", default=False, group=LEARN,
         help="They are named in any case; leave them out only if you know why they are wrong."),
    Number(key="build_tolerance", label="A new tool is good to ±", shown="mm", low=0.005, high=3,
           step=0.01, default=_build_tolerance, group=LEARN, origin="the tool material's table"),
    Number(key="thermometer", label="Temperatures are good to ±", shown="K", low=0.5, high=40,
           step=0.5, default=5, group=LEARN, origin=TRY,
           help="Instrument, place and moment together, the same for all readings."),
    Flag(key="offer", label="Offer what was learned to later projects", default=False,
         group=LEARN),

    Number(key="more_parts", label="Parts in another trial", symbol="n", shown="parts", low=1,
           high=100, whole=True, default=5, group=NEXT, origin=TRY),
    Number(key="remaining", label="Parts still wanted", symbol="N", shown="parts", low=1,
           high=1e6, whole=True, default=earlier("brief", "quantity", otherwise=80.0),
           group=NEXT, origin="the brief"),
    Number(key="part_cost", label="Making a part costs", shown="money", low=0, high=1e4,
           step=0.1, default=earlier("route", "part_cost", otherwise=3.0), group=NEXT,
           origin="the route page"),
    Number(key="trial_cost", label="Setting up a trial costs", shown="money", low=0, high=1e5,
           step=5, default=60, group=NEXT, origin=TRY),
)
