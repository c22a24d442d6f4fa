"""What the shop has seen: runs of tools, from all projects' trials and from older notes.

A run is plain data: what was formed on what, how hot, how many shots, and what ended the tool.
The rows that a decision stood on are kept in it, with their origin, so that it can be recomputed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from thermoforming.bands import Band
from thermoforming.reference import sheets, tool_materials
from thermoforming.steps.base import Choice, Number, Text
from thermoforming.steps.upstream import Decision

ENDS = (("running", "still running"), ("cracked", "cracked or broke"), ("softened", "softened"),
        ("warped", "warped out of tolerance"), ("worn", "face worn or scratched"),
        ("torn", "torn by a sticking part"), ("blocked", "vents blocked"),
        ("delaminated", "layers parted"), ("other", "other"))
RUNNING = "running"
METHODS = (("", "not noted"), ("straight vacuum", "straight vacuum"), ("drape", "drape"),
           ("plug assist", "plug assist"), ("pre-stretch", "pre-stretch"),
           ("pressure", "pressure"))
NOT_NOTED = (("", "not noted"),)


def _materials(table):
    return NOT_NOTED + tuple((key, m.text("short")) for key, m in table.items())


COLUMNS = (
    Text(key="origin", label="Origin", longest=200,
         help="Project and trial, or who remembers it and from when."),
    Choice(key="tool_material", label="Tool", options=_materials(tool_materials()), default=""),
    Choice(key="sheet", label="Sheet", options=_materials(sheets()), default=""),
    Number(key="shots", label="Shots", shown="shots", low=1, high=10_000_000, whole=True,
           default=1),
    Choice(key="ended", label="Ended by", options=ENDS, default=RUNNING),
    Number(key="sheet_temperature", label="Sheet at", shown="°C", low=50, high=350,
           optional=True),
    Number(key="gauge", label="Gauge", shown="mm", low=0.1, high=20, optional=True),
    Choice(key="method", label="Method", options=METHODS, default=""),
    Number(key="wall", label="Wall", shown="mm", low=0.3, high=500, optional=True),
    Text(key="cooling", label="Cooling", longest=80),
    Number(key="cycle", label="Cycle", shown="s", low=1, high=7200, optional=True),
)


@dataclass(frozen=True)
class Here:
    """What this project will do, as far as it is decided; None and "" are not decided."""

    tool_material: str = ""
    sheet: str = ""
    sheet_temperature: float | None = None
    gauge: float | None = None
    method: str = ""
    wall: float | None = None
    cycle: float | None = None


@dataclass(frozen=True)
class Judged:
    """A run, whether it counts as evidence here, and in words how it differs."""

    run: Mapping[str, Any]
    counts: bool
    differences: tuple[str, ...]

    @property
    def shots(self) -> float:
        return float(self.run["shots"])

    @property
    def ended(self) -> bool:
        return self.run["ended"] != RUNNING


def judged(runs: Iterable[Mapping[str, Any]], here: Here, nearness: float) -> list[Judged]:
    """Which runs resemble this project, and how each differs from it.

    Parameters
    ----------
    runs : iterable of mapping
        Rows with the keys of `COLUMNS`.
    here : Here
        This project.
    nearness : float
        A run whose sheet was cooler than here by more than this does not count, being gentler;
        a hotter one counts, being harder. [dK]

    Returns
    -------
    list of Judged
        In the order given. A run on another tool material never counts; every other difference
        is said and leaves the judgement to the reader.
    """
    return [_judge(run, here, nearness) for run in runs]


def from_project(title: str, decisions: Mapping[str, Decision]) -> list[dict]:
    """Runs of tools that a project's saved trial holds, as rows of experience.

    Parameters
    ----------
    title : str
        Title of the project, which becomes the origin.
    decisions : mapping of str to Decision
        Its saved decisions; without a trial there are no runs.

    Returns
    -------
    list of dict
        One row a tool, with the keys of `COLUMNS`.
    """
    trial = decisions.get("trial")
    if trial is None:
        return []
    common = _circumstances(decisions)
    measured = _measured(trial)
    if measured.get("cycle") is not None:
        common["cycle"] = measured["cycle"]
    if common["sheet_temperature"] is None:  # a face is hotter than the core that was decided
        common["sheet_temperature"] = measured.get("sheet_temperature")
    rows = []
    for run in trial.inputs.get("tools_run", ()):
        if run["shots"]:
            rows.append(common | {"origin": f"{title}, {run['tool'] or 'tool'}",
                                  "shots": run["shots"], "ended": run["ended"]})
    return rows


def _circumstances(decisions) -> dict:
    def of(step, *keys):
        decision = decisions.get(step)
        for key in keys if decision else ():
            value = decision.inputs.get(key, decision.results.get(key))
            if value is not None:
                return value.typical if isinstance(value, Band) else value
        return None

    method = of("brief", "forming_method") or ""
    shared = {"tool_material": tool_materials(), "sheet": sheets()}
    return {**{key: of("material", key) if of("material", key) in table else ""
               for key, table in shared.items()},
            "gauge": of("material", "gauge"), "wall": of("wall", "wall_thickness"),
            "method": method if method in dict(METHODS) else "",
            "cooling": str(of("heating", "cooling") or ""),
            "sheet_temperature": of("material", "sheet_temperature", "forming_normal"),
            "cycle": of("heating", "cycle")}


def _measured(trial: Decision) -> dict:
    """Means of what was measured on the shots."""
    found = {}
    for key in ("sheet_temperature", "cycle"):
        values = [shot[key] for shot in trial.inputs.get("shots", ()) if shot.get(key) is not None]
        if values:
            found[key] = sum(values) / len(values)
    return found


def _judge(run, here, nearness) -> Judged:
    differences, counts = [], True
    if here.tool_material and run["tool_material"] != here.tool_material:
        differences.append("another tool material" if run["tool_material"]
                           else "tool material not noted")
        counts = False
    if here.sheet and run["sheet"] != here.sheet:
        differences.append("another sheet" if run["sheet"] else "sheet not noted")
    gap = _gap(run, here, "sheet_temperature")
    if gap is None:
        differences.append("sheet temperature not noted")
    elif abs(gap) > 0.5:
        differences.append(f"sheet {abs(gap):.0f} K {'hotter' if gap > 0 else 'cooler'}")
        if gap < -nearness:
            differences[-1] += ", too gentle to count"
            counts = False
    differences += _ratios(run, here)
    if here.method and run["method"] and run["method"] != here.method:
        differences.append(f"by {run['method']}")
    return Judged(run, counts, tuple(differences))


def _ratios(run, here) -> list[str]:
    words = {"gauge": ("thicker", "thinner"), "wall": ("thicker wall", "thinner wall"),
             "cycle": ("slower", "faster")}
    found = []
    for key, (more, less) in words.items():
        there, now = run.get(key), getattr(here, key)
        if there and now and not 0.8 <= there / now <= 1.25:
            found.append(f"{there / now:.2g} times as {'long a cycle' if key == 'cycle' else key}"
                         f" ({more if there > now else less})")
    return found


def _gap(run, here, key) -> float | None:
    there, now = run.get(key), getattr(here, key)
    return None if there is None or now is None else there - now
