"""A trainee's record against a range of sound decisions: which differ, by what, and why it matters.

A decision is named by where its value stands in the record, such as `thinning.inputs.gauge` or
`vents.results.time.high`. A bound is a number in SI, or the name of another value of the same
record: what is sound often depends on what was decided before.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from thermoforming.pages.render import words
from thermoforming.record import Project, RecordError
from thermoforming.reference import sheets, tool_materials
from thermoforming.steps import ORDER

SOUND, DIFFERS, MISSING = "sound", "differs", "missing"
IN_FORCE = ("current", "accepted")
SLACK = 5e-4  # relative: a bound itself is sound, also typed in inches with four digits


@dataclass(frozen=True)
class Decision:
    """One decision that is looked at, and what makes it sound.

    Attributes
    ----------
    value, title : str
        Where it stands in the record, and its name.
    one_of : tuple of str
        Words that are sound; empty if it is a number.
    low, high : str
        Bounds: an SI number, the name of another value, or empty for none.
    shown : str
        Unit it is shown in.
    reason, source, basis : str
        Why the bounds are so, and what they stand on.
    """

    value: str
    title: str
    one_of: tuple[str, ...]
    low: str
    high: str
    shown: str
    reason: str
    source: str
    basis: str

    @property
    def step(self) -> str:
        return self.value.split(".")[0]


@dataclass(frozen=True)
class Judged:
    """A decision as a record holds it; `low` and `high` with other values put in."""

    decision: Decision
    verdict: str
    found: Any = None
    low: float | None = None
    high: float | None = None

    def range_words(self, inches: bool = False) -> str:
        """What would be sound, in words."""
        if self.decision.one_of:
            return " or ".join(map(spoken, self.decision.one_of))
        low, high = (None if bound is None else words(bound, self.decision.shown, inches)
                     for bound in (self.low, self.high))
        if low is None:
            return f"at most {high}"
        return f"at least {low}" if high is None else low if low == high else f"{low} to {high}"

    def found_words(self, inches: bool = False) -> str:
        """What the record holds, in words."""
        if isinstance(self.found, str):
            return spoken(self.found)
        return words(self.found, self.decision.shown or "-", inches)


def decisions(path: Path) -> tuple[Decision, ...]:
    """The decisions listed in a file, in its order."""
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(Decision(**row | {"one_of": tuple(filter(None, row["one_of"].split("|")))})
                     for row in csv.DictReader(file))


def judge(project: Project, asked: Iterable[Decision]) -> list[Judged]:
    """Every decision of a project against its sound range."""
    held = held_by(project)
    return [_judged(decision, held) for decision in asked]


def held_by(project: Project) -> dict[str, Any]:
    """What a record holds: inputs and results by step, verdicts of checks, and its standing.

    Damaged decisions are left out, as if they had not been made.
    """
    states = project.states(ORDER)
    held: dict[str, Any] = {key: _of_revision(at.revision) for key, at in states.items()
                            if at.revision is not None}
    if held:
        stops = sum(len(at.revision.stops) for at in states.values() if at.revision is not None)
        held["review"] = {"stops": stops, "decided": sum(at.state in IN_FORCE
                                                         for at in states.values())}
    return held


def spoken(word: str) -> str:
    """A word of the record as people say it: a material by its name."""
    material = (sheets() | tool_materials()).get(word)
    return material.text("short") if material else word


def table(folders: Iterable[Path], asked: Iterable[Decision]) -> list[dict[str, str]]:
    """One row a trainee, one column a decision: sound, differs or missing."""
    asked, rows = tuple(asked), []
    for folder in folders:
        try:
            project = Project.open(folder)
            found = judge(project, asked)
        except RecordError as problem:
            rows.append({"Trainee": folder.name, "Project": f"cannot be read: {problem}"}
                        | {one.title: MISSING for one in asked})
            continue
        rows.append({"Trainee": project.author, "Project": project.title}
                    | {one.decision.title: one.verdict for one in found})
    return rows


def _of_revision(revision) -> dict[str, Any]:
    return {"inputs": {key: entry["value"] for key, entry in revision.inputs.items()},
            "results": {key: entry["value"] for key, entry in revision.results.items()},
            "checks": {check["key"]: check["verdict"] for check in revision.checks}}


def _judged(decision: Decision, held: Mapping[str, Any]) -> Judged:
    found = _at(held, decision.value)
    if found is None:
        return Judged(decision, MISSING)
    if decision.one_of:
        return Judged(decision, SOUND if found in decision.one_of else DIFFERS, found)
    try:
        low, high = _bound(held, decision.low), _bound(held, decision.high)
    except KeyError:
        return Judged(decision, MISSING, found)
    if isinstance(found, str):
        return Judged(decision, DIFFERS, found, low, high)
    good = (low is None or found >= low - SLACK * abs(low)) and (
        high is None or found <= high + SLACK * abs(high))
    return Judged(decision, SOUND if good else DIFFERS, found, low, high)


def _bound(held: Mapping[str, Any], text: str) -> float | None:
    if not text:
        return None
    if (number := as_number(text)) is not None:
        return number
    found = _at(held, text)
    if found is None:
        raise KeyError(text)
    return float(found)


def as_number(text: str) -> float | int | None:
    """A bound that is a number, whole or not; None if it names another value."""
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            pass
    return None


def _at(held: Mapping[str, Any], path: str):
    """The value at a place: a band's typical value, yes or no, the number of rows, or itself."""
    found: Any = held
    for key in path.split("."):
        if not isinstance(found, Mapping) or key not in found:
            return None
        found = found[key]
    if isinstance(found, Mapping):
        return found.get("typical")
    if isinstance(found, bool):
        return "yes" if found else "no"
    return len(found) if isinstance(found, list) else found
