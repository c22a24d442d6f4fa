"""Materials that a project brings along: typed from a data sheet, checked like the shared ones."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from thermoforming.guard import Refused
from thermoforming.reference import Material, properties, sheets, tool_materials
from thermoforming.steps.base import Choice, Number, Text
from thermoforming.units import to_si

KINDS = (("sheet", "sheet"), ("tool", "tool material"))
BASES = (("published", "data sheet"), ("measured", "measured by us"),
         ("from memory", "from memory"))


def columns() -> tuple:
    """Columns of the table of own materials."""
    return (
        Text(key="name", label="Name", longest=60,
             help="Rows with the same name are one material."),
        Choice(key="kind", label="Kind", options=KINDS, default="sheet"),
        Choice(key="base", label="Like", options=_bases(), default="hips",
               help="Gives the properties that are not typed here."),
        Choice(key="property", label="Property", options=_properties(), default="density"),
        Number(key="low", label="Low", shown="-", low=-1e9, high=1e9, default=0.0),
        Number(key="typical", label="Typical", shown="-", low=-1e9, high=1e9, default=0.0),
        Number(key="high", label="High", shown="-", low=-1e9, high=1e9, default=0.0),
        Number(key="temperature", label="At", shown="°C", low=-50, high=400, optional=True,
               help="Only for a property given at several temperatures."),
        Text(key="source", label="Source", longest=300, help="Title, revision and date."),
        Choice(key="basis", label="Basis", options=BASES, default="published"),
    )


def own_materials(rows: Iterable[Mapping[str, Any]]) -> dict[str, dict[str, Material]]:
    """The project's own materials by kind ("sheet", "tool") and name.

    Raises
    ------
    Refused
        If a row has no name or source, names a base of the other kind, or breaks the rules of the
        shared tables.
    """
    grouped: dict[tuple[str, str], list[Mapping]] = {}
    for row in rows:
        grouped.setdefault((row["kind"], row["name"].strip()), []).append(row)
    found: dict[str, dict[str, Material]] = {"sheet": {}, "tool": {}}
    for (kind, name), given in grouped.items():
        found[kind][name] = _material(kind, name, given)
    return found


def _material(kind: str, name: str, rows: list[Mapping]) -> Material:
    shared = sheets() if kind == "sheet" else tool_materials()
    base = rows[0]["base"]
    if not name:
        raise Refused("own", "An own material has no name.")
    if name in shared:
        raise Refused("own", f"{name} is the key of a shared material; choose another name.")
    if base not in shared:
        raise Refused("own", f"{name}: a {dict(KINDS)[kind]} cannot be like {base}.")
    called = [{"property": key, "text": name} for key in ("name", "short")]
    named = [{"material": name, "unit": "text", "basis": "measured", "source": rows[0]["source"]}
             | row for row in called]
    return Material.from_rows(named + [_table_row(name, row) for row in rows], shared[base])


def _table_row(name: str, row: Mapping) -> dict:
    """A typed row, in the unit shown to the reader, as a row of the material tables."""
    known = properties()[row["property"]]
    numbers = {key: row[key] if known.kind == "flag" else to_si(row[key], known.shown)
               for key in ("low", "typical", "high")}
    return {"material": name, "property": known.key, "unit": known.unit,
            "temperature": row.get("temperature") or "", "source": row["source"].strip(),
            "basis": row["basis"]} | numbers


def _bases():
    both = (("sheet", sheets()), ("tool", tool_materials()))
    return tuple((key, f"{kind}: {material.text('short')}")
                 for kind, table in both for key, material in table.items())


def _properties():
    return tuple((p.key, f"{p.label} [{'0 or 1' if p.kind == 'flag' else p.shown}]")
                 for p in properties().values() if p.kind != "text")
