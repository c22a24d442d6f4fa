"""Recompute every decision from its own inputs and say what became of each number."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from thermoforming.record.changes import Change, changes, count_values
from thermoforming.record.check import Report, check
from thermoforming.record.errors import RecordError
from thermoforming.record.kinds import Revision
from thermoforming.record.spelling import plain
from thermoforming.record.store import Project

SAME_WITHIN = 1e-6  # relative: above the rounding of another processor, below any measurement
SAME, MOVED, CANNOT, DAMAGED = 0, 1, 3, 4  # exit codes; 2 is a wrong command line


@dataclass(frozen=True)
class Recomputed:
    """One decision: same, moved or cannot."""

    step: str
    verdict: str
    number: int = 0
    values: int = 0
    moved: tuple[Change, ...] = ()
    why: str = ""
    made_with: str = ""

    def lines(self, inches: bool = False) -> list[str]:
        """What became of it, one line for the decision and one for each number that moved."""
        if self.verdict == "cannot":
            return [f"{self.step}: cannot be recomputed. {self.why}"]
        name = f"{self.step}, revision {self.number}"
        if self.verdict == "same":
            return [f"{name}: same in all {self.values} values."]
        made = f" (it was made with {self.made_with})" if self.made_with else ""
        return [f"{name}: {len(self.moved)} of {self.values} values moved{made}.",
                *(f"    {change.sentence(inches)}" for change in self.moved)]


@dataclass(frozen=True)
class Verification:
    """Everything checked and recomputed."""

    check: Report
    decisions: tuple[Recomputed, ...] = field(default=())

    @property
    def exit_code(self) -> int:
        """0 all the same, 1 something moved, 3 something cannot be recomputed, 4 damage."""
        verdicts = {decision.verdict for decision in self.decisions}
        if not self.check.whole:
            return DAMAGED
        return CANNOT if "cannot" in verdicts else MOVED if "moved" in verdicts else SAME

    def text(self, inches: bool = False) -> str:
        """The report as plain text."""
        lines = [line for decision in self.decisions for line in decision.lines(inches)]
        return "\n".join([str(self.check), *lines])

    def __str__(self) -> str:
        return self.text()


def verify(folder, recompute: Callable[[Project, Revision], dict],
           steps: Iterable[str] | None = None,
           progress: Callable[[str], None] = lambda step: None) -> Verification:
    """Check every hash, then recompute the latest revision of every decision.

    Parameters
    ----------
    folder : path
        The project's folder.
    recompute : callable
        `recompute(project, revision)` gives the content that today's library finds for the inputs
        of that revision and the upstream revisions it stood on.
    steps : iterable of str, optional
        Order of the decisions; alphabetical if not given.
    progress : callable
        Called with the key of each step before it is recomputed.

    Notes
    -----
    Numbers that differ by less than one part in a million count as the same.
    """
    report = check(folder)
    try:
        project = Project.open(folder)
        decided = project.steps()
    except RecordError:
        return Verification(report)
    order = [step for step in steps or decided if step in decided]
    found = []
    for step in [*order, *(step for step in decided if step not in order)]:
        progress(step)
        found.append(_recomputed(project, step, recompute))
    return Verification(report, tuple(found))


def _recomputed(project: Project, step: str, recompute) -> Recomputed:
    try:
        revision = project.latest(step)
        today = plain(recompute(project, revision))
    except Exception as error:  # whatever goes wrong in a step must not end the report
        return Recomputed(step, "cannot", why=f"{str(error) or type(error).__name__}")
    kept = {key: revision.content[key] for key in ("inputs", "reason", "files")
            if key in revision.content}
    moved = changes(revision.content, {**today, **kept}, SAME_WITHIN)
    return Recomputed(step, "moved" if moved else "same", revision.number,
                      count_values(revision.content), tuple(moved), "",
                      ", ".join(f"{k} {v}" for k, v in sorted(revision.versions.items())))
