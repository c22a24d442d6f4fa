"""Layouts of records: which this version writes, which it reads, and how older ones are read.

A file is never rewritten: migration happens on reading, after the hash of the old bytes was
checked, and the hash stays that of the old bytes.

Layout 2 keeps the order in which inputs, results and tables were declared, which canonical JSON
sorts away, as a `position` in each entry; on reading they are put back into that order. Layout 1
had no positions; its entries are read in alphabetical order.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from thermoforming.guard import Refused
from thermoforming.record.errors import Damaged, NewerSchema

CURRENT = 2
IN_ORDER = ("inputs", "results", "tables")
POSITION = "position"


def migrated(content: dict, kind: str, path: Path) -> dict:
    """`content` in the current layout.

    Raises
    ------
    Damaged
        If it is not a record of this kind.
    NewerSchema
        If a newer version wrote it.
    """
    schema = content.get("schema")
    if content.get("kind") != kind or type(schema) is not int or schema < 1:
        raise Damaged(path, f"is not a {kind} of this workbook. Move it out of the project.")
    if schema > CURRENT:
        raise NewerSchema(f"{path} was written by a newer version of this workbook (layout "
                          f"{schema}; this one reads up to {CURRENT}). Update the workbook, then "
                          "open the project again; nothing was changed.")
    for version in range(schema, CURRENT):
        content = MIGRATIONS[version](content)
    return in_order({**content, "schema": CURRENT}) if kind == "decision" else \
        {**content, "schema": CURRENT}


def with_positions(content: dict) -> dict:
    """`content` with the order of its entries written into them."""
    return {**content, **{part: _numbered(part, content[part]) for part in IN_ORDER
                          if isinstance(content.get(part), dict)}}


def in_order(content: dict) -> dict:
    """The reverse of `with_positions`."""
    return {**content, **{part: _sorted(content[part]) for part in IN_ORDER
                          if isinstance(content.get(part), dict)}}


def _numbered(part: str, entries: dict) -> dict:
    for key, entry in entries.items():
        if isinstance(entry, dict) and POSITION in entry:
            raise Refused(part, f"{part}.{key} may not hold a {POSITION!r}: the record writes "
                                "that itself.")
    return {key: {**entry, POSITION: i} if isinstance(entry, dict) else entry
            for i, (key, entry) in enumerate(entries.items())}


def _sorted(entries: dict) -> dict:
    def position(item):
        entry = item[1]
        return entry.get(POSITION, 0) if isinstance(entry, dict) else 0

    return {key: {name: value for name, value in entry.items() if name != POSITION}
            if isinstance(entry, dict) else entry
            for key, entry in sorted(entries.items(), key=position)}


def _without_positions(content: dict) -> dict:
    """Layout 1 to 2: nothing to add, the order was lost when it was written."""
    return content


MIGRATIONS: dict[int, Callable[[dict], dict]] = {1: _without_positions}
