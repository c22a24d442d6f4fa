"""Defects in the trade's words, with their usual causes in the order this project makes likely.

Every cause starts with the weight that common practice gives it. Where the project's own numbers
speak for or against it, the weight is multiplied or divided; the factors are judgement.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.reference.tables import read
from thermoforming.steps.base import as_band, typical
from thermoforming.steps.earlier import found, rows_found
from thermoforming.steps.material import chosen_sheet
from thermoforming.steps.trial.dimensions import SHRINKAGES, Model
from thermoforming.steps.trial.measured import Compared, Shots
from thermoforming.steps.upstream import Upstream
from thermoforming.units import with_unit

FOR, AGAINST = 4.0, 0.25  # how much a clear number multiplies a cause's weight; judgement
UNEVEN = 8.0  # spread of sheet temperatures that counts as uneven [K]
WEAK = 60e3  # pull below which detail suffers; judgement [Pa]
SHORT = 1e-5  # wall area short of draft that counts [m2]


@dataclass(frozen=True)
class Facts:
    """What the clues look at."""

    inputs: Mapping[str, Any]
    upstream: Upstream
    shots: Shots
    gauges: Compared | None
    model: Model | None


@dataclass(frozen=True)
class Clue:
    """Whether this project's numbers speak for a cause (1), against it (-1) or not at all (0)."""

    speaks: int
    words: str = ""


@dataclass(frozen=True)
class Cause:
    """One usual cause of a defect, with its share of the likelihood and what to try."""

    defect: str
    label: str
    cause: str
    share: float
    clue: Clue
    remedy: str


SILENT = Clue(0, "no number of this project speaks to it")


def causes(defect: str, facts: Facts) -> tuple[Cause, ...]:
    """The usual causes of a defect, the likeliest first."""
    rows = [row for row in read("defects") if row["defect"] == defect]
    clues = [clue(row["clue"], facts) for row in rows]
    weights = np.array([float(row["weight"]) * {1: FOR, 0: 1.0, -1: AGAINST}[c.speaks]
                        for row, c in zip(rows, clues, strict=True)])
    shares = weights / weights.sum()
    order = np.argsort(-shares, kind="stable")
    return tuple(Cause(defect, rows[i]["label"], rows[i]["cause"], float(shares[i]), clues[i],
                       rows[i]["try"]) for i in order)


def clue(key: str, facts: Facts) -> Clue:
    """What the project's numbers say about one clue of the table."""
    return CLUES[key](facts) if key in CLUES else SILENT


def _window(name: str, mark: str, hotter: bool) -> Callable[[Facts], Clue]:
    """A measured sheet temperature against an end of the forming window."""
    def look(facts: Facts) -> Clue:
        if facts.shots.sheet.size == 0:
            return Clue(0, "the sheet's temperature was not measured")
        sheet, mean = chosen_sheet(facts.upstream), float(facts.shots.sheet.mean())
        end, normal = sheet.band(mark).typical, sheet.band("forming_normal").typical
        beyond = mean > end - 3.0 if hotter else mean < end + 3.0
        clear = mean <= normal if hotter else mean >= normal
        words = f"sheet at {with_unit(mean, '°C')}, {name} {with_unit(end, '°C')}"
        return Clue(1 if beyond else -1 if clear else 0, words)
    return look


def _against(step: str, key: str, limit: Callable[[Facts], float | None], words: str, shown: str,
             above: bool = True) -> Callable[[Facts], Clue]:
    """A saved result against a limit: beyond speaks for the cause, well within against it."""
    def look(facts: Facts) -> Clue:
        value, bound = found(facts.upstream, step, key), limit(facts)
        if value is None or bound is None:
            return Clue(0, f"{words}: not decided yet")
        value, bound = typical(value), typical(bound)
        beyond = value > bound if above else value < bound
        clear = value < 0.8 * bound if above else value > 1.2 * bound
        return Clue(1 if beyond else -1 if clear else 0,
                    f"{words} {with_unit(value, shown)}, limit {with_unit(bound, shown)}")
    return look


def _of_sheet(key: str) -> Callable[[Facts], float | None]:
    def limit(facts: Facts):
        sheet = chosen_sheet(facts.upstream)
        return sheet.band(key).typical if key in sheet else None
    return limit


def _from(step: str, *keys: str) -> Callable[[Facts], float | None]:
    return lambda facts: found(facts.upstream, step, *keys)


def _tool_hot(facts: Facts) -> Clue:
    return _tool(facts, "set_temperature", "the part sets below", lambda mean, at: mean > at - 15)


def _tool_cold(facts: Facts) -> Clue:
    return _tool(facts, "tool_temperature", "usual for this sheet", lambda mean, at: mean < at - 15)


def _tool(facts, key, words, beyond) -> Clue:
    if facts.shots.tool.size == 0:
        return Clue(0, "the tool's temperature was not measured")
    mean, at = float(facts.shots.tool.mean()), _of_sheet(key)(facts)
    return Clue(1 if beyond(mean, at) else -1,
                f"tool at {with_unit(mean, '°C')}, {words} {with_unit(at, '°C')}")


def _uneven(facts: Facts) -> Clue:
    sheet = facts.shots.sheet
    if sheet.size < 2:
        return Clue(0, "fewer than two sheet temperatures")
    width = float(np.ptp(sheet))
    return Clue(1 if width > UNEVEN else 0,
                f"sheet temperatures lie within {with_unit(width, 'K')}")


