"""Computes anew what the list of sound decisions says was computed.

    .venv/bin/python data/demo/capstone/make_sound.py

The brief is decided with sound inputs in a project that is thrown away. Sheets and tool materials
are sound if the material page does not refuse them, the tool's whatever the sound sheet; the starting gauge is sound up to half as much
again as the least wall needs with the least and the most draft, for every sound sheet.
"""

import csv
import tempfile
from math import atan, radians
from pathlib import Path

from thermoforming.pages.session import Session
from thermoforming.record import Project
from thermoforming.steps import step

LIST = Path(__file__).with_name("sound.csv")
HALF_AS_MUCH_AGAIN = 1.5
GAUGE = 0.0025  # m, more than is needed and a stock gauge
LEAST_DRAFT, MOST_DRAFT = radians(2), atan(5 / 45)
BRIEF = {
    "part": "shape", "shape_length": 0.16, "shape_width": 0.11, "shape_height": 0.045,
    "shape_corner": 0.02, "shape_radius": 0.004, "shape_rim": 0.015, "shape_draft": radians(4),
    "side": "male", "quantity": 60, "batch": 30, "days": 14 * 86400, "service_low": 253.15,
    "service_high": 333.15, "outdoor": True, "minimum_wall": 0.0008, "chemicals": "sea spray",
    "build_x": 0.28, "build_y": 0.18, "build_z": 0.3,
    "dimensions": [
        {"name": "D1", "what": "inside length where the rim meets the walls", "nominal": 0.16,
         "minus": 0.0008, "plus": 0.0008, "restraint": "male"},
        {"name": "D2", "what": "inside height", "kind": "depth", "direction": "z",
         "nominal": 0.045, "minus": 0.0005, "plus": 0.0005, "restraint": "male"}]}


def decide(session: Session, key: str, **inputs) -> dict:
    """Results of a decision, saved."""
    saved = session.decide(key, inputs, "sound inputs, to find the ranges", "nobody").content
    return {name: result["value"] for name, result in saved["results"].items()}


def keys(session: Session, table: str, field: str, **inputs) -> list[str]:
    """Materials that the brief does not refuse, with a gauge that is sound."""
    declared = step("material")
    upstream = session.upstream(declared)
    rows = declared.run({"gauge": GAUGE} | inputs, upstream).table(table).rows
    kept = {row["name"] for row in rows if row["state"] != "refused"}
    return [key for key, name in declared.field(field).choices(upstream) if name in kept]


def gauge_needed(session: Session, sheet: str, draft: float) -> float:
    """Typical starting gauge that the least wall needs. [m]"""
    decide(session, "brief", **BRIEF | {"shape_draft": draft})
    decide(session, "material", sheet=sheet, gauge=GAUGE)
    return decide(session, "thinning", verify=False)["starting_needed"]["typical"]


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        Project.create(Path(folder) / "p", "sound", "nobody")
        session = Session(Path(folder) / "p")
        decide(session, "brief", **BRIEF)
        sheets = keys(session, "sheet_candidates", "sheet")
        tools = [keys(session, "tool_candidates", "tool_material", sheet=sheet)
                 for sheet in sheets]
        needed = {(sheet, draft): gauge_needed(session, sheet, draft)
                  for sheet in sheets for draft in (LEAST_DRAFT, MOST_DRAFT)}
    for (sheet, draft), gauge in needed.items():
        print(f"{sheet}, {draft:.4f} rad: {gauge * 1e3:.3f} mm needed")
    whatever_sheet = [tool for tool in tools[0] if all(tool in others for others in tools)]
    write({"material.inputs.sheet": {"one_of": "|".join(sheets)},
           "material.inputs.tool_material": {"one_of": "|".join(whatever_sheet)},
           "thinning.inputs.gauge": {
               "high": f"{round(HALF_AS_MUCH_AGAIN * max(needed.values()), 4):.4f}"}})


def write(changed: dict[str, dict[str, str]]) -> None:
    """Put what was computed into the list."""
    with LIST.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    rows = [row | changed.get(row["value"], {}) for row in rows]
    with LIST.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
