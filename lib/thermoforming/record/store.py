"""A project: a folder of plain files that can be read in twenty years without this program.

    project.json              title and settings, the only file that is ever replaced
    inputs/<sha256>.<ext>     files the decisions stand on, named by their content
    inputs/<sha256>.about.json  what each was called, by whom and when it was added
    decisions/<step>/0001.json  revisions of each decision
    reviews/<step>/0001.json  what reviewers said, naming the revision by its hash
    trials/0001.json          what was measured on the machine
    releases/0001.json        the revisions and reviews that were released together
    exports/0001.json         what was handed out, and under which short code
"""

from __future__ import annotations

import re
import unicodedata
import uuid
from collections.abc import Iterable, Mapping
from pathlib import Path

from thermoforming.guard import Refused, one_of
from thermoforming.record import files, schema, spelling, standing
from thermoforming.record.chain import Chain, Record, now
from thermoforming.record.difference import differences
from thermoforming.record.errors import (
    Damaged,
    Missing,
    NotSaved,
    RecordError,
    SomeoneSavedFirst,
    not_read,
    not_saved,
)

SETTINGS = {"units": ("mm", "inch")}
VERDICTS = ("accepted", "returned")
STEP = re.compile(r"[a-z][a-z0-9_-]{0,40}")
SHA256 = re.compile(r"[0-9a-f]{64}")
EXTENSION = re.compile(r"[a-z0-9]{1,10}")


class Revision(Record):
    """One saved decision. `content` holds everything; the properties are what others need most."""

    @property
    def step(self) -> str:
        return self.content["step"]

    @property
    def inputs(self) -> dict:
        return self.content.get("inputs", {})

    @property
    def results(self) -> dict:
        return self.content.get("results", {})

    @property
    def checks(self) -> list[dict]:
        return self.content.get("checks", [])

    @property
    def stops(self) -> list[dict]:
        """Checks whose verdict is stop."""
        return [check for check in self.checks if check.get("verdict") == "stop"]

    @property
    def reason(self) -> str:
        return self.content.get("reason", "")

    @property
    def upstream(self) -> dict[str, str | None]:
        """Hash of each upstream revision it stood on; None for a step not yet decided then."""
        return self.content.get("upstream", {})

    @property
    def files(self) -> dict[str, str]:
        """Hash of each input file it stood on, by name."""
        return self.content.get("files", {})

    @property
    def versions(self) -> dict[str, str]:
        return self.content.get("versions", {})


class Review(Record):
    """A reviewer's verdict on one revision, named by its hash."""

    @property
    def revision(self) -> str:
        return self.content["revision"]

    @property
    def verdict(self) -> str:
        return self.content["verdict"]

    @property
    def comment(self) -> str:
        return self.content["comment"]

    @property
    def override(self) -> dict[str, str]:
        """Written reason for each stop that was overridden, by the title of the check."""
        return self.content["override"]


class Release(Record):
    """The revisions and reviews released together."""

    @property
    def decisions(self) -> dict[str, dict]:
        """Number, hash and hash of the accepting review of each step."""
        return self.content["decisions"]