def _moist(facts: Facts) -> Clue:
    sheet = chosen_sheet(facts.upstream)
    needs = "needs_drying" in sheet and sheet.flag("needs_drying")
    dried = facts.inputs["dried"]
    words = f"{sheet.text('short')} {'needs' if needs else 'needs no'} drying; " \
            f"it was {'' if dried else 'not '}dried"
    return Clue(1 if needs and not dried else -1 if dried or not needs else 0, words)


def _gauge_low(facts: Facts) -> Clue:
    used, decided = facts.inputs["sheet_gauge"], found(facts.upstream, "material", "gauge")
    if used is None or decided is None:
        return Clue(0, "the sheet was not measured")
    nominal = typical(decided)
    return Clue(1 if used < 0.97 * nominal else -1,
                f"sheet {with_unit(used, 'mm')}, decided {with_unit(nominal, 'mm')}")


def _gauge_uneven(facts: Facts) -> Clue:
    if facts.gauges is None or facts.gauges.agreement is None:
        return Clue(0, "no gauge was measured against the map")
    scatter = facts.gauges.agreement.scatter / float(facts.gauges.predicted.mean())
    return Clue(1 if scatter > 0.12 else -1,
                f"gauge scatters by {100 * scatter:.0f} % around the map")


def _cooling(short: bool) -> Callable[[Facts], Clue]:
    def look(facts: Facts) -> Clue:
        predicted = found(facts.upstream, "heating", "contact_time")
        values = [row["cooling_time"] for row in facts.inputs["shots"]
                  if row["cooling_time"] is not None]
        if predicted is None or not values:
            return Clue(0, "cooling was not timed, or not predicted")
        mean, need = float(np.mean(values)), as_band(predicted)
        beyond = mean < need.typical if short else mean > 1.5 * need.high
        return Clue(1 if beyond else -1,
                    f"cooled {with_unit(mean, 's')}, predicted {with_unit(need.typical, 's')}")
    return look


def _shrinkage(facts: Facts) -> Clue:
    if facts.model is None or not any(d.values.size for d in facts.model.dimensions):
        return Clue(0, "no dimension was measured")
    prior, after = facts.model.prior, facts.model.posterior
    shift = max((abs(after.mean[i] - prior.mean[i]) / max(prior.deviation[i], 1e-12)
                 for i in range(len(SHRINKAGES))))
    return Clue(1 if shift > 1.0 else -1,
                f"the data moved a shrinkage by {shift:.1f} of its uncertainty")


def _forms_close(facts: Facts) -> Clue:
    ratios = [1.0 / typical(row["slenderness"])
              for row in rows_found(facts.upstream, "brief", "gaps") if row["slenderness"]]
    if not ratios:
        return Clue(0, "no two forms stand beside each other in the brief's list")
    least = min(ratios)
    return Clue(1 if least < 1.0 else -1 if least > 1.75 else 0,
                f"least gap {least:.2g} times the height")


def _sharp(facts: Facts) -> Clue:
    radius = found(facts.upstream, "brief", "smallest_internal")
    gauge = found(facts.upstream, "material", "gauge")
    if radius is None or gauge is None:
        return Clue(0, "radius or gauge not decided")
    ratio = typical(radius) / typical(gauge)
    return Clue(1 if ratio < 1.5 else -1,
                f"smallest internal radius is {ratio:.2g} gauges")


def _deep(facts: Facts) -> Clue:
    ratio, sheet = found(facts.upstream, "brief", "draw_ratio_area"), chosen_sheet(facts.upstream)
    if ratio is None or "areal_draw_limit" not in sheet:
        return Clue(0, "area draw ratio not decided, or its limit not known")
    value, bound = typical(ratio), sheet.band("areal_draw_limit")
    return Clue(1 if value > bound.low else -1 if value < 0.8 * bound.low else 0,
                f"area draw ratio {value:.2g}, this sheet {bound.low:.2g} to {bound.high:.2g}")


CLUES: Mapping[str, Callable[[Facts], Clue]] = {
    "sheet_hot": _window("window ends at", "forming_high", True),
    "sheet_cold": _window("window begins at", "forming_low", False),
    "uneven_heat": _uneven,
    "tool_hot": _tool_hot,
    "tool_cold": _tool_cold,
    "slow_vacuum": _against("vents", "time", _from("vents", "available"), "vacuum in", "s"),
    "weak_vacuum": _against("vents", "final_pull", lambda _: WEAK, "pull at the end", "kPa",
                            above=False),
    "pockets": _against("vents", "pockets", lambda _: 0.5, "pockets", "-"),
    "vent_large": _against("vents", "bore", _from("vents", "largest_bore"), "bore", "mm"),
    "tool_flex": _against("wall", "deflection", _from("wall", "permitted"), "deflection", "mm"),
    "thin": _against("thinning", "least_gauge", _from("brief", "minimum_wall"), "least gauge",
                     "mm", above=False),
    "draft_small": _against("shrinkage", "short_area", lambda _: SHORT,
                            "walls short of draft", "cm²"),
    "deep_draw": _deep,
    "sharp_corner": _sharp,
    "forms_close": _forms_close,
    "moist": _moist,
    "gauge_low": _gauge_low,
    "gauge_uneven": _gauge_uneven,
    "short_cooling": _cooling(True),
    "long_cooling": _cooling(False),
    "shrinkage_moved": _shrinkage,
}
