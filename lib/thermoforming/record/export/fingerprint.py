"""A hash over everything a document shows, and a short code that finds it again."""

from __future__ import annotations

from pathlib import Path

from thermoforming.guard import Refused
from thermoforming.record.errors import RecordError
from thermoforming.record.spelling import digest, seal
from thermoforming.record.store import Project

DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O, U: nothing to mistake on paper
LENGTH = 10


def fingerprint(project: Project) -> str:
    """Hash over the latest revisions, their reviews and the releases, with the project's title."""
    stand = {step: {"revision": project.latest(step).sha256,
                    "reviews": [review.sha256 for review in project.reviews(step)]}
             for step in project.steps()}
    releases = [release.sha256 for release in project.releases()]
    return digest(seal({"project": project.id, "title": project.title, "stand": stand,
                        "releases": releases}))


def code_of(sha256: str) -> str:
    """The first 50 bits of a hash as ten characters that can be read aloud.

    >>> code_of("00" * 32), code_of("ff" * 32)
    ('00000-00000', 'ZZZZZ-ZZZZZ')
    """
    number = int(sha256[:13], 16) >> 2
    text = "".join(DIGITS[number >> 5 * i & 31] for i in reversed(range(LENGTH)))
    return f"{text[:5]}-{text[5:]}"


def cleaned(code: str) -> str:
    """A code as somebody typed it, in its own spelling.

    Raises
    ------
    Refused
        If it is not a code.
    """
    text = "".join(code.upper().split()).replace("-", "")
    text = text.replace("O", "0").replace("I", "1").replace("L", "1").replace("U", "V")
    if len(text) != LENGTH or set(text) - set(DIGITS):
        raise Refused("code", f"{code!r} is not a code from the foot of a page: it must have "
                              f"{LENGTH} letters and digits.")
    return f"{text[:5]}-{text[5:]}"


def find(folder, code: str) -> list[tuple[Path, str]]:
    """Projects below a folder from which a page with this code came, and which of its stands.

    Raises
    ------
    Refused
        If it is not a code.
    """
    code, found = cleaned(code), []
    for path in sorted(Path(folder).glob("**/project.json")):
        try:
            found += [(path.parent, words) for words in _places(Project.open(path.parent), code)]
        except RecordError:
            continue
    return found


def _places(project: Project, code: str) -> list[str]:
    places = [f"export {export.number} of {export.content['saved_utc'][:10]}"
              for export in project.exports() if export.content["code"] == code]
    if code_of(fingerprint(project)) == code:
        places.append("as it stands now")
    for step in project.steps():
        places += [f"{step}, revision {revision.number}"
                   for revision in project.revisions(step) if code_of(revision.sha256) == code]
    return places
