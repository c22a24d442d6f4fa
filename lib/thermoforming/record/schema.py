"""Layouts of records: which this version writes, which it reads, and how older ones are read.

A file is never rewritten: migration happens on reading, after the hash of the old bytes was
checked, and the hash stays that of the old bytes.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from thermoforming.record.errors import Damaged, NewerSchema

CURRENT = 1
MIGRATIONS: dict[int, Callable[[dict], dict]] = {}


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
    return {**content, "schema": CURRENT}
