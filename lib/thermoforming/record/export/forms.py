"""One-page sheets for the shop, declared as which value of which decision stands where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, log10

from thermoforming.record.changes import is_band, typical, words
from thermoforming.record.kinds import Revision
from thermoforming.units import shown_unit, to_shown


FINE = {"mm": 2, "in": 4}  # decimals of a caliper
SHORT = 36  # characters that a column may hold without breaking its lines


@dataclass(frozen=True)
class Line:
    """One value: an input or result of a step; `label` replaces its own label if given."""

    step: str
    key: str
    label: str = ""


@dataclass(frozen=True)
class Group:
    """Lines under a heading."""

    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Listing:
    """A result table of a step, with empty columns to be filled in by hand.

    `columns` names those to print (all if empty); the table is left out once the step named by
    `until` is decided, which has a better one.
    """

    step: str
    table: str
    columns: tuple[str, ...] = ()
    blanks: tuple[str, ...] = ()
    until: str = ""


@dataclass(frozen=True)
class Form:
    """One sheet: groups of lines, tables, lines to be filled in by hand, a note."""

    key: str
    title: str
    purpose: str
    groups: tuple[Group, ...] = ()
    listings: tuple[Listing, ...] = ()
    by_hand: tuple[str, ...] = ()
    note: str = ""


def filled(form: Form, decided: Mapping[str, Revision], inches: bool) -> dict:
    """A form with the project's values in it, as plain text; what is not decided stays blank."""
    groups = [{"title": group.title,
               "lines": [_line(line, decided, inches) for line in group.lines]}
              for group in form.groups]
    tables = [table for listing in form.listings
              if (table := _listing(listing, decided, inches))]
    return {"key": form.key, "title": form.title, "purpose": form.purpose, "note": form.note,
            "groups": groups, "tables": tables, "by_hand": list(form.by_hand)}


def grid(table: Mapping, inches: bool, wanted: tuple[str, ...] = (),
         blanks: tuple[str, ...] = ()) -> dict:
    """A saved table as text: heads with units, cells, and which columns are numbers."""
    columns = [c for c in table["columns"] if not wanted or c["key"] in wanted]
    cells = [_column([row.get(c["key"]) for row in table["rows"]], c, inches) for c in columns]
    rows = [[column[i] for column in cells] + [""] * len(blanks)
            for i in range(len(table["rows"]))]
    return {"title": table["title"],
            "heads": [{"label": c["label"], "unit": _unit(c, inches)} for c in columns]
            + [{"label": blank, "unit": ""} for blank in blanks],
            "numeric": [_numeric(table["rows"], c) for c in columns] + [False] * len(blanks),
            "blank": [False] * len(columns) + [True] * len(blanks),
            "long": [i > 0 and _is_long([row[i] for row in rows]) for i in range(len(columns))]
            + [False] * len(blanks),
            "rows": rows}


def _is_long(cells: list[str]) -> bool:
    """Whether a column holds sentences, which on paper stand below their row."""
    return max(map(len, cells), default=0) > SHORT


def _line(line: Line, decided: Mapping[str, Revision], inches: bool) -> dict:
    revision = decided.get(line.step)
    for part in ("results", "inputs"):
        entry = revision and revision.content.get(part, {}).get(line.key)
        if entry:
            return {"label": line.label or entry.get("label", line.key),
                    "value": words(entry.get("text", entry.get("value")),
                                   entry.get("shown", "-"), inches)}
    return {"label": line.label or line.key, "value": ""}


def _listing(listing: Listing, decided: Mapping[str, Revision], inches: bool) -> dict | None:
    revision = decided.get(listing.step)
    table = revision and revision.content.get("tables", {}).get(listing.table)
    if not table or listing.until in decided:
        return None
    return grid(table, inches, listing.columns, listing.blanks)


def _unit(column: Mapping, inches: bool) -> str:
    unit = shown_unit(column.get("shown", "-"), inches)
    return "" if unit == "-" else unit


def _column(values: list, column: Mapping, inches: bool) -> list[str]:
    """Cells of a column; its numbers have the same number of decimals."""
    unit = shown_unit(column.get("shown", "-"), inches)
    numbers = [to_shown(end, unit) for value in values for end in _ends(value)]
    decimals = _decimals(numbers, column.get("significant", 3) + 1, FINE.get(unit, 0))
    return [_cell(value, unit, decimals) for value in values]


def _ends(value) -> tuple:
    if is_band(value):
        return value["low"], value["typical"], value["high"]
    return () if typical(value) is None else (value,)


def _decimals(numbers: list[float], significant: int, fewest: int) -> int:
    """Decimals that the largest number needs, fewer if none of them uses them.

    What is measured with a caliper keeps the `fewest` decimals that one shows.
    """
    largest = max(map(abs, numbers), default=0.0)
    most = significant - 1 - floor(log10(largest)) if largest else 0
    most = min(max(most, fewest), 9)
    used = [f"{number:.{most}f}".rstrip("0").partition(".")[2] for number in numbers]
    return max(map(len, used), default=0)


def _cell(value, unit: str, decimals: int) -> str:
    ends = [f"{to_shown(end, unit):z.{decimals}f}" for end in _ends(value)]
    if not ends:
        return words(value)
    low, middle, high = ends if len(ends) == 3 else ends * 3
    return middle if low == high else f"{middle} ({low} to {high})"


def _numeric(rows, column: Mapping) -> bool:
    values = [row.get(column["key"]) for row in rows]
    return bool(values) and all(not isinstance(value, str | bool) for value in values)
