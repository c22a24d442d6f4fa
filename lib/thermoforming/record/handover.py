"""Comparing projects and releases, starting a project from an old one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from thermoforming.record.changes import Change, changes
from thermoforming.record.errors import Missing
from thermoforming.record.kinds import Release, Revision
from thermoforming.record.store import Project


@dataclass(frozen=True)
class Compared:
    """One decision in two projects or releases; None where it is only in the other."""

    step: str
    old: Revision | None
    new: Revision | None
    changes: tuple[Change, ...]


def latest_of(project: Project) -> dict[str, Revision]:
    """The revisions in force."""
    return {step: project.latest(step) for step in project.steps()}


def released_in(project: Project, release: Release) -> dict[str, Revision]:
    """The revisions that a release holds."""
    return {step: project.revision(step, entry["sha256"])
            for step, entry in release.decisions.items()}


def last_accepted(project: Project, step: str) -> Revision | None:
    """The newest revision of a step that a reviewer accepted last, or None."""
    verdicts = {review.revision: review.verdict for review in project.reviews(step)}
    accepted = [revision for revision in project.revisions(step)
                if verdicts.get(revision.sha256) == "accepted"]
    return accepted[-1] if accepted else None


def compare(old: Mapping[str, Revision], new: Mapping[str, Revision]) -> list[Compared]:
    """Compare two sets of revisions, step by step, number by number."""
    steps = [*old, *(step for step in new if step not in old)]
    return [_compared(step, old.get(step), new.get(step)) for step in steps]


def _compared(step: str, old: Revision | None, new: Revision | None) -> Compared:
    found = changes(old.content, new.content) if old and new else []
    return Compared(step, old, new, tuple(found))


def start_from(old: Project, folder, title: str, author: str) -> Project:
    """Begin a project with the decisions and input files of another, all of them unreviewed.

    A decision that was stale there is stale here. Reviews, trials and releases stay behind; each
    first revision names the one it was taken from.
    """
    decided = latest_of(old)
    new = Project.create(folder, title, author, old.settings, origin={
        "id": old.id, "title": old.title,
        "decisions": {step: revision.sha256 for step, revision in decided.items()}})
    for sha256 in {sha256 for revision in decided.values() for sha256 in revision.files.values()}:
        new.add_file(old.file(sha256), _name_of(old, sha256), author)
    taken: dict[str, Revision] = {}
    for step in _upstream_first(decided):
        taken[step] = new.save(step, _content(old, decided, taken, step), author, None)
    return new


def _name_of(project: Project, sha256: str) -> str:
    try:
        return project.inputs.about(sha256)["name"]
    except Missing:
        return f"input{project.inputs.path(sha256).suffix}"


def _upstream_first(decided: Mapping[str, Revision]) -> list[str]:
    order: list[str] = []

    def place(step: str, waiting: tuple[str, ...]) -> None:
        if step in decided and step not in order and step not in waiting:
            for upstream in decided[step].upstream:
                place(upstream, (*waiting, step))
            order.append(step)

    for step in decided:
        place(step, ())
    return order


def _content(old: Project, decided: Mapping, taken: Mapping, step: str) -> dict:
    revision = decided[step]
    upstream = {name: taken[name].sha256
                if name in taken and decided[name].sha256 == stood_on else None
                for name, stood_on in revision.upstream.items()}
    return {**revision.own_content, "upstream": upstream,
            "taken_from": {"project": old.id, "title": old.title, "author": revision.author,
                           "number": revision.number, "sha256": revision.sha256}}
