"""The start page: which project is open, where each one stands, and how to begin a new one."""

from __future__ import annotations

import re
from html import escape
from pathlib import Path

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.pages import render, style
from thermoforming.pages.page import PAGES
from thermoforming.pages.session import DEMO, PROJECTS, Session, choose, opened_folder
from thermoforming.record import Project, RecordError
from thermoforming.record.shelf import entry
from thermoforming.steps import ORDER, step

NEXT = {
    "missing": "Decide it: open “{page}”, run all its cells, and save a decision at its end.",
    "stale": "Something it stands on has changed: open “{page}”, look again, and save.",
    "returned": "The reviewer returned it: open “{page}”, read the comment, mend, and save.",
    "damaged": "Its file is damaged: open “Review and record” to see what to do.",
}


def open_start() -> Start:
    """Open the start page."""
    return Start()


class Start:
    """Projects on this computer, the open one's thread, and a form for a new one."""

    def __init__(self):
        self._table, self._thread, self._said = w.HTML(), w.HTML(), w.HTML()
        self._choice = w.Dropdown(description="Project", layout=w.Layout(width="min(560px, 100%)"))
        self._open = w.Button(description="Open this project", button_style="primary",
                              layout=w.Layout(width="160px"))
        self._open.on_click(lambda _: self._open_now())
        self._fill()

    @property
    def projects(self) -> w.Widget:
        """The open project, what to do next, and the others."""
        return w.VBox([w.HTML(style.SHEET), self._thread, w.HBox([self._choice, self._open]),
                       self._said, self._table])

    @property
    def new(self) -> w.Widget:
        """A form that begins an empty project."""
        title = w.Text(description="Title", placeholder="what is to be formed",
                       layout=w.Layout(width="min(560px, 100%)"))
        author = w.Text(description="Your name", layout=w.Layout(width="340px"))
        units = w.Dropdown(options=[("millimetres", "mm"), ("inches", "inch")],
                           description="Lengths in", layout=w.Layout(width="260px"))
        begin = w.Button(description="Begin", layout=w.Layout(width="100px"))
        said = w.HTML()

        def on_begin(_):
            try:
                folder = PROJECTS / folder_name(title.value)
                if not author.value.strip():
                    raise Refused("author", "Your name is empty: the record says who began it.")
                Project.create(folder, title.value, author.value, {"units": units.value})
                choose(folder)
            except (Refused, RecordError, OSError) as problem:
                said.value = render.message(str(problem), "stop")
                return
            said.value = render.message(f"Begun in {folder}. Now open the brief.", "pass")
            self._fill()

        begin.on_click(on_begin)
        return w.VBox([title, author, units, begin, said])

    def _fill(self):
        here = opened_folder().resolve()
        found = project_folders()
        self._choice.options = [(_title(folder), str(folder)) for folder in found]
        if str(here) in dict((v, k) for k, v in self._choice.options):
            self._choice.value = str(here)
        self._table.value = _projects_table(found, here)
        session = Session(here)
        states = session.states()
        steps = {key: step(key) for key in ORDER}
        self._thread.value = (
            f'<div class="tf-page"><h3>Open now: {escape(session.project.title)}</h3>'
            f"{render.thread(states, steps, '', PAGES)}{_next_move(states)}</div>")

    def _open_now(self):
        try:
            choose(Path(self._choice.value))
        except RecordError as problem:
            self._said.value = render.message(str(problem), "stop")
            return
        self._said.value = render.message("Opened. Pages that are already on the screen keep "
                                          "their project until you run their cells again.", "pass")
        self._fill()


def project_folders() -> list[Path]:
    """Folders with a project in them, the demo first."""
    others = sorted(path.parent.resolve() for path in PROJECTS.glob("*/project.json"))
    demo = DEMO.resolve()
    return [demo, *(folder for folder in others if folder != demo)]


def folder_name(title: str) -> str:
    """A folder name from a title: letters and digits of any script, joined by dashes.

    Raises
    ------
    Refused
        If nothing usable is left.
    """
    name = "-".join(re.findall(r"\w+", title.lower()))[:60]
    if not name:
        raise Refused("title", f"Title is “{title}”, but it needs at least one letter or digit.")
    return name


def _title(folder: Path) -> str:
    try:
        return f"{Project.open(folder).title}  ·  {folder.name}"
    except RecordError:
        return f"(cannot be opened)  ·  {folder.name}"


def _next_move(states) -> str:
    for key in ORDER:
        found = states[key]
        if found.state in NEXT:
            text = escape(NEXT[found.state].format(page=step(key).title))
            return (f'<div class="tf-message tf-caution">Next: {text} '
                    f"<a {render.opens(PAGES[key])}><b>Open {escape(step(key).title)}</b></a></div>")
    waiting = [key for key in ORDER if states[key].state == "current"]
    text = (f"{len(waiting)} decisions wait for a reviewer" if waiting
            else "every decision is accepted; the record can be released")
    return (f'<div class="tf-message tf-pass">Next: {text}. '
            f"<a {render.opens(PAGES['review'])}><b>Open Review and record</b></a></div>")


def _projects_table(folders: list[Path], here: Path) -> str:
    rows = []
    for folder in folders:
        found = entry(folder, ORDER)
        waits = " ".join(found.waits)
        counts = ", ".join(f"{found.counts[state]} {word}"
                           for state, word in render.STATE_WORD.items() if state in found.counts)
        mark = " (open)" if folder == here else ""
        rows.append(f"<tr><td><b>{escape(found.title)}</b>{mark}</td><td>{escape(found.author)}"
                    f"</td><td>{escape(found.state)}</td><td>{escape(found.age())}</td>"
                    f"<td>{escape(counts)}</td><td>{escape(waits)}</td></tr>")
    head = "".join(f"<th>{name}</th>" for name in ("Project", "Begun by", "State", "Last saved",
                                                   "Decisions", "Who waits for whom"))
    return (f'<div class="tf-page"><table class="tf-table"><tr>{head}</tr>{"".join(rows)}'
            "</table></div>")
