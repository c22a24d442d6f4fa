"""Where each decision stands, derived from the files alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from thermoforming.record.errors import RecordError


@dataclass(frozen=True)
class Standing:
    """State of one decision.

    Attributes
    ----------
    state : {'missing', 'damaged', 'stale', 'returned', 'accepted', 'current'}
        `current` waits for a review. The first that applies, in this order.
    reasons : tuple of str
        Sentences for the page.
    revision : Revision or None
        The latest one.
    review : Review or None
        The latest review of that revision.
    """

    state: str
    reasons: tuple[str, ...] = ()
    revision: object = None
    review: object = None


def standing(project, step: str) -> Standing:
    """State of one decision; looks at everything it stands on."""
    return _find(project, step, {})


def standings(project, steps: Iterable[str]) -> dict[str, Standing]:
    """States of many decisions, in the order given."""
    known: dict[str, Standing] = {}
    return {step: _find(project, step, known) for step in steps}


def open_stops(revision, override: Mapping[str, str]) -> list[str]:
    """Titles of the checks that say stop and have no written reason to go on."""
    return [title for title in (stop.get("title", "a check") for stop in revision.stops)
            if not override.get(title, "").strip()]


def blockers(found: Mapping[str, Standing]) -> list[str]:
    """What keeps decisions in these states from being released, one sentence each."""
    sentences = [_blocker(step, at) for step, at in found.items() if at.state != "accepted"]
    for step, at in found.items():
        if at.state == "accepted":
            left_out = sorted(name for name in at.revision.upstream if name not in found)
            sentences += [f"{step} stands on {name}, which is not part of the release."
                          for name in left_out]
    return sentences or ([] if found else ["There is no decision to release."])


def _blocker(step: str, at: Standing) -> str:
    if at.state == "current":
        stops = len(at.revision.stops)
        tail = f", with {stops} stop{'s' * (stops > 1)} to override or put right" if stops else ""
        return f"{step} waits for a review{tail}."
    return f"{step} is {at.state}: {' '.join(at.reasons)}"


def _find(project, step: str, known: dict[str, Standing]) -> Standing:
    if step not in known:
        known[step] = Standing("damaged", (f"{step} stands on itself.",))  # until found otherwise
        known[step] = _look(project, step, known)
    return known[step]


def _look(project, step: str, known: dict) -> Standing:
    try:
        revision = project.latest(step)
        if revision is None:
            return Standing("missing", (f"{step} has not been decided yet.",))
        reviews = [review for review in project.reviews(step)
                   if review.revision == revision.sha256]
    except RecordError as error:
        return Standing("damaged", (str(error),))
    review = reviews[-1] if reviews else None
    if lost := _lost_files(project, revision):
        return Standing("damaged", lost, revision, review)
    if stale := _stale(project, revision, known):
        return Standing("stale", stale, revision, review)
    return _reviewed(revision, review)


def _lost_files(project, revision) -> tuple[str, ...]:
    reasons = []
    for sha256 in revision.files.values():
        try:
            project.inputs.path(sha256)
        except RecordError as error:
            reasons.append(str(error))
    return tuple(reasons)


def _stale(project, revision, known: dict) -> tuple[str, ...]:
    """Why a decision no longer stands on what is in force, one sentence a kind of reason."""
    found: dict[str, list[str]] = {}
    for step, stood_on in revision.upstream.items():
        upstream = _find(project, step, known)
        if kind := _moved(upstream, stood_on):
            number = f" (revision {upstream.revision.number})" if "after" in kind else ""
            found.setdefault(kind, []).append(step + number)
    return tuple(f"{_listed(steps)} {'was' if len(steps) == 1 else 'were'} {kind}."
                 if "after" in kind else
                 f"{_listed(steps)}, which it stands on, {'is' if len(steps) == 1 else 'are'} "
                 f"{kind}." for kind, steps in found.items())


def _moved(upstream: Standing, stood_on: str | None) -> str:
    """What became of something a decision stands on; empty if nothing did."""
    latest = upstream.revision.sha256 if upstream.revision else None
    if upstream.state == "damaged":
        return "damaged"
    if latest == stood_on:
        return "stale" if upstream.state == "stale" else ""
    if latest is None:
        return "gone"
    return "decided after it" if stood_on is None else "changed after it"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _reviewed(revision, review) -> Standing:
    if review is None:
        return Standing("current", (), revision)
    if review.verdict == "returned":
        return Standing("returned", (f"{review.author} returned it: {review.comment}",), revision,
                        review)
    return Standing("accepted", (f"{review.author} accepted it.",), revision, review)
