"""What other projects of this computer have learned, offered to the open one."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import ipywidgets as w

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.pages import render
from thermoforming.pages.render import message
from thermoforming.pages.session import Session
from thermoforming.pages.start import project_folders
from thermoforming.record import RecordError
from thermoforming.steps import ORDER, experience
from thermoforming.steps.base import Column, Grid, typical
from thermoforming.steps.earlier import found
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


def seen_before(page, nearness: float = 15.0) -> w.Widget:
    """Runs of tools from all projects, how each differs from this one, those that count first."""
    rows, problems = all_runs(project_folders())
    judged = sorted(experience.judged(rows, here(page), nearness),
                    key=lambda run: (not run.counts, len(run.differences)))
    ends = dict(experience.ENDS)
    grid = Grid("seen", "What the shop has seen", (
        Column("origin", "Origin"), Column("shots", "Shots", "shots"),
        Column("ended", "Ended by"), Column("counts", "Counts here"),
        Column("differences", "Differs by")), tuple(
        {"origin": run.run["origin"], "shots": run.run["shots"], "ended": ends[run.run["ended"]],
         "counts": "yes" if run.counts else "no",
         "differences": "; ".join(run.differences) or "nothing noted"} for run in judged))
    none = "" if rows else ('<p class="tf-page tf-note">No project on this computer has a saved '
                            "trial yet.</p>")
    return w.HTML(render.table(grid, page.session.inches) + none + message(" ".join(problems)))


def here(page) -> experience.Here:
    """What a page's project will do, its own inputs before those saved."""
    own = {r.key: r.value for r in page.outcome.results} | dict(page.inputs) if page.outcome else {}

    def of(step: str, *keys: str):
        known = (own.get(key) for key in keys if step == page.step.key)
        value = next((v for v in known if v is not None), None)
        value = found(page.upstream, step, *keys) if value is None else value
        return typical(value) if isinstance(value, Band) else value

    return experience.Here(of("material", "tool_material") or "", of("material", "sheet") or "",
                           of("material", "sheet_temperature", "forming_normal"),
                           of("material", "gauge"), of("brief", "forming_method") or "",
                           of("wall", "wall_thickness", "skin"), of("heating", "cycle"))


def take_learned(page) -> w.Widget:
    """A choice among trials that offer what they learned; puts it into the shrinkage page."""
    offers = {}
    for folder in project_folders():
        try:
            title, decisions = decisions_of(folder)
        except (RecordError, Refused, KeyError):
            continue
        if (values := learned(decisions)) is not None:
            offers[f"{title} ({values['sheet']})"] = values
    choice = w.Dropdown(options=list(offers), description="Trial",
                        layout=w.Layout(width="min(480px, 100%)"))
    button = w.Button(description="Take what it learned", disabled=not offers,
                      layout=w.Layout(width="180px"))
    said = w.HTML("" if offers else message("No trial offers what it learned yet."))

    def on_take(_):
        values = dict(offers[choice.value])
        sheet = values.pop("sheet")
        page.set(**values)
        same = sheet == found(page.upstream, "material", "sheet")
        said.value = message(f"Taken from a trial on {sheet}."
                             + ("" if same else " This project forms another sheet!"),
                             "pass" if same else "caution")

    button.on_click(on_take)
    return w.VBox([w.HBox([choice, button]), said])


def learned(decisions) -> dict | None:
    """What a project's trial offers to the shrinkage page of another one; None if nothing."""
    trial = decisions.get("trial")
    if trial is None or not trial.inputs.get("offer"):
        return None
    bands = {key: trial.results.get(f"shrinkage_{key}") for key in ("along", "across", "held")}
    if None in bands.values():
        return None
    widths = [(band.high - band.low) / 2 for band in bands.values()]
    return {"sheet": decisions["material"].inputs["sheet"], "shrinkage_from": "own",
            "own_along": bands["along"].typical, "own_across": bands["across"].typical,
            "own_restrained": bands["held"].typical, "own_spread": max(widths),
            "own_refers": "hot tool"}


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
