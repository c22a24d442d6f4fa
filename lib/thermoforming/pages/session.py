"""The open project and what the pages ask of it: upstream decisions, saving, what became stale."""

from __future__ import annotations

import getpass
import math
import os
from collections.abc import Mapping
from importlib.metadata import version
from pathlib import Path
from typing import Any

import thermoforming
from thermoforming.guard import Refused
from thermoforming.record import Project, Revision
from thermoforming.reference import tables_version
from thermoforming.steps import ORDER, standing_on, step
from thermoforming.steps.base import Outcome, Step
from thermoforming.steps.plain import content, decision_from, plain
from thermoforming.steps.upstream import Decision, Upstream, packed, unpacked

DATA = Path(thermoforming.__file__).resolve().parents[2] / "data"
PROJECTS = Path(os.environ.get("THERMOFORMING_PROJECTS", DATA / "projects"))
DEMO = DATA / "projects" / "demo"
CHOSEN = PROJECTS / ".open"  # name of the project that was opened last


def opened_folder() -> Path:
    """Folder of the project that the pages work on: the one chosen last, else the demo."""
    if "THERMOFORMING_PROJECT" in os.environ:
        return Path(os.environ["THERMOFORMING_PROJECT"])
    try:
        folder = Path(CHOSEN.read_text(encoding="utf-8").strip())
    except OSError:
        return DEMO
    return folder if (folder / "project.json").exists() else DEMO


def choose(folder: Path) -> None:
    """Make this the project that every page opens from now on."""
    Project.open(folder)
    CHOSEN.parent.mkdir(parents=True, exist_ok=True)
    CHOSEN.write_text(str(Path(folder).resolve()), encoding="utf-8")


class Session:
    """One project as the pages see it."""

    def __init__(self, folder: Path | str | None = None):
        self.project = Project.open(folder or opened_folder())
        self.author = os.environ.get("THERMOFORMING_AUTHOR", "") or _login_name()

    @property
    def inches(self) -> bool:
        return self.project.settings["units"] == "inch"

    def upstream(self, declared: Step, simulation: Mapping[str, Any] | None = None) -> Upstream:
        """Saved decisions that a step may stand on."""
        decisions = {}
        for key in declared.upstream:
            saved = self.project.latest(key) if key in ORDER else None
            if saved is not None:
                decisions[key] = _decision(saved)
        return Upstream(decisions, self.project.file, simulation)

    def saved_inputs(self, key: str) -> dict[str, Any] | None:
        """Inputs of the latest revision, or None."""
        saved = self.project.latest(key)
        return dict(_decision(saved).inputs) if saved else None

    def saved_simulation(self, key: str) -> dict[str, Any] | None:
        """The long run's result kept with the latest revision, or None."""
        saved = self.project.latest(key)
        sha256 = saved.files.get("simulation") if saved else None
        return unpacked(self.project.file(sha256)) if sha256 else None

    def keep_file(self, data: bytes, name: str) -> dict[str, str]:
        """Put a file into the project; what a File input then holds."""
        return {"sha256": self.project.add_file(data, name, self.author), "name": name}

    def save(self, declared: Step, inputs: Mapping[str, Any], outcome: Outcome, reason: str,
             author: str, expected: str | None,
             simulation: Mapping[str, Any] | None = None) -> Revision:
        """Save a decision as the next revision.

        Raises
        ------
        Refused
            If author or reason is missing.
        SomeoneSavedFirst, NotSaved
            As the record says.
        """
        if not reason.strip():
            raise Refused("reason", "Reason is empty: write in a sentence why it is decided so.")
        files = {f.key: inputs[f.key]["sha256"] for f in declared.fields
                 if isinstance(inputs[f.key], Mapping) and "sha256" in inputs[f.key]}
        if simulation is not None:
            files["simulation"] = self.project.add_file(packed(simulation),
                                                        f"{declared.key}-simulation.npz", author)
        return self.project.save(declared.key, content(declared, inputs, outcome) | {
            "reason": reason.strip(),
            "files": files,
            "upstream": {key: self._hash(key) for key in standing_on()[declared.key]},
            "versions": {"thermoforming": version("thermoforming"), "tables": tables_version()},
        }, author, expected)

    def decide(self, key: str, values: Mapping[str, Any], reason: str, author: str) -> Revision:
        """Compute a decision from code and save it; inputs not given are at their defaults."""
        declared = step(key)
        upstream = self.upstream(declared)
        inputs = declared.checked(values, upstream)
        simulation = declared.simulate(inputs, upstream, Silent()) if declared.simulate else None
        outcome = declared.compute(inputs, self.upstream(declared, simulation))
        return self.save(declared, inputs, outcome, reason, author, self._hash(key), simulation)

    def left_behind(self, declared: Step) -> dict[str, Any]:
        """What earlier decisions give now for the inputs of a stale one that stood at theirs.

        An input that somebody set to a value of its own is not among them.
        """
        saved = self.project.latest(declared.key)
        if saved is None or self.project.state(declared.key).state != "stale":
            return {}
        inputs = _decision(saved).inputs
        try:
            then = declared.defaults(Upstream(_stood_on(self.project, saved), self.project.file))
            now = declared.defaults(self.upstream(declared))
        except Refused:
            return {}
        return {key: now[key] for key in now if key in inputs and _alike(inputs[key], then[key])
                and not _alike(then[key], now[key])}

    def would_become_stale(self, key: str) -> list[str]:
        """Saved decisions that stand on this one, directly or through others."""
        stale = {key}
        for other, upstream in standing_on().items():
            if stale & set(upstream) and self.project.latest(other) is not None:
                stale.add(other)
        return [other for other in ORDER if other in stale - {key}]

    def states(self):
        """Where every decision of the thread stands."""
        return self.project.states(ORDER)

    def _hash(self, key: str) -> str | None:
        saved = self.project.latest(key)
        return saved.sha256 if saved else None


def recompute(project: Project, revision: Revision) -> dict:
    """Content that today's library finds for a revision's own inputs and upstream decisions."""
    declared = step(revision.step)
    decisions = _stood_on(project, revision)
    upstream = Upstream(decisions, project.file)
    inputs = declared.checked(_decision(revision).inputs, upstream)
    if declared.simulate and "simulation" in revision.files:
        simulation = declared.simulate(inputs, upstream, Silent())
        upstream = Upstream(decisions, project.file, simulation)
    return content(declared, inputs, declared.compute(inputs, upstream))


def _stood_on(project: Project, revision: Revision) -> dict[str, Decision]:
    """The earlier decisions as they were when this one was saved."""
    decisions = {}
    for key, sha256 in revision.upstream.items():
        stood_on = next((r for r in project.revisions(key) if r.sha256 == sha256), None)
        if stood_on is not None:
            decisions[key] = _decision(stood_on)
    return decisions


def _alike(one, other) -> bool:
    if isinstance(one, float) and isinstance(other, (int, float)):
        return math.isclose(one, other, rel_tol=1e-9)
    return plain(one) == plain(other)


class Silent:
    """A run that nobody watches."""

    def report(self, fraction: float, text: str = "") -> bool:
        return False

    def preview(self, simulation) -> None:
        pass


def _decision(revision: Revision) -> Decision:
    return decision_from(revision.content, revision.sha256)


def _login_name() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return ""
