"""Who may save, review and accept what."""

from __future__ import annotations

import unicodedata

from thermoforming.guard import Refused, one_of
from thermoforming.record import spelling
from thermoforming.record.chain import Chain
from thermoforming.record.difference import differences
from thermoforming.record.errors import Missing, RecordError, SomeoneSavedFirst
from thermoforming.record.kinds import Revision
from thermoforming.record.standing import Standing, open_stops

VERDICTS = ("accepted", "returned")
LONGEST_NAME = 200


def named(field: str, text: str) -> str:
    """A name or title in one line, without spaces around it.

    Raises
    ------
    Refused
        If it is empty or longer than a line can hold.
    """
    cleaned = " ".join(str(text).split())
    if not 0 < len(cleaned) <= LONGEST_NAME:
        raise Refused(field, f"{field} must be 1 to {LONGEST_NAME} characters of text, but it is "
                             f"{len(cleaned)} long.")
    return spelling.plain(cleaned, field)


def same_person(one: str, other: str) -> bool:
    """Whether two names are the same apart from case, spacing and spelling of letters."""
    return _folded(one) == _folded(other)


def expect(chain: Chain, latest: Revision | None, expected: str | None, content: dict) -> None:
    """Refuse to save `content` after another revision than the one it started from."""
    if (latest.sha256 if latest else None) == expected:
        return
    if latest is None:
        raise Missing(chain.folder, "has lost the revision this work started from. Put the "
                                    "folder back from a backup, then save again.")
    found = differences(latest.own_content, content)
    raise SomeoneSavedFirst(
        f"{latest.author} saved revision {latest.number} of {latest.step} first "
        f"({latest.content['saved_utc'][:16].replace('T', ' ')} UTC). Yours is not saved yet: it "
        f"differs in {len(found)} places. Look at the difference, then save yours as the next "
        "revision or start again from theirs.", latest, found)


def is_this(told: SomeoneSavedFirst, author: str, expected: str | None) -> bool:
    """Whether the revision that was there first is this very save, come through after all."""
    latest = told.latest
    return not told.differences and (latest.author, latest.previous) == (author, expected)


def may_review(found: Standing, review: dict, reviewer: str) -> None:
    """Refuse a review that the rules do not allow; `review` is its content."""
    one_of("verdict", review["verdict"], VERDICTS)
    revision, step = found.revision, review["step"]
    if revision is None:
        raise RecordError(f"{step} cannot be reviewed: {' '.join(found.reasons)}")
    if revision.sha256 != review["revision"]:
        raise SomeoneSavedFirst(
            f"Revision {revision.number} of {step} was saved by {revision.author} since this one "
            "was read. Read it, then review it.", revision, [])
    if same_person(reviewer, revision.author):
        raise Refused("reviewer", f"{reviewer} decided this; another person must review it.")
    if review["verdict"] == "accepted":
        _may_accept(found, review)
    elif not review["comment"]:
        raise Refused("comment", "Say in a comment what is to be changed.")


def _may_accept(found: Standing, review: dict) -> None:
    if found.state in ("damaged", "stale"):
        raise Refused("verdict", f"{review['step']} is {found.state} and cannot be accepted: "
                                 f"{' '.join(found.reasons)}")
    for title in open_stops(found.revision, review["override"]):
        raise Refused("override", f"{title!r} says stop. Return the decision, or write for this "
                                  "check why it may be overridden.")


def _folded(name: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())
