"""The inputs of the brief."""

from __future__ import annotations

from thermoforming.geometry.mesh import UNITS
from thermoforming.geometry.soundness import KINDS
from thermoforming.reference import rule
from thermoforming.steps.base import Choice, File, Flag, Number, Rows, Text
from thermoforming.units import to_shown

PART, SERVICE, MACHINE = "Part", "Service and quantity", "Machine"
BLANK, BUILD, DIMENSIONS = "Blank and frame", "Building the tool", "Critical dimensions"
ASSUMED = "an assumption; put in what applies"
INVENTED = "an invented machine; put in yours"


def _mesh(values) -> bool:
    return values["part"] == "mesh"


def _shape(values) -> bool:
    return values["part"] == "shape"


def _shape_number(key, label, low, high, default, shown="mm"):
    return Number(key=f"shape_{key}", label=label, shown=shown, low=low, high=high,
                  default=default, group=PART, only_if=_shape, origin="to try things out")


def _rule_number(key, label, topic, case, high, group, help=""):
    found = rule(topic, case)
    return Number(key=key, label=label, shown="mm", low=0, high=high,
                  default=float(to_shown(found.band.typical, "mm")), group=group,
                  origin=f"{found.source.citation} ({found.basis})", help=help)


def _machine(key, label, shown, low, high, default, help="", **more):
    return Number(key=key, label=label, shown=shown, low=low, high=high, default=default,
                  group=MACHINE, origin=INVENTED, help=help, **more)


DIMENSION_COLUMNS = (
    Text(key="name", label="Name", default="D", longest=12),
    Text(key="what", label="What", longest=120),
    Choice(key="kind", label="Kind", default="linear",
           options=(("linear", "length"), ("diameter", "diameter"), ("depth", "depth"),
                    ("centres", "centre distance"))),
    Choice(key="direction", label="Along", default="x",
           options=(("x", "x"), ("y", "y"), ("z", "z"))),
    Number(key="nominal", label="Nominal", shown="mm", low=0.1, high=3000, default=100),
    Number(key="minus", label="Minus", shown="mm", low=0, high=50, default=0.5),
    Number(key="plus", label="Plus", shown="mm", low=0, high=50, default=0.5),
    Choice(key="side", label="Measured on", default="tool",
           options=(("tool", "tool side"), ("free", "free side"))),
    Choice(key="restraint", label="Form", default="female",
           options=(("female", "across a cavity"), ("male", "over a raised form"),
                    ("trim", "trimmed edge"))),
    Text(key="at", label="Measured through x, y, z (mm)", longest=60,
         help="A place between the two faces, read off the figure; empty if there is none."),
)

