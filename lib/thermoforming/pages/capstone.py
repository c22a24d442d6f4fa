"""The capstone: a brief without answers, a trainee's report, and a trainer's table of a class."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from html import escape
from pathlib import Path

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.pages import render, style
from thermoforming.pages.session import DATA, PROJECTS, opened_folder
from thermoforming.pages.sound import (
    DIFFERS,
    MISSING,
    SOUND,
    Decision,
    Judged,
    as_number,
    decisions,
    judge,
    spoken,
    table,
)
from thermoforming.pages.start import project_folders
from thermoforming.record import Project, RecordError
from thermoforming.steps import step

FOLDER = DATA / "demo" / "capstone"
LOOK = {SOUND: "pass", DIFFERS: "stop", MISSING: "caution"}
SIGN = {SOUND: "✓", DIFFERS: "✕", MISSING: "–"}
WIDE = w.Layout(width="min(640px, 100%)")


def open_capstone() -> Capstone:
    """Open the trainee's page."""
    return Capstone()


def open_class() -> Class:
    """Open the trainer's page."""
    return Class()


class Capstone:
    """The brief, and the report on the project that answers it."""

    def __init__(self):
        self.asked = decisions(FOLDER / "sound.csv")
        here = opened_folder().resolve()
        self._choice = w.Dropdown(options=[(_title(path), path) for path in project_folders()],
                                  description="Project", layout=WIDE)
        if here in [path for _, path in self._choice.options]:
            self._choice.value = here
        self._report = w.HTML()

    @property
    def brief(self) -> w.Widget:
        """The customer's brief, in words."""
        text = (FOLDER / "brief.md").read_text(encoding="utf-8")
        return w.HTML(f'{style.SHEET}<div class="tf-page" style="max-width: 80ch">'
                      f"{_html(text)}</div>")

    @property
    def report(self) -> w.Widget:
        """A choice of project, and how it compares."""
        go = w.Button(description="Compare", button_style="primary",
                      layout=w.Layout(width="120px"))
        go.on_click(lambda _: self.compare())
        return w.VBox([w.HBox([self._choice, go], layout=w.Layout(flex_flow="row wrap")),
                       self._report])

    def compare(self) -> list[Judged]:
        """Compare the chosen project now."""
        try:
            project = Project.open(self._choice.value)
            found = judge(project, self.asked)
        except RecordError as problem:
            self._report.value = render.message(str(problem), "stop")
            return []
        self._report.value = report(found, project.settings["units"] == "inch")
        return found

    def values(self) -> None:
        """Print what is looked at, step by step, without what would be sound."""
        titles: dict[str, list[str]] = {}
        for one in self.asked:
            titles.setdefault(_step_title(one.step), []).append(one.title)
        for title, named in titles.items():
            print(f"{title}: {', '.join(named)}")


class Class:
    """A folder of trainees' projects as one table."""

    def __init__(self):
        self.asked = decisions(FOLDER / "sound.csv")
        self.folder = w.Text(value=str(PROJECTS), description="Folder", layout=WIDE,
                             continuous_update=False)
        self._table, self._single, self._said = w.HTML(), w.HTML(), w.HTML()
        self._choice = w.Dropdown(description="Project", layout=WIDE)
        self._choice.observe(lambda _: self._show_one(), "value")
        self.rows: list[dict[str, str]] = []

    @property
    def gather(self) -> w.Widget:
        """The folder, and the table of the class."""
        go = w.Button(description="Gather", button_style="primary",
                      layout=w.Layout(width="120px"))
        keep = w.Button(description="Save the table", layout=w.Layout(width="140px"))
        go.on_click(lambda _: self.read())
        keep.on_click(lambda _: self.save())
        return w.VBox([w.HTML(style.SHEET),
                       w.HBox([self.folder, go, keep], layout=w.Layout(flex_flow="row wrap")),
                       self._said, self._table])

    @property
    def single(self) -> w.Widget:
        """One trainee's report."""
        return w.VBox([self._choice, self._single])

    @property
    def ranges(self) -> w.Widget:
        """What is held sound, with reason and source."""
        rows = "".join(
            f"<tr><td>{escape(_step_title(one.step))}</td><td><b>{escape(one.title)}</b></td>"
            f"<td>{escape(_stated(one))}</td><td>{escape(one.reason)}</td>"
            f'<td class="tf-note">{escape(one.source)} ({escape(one.basis)})</td></tr>'
            for one in self.asked)
        return w.HTML('<div class="tf-page tf-wide"><table class="tf-table"><tr><th>Step</th>'
                      "<th>Decision</th><th>Sound</th><th>Why</th><th>Source</th></tr>"
                      f"{rows}</table></div>")

    def read(self) -> list[dict[str, str]]:
        """Read the folder now."""
        try:
            folders = class_folders(self.folder.value)
        except Refused as refused:
            self.rows, self._table.value = [], render.message(str(refused))
            self._choice.options = []
            return []
        self.rows = table(folders, self.asked)
        self._table.value = class_table(self.rows, [one.title for one in self.asked])
        self._choice.options = [(f"{row['Trainee']} · {row['Project']}", path)
                                for row, path in zip(self.rows, folders, strict=True)]
        self._choice.value = folders[0]
        return self.rows

    def save(self) -> Path | None:
        """Save the table as it stands now, as class.csv beside the projects."""
        if not self.read():
            return None
        path = Path(self.folder.value).expanduser() / "class.csv"
        try:
            path.write_text(as_csv(self.rows), encoding="utf-8")
        except OSError as problem:
            self._said.value = render.message(f"Not saved: {problem}", "stop")
            return None
        self._said.value = render.message(f"Saved as {path}.", "pass")
        return path

    def values(self) -> None:
        """Print how many decisions of each step are looked at."""
        steps = [one.step for one in self.asked]
        for key in dict.fromkeys(steps):
            print(f"{_step_title(key)}: {steps.count(key)}")

    def _show_one(self) -> None:
        if self._choice.value is None:
            return
        try:
            found = judge(Project.open(self._choice.value), self.asked)
            self._single.value = report(found)
        except RecordError as problem:
            self._single.value = render.message(str(problem), "stop")


