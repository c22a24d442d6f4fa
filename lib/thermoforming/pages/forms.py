"""The sheets that go to the machine, the bench and the store, and which values they carry."""

from __future__ import annotations

from thermoforming.record.export import Form, Group, Line, Listing

_SAFE = ("Guard the machine, wear gloves and sleeves against the heater and the hot sheet, extract "
         "the fumes, and never reach under an open clamp. Local rules come before this sheet.")

SETUP = Form(
    "setup-sheet", "Setup sheet",
    "For the machine, on the day of the first articles. A value with a range is a prediction: "
    "start in the middle and write down what was found.",
    groups=(
        Group("Sheet", (
            Line("material", "sheet_name"), Line("material", "gauge", "Gauge"),
            Line("brief", "blank_x"), Line("brief", "blank_y"), Line("material", "drying"))),
        Group("Heating", (
            Line("heating", "sides", "Heated from"), Line("heating", "heating_time"),
            Line("heating", "heater_temperature"), Line("heating", "running", "Heater running at"),
            Line("heating", "below", "Share of the lower heater"),
            Line("heating", "core", "Core of the sheet at the end"),
            Line("heating", "surface_end", "Hottest face at the end"),
            Line("heating", "sag"))),
        Group("Forming", (
            Line("brief", "forming_method"), Line("heating", "transfer"),
            Line("vents", "time", "Vacuum below the sheet in"),
            Line("vents", "available", "Time there is"), Line("vents", "final_pull"),
            Line("vents", "tank_pressure", "Tank before the shot"))),
        Group("Cooling and release", (
            Line("heating", "cooling"), Line("heating", "contact_time"),
            Line("heating", "set", "Part may leave at"), Line("shrinkage", "pull"),
            Line("shrinkage", "blow_off"), Line("heating", "cycle"))),
        Group("Tool", (
            Line("material", "tool_name"), Line("heating", "tool_start", "Tool at the start"),
            Line("heating", "tool_steady"), Line("material", "usable_limit"),
            Line("heating", "startup_shots"), Line("wall", "shots_before_rest"))),
        Group("Run", (
            Line("brief", "quantity"), Line("brief", "batch"), Line("route", "tools"),
            Line("route", "trim_method"), Line("route", "trim_datums", "Trimmed, located by"))),
    ),
    by_hand=("Machine", "Tool number", "Sheet lot", "Heating time used", "Face measured at",
             "Vacuum reached", "Set up by", "Date"),
    note=_SAFE)

INSPECTION = Form(
    "inspection-sheet", "Inspection sheet for the first articles",
    "Measure after the parts have stood for a day, in the fixture that holds them as in use. The "
    "columns after the tolerance say how far from nominal nine parts of ten should lie.",
    groups=(
        Group("Least gauge", (
            Line("thinning", "least_gauge", "Expected"),
            Line("brief", "minimum_wall", "Least wall wanted"))),
        Group("Where to look for it", (
            Line("thinning", "least_x"), Line("thinning", "least_y"),
            Line("thinning", "least_z"))),
        Group("Trimmed edge", (
            Line("route", "trim_method"), Line("route", "trim_datums", "Located by"),
            Line("route", "trim_tolerance", "Good to, plus and minus"))),
    ),
    listings=(Listing("shrinkage", "ledger",
                      ("name", "what", "nominal", "tolerance", "low", "high"),
                      ("1", "2", "3", "4", "5")),),
    by_hand=("Least gauge found", "At", "Vent marks", "Webs, folds, chill marks", "Measured by",
             "Measured at, °C", "Instrument", "Date"))

VENTS = Form(
    "vent-list", "Vent list",
    "For whoever drills or cleans the vents; coordinates of the tool, z upwards in the direction "
    "the part leaves.",
    groups=(Group("All vents", (Line("vents", "vents"), Line("vents", "bore"),)),
            Group("At the face", (Line("vents", "largest_bore"), Line("vents", "open_area")))),
    listings=(Listing("vents", "vent_list", blanks=("done",)),),
    by_hand=("Drilled by", "Date"))

DIMENSIONS = Form(
    "dimension-table", "Dimension table of the tool",
    "The sizes to which the tool is drawn, so that the part comes out at its nominal size after "
    "shrinkage; as found by the tool page, and as assumed before it was decided.",
    groups=(Group("Scale of the tool", (Line("tool", "scale_x"), Line("tool", "scale_y"),
                                        Line("tool", "scale_z"))),
            Group("Tool", (Line("tool", "joint"), Line("tool", "mass"), Line("tool", "pieces"),
                           Line("tool", "least_wall")))),
    listings=(Listing("tool", "closed", ("name", "what", "nominal", "assumed", "found", "after"),
                      ("measured",)),
              Listing("shrinkage", "ledger", ("name", "what", "nominal", "tolerance", "drawn",
                                              "scale", "probability"), ("measured",),
                      until="tool")),
    by_hand=("Measured by", "Date"))

FORMS = (SETUP, INSPECTION, VENTS, DIMENSIONS)

# Tables given as CSV as well: name of the file, step and key of the table.
TABLES = {"vent-list": ("vents", "vent_list"), "dimension-table": ("shrinkage", "ledger"),
          "temperature-map": ("heating", "temperature_map"),
          "corrected-tool": ("trial", "corrections")}
