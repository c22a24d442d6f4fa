"""The sheets that go to the machine, the bench and the store, and which values they carry."""

from __future__ import annotations

from thermoforming.record.export import Form, Group, Line

SETUP = Form(
    "setup-sheet", "Setup sheet",
    "For the machine, on the day of the first articles. Values with a range are predictions: "
    "start in the middle, and write down what was found.",
    groups=(
        Group("Sheet", (
            Line("material", "sheet", "Sheet"),
            Line("brief", "gauge", "Gauge"),
        )),
    ),
    by_hand=("Machine", "Sheet lot", "Set up by", "Date"),
    note="Guard the machine, wear gloves and sleeves against the heater and the hot sheet, and "
         "extract the fumes. Local rules come before this sheet.")

FORMS = (SETUP,)
TABLES: dict[str, tuple[str, str]] = {}
