"""All projects of a folder: where each stands, how old it is, and who waits for whom."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from thermoforming.record.chain import now
from thermoforming.record.errors import RecordError
from thermoforming.record.kinds import Release
from thermoforming.record.standing import Standing
from thermoforming.record.store import Project


@dataclass(frozen=True)
class Entry:
    """One project on the shelf.

    Attributes
    ----------
    folder : Path
    title, author : str
        Empty if it cannot be opened.
    state : str
        damaged, new, in work, in review, to be released, or released.
    counts : mapping of str to int
        How many decisions are missing, stale, returned and so on.
    changed : datetime or None
        When something was saved last.
    waits : tuple of str
        Who waits for whom, in sentences.
    """

    folder: Path
    title: str
    author: str
    state: str
    counts: Mapping[str, int]
    changed: datetime | None
    waits: tuple[str, ...]

    def age(self) -> str:
        """How long ago something was saved last."""
        if self.changed is None:
            return ""
        seconds = max(0.0, (now() - self.changed).total_seconds())
        for size, name in ((86400, "day"), (3600, "hour"), (60, "minute")):
            if seconds >= size:
                count = int(seconds // size)
                return f"{count} {name}{'s' * (count > 1)} ago"
        return "just now"


def shelf(folder, steps: Iterable[str]) -> list[Entry]:
    """Every project in the folders below `folder`, the one changed last first."""
    steps = list(steps)
    found = [entry(path.parent, steps) for path in Path(folder).glob("*/project.json")]
    oldest = datetime.min.replace(tzinfo=now().tzinfo)
    return sorted(found, key=lambda one: (one.changed or oldest, one.title), reverse=True)


def entry(folder: Path, steps: Iterable[str]) -> Entry:
    """One project, also if it is damaged."""
    try:
        project = Project.open(folder)
        states = project.states(steps)
        return Entry(folder, project.title, project.author, _state(project, states),
                     _counts(states), _changed(project, states), _waits(project, states))
    except RecordError as error:
        return Entry(folder, folder.name, "", "damaged", {}, None, (str(error),))


def _counts(states: Mapping[str, Standing]) -> dict[str, int]:
    found = [at.state for at in states.values()]
    return {state: found.count(state) for state in dict.fromkeys(found)}


def _state(project: Project, states: Mapping[str, Standing]) -> str:
    counts = _counts(states)
    if "damaged" in counts:
        return "damaged"
    if counts.get("missing") == len(states):
        return "new"
    if "missing" in counts or "stale" in counts or "returned" in counts:
        return "in work"
    if "current" in counts:
        return "in review"
    releases = project.releases()
    return "released" if releases and _is_released(releases[-1], states) else "to be released"


def _is_released(release: Release, states: Mapping[str, Standing]) -> bool:
    return {step: entry["sha256"] for step, entry in release.decisions.items()} == {
        step: at.revision.sha256 for step, at in states.items()}


def _changed(project: Project, states: Mapping[str, Standing]) -> datetime:
    times = [datetime.fromisoformat(project.created_utc)]
    times += [record.saved for at in states.values() for record in (at.revision, at.review)
              if record]
    return max([*times, *(release.saved for release in project.releases())])


def _waits(project: Project, states: Mapping[str, Standing]) -> tuple[str, ...]:
    def steps(*wanted):
        return [step for step, at in states.items() if at.state in wanted]

    sentences = [f"{at.review.author} waits for {at.revision.author} to mend {step}."
                 for step, at in states.items() if at.state == "returned"]
    if again := steps("stale"):
        sentences.append(f"{_people(states, again)} should decide again: {', '.join(again)}.")
    if review := steps("current"):
        sentences.append(f"{_people(states, review)} waits for a reviewer: {', '.join(review)}.")
    if missing := steps("missing"):
        sentences.append(f"{project.author} has still to decide: {', '.join(missing)}.")
    if not sentences and _state(project, states) == "to be released":
        sentences.append("Everything is accepted; it waits to be released.")
    return tuple(sentences)


def _people(states: Mapping[str, Standing], steps: list[str]) -> str:
    return ", ".join(dict.fromkeys(states[step].revision.author for step in steps))
