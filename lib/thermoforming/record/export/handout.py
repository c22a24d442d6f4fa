"""Everything that leaves the workbook, made together, kept in the project and logged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from thermoforming.record import files
from thermoforming.record.chain import Record
from thermoforming.record.errors import not_saved
from thermoforming.record.export.dossier import dossier
from thermoforming.record.export.forms import Form
from thermoforming.record.export.html import as_html
from thermoforming.record.export.numbers import as_csv, as_json, table_csv
from thermoforming.record.export.pdf import document_pdf, form_pdf
from thermoforming.record.spelling import digest
from thermoforming.record.store import Project


@dataclass(frozen=True)
class Figure:
    """A figure as it prints: an SVG drawing and its caption."""

    caption: str
    svg: str


@dataclass(frozen=True)
class Extras:
    """What the record cannot know by itself.

    Attributes
    ----------
    figures : mapping of str to sequence of Figure
        By step.
    cautions : mapping of str to sequence of str
        By step.
    sources : mapping of str to str
        Full citation of each source that is named by a short key.
    forms : sequence of Form
        One-page sheets for the shop.
    tables : mapping of str to (str, str)
        Tables to be given as CSV: name of the file, then step and key of the table.
    disclaimers : sequence of str
        What the document is not.
    """

    figures: Mapping[str, tuple[Figure, ...]] = field(default_factory=dict)
    cautions: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    sources: Mapping[str, str] = field(default_factory=dict)
    forms: tuple[Form, ...] = ()
    tables: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    disclaimers: tuple[str, ...] = ()


def rendered(project: Project, titles: Mapping[str, str], extras: Extras) -> dict[str, bytes]:
    """All documents by file name; nothing is saved."""
    shown = dossier(project, titles, extras)
    return _rendered(project, titles, extras, shown)


def hand_out(project: Project, titles: Mapping[str, str], extras: Extras,
             author: str) -> tuple[Record, dict[str, bytes]]:
    """Make all documents, keep them in `exports/` and log who made them.

    Returns
    -------
    Record, dict of str to bytes
        The log entry, and the documents by file name.
    """
    shown = dossier(project, titles, extras)
    made = _rendered(project, titles, extras, shown)
    logged = project.log_export({
        "code": shown["code"], "fingerprint": shown["fingerprint"],
        "decisions": {section["key"]: section["sha256"] for section in shown["sections"]},
        "files": {name: digest(data) for name, data in made.items()}}, author)
    path = logged.path.with_suffix("")
    try:
        folder = files.make_folder(project.folder, "exports", path.name)
        for name, data in made.items():
            files.publish(folder / name, data)
    except OSError as error:
        raise not_saved(path, error) from error
    return logged, made


def _rendered(project, titles, extras, shown) -> dict[str, bytes]:
    decided = {step: project.latest(step) for step in titles if project.latest(step)}
    inches = project.settings["units"] == "inch"
    made = {"record.html": as_html(shown), "record.pdf": document_pdf(shown),
            "numbers.csv": as_csv(decided),
            "numbers.json": as_json(project, decided, {s: project.reviews(s) for s in decided})}
    for form in shown["forms"]:
        made[f"{form['key']}.pdf"] = form_pdf(shown, form)
    for name, (step, key) in extras.tables.items():
        table = step in decided and decided[step].content.get("tables", {}).get(key)
        if table:
            made[f"{name}.csv"] = table_csv(table, inches)
    return made