class Project:
    """One project folder. Nothing is cached: what others save is seen at once."""

    def __init__(self, folder: Path, about: dict):
        self.folder = Path(folder)
        self._about = about

    # ---------------------------------------------------------------- the project itself

    @classmethod
    def create(cls, folder, title: str, author: str, settings: Mapping | None = None,
               origin: Mapping | None = None) -> Project:
        """Make a new project in an empty or new folder.

        Raises
        ------
        Refused
            If title, author or a setting is not usable.
        NotSaved
            If there is a project already, or the folder cannot be written.
        """
        folder = Path(folder)
        about = {"kind": "project", "id": uuid.uuid4().hex, "title": _named("title", title),
                 "author": _named("author", author), "created_utc": now().isoformat("T", "seconds"),
                 "settings": _settings(settings or {}), "origin": dict(origin) if origin else None}
        try:
            folder.mkdir(parents=True, exist_ok=True)
            files.publish(folder / "project.json",
                          spelling.seal({**about, "schema": schema.CURRENT}))
        except FileExistsError:
            raise NotSaved(f"{folder} holds a project already. Open it, or choose another "
                           "folder.") from None
        except OSError as error:
            raise not_saved(folder / "project.json", error) from error
        return cls.open(folder)

    @classmethod
    def open(cls, folder) -> Project:
        """Open an existing project; nothing in it is run and nothing is written.

        Raises
        ------
        RecordError
            If it is no project, damaged, or from a newer version.
        """
        return cls(Path(folder), _read_about(Path(folder)))

    @property
    def id(self) -> str:
        return self._about["id"]

    @property
    def title(self) -> str:
        return self._about["title"]

    @property
    def author(self) -> str:
        return self._about["author"]

    @property
    def created_utc(self) -> str:
        return self._about["created_utc"]

    @property
    def origin(self) -> dict | None:
        """The project this one was started from, if any."""
        return self._about["origin"]

    @property
    def settings(self) -> dict:
        """Settings that change how things are shown: `units` is mm or inch."""
        return dict(self._about["settings"])

    def change(self, title: str | None = None, **settings) -> None:
        """Change title or settings; the file is replaced whole."""
        about = _read_about(self.folder)
        about["title"] = about["title"] if title is None else _named("title", title)
        about["settings"] = _settings({**about["settings"], **settings})
        path = self.folder / "project.json"
        try:
            files.replace(path, spelling.seal(about))
        except OSError as error:
            raise not_saved(path, error) from error
        self._about = about

    # ---------------------------------------------------------------- input files

    def add_file(self, data: bytes, name: str, author: str = "") -> str:
        """Keep a file under its own hash and return that hash; adding it twice is one file.

        Raises
        ------
        NotSaved
            If it cannot be written.
        Damaged
            If this file was added before and changed on disk since.
        """
        self._present()
        sha256 = spelling.digest(data)
        name = _named("file name", Path(name.replace("\\", "/")).name)
        extension = Path(name).suffix.lower().lstrip(".")
        extension = extension if EXTENSION.fullmatch(extension) else "bin"
        about = spelling.seal({"schema": schema.CURRENT, "kind": "input", "sha256_of": sha256,
                               "name": name, "bytes": len(data), "author": author.strip(),
                               "added_utc": now().isoformat("T", "seconds")})
        self._keep(f"{sha256}.{extension}", data)
        self.file(sha256)
        self._keep(f"{sha256}.about.json", about)
        return sha256

    def _keep(self, name: str, data: bytes) -> None:
        path = self.folder / "inputs" / name
        try:
            files.make_folder(self.folder, "inputs")
            files.publish(path, data)
        except FileExistsError:
            pass
        except OSError as error:
            raise not_saved(path, error) from error

    def file_path(self, sha256: str) -> Path:
        """Where an input file lies (its content is not checked; see `file`)."""
        if not SHA256.fullmatch(sha256):
            raise Refused("sha256", f"{sha256!r} is not the hash of a file.")
        folder = self.folder / "inputs"
        for name in files.names(folder):
            if name.startswith(sha256) and name != f"{sha256}.about.json":
                return folder / name
        raise Missing(folder / sha256, "is missing: decisions stand on this file. Add the same "
                                       "file again, or put it back from a backup.")

    def file(self, sha256: str) -> bytes:
        """Content of an input file, its hash checked.

        Raises
        ------
        Damaged
            If it is not there (`Missing`) or not what was added.
        """
        path = self.file_path(sha256)
        try:
            data = files.read(path)
        except OSError as error:
            raise not_read(path, error) from error
        if spelling.digest(data) != sha256:
            raise Damaged(path, "was changed after it was added. Move it out of the project, then "
                                "add the original file again.")
        return data

    def file_about(self, sha256: str) -> dict:
        """Name, bytes, author and time of an input file."""
        path = self.folder / "inputs" / f"{sha256}.about.json"
        try:
            content, _ = spelling.unseal(files.read(path), path)
        except FileNotFoundError:
            raise Missing(path, "is missing: it holds the name of an input file. Add the same "
                                "file again.") from None
        except OSError as error:
            raise not_read(path, error) from error
        return schema.migrated(content, "input", path)

    # ---------------------------------------------------------------- decisions

    def steps(self) -> list[str]:
        """Steps with at least one revision, in alphabetical order."""
        found = filter(STEP.fullmatch, files.names(self.folder / "decisions"))
        return [step for step in found if self._decisions(step).numbers()]

    def save(self, step: str, content: Mapping, author: str,
             expected_previous: str | None) -> Revision:
        """Write the next revision of a decision.

        Parameters
        ----------
        step : str
            Key of the step.
        content : mapping
            Plain data: `inputs`, `results`, `checks`, `worked`, `tables`, `reason`, `versions`,
            `upstream` {step: hash or None}, `files` {name: hash}. Numbers in SI with their units
            beside them; other keys are kept as they are.
        author : str
            Who decides.
        expected_previous : str or None
            Hash of the revision this work started from, None if there was none.

        Raises
        ------
        SomeoneSavedFirst
            If there is a later one; saving again with its hash makes this the next.
        Refused
            If something in it cannot be kept.
        NotSaved
            If it cannot be written; everything before is untouched.
        """
        self._present()
        kept = spelling.plain(content)
        for sha256 in kept.get("files", {}).values():
            self.file_path(sha256)
        chain = self._decisions(step)

        def accept(latest):
            _expect(chain, latest, expected_previous, kept)

        return chain.append({**kept, "step": step}, _named("author", author), accept)

    def latest(self, step: str) -> Revision | None:
        """The revision in force, its hash checked; None if the step was never decided."""
        return self._decisions(step).latest()

    def revisions(self, step: str) -> list[Revision]:
        """All revisions of a step in order, each checked."""
        return self._decisions(step).all()

    def state(self, step: str) -> standing.Standing:
        """Where a decision stands: missing, damaged, stale, returned, accepted or current."""
        return standing.standing(self, step)

    def states(self, steps: Iterable[str]) -> dict[str, standing.Standing]:
        """The same for many steps, in the order given."""
        return standing.standings(self, steps)

    # ---------------------------------------------------------------- reviews and releases

    def review(self, step: str, revision: str, reviewer: str, verdict: str, comment: str = "",
               override: Mapping[str, str] | None = None) -> Review:
        """Accept or return the latest revision of a decision.

        Parameters
        ----------
        step, revision : str
            Key of the step, and hash of the revision that was read.
        reviewer : str
            Another name than the author's.
        verdict : {'accepted', 'returned'}
            A stale decision cannot be accepted; returning needs a comment.
        override : mapping, optional
            A written reason for each stop, by the title of the check.

        Raises
        ------
        Refused
            If the rules above are not kept.
        SomeoneSavedFirst
            If a later revision exists.
        """
        self._present()
        reviewer = _named("reviewer", reviewer)
        one_of("verdict", verdict, VERDICTS)
        override = {title: text.strip() for title, text in (override or {}).items()}
        content = {"step": step, "revision": revision, "verdict": verdict,
                   "comment": comment.strip(), "override": override}

        def accept(_):
            _may_review(self, step, revision, reviewer, verdict, content)

        return self._reviews(step).append(content, reviewer, accept)

    def reviews(self, step: str) -> list[Review]:
        """All reviews of a step, in order."""
        return self._reviews(step).all()

    def blockers(self, steps: Iterable[str]) -> list[str]:
        """What keeps the project from being released, as sentences; empty if nothing does."""
        return standing.blockers(self, steps)

    def release(self, author: str, steps: Iterable[str], comment: str = "") -> Release:
        """Release the project: all decisions current, accepted and free of open stops.

        Raises
        ------
        Refused
            If something keeps it from being released; the message lists what.
        """
        self._present()
        steps = list(steps)
        author = _named("author", author)
        decisions = {}

        def accept(_):
            if reasons := self.blockers(steps):
                raise Refused("release", "The project cannot be released yet. " + " ".join(reasons))
            for step, found in self.states(steps).items():
                decisions[step] = {"number": found.revision.number, "sha256": found.revision.sha256,
                                   "review": found.review.sha256}

        return self._releases().append({"decisions": decisions, "comment": comment.strip()},
                                       author, accept)

    def releases(self) -> list[Release]:
        """All releases, in order."""
        return self._releases().all()

    # ---------------------------------------------------------------- trials and exports

    def log_trial(self, content: Mapping, author: str) -> Record:
        """Keep what was measured on the machine; a trial is never edited, only followed."""
        self._present()
        return self._chain("trial", "trials").append(spelling.plain(content),
                                                     _named("author", author))

    def trials(self) -> list[Record]:
        """All trials, in order."""
        return self._chain("trial", "trials").all()

    def log_export(self, content: Mapping, author: str) -> Record:
        """Keep what was handed out."""
        self._present()
        return self._chain("export", "exports").append(spelling.plain(content),
                                                       _named("author", author))

    def exports(self) -> list[Record]:
        """All exports, in order."""
        return self._chain("export", "exports").all()

    def chains(self) -> list[Chain]:
        """Every chain of records there is, for checking and copying."""
        per_step = [make(step) for folder, make in (("decisions", self._decisions),
                                                    ("reviews", self._reviews))
                    for step in files.names(self.folder / folder) if STEP.fullmatch(step)]
        return [*per_step, self._releases(), self._chain("trial", "trials"),
                self._chain("export", "exports")]

    def _decisions(self, step: str) -> Chain:
        return self._chain("decision", "decisions", _step(step), record=Revision)

    def _reviews(self, step: str) -> Chain:
        return self._chain("review", "reviews", _step(step), record=Review)

    def _releases(self) -> Chain:
        return self._chain("release", "releases", record=Release)

    def _chain(self, kind: str, *parts: str, record: type = Record) -> Chain:
        return Chain(self.folder, parts, kind, record)

    def _present(self) -> None:
        """Refuse to write into a folder that is no longer the project that was opened."""
        if _read_about(self.folder)["id"] != self.id:
            raise NotSaved(f"Nothing was saved: {self.folder} now holds another project. Open it "
                           "again.")