def class_folders(folder: str) -> list[Path]:
    """Projects in the folders below one.

    Raises
    ------
    Refused
        If there is none.
    """
    found = sorted(path.parent for path in Path(folder).expanduser().glob("*/project.json"))
    if not found:
        raise Refused("folder", f"Folder {folder} holds no project: each trainee's project is a "
                                "folder in it, with a file project.json.")
    return found


def report(found: Iterable[Judged], inches: bool = False) -> str:
    """Where a record differs and why it matters; then what is missing; then what is sound."""
    found = list(found)
    parts = [f'<div class="tf-message">{_counted(found)}</div>']
    for verdict, title in ((DIFFERS, "Differs"), (MISSING, "Missing"), (SOUND, "Sound")):
        rows = "".join(_row(one, inches) for one in found if one.verdict == verdict)
        if rows:
            why = "<th>Why</th>" if verdict == DIFFERS else ""
            parts.append(f"<h3>{title}</h3><table class='tf-table'><tr><th></th><th>Step</th>"
                         f"<th>Decision</th><th>Yours</th><th>Sound</th>{why}</tr>{rows}</table>")
    return f'<div class="tf-page tf-wide">{"".join(parts)}</div>'


def class_table(rows: Iterable[Mapping[str, str]], titles: Iterable[str]) -> str:
    """The class, with how many were sound at the foot of each decision."""
    rows, titles = list(rows), list(titles)
    head = "".join(f"<th>{escape(title)}</th>" for title in ("Trainee", "Project", *titles))
    look = "padding-left: 6px; white-space: nowrap"
    body = "".join(
        f"<tr><td><b>{escape(row['Trainee'])}</b></td><td>{escape(row['Project'])}</td>"
        + "".join(f'<td class="tf-{LOOK[row[title]]}" style="{look}">'
                  f"{SIGN[row[title]]} {row[title]}</td>" for title in titles) + "</tr>"
        for row in rows)
    foot = "".join(f"<td>{sum(row[title] == SOUND for row in rows)} of {len(rows)}</td>"
                   for title in titles)
    return (f'<div class="tf-page tf-wide"><table class="tf-table"><tr>{head}</tr>{body}'
            f"<tr><td colspan='2'>sound</td>{foot}</tr></table></div>")


def as_csv(rows: list[dict[str, str]]) -> str:
    """The table of a class as comma-separated text."""
    text = io.StringIO()
    if rows:
        writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        # A name that begins like a formula must stay a name in a spreadsheet.
        writer.writerows({key: re.sub(r"^([=+\-@])", r"'\1", value) for key, value in row.items()}
                         for row in rows)
    return text.getvalue()


def _counted(found: list[Judged]) -> str:
    counts = {verdict: sum(one.verdict == verdict for one in found) for verdict in LOOK}
    return (f"{counts[SOUND]} of {len(found)} decisions are within the sound range, "
            f"{counts[DIFFERS]} differ, {counts[MISSING]} are missing. A decision that differs is "
            "not wrong by itself: read the reason, then mend it or defend it.")


def _row(one: Judged, inches: bool) -> str:
    known = one.verdict != MISSING  # what is not decided yet gives no answer away
    why = (f"<td>{escape(one.decision.reason)}<div class='tf-note'>{escape(one.decision.source)} "
           f"({escape(one.decision.basis)})</div></td>" if one.verdict == DIFFERS else "")
    return (f'<tr><td class="tf-verdict tf-{LOOK[one.verdict]}">{SIGN[one.verdict]}</td>'
            f"<td>{escape(_step_title(one.decision.step))}</td>"
            f"<td><b>{escape(one.decision.title)}</b></td>"
            f"<td>{escape(one.found_words(inches)) if known else ''}</td>"
            f"<td>{escape(one.range_words(inches)) if known else ''}</td>{why}</tr>")


def _stated(one: Decision) -> str:
    """What is sound, before any record is looked at."""
    if one.one_of:
        return " or ".join(map(spoken, one.one_of))
    low, high = _bound(one.low, one.shown), _bound(one.high, one.shown)
    if low and high:
        return low if low == high else f"{low} to {high}"
    return f"at least {low}" if low else f"at most {high}"


def _bound(text: str, shown: str) -> str:
    number = as_number(text)
    if not text or number is not None:
        return render.words(number, shown) if text else ""
    key, _, name, *end = text.split(".")
    tail = f", {end[0]}" if end else ""
    return f"“{name.replace('_', ' ')}{tail}” of {_step_title(key)}"


def _step_title(key: str) -> str:
    return "Review" if key == "review" else step(key).title


def _title(folder: Path) -> str:
    try:
        return f"{Project.open(folder).title}  ·  {folder.name}"
    except RecordError:
        return f"(cannot be opened)  ·  {folder.name}"


def _html(text: str) -> str:
    """Paragraphs, a list and bold words of a brief as HTML; nothing else is needed."""
    blocks = []
    for block in text.strip().split("\n\n"):
        safe = re.sub(r"\*\*(.+?)\*\*", r"<b>\1</b>", escape(block))
        if safe.startswith("- "):
            items = re.split(r"^- ", safe, flags=re.MULTILINE)[1:]
            blocks.append("<ul>" + "".join(f"<li>{item}</li>" for item in items) + "</ul>")
        else:
            blocks.append(f"<p>{safe}</p>")
    return "".join(blocks)
