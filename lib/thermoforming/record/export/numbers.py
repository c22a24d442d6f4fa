"""The numbers for other programs: CSV that no spreadsheet will run, and JSON."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping

import rfc8785

from thermoforming.record.changes import is_band
from thermoforming.record.export.forms import grid
from thermoforming.record.kinds import Revision

HEAD = ("step", "revision", "part", "key", "label", "unit", "low", "typical", "high", "text")
_RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def harmless(value):
    """Text that a spreadsheet would take for a formula, marked as text; numbers as they are."""
    if not isinstance(value, str):
        return value
    text = value.replace("\x00", "")
    return f"'{text}" if text.lstrip(" ").startswith(_RUN) else text


def as_csv(decided: Mapping[str, Revision]) -> bytes:
    """Every input and result, one a line, in SI."""
    return _written([HEAD, *(row for revision in decided.values() for row in _values(revision))])


def table_csv(table: Mapping, inches: bool) -> bytes:
    """A saved table as shown to the reader."""
    shown = grid(table, inches)
    heads = [f"{head['label']} [{head['unit']}]" if head["unit"] else head["label"]
             for head in shown["heads"]]
    numeric = shown["numeric"]
    rows = [[_number(cell) if numeric[i] else cell for i, cell in enumerate(row)]
            for row in shown["rows"]]
    return _written([heads, *rows])


def as_json(project, decided: Mapping[str, Revision], reviews: Mapping[str, list]) -> bytes:
    """Decisions and reviews with their hashes, in canonical JSON."""
    return rfc8785.dumps({
        "project": {"id": project.id, "title": project.title, "author": project.author,
                    "created_utc": project.created_utc, "settings": project.settings},
        "decisions": {step: {**revision.content, "sha256": revision.sha256}
                      for step, revision in decided.items()},
        "reviews": {step: [{**review.content, "sha256": review.sha256} for review in found]
                    for step, found in reviews.items()}})


def _values(revision: Revision) -> Iterator[tuple]:
    for part in ("inputs", "results"):
        for key, entry in revision.content.get(part, {}).items():
            entry = entry if isinstance(entry, Mapping) else {"value": entry}
            yield (revision.step, revision.number, part, key, entry.get("label", key),
                   entry.get("unit", ""), *_four(entry.get("value")))


def _four(value) -> tuple:
    if is_band(value):
        return value["low"], value["typical"], value["high"], ""
    if isinstance(value, bool):
        return "", "", "", "yes" if value else "no"
    if isinstance(value, int | float):
        return "", value, "", ""
    if isinstance(value, str):
        return "", "", "", value
    return "", "", "", "" if value is None else rfc8785.dumps(value).decode()


def _number(cell: str):
    try:
        return float(cell)
    except ValueError:
        return cell


def _written(rows) -> bytes:
    stream = io.StringIO()
    writer = csv.writer(stream, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    for row in rows:
        writer.writerow([harmless(cell) for cell in row])
    return b"\xef\xbb\xbf" + stream.getvalue().encode()  # the mark tells spreadsheets UTF-8
