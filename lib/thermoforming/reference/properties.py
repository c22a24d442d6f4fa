"""What a material table may say: property keys, units, and what physics allows."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from thermoforming.reference.tables import read


@dataclass(frozen=True)
class Property:
    """One property of a sheet or a tool material.

    `unit` is the SI unit of the tables, `shown` the unit for the reader, `lowest` and `highest`
    what no real material goes beyond, `of` is sheet, tool or both, `kind` is value, flag or text.
    """

    key: str
    of: str
    kind: str
    label: str
    unit: str
    shown: str
    lowest: float
    highest: float
    needed: bool
    trend: str
    meaning: str


@cache
def properties() -> dict[str, Property]:
    """All properties by key, in the order of the table."""
    return {row["key"]: _property(row) for row in read("properties")}


def _property(row: dict[str, str]) -> Property:
    numbers = {name: float(row[name] or "nan") for name in ("lowest", "highest")}
    return Property(**{**row, **numbers, "needed": row["needed"] == "yes"})
