"""Rows typed elsewhere: pasted text, CSV or Excel into a typed table of a page."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping

import ipywidgets as w
import pandas as pd

from thermoforming.guard import Refused
from thermoforming.pages.controls import read_number
from thermoforming.pages.render import message
from thermoforming.record import RecordError
from thermoforming.steps.base import Choice, Field, Flag, Number, Rows
from thermoforming.steps.upstream import Upstream
from thermoforming.units import shown_unit, si_unit, to_si

HEAD = re.compile(r"^(?P<name>[^\[(,]*?)\s*(?:[\[(,]\s*(?P<unit>[^\])]+?)\s*[\])]?)?$")
YES, NO = {"yes", "y", "true", "1", "x", "ja", "oui", "si"}, {"no", "n", "false", "0", "", "-"}


def intake(page, key: str) -> w.Widget:
    """A place to paste rows, or to read them from a file, for one table of a page."""
    field = page.step.field(key)
    text = w.Textarea(rows=4, placeholder="Paste from a spreadsheet, headings first",
                      layout=w.Layout(width="min(720px, 100%)"))
    upload = w.FileUpload(accept=".csv,.txt,.tsv,.xlsx", multiple=False, description="or a file",
                          layout=w.Layout(width="120px"))
    keep = w.Checkbox(value=True, description="after the rows that are there", indent=False)
    read = w.Button(description="Take the rows", layout=w.Layout(width="130px"))
    said = w.HTML()

    def on_read(_):
        try:
            rows = _given(page, field, text.value, upload.value)
            there = page.controls[key].value if keep.value else []
            page.set(**{key: field.checked([*there, *rows], page.upstream)})
        except (Refused, RecordError) as problem:
            said.value = message(str(problem), "stop")
            return
        said.value = message(f"Took {len(rows)} rows; they count once the decision is saved.",
                             "pass")
        text.value = ""

    read.on_click(on_read)
    note = w.HTML(f'<span class="tf-page tf-note">Headings: {", ".join(headings(field))}. '
                  "Another unit may stand in brackets.</span>")
    folded = w.Accordion([w.VBox([note, text, w.HBox([upload, keep, read]), said])],
                         titles=[f"Paste or read: {field.label}"])
    folded.selected_index = None
    return folded


def headings(field: Rows) -> list[str]:
    """The headings that a table understands, with the unit meant where none is given."""
    return [f"{c.label} [{c.shown}]" if isinstance(c, Number) and c.shown != "-" else c.label
            for c in field.columns]


def read_rows(field: Rows, data: bytes | str, name: str = "", inches: bool = False,
              upstream: Upstream | None = None) -> list[dict]:
    """Rows for a typed table from CSV or pasted text, or from the first sheet of an Excel file.

    Parameters
    ----------
    field : Rows
        The table; its columns are found by key or label, in any order.
    data : bytes or str
        Content of a file, or pasted text. Separator: tab, semicolon or comma; decimal point or
        comma.
    name : str
        Name of the file; one that ends in .xlsx is read as Excel.
    inches : bool
        Whether lengths without a unit in their heading are in inches.
    upstream : Upstream, optional
        For columns whose choices depend on earlier decisions.

    Returns
    -------
    list of dict
        Rows of SI values, not yet checked against the ranges of the columns.

    Raises
    ------
    Refused
        If no heading is known, a unit does not fit, or a cell cannot be read; the message names
        row and column.
    """
    table = _table(data, name)
    columns = {head: _column(field, str(head)) for head in table.columns}
    if not any(columns.values()):
        raise Refused(field.key, f"None of the headings {', '.join(map(str, table.columns))} is "
                                 f"known; {field.label} takes {', '.join(headings(field))}.")
    upstream = upstream or Upstream()
    rows = []
    for number, cells in enumerate(table.to_dict("records"), start=1):
        if all(not str(cell).strip() for cell in cells.values()):
            continue
        rows.append({c.key: c.start(upstream) for c in field.columns}
                    | _row(number, cells, columns, inches, upstream))
    return rows


def _given(page, field, text: str, uploads) -> list[dict]:
    if uploads:
        sent = uploads[0]
        content = bytes(sent["content"])
        rows = read_rows(field, content, sent["name"], page.session.inches, page.upstream)
        page.session.keep_file(content, sent["name"])  # what was read stays with the project
        return rows
    if not text.strip():
        raise Refused(field.key, "Nothing was pasted and no file was chosen.")
    return read_rows(field, text, "", page.session.inches, page.upstream)


def _table(data: bytes | str, name: str) -> pd.DataFrame:
    try:
        if name.lower().endswith(".xlsx"):
            return pd.read_excel(io.BytesIO(data), dtype=str).fillna("")
        text = data if isinstance(data, str) else data.decode("utf-8-sig")
        text = text.strip("\r\n ")
        return pd.read_csv(io.StringIO(text), sep=_separator(text), dtype=str,
                           keep_default_na=False, quoting=csv.QUOTE_MINIMAL, index_col=False)
    except UnicodeDecodeError:
        raise Refused("file", f"{name} is not text in UTF-8; save it as CSV UTF-8 or as .xlsx."
                      ) from None
    except Exception as problem:  # the readers raise whatever their parsers raise
        raise Refused("file", f"{name or 'The pasted text'} cannot be read as a table: {problem}."
                      ) from None


def _separator(text: str) -> str:
    first = text.splitlines()[0] if text else ""
    return next((mark for mark in ("\t", ";") if mark in first), ",")


def _column(field: Rows, head: str) -> tuple[Field, str | None] | None:
    """The column that a heading names, and the unit written with it."""
    parts = HEAD.match(head.strip())
    name = (parts["name"] if parts else head).strip().lower()
    for column in field.columns:
        if name in (column.key.lower(), column.key.lower().replace("_", " "),
                    column.label.lower()):
            return column, parts["unit"] if parts else None
    return None


def _row(number: int, cells: Mapping, columns: Mapping, inches: bool, upstream: Upstream) -> dict:
    found = {}
    for head, cell in cells.items():
        if columns[head] is None:
            continue
        column, unit = columns[head]
        try:
            found[column.key] = _cell(column, str(cell).strip(), unit, inches, upstream)
        except Refused as refused:
            raise Refused(column.key, f"Row {number}, {column.label}: {refused}") from None
    return found


def _cell(column: Field, text: str, unit: str | None, inches: bool, upstream: Upstream):
    if isinstance(column, Number):
        if not text:
            return column.start(upstream) if not column.optional else None
        return to_si(read_number(text), _unit(column, unit, inches))
    if isinstance(column, Flag):
        if text.lower() in YES | NO:
            return text.lower() in YES
        raise Refused(column.key, f"“{text}” is neither yes nor no.")
    if isinstance(column, Choice):
        if not text:
            return column.start(upstream)
        for value, label in column.choices(upstream):
            if text.lower() in (str(value).lower(), label.lower()):
                return value
        raise Refused(column.key, f"“{text}” is none of "
                                  f"{', '.join(label for _, label in column.choices(upstream))}.")
    return text


def _unit(column: Number, unit: str | None, inches: bool) -> str:
    if unit is None:
        return shown_unit(column.shown, inches)
    if si_unit(unit) != column.unit:
        raise Refused(column.key, f"the unit {unit} does not fit; {column.shown} does.")
    return unit
