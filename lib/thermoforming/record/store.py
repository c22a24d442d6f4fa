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
import uuid
from collections.abc import Iterable, Mapping
from pathlib import Path

from thermoforming.guard import Refused, one_of
from thermoforming.record import files, rules, schema, spelling, standing
from thermoforming.record.chain import Chain, Record, now
from thermoforming.record.errors import (
    Missing,
    NotSaved,
    RecordError,
    SomeoneSavedFirst,
    not_read,
    not_saved,
)
from thermoforming.record.inputs import Inputs
from thermoforming.record.kinds import Release, Review, Revision
from thermoforming.record.rules import named

SETTINGS = {"units": ("mm", "inch")}
STEP = re.compile(r"[a-z][a-z0-9_-]{0,40}")


class Project:
    """One project folder. Nothing is cached: what others save is seen at once."""

    def __init__(self, folder: Path, about: dict):
        self.folder = Path(folder)
        self.inputs = Inputs(self.folder)
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
        about = {"kind": "project", "id": uuid.uuid4().hex, "title": named("title", title),
                 "author": named("author", author), "created_utc": now().isoformat("T", "seconds"),
                 "settings": _settings(settings or {}), "origin": dict(origin) if origin else None}
        try:
            files.make_root(folder)
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
        about["title"] = about["title"] if title is None else named("title", title)
        about["settings"] = _settings({**about["settings"], **settings})
        path = self.folder / "project.json"
        try:
            files.replace(path, spelling.seal(about))
        except OSError as error:
            raise not_saved(path, error) from error
        self._about = about

    # ---------------------------------------------------------------- input files

    def add_file(self, data: bytes, name: str, author: str = "") -> str:
        """Keep a file under its own hash and return that hash; adding it twice is one file."""
        self._present()
        return self.inputs.add(data, name, author)

    def file(self, sha256: str) -> bytes:
        """Content of an input file, its hash checked; raises `Damaged` or `Missing`."""
        return self.inputs.read(sha256)

    # ---------------------------------------------------------------- decisions

    def steps(self) -> list[str]:
        """Steps with at least one revision, in alphabetical order."""
        return [step for step in self._folders("decisions") if self._decisions(step).numbers()]

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

        Returns
        -------
        Revision
            The new one; or the one that is there, if it is this very save come through after an
            interruption.

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
            self.inputs.path(sha256)
        chain = self._decisions(step)

        def accept(latest):
            rules.expect(chain, latest, expected_previous, kept)

        author = named("author", author)
        try:
            return chain.append({**schema.with_positions(kept), "step": step}, author, accept)
        except SomeoneSavedFirst as told:
            if rules.is_this(told, author, expected_previous):
                return told.latest
            raise

    def latest(self, step: str) -> Revision | None:
        """The revision in force, its hash checked; None if the step was never decided."""
        return self._decisions(step).latest()

    def revision(self, step: str, sha256: str) -> Revision:
        """The revision with this hash.

        Raises
        ------
        Missing
            If there is none.
        """
        chain = self._decisions(step)
        for revision in reversed(chain.all()):
            if revision.sha256 == sha256:
                return revision
        raise Missing(chain.folder, f"holds no revision with the hash {sha256[:12]}… any more. "
                                    f"{spelling.ADVICE}")

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
        reviewer = named("reviewer", reviewer)
        override = {title: text.strip() for title, text in (override or {}).items()}
        content = {"step": step, "revision": revision, "verdict": verdict,
                   "comment": comment.strip(), "override": override}

        def accept(_):
            rules.may_review(self.state(step), content, reviewer)

        return self._reviews(step).append(content, reviewer, accept)

    def reviews(self, step: str) -> list[Review]:
        """All reviews of a step, in order."""
        return self._reviews(step).all()

    def blockers(self, steps: Iterable[str]) -> list[str]:
        """What keeps the project from being released, as sentences; empty if nothing does."""
        return standing.blockers(self.states(steps))

    def release(self, author: str, steps: Iterable[str], comment: str = "") -> Release:
        """Release the project: all decisions current, accepted and free of open stops.

        Raises
        ------
        Refused
            If something keeps it from being released; the message lists what.
        """
        self._present()
        steps = list(steps)
        author = named("author", author)
        decisions = {}

        def accept(_):
            found = self.states(steps)
            if reasons := standing.blockers(found):
                raise Refused("release", "The project cannot be released yet. " + " ".join(reasons))
            for step, at in found.items():
                decisions[step] = {"number": at.revision.number, "sha256": at.revision.sha256,
                                   "review": at.review.sha256}

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
                                                     named("author", author))

    def trials(self) -> list[Record]:
        """All trials, in order."""
        return self._chain("trial", "trials").all()

    def log_export(self, content: Mapping, author: str) -> Record:
        """Keep what was handed out."""
        self._present()
        return self._chain("export", "exports").append(spelling.plain(content),
                                                       named("author", author))

    def exports(self) -> list[Record]:
        """All exports, in order."""
        return self._chain("export", "exports").all()

    def chains(self) -> list[Chain]:
        """Every chain of records there is, for checking and copying."""
        per_step = [make(step) for folder, make in (("decisions", self._decisions),
                                                    ("reviews", self._reviews))
                    for step in self._folders(folder)]
        return [*per_step, self._releases(), self._chain("trial", "trials"),
                self._chain("export", "exports")]

    def _folders(self, name: str) -> list[str]:
        try:
            found = files.names(self.folder, self.folder / name)
        except OSError as error:
            raise not_read(self.folder / name, error) from error
        return list(filter(STEP.fullmatch, found))

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