def same_person(one: str, other: str) -> bool:
    """Whether two names are the same apart from case, spacing and spelling of letters."""
    return _folded(one) == _folded(other)


def _folded(name: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def _read_about(folder: Path) -> dict:
    path = folder / "project.json"
    try:
        data = files.read(path)
    except FileNotFoundError:
        raise RecordError(f"{folder} holds no project (there is no project.json), or the disk or "
                          "share it lies on is gone. Check the path and the connection, then try "
                          "again.") from None
    except OSError as error:
        raise not_read(path, error) from error
    content, _ = spelling.unseal(data, path)
    return schema.migrated(content, "project", path)


def _named(field: str, text: str) -> str:
    cleaned = " ".join(str(text).split())
    if not cleaned or len(cleaned) > 200:
        raise Refused(field, f"{field} must be 1 to 200 characters of text, but it is "
                             f"{len(cleaned)} long.")
    return spelling.plain(cleaned, field)


def _settings(settings: Mapping) -> dict:
    kept = {"units": "mm", **settings}
    for name, value in kept.items():
        if name in SETTINGS:
            one_of(name, value, SETTINGS[name])
    return spelling.plain(kept, "settings")


def _step(step: str) -> str:
    if not STEP.fullmatch(step):
        raise Refused("step", f"{step!r} is not the key of a step.")
    return step


def _expect(chain: Chain, latest: Revision | None, expected: str | None, content: dict) -> None:
    if (latest.sha256 if latest else None) == expected:
        return
    if latest is None:
        raise Missing(chain.folder, "has lost the revision this work started from. Put the "
                                    "folder back from a backup, then save again.")
    kept = {key: value for key, value in latest.content.items() if key in content}
    found = differences(kept, content)
    raise SomeoneSavedFirst(
        f"{latest.author} saved revision {latest.number} of {latest.step} first "
        f"({latest.content['saved_utc'][:16].replace('T', ' ')} UTC). Yours is not saved yet: it "
        f"differs in {len(found)} places. Look at the difference, then save yours as the next "
        "revision or start again from theirs.", latest, found)


def _may_review(project: Project, step: str, sha256: str, reviewer: str, verdict: str,
                content: dict) -> None:
    found = project.state(step)
    revision = found.revision
    if revision is None:
        raise Refused("revision", f"{step} cannot be reviewed: {' '.join(found.reasons)}")
    if revision.sha256 != sha256:
        raise SomeoneSavedFirst(
            f"Revision {revision.number} of {step} was saved by {revision.author} since this one "
            "was read. Read it, then review it.", revision, [])
    if same_person(reviewer, revision.author):
        raise Refused("reviewer", f"{reviewer} decided this; another person must review it.")
    if verdict == "returned":
        if not content["comment"]:
            raise Refused("comment", "Say in a comment what is to be changed.")
        return
    if found.state in ("damaged", "stale"):
        raise Refused("verdict", f"{step} is {found.state} and cannot be accepted: "
                                 f"{' '.join(found.reasons)}")
    for title in standing.open_stops(revision, content["override"]):
        raise Refused("override", f"{title!r} says stop. Return the decision, or write for this "
                                  "check why it may be overridden.")