FIELDS = (
    Choice(key="part", label="Part from", default="mesh", group=PART,
           options=(("mesh", "a mesh file"), ("shape", "a simple tray"))),
    File(key="mesh", label="Mesh of the part", kinds=(".stl", ".obj", ".ply", ".3mf"),
         group=PART, only_if=_mesh, help="STL, OBJ, PLY or 3MF, up to 2 million triangles."),
    Choice(key="mesh_unit", label="Unit of the file", default="mm", group=PART, only_if=_mesh,
           options=tuple((unit, unit) for unit in UNITS),
           help="The file does not say; a part of impossible size is refused."),
    Choice(key="mesh_kind", label="The mesh is a", default="surface", group=PART, only_if=_mesh,
           options=tuple(KINDS.items())),
    Choice(key="up", label="Part leaves along", default="+z", group=PART, only_if=_mesh,
           options=tuple((way, way) for way in ("+x", "-x", "+y", "-y", "+z", "-z"))),
    _shape_number("length", "Length", 10, 2000, 200),
    _shape_number("width", "Width", 10, 2000, 120),
    _shape_number("height", "Depth or height", 3, 800, 40),
    _shape_number("corner", "Corner radius", 2, 500, 20),
    _shape_number("radius", "Fillets", 0.5, 100, 4),
    _shape_number("draft", "Draft", 0, 45, 4, "°"),
    _shape_number("rim", "Rim", 2, 200, 15),
    Choice(key="side", label="Tool", default="female", group=PART,
           options=(("female", "female: the sheet goes into it"),
                    ("male", "male: the sheet goes over it")),
           help="The side that touches the tool has the true dimensions and the tool's texture."),
    Choice(key="show_side", label="Show side", default="free", group=PART,
           options=(("free", "away from the tool"), ("tool", "against the tool"))),
    Number(key="texture_depth", label="Texture depth", shown="mm", low=0, high=1, default=0,
           step=0.005, group=PART, origin="none", help="Of the tool's grain; 0 for smooth."),
    Number(key="minimum_wall", label="Least wall anywhere", symbol="t_min", shown="mm", low=0.05,
           high=15, default=0.6, group=PART, origin=ASSUMED),
    Rows(key="dimensions", label="Critical dimensions", columns=DIMENSION_COLUMNS,
         group=DIMENSIONS, most=60, help="At 23 °C, as the drawing asks for them."),
    Number(key="quantity", label="Parts wanted", shown="parts", low=1, high=1e6, whole=True,
           default=80, group=SERVICE, origin=ASSUMED),
    Number(key="batch", label="Parts in a run", shown="parts", low=1, high=100_000, whole=True,
           default=40, group=SERVICE, origin=ASSUMED, help="Formed one after the other."),
    Number(key="days", label="First parts within", shown="d", low=1, high=365, default=21,
           group=SERVICE, origin=ASSUMED),
    Number(key="service_low", label="Coldest in service", shown="°C", low=-80, high=40,
           default=-10, step=1, group=SERVICE, origin=ASSUMED),
    Number(key="service_high", label="Warmest in service", shown="°C", low=-20, high=150,
           default=50, step=1, group=SERVICE, origin=ASSUMED),
    Flag(key="outdoor", label="Stands outdoors", group=SERVICE),
    Flag(key="food_contact", label="Touches food", group=SERVICE),
    Flag(key="clear", label="Must be clear", group=SERVICE),
    Flag(key="flame", label="Must not keep burning", group=SERVICE),
    Text(key="chemicals", label="Chemicals it meets", group=SERVICE, lines=2),
    _machine("forming_x", "Forming area, long", "mm", 50, 4000, 560),
    _machine("forming_y", "Forming area, wide", "mm", 50, 3000, 410),
    _machine("forming_depth", "Forming depth", "mm", 10, 1500, 180),
    _machine("machine_vacuum", "Pressure the pump ends at", "kPa", 0.1, 80, 5,
             help="Absolute, in the tank with the valve shut."),
    _machine("tank_volume", "Vacuum tank", "L", 0, 5000, 150),
    _machine("pump_speed", "Pump", "m³/h", 0.5, 1000, 40),
    _machine("line_bore", "Vacuum line, bore", "mm", 5, 150, 25, advanced=True),
    _machine("line_length", "Vacuum line, length", "m", 0.1, 30, 2.5, advanced=True),
    _machine("ambient_pressure", "Air pressure outside", "kPa", 60, 110, 101.3, advanced=True,
             help="About 1.2 kPa less for every 100 m above the sea."),
    _machine("heater_power", "Heater, by area", "kW/m²", 2, 80, 25),
    Choice(key="heater_sides", label="Heater on", default="two", group=MACHINE,
           options=(("one", "one side"), ("two", "two sides")), origin=INVENTED),
    _machine("oven_limit", "Hottest sheet it reaches", "°C", 80, 260, 200, step=5, advanced=True),
    _machine("forming_pressure_available", "Forming pressure at hand", "kPa", 0, 800, 0,
             help="Above the atmosphere; 0 if the machine only has vacuum."),
    Flag(key="plug_available", label="Plug at hand", default=True, group=MACHINE,
         origin=INVENTED),
    Choice(key="method", label="Forming method", default="proposed", group=BLANK,
           options=(("proposed", "as proposed"), ("straight vacuum", "straight vacuum"),
                    ("drape", "drape, then vacuum"), ("plug assist", "plug assist"),
                    ("pre-stretch", "pre-stretched bubble"), ("pressure", "pressure forming"))),
    Number(key="clamp_height", label="Clamp above the rim", shown="mm", low=-500, high=500,
           default=0, step=1, group=BLANK, advanced=True,
           origin="the clamp plane is the rim"),
    Number(key="forms_x", label="Forms along", shown="-", low=1, high=50, whole=True, default=1,
           group=BLANK, origin=ASSUMED),
    Number(key="forms_y", label="Forms across", shown="-", low=1, high=50, whole=True, default=1,
           group=BLANK, origin=ASSUMED),
    _rule_number("trim_margin", "Beyond the trim line", "margin", "beyond the trim line", 100,
                 BLANK),
    _rule_number("clamp_margin", "Clamped, each side", "margin", "clamp, each side", 100, BLANK),
    Number(key="spacing", label="Between forms", shown="mm", low=0, high=1000, default=40,
           group=BLANK, origin=ASSUMED, only_if=lambda v: v["forms_x"] * v["forms_y"] > 1,
           help="Clear distance; male forms need more than their height."),
    Number(key="stock_x", label="Stock sheet, along extrusion", shown="mm", low=100, high=6000,
           default=2000, group=BLANK, origin=ASSUMED),
    Number(key="stock_y", label="Stock sheet, across", shown="mm", low=100, high=3000,
           default=1000, group=BLANK, origin=ASSUMED),
    Number(key="kerf", label="Saw cut", shown="mm", low=0, high=10, default=3, group=BLANK,
           advanced=True, origin=ASSUMED),
    Flag(key="turn_blanks", label="Blanks may be turned", default=True, group=BLANK,
         help="Turning them puts the extrusion along the other axis of the part.",
         advanced=True),
    Number(key="build_x", label="Build volume, x", shown="mm", low=20, high=4000, default=300,
           group=BUILD, origin=INVENTED),
    Number(key="build_y", label="Build volume, y", shown="mm", low=20, high=4000, default=200,
           group=BUILD, origin=INVENTED),
    Number(key="build_z", label="Build volume, z", shown="mm", low=20, high=3000, default=300,
           group=BUILD, origin=INVENTED),
    Number(key="tool_rim", label="Tool beyond the part", shown="mm", low=0, high=200, default=10,
           group=BUILD, origin=ASSUMED, help="Run-off round the part; the trim line lies on it."),
    Number(key="tool_base", label="Tool below the deepest place", shown="mm", low=0, high=300,
           default=15, group=BUILD, origin=ASSUMED),
)
