"""What to believe of a tool's life here, and how many tools the batch takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.physics import toollife
from thermoforming.reference import tool_materials
from thermoforming.steps.earlier import found
from thermoforming.steps.experience import Here, Judged, judged
from thermoforming.steps.route.fields import sheet_key
from thermoforming.steps.upstream import Upstream

SAMPLES = 400


@dataclass(frozen=True)
class Life:
    """Belief about one material's characteristic life, and the runs it stands on."""

    trade: Band
    runs: tuple[Judged, ...]
    grid: np.ndarray
    probability: np.ndarray
    lives: np.ndarray  # sampled whole-shot lives, one row a sample

    @property
    def evidence(self) -> list[Judged]:
        """The runs that count."""
        return [run for run in self.runs if run.counts]

    @property
    def shots(self) -> int:
        return int(sum(run.shots for run in self.evidence))

    @property
    def failures(self) -> int:
        return sum(run.ended for run in self.evidence)

    @property
    def characteristic(self) -> Band:
        """Characteristic life: 5th, 50th and 95th percentile of the belief."""
        return Band(*toollife.belief_quantile(self.grid, self.probability, [0.05, 0.5, 0.95]))


def here(upstream: Upstream, material: str, cycle: float) -> Here:
    """This project as far as it is decided, for a tool of some material."""
    temperature = found(upstream, "material", "sheet_temperature", "forming_normal")
    return Here(material, sheet_key(upstream), _number(temperature),
                _number(found(upstream, "material", "gauge")),
                found(upstream, "brief", "forming_method") or "",
                _number(found(upstream, "wall", "wall_thickness")), cycle)


def life(inputs: Mapping[str, Any], upstream: Upstream, material: str, cycle: float,
         most_shots: float) -> Life:
    """Belief about the life of a tool of this material here, ready for `most_shots` shots."""
    trade = tool_materials()[material].band("shots")
    runs = tuple(judged(inputs["experience"], here(upstream, material, cycle),
                        inputs["nearness"]))
    counting = [run for run in runs if run.counts]
    lives = tuple(run.shots for run in counting)
    ended = tuple(run.ended for run in counting)
    grid, probability, sampled = _believed(trade.low, trade.high, inputs["shape"], lives, ended,
                                           _tens(most_shots))
    return Life(trade, runs, grid, probability, sampled)


def pooled_bounds(found: Life, inputs: Mapping[str, Any]) -> dict[str, Any]:
    """What the counting runs prove on their own, without the trade's range."""
    evidence, confidence = found.evidence, inputs["confidence"]
    if not evidence:
        return {"reliability": None, "uniform": None, "characteristic": None, "limits": None}
    shots, failures = found.shots, found.failures
    return {
        "reliability": toollife.reliability_bound(shots, failures, confidence),
        "uniform": toollife.reliability_bound_uniform(shots, failures, confidence),
        "limits": toollife.failure_limits(shots, failures, confidence),
        "characteristic": toollife.life_bound([run.shots for run in evidence], failures,
                                              inputs["shape"], confidence),
    }


def shots_of_a_place(quantity, inputs: Mapping[str, Any]) -> np.ndarray:
    """Shots that each forming place makes for so many good parts, start-up and rejects included."""
    parts = np.asarray(quantity, float) / (1 - inputs["scrap"]) / inputs["forms"]
    return np.ceil(parts - 1e-9) + inputs["startup"] * inputs["batches"]


def tools_ordered(quantities: Sequence[float], inputs: Mapping[str, Any],
                  found: Life) -> np.ndarray:
    """Tools to order for each quantity at the accepted risk; infinite where none suffice."""
    used = np.sort(toollife.tools_used(shots_of_a_place(quantities, inputs), found.lives), axis=0)
    share = 1 - inputs["risk"] / inputs["forms"]  # any of the places may run out
    row = used[int(np.ceil(share * len(used))) - 1].astype(float)
    return np.where(row > found.lives.shape[1], np.inf, row) * inputs["forms"]


def tools_used_up(quantities: Sequence[float], inputs: Mapping[str, Any],
                  found: Life) -> np.ndarray:
    """Tools used up for each quantity: median first, then the sample."""
    used = toollife.tools_used(shots_of_a_place(quantities, inputs), found.lives).astype(float)
    return np.vstack([np.median(used, axis=0), used]) * inputs["forms"]


@lru_cache(maxsize=64)
def _believed(low, high, shape, lives, ended, most_shots):
    grid, probability = toollife.life_belief(low, high, shape, lives, ended)
    places = (np.arange(SAMPLES) + 0.5) / SAMPLES
    characteristic = toollife.belief_quantile(grid, probability, places)
    scarce = float(characteristic[SAMPLES // 20])
    tools = int(min(toollife.MOST_TOOLS, 4 + np.ceil(2.5 * most_shots / scarce)))
    return grid, probability, toollife.sampled_lives(characteristic, shape, tools)


def _tens(shots: float) -> float:
    """Rounded up to 1, 2 or 5 times a power of ten, so that a moving slider reuses the sample."""
    power = 10.0 ** np.floor(np.log10(max(shots, 1.0)))
    return float(next(m * power for m in (1, 2, 5, 10) if m * power >= shots))


def _number(value):
    return getattr(value, "typical", value)
