"""What other projects of this computer have learned, offered to the open one."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.pages.render import message
from thermoforming.pages.session import Session
from thermoforming.pages.start import project_folders
from thermoforming.record import RecordError
from thermoforming.steps import ORDER, experience
from thermoforming.steps.plain import decision_from
from thermoforming.steps.upstream import Decision


def decisions_of(folder: Path) -> tuple[str, dict[str, Decision]]:
    """Title and saved decisions of a project."""
    project = Session(folder).project
    saved = {key: project.latest(key) for key in ORDER}
    return project.title, {key: decision_from(revision.content, revision.sha256)
                           for key, revision in saved.items() if revision is not None}


def all_runs(folders: Iterable[Path]) -> tuple[list[dict], list[str]]:
    """Runs of tools from the trials of projects, and why some could not be read."""
    rows, problems = [], []
    for folder in folders:
        try:
            rows += experience.from_project(*decisions_of(folder))
        except (RecordError, Refused, KeyError) as problem:
            problems.append(f"{Path(folder).name}: {problem}")
    return rows, problems


def take_experience(page) -> w.Widget:
    """A button that puts the runs of all projects into the page's table of runs."""
    button = w.Button(description="Take the runs of all projects",
                      layout=w.Layout(width="230px"))
    said = w.HTML()

    def on_take(_):
        rows, problems = all_runs(project_folders())
        origins = {row["origin"] for row in rows}
        typed = [row for row in page.controls["experience"].value
                 if row["origin"] not in origins]
        page.set(experience=[*typed, *rows])
        text = f"{len(rows)} runs from other trials, {len(typed)} typed ones kept."
        said.value = message(" ".join([text, *problems]), "caution" if problems else "pass")

    button.on_click(on_take)
    return w.HBox([button, said])
