"""Where the reference tables lie and how they are read."""

from __future__ import annotations

import csv
import hashlib
from functools import cache
from pathlib import Path

from thermoforming.guard import Refused

FOLDER = Path(__file__).resolve().parents[3] / "data" / "reference"


@cache
def read(name: str) -> tuple[dict[str, str], ...]:
    """Rows of one table, as written; blank cells are empty text.

    Raises
    ------
    Refused
        If the table is missing, or a row has more or fewer cells than the heading.
    """
    path = FOLDER / f"{name}.csv"
    if not path.is_file():
        raise Refused("reference table", f"The table {path} is missing; is the checkout whole?")
    with path.open(encoding="utf-8", newline="") as lines:
        rows = tuple(csv.DictReader(lines, strict=True))
    for number, row in enumerate(rows, start=2):
        if None in row or None in row.values():
            raise Refused("reference table", f"Line {number} of {path.name} has the wrong number "
                                             f"of cells.")
    return rows


@cache
def tables_version() -> str:
    """Short hash of all reference tables, so that a record says which it was computed with."""
    content = b"\0".join(path.read_bytes() for path in sorted(FOLDER.glob("*.csv")))
    return hashlib.sha256(content).hexdigest()[:12]
