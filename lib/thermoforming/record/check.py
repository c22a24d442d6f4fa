"""Check that everything in a project is what was written, and say in sentences what is not."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from thermoforming.record import files, spelling
from thermoforming.record.chain import NUMBERED, Chain
from thermoforming.record.errors import RecordError
from thermoforming.record.standing import open_stops
from thermoforming.record.rules import same_person
from thermoforming.record.store import STEP, Project

HANDED_OUT = re.compile(r"[0-9]{4,}")
FOLDERS = ("decisions", "exports", "inputs", "releases", "reviews", "trials")


@dataclass(frozen=True)
class Finding:
    """One thing found: damage, or a note that needs no hurry."""

    damage: bool
    sentence: str

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True)
class Report:
    """What a check found, and how much it looked at."""

    findings: tuple[Finding, ...]
    records: int
    inputs: int

    @property
    def damage(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.damage)

    @property
    def whole(self) -> bool:
        """No damage; there may be notes."""
        return not self.damage

    def __str__(self) -> str:
        verdict = "Everything is as it was written." if self.whole else \
            f"{len(self.damage)} of the findings below are damage."
        return "\n".join([f"{self.records} records and {self.inputs} input files checked. "
                          f"{verdict}", *(f"- {finding}" for finding in self.findings)])


def check(folder) -> Report:
    """Read every file of a project and verify every hash and every link between records.

    Parameters
    ----------
    folder : path
        The project's folder; it need not be possible to open it.

    Returns
    -------
    Report

    Notes
    -----
    A chain of hashes shows every accident and every change that leaves a trace. It cannot show
    that somebody removed the newest records without anything else naming them, or wrote the whole
    project anew; a hash kept elsewhere (the short code on a printed page) does.
    """
    return _Checker(Path(folder)).run()


class _Checker:
    def __init__(self, folder: Path):
        self.project = Project(folder, {"id": ""})
        self.findings: list[Finding] = []
        self.known: dict[str, object] = {}  # every whole record by its hash
        self.records = self.inputs = 0

    def run(self) -> Report:
        try:
            self.project = Project.open(self.project.folder)
        except RecordError as error:
            self.damage(str(error))
        if os.path.isdir(self.project.folder):
            self.look()
        return Report(tuple(self.findings), self.records, self.inputs)

    def look(self) -> None:
        try:
            self.strangers(self.project.folder, {"project.json", *FOLDERS})
            self.input_files()
            for chain in self.project.chains():
                self.chain(chain)
        except OSError as error:
            self.damage(f"{self.project.folder} cannot be read to its end: {error.strerror}.")
        for record in list(self.known.values()):
            self.links(record)

    def damage(self, sentence: str) -> None:
        self.findings.append(Finding(True, sentence))

    def note(self, sentence: str) -> None:
        self.findings.append(Finding(False, sentence))

    def strangers(self, folder: Path, expected: set[str]) -> None:
        for name in self.names(folder):
            path = folder / name
            if name.endswith(files.PART):
                self.note(f"{path} is what an interrupted save left. Nobody reads it; it may be "
                          "deleted.")
            elif os.path.islink(path):
                self.damage(f"{path} is a link to another place. Put the real file there.")
            elif name not in expected and name != files.LOCK:
                self.note(f"{path} is no part of the record and is ignored.")

    # ------------------------------------------------------------------ inputs

    def input_files(self) -> None:
        inputs = self.project.inputs
        self.strangers(inputs.folder, {name for name in self.names(inputs.folder)
                                       if name.split(".")[0] in inputs.hashes()})
        for sha256 in inputs.hashes():
            self.attempt(inputs.about, sha256)
            if inputs.is_there(sha256):
                self.inputs += 1
                self.attempt(inputs.read, sha256)
            else:
                self.note(f"{inputs.folder / sha256} was never added whole, or is lost. If it is "
                          "wanted, add the file again.")

    def names(self, folder: Path) -> list[str]:
        return files.names(self.project.folder, folder)

    def attempt(self, read, *arguments):
        try:
            return read(*arguments)
        except RecordError as error:
            self.damage(str(error))
            return None

    # ------------------------------------------------------------------ chains

    def chain(self, chain: Chain) -> None:
        if chain.parts[0] in ("decisions", "reviews"):
            self.strangers(chain.folder.parent,
                           set(filter(STEP.fullmatch, self.names(chain.folder.parent))))
        handed_out = chain.kind == "export" and HANDED_OUT
        self.strangers(chain.folder, {name for name in self.names(chain.folder)
                                      if NUMBERED.fullmatch(name)
                                      or handed_out and handed_out.fullmatch(name)})
        numbers = chain.numbers()
        for missing in sorted(set(range(1, (numbers or [0])[-1])) - set(numbers)):
            self.damage(f"{chain.path(missing)} is missing. {spelling.ADVICE}")
        before = None
        for number in numbers:
            record = self.attempt(chain.read, number)
            if record:
                self.records += 1
                self.known[record.sha256] = record
                self.follows(before, record)
            before = record

    def follows(self, before, record) -> None:
        if record.number == 1 and record.previous is not None:
            self.damage(f"{record.path} names a record before it, but it is the first.")
        if before and record.number == before.number + 1:
            if record.previous != before.sha256:
                self.damage(f"{before.path} is not the one that {record.path.name} was written "
                            f"after. {spelling.ADVICE}")
            if record.saved < before.saved:
                self.note(f"{record.path} bears an earlier time than the one before it: a clock "
                          "was wrong. Their order is that of their numbers.")

    # ------------------------------------------------------------------ what records name

    def links(self, record) -> None:
        kind = record.content["kind"]
        if kind == "decision":
            self.decision(record)
        elif kind == "review":
            self.review(record)
        elif kind == "release":
            self.release(record)
        elif kind == "export":
            self.export(record)

    def decision(self, revision) -> None:
        for step, sha256 in revision.upstream.items():
            if sha256 is not None:
                self.named(revision, sha256, f"the revision of {step} it stands on")
        for name, sha256 in revision.files.items():
            self.attempt(self.project.inputs.path, sha256)

    def review(self, review) -> None:
        revision = self.named(review, review.revision, "the revision it is about")
        if revision is None:
            return
        if same_person(revision.author, review.author):
            self.damage(f"{review.path} is by the author of the decision. Have another person "
                        "review it.")
        if review.verdict == "accepted" and open_stops(revision, review.override):
            self.damage(f"{review.path} accepts a decision with a stop that has no written "
                        "reason. Review it again.")

    def release(self, release) -> None:
        for step, entry in release.decisions.items():
            self.named(release, entry["sha256"], f"the revision of {step} it released")
            self.named(release, entry["review"], f"the review of {step}")

    def export(self, export) -> None:
        folder = export.path.with_suffix("")
        self.strangers(folder, set(export.content["files"]))
        for name, sha256 in export.content["files"].items():
            path = folder / name
            if not path.exists():
                self.note(f"{path} was handed out but is not kept here. Export again if it is "
                          "wanted.")
            elif spelling.digest(files.read(path)) != sha256:
                self.damage(f"{path} was changed after it was handed out. Delete it and export "
                            "again.")

    def named(self, record, sha256: str, what: str):
        if sha256 not in self.known:
            self.damage(f"{record.path} names {what} ({sha256[:8]}…), which is not in the "
                        f"project as it was written. {spelling.ADVICE}")
        return self.known.get(sha256)
