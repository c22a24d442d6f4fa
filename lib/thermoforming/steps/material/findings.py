"""Hard requirements: whether a candidate meets them, by how much it fails, what would help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from thermoforming.bands import Band
from thermoforming.units import with_unit

MEETS, DOUBTFUL, REFUSED = "meets", "doubtful", "refused"


@dataclass(frozen=True)
class Finding:
    """One requirement against one candidate; `remedy` says what would make it feasible."""

    requirement: str
    state: str
    text: str = ""
    remedy: str = ""


def worst(findings: Sequence[Finding]) -> str:
    """The state of a candidate: refused if one requirement refuses it."""
    states = {finding.state for finding in findings}
    return REFUSED if REFUSED in states else DOUBTFUL if DOUBTFUL in states else MEETS


def reasons(findings: Sequence[Finding], state: str) -> str:
    """Why a candidate is in this state, with what would help."""
    if state == MEETS:
        return ""
    return " ".join(f"{f.text} {f.remedy}".strip() for f in findings if f.state == state)


def at_least(label: str, band: Band, need: float, shown: str, remedy: str = "") -> Finding:
    """A property that must reach a value: refused if its typical value does not."""
    return _judged(label, band, need, shown, remedy, +1.0)


def at_most(label: str, band: Band, need: float, shown: str, remedy: str = "") -> Finding:
    """A property that must not pass a value."""
    return _judged(label, band, need, shown, remedy, -1.0)


def must(label: str, met: bool, text: str, remedy: str = "") -> Finding:
    """A yes-or-no requirement."""
    return Finding(label, MEETS) if met else Finding(label, REFUSED, text, remedy)


def _judged(label: str, band: Band, need: float, shown: str, remedy: str, sign: float) -> Finding:
    reserve = band.scaled(sign).shifted(-sign * need)
    if reserve.low >= 0.0:
        return Finding(label, MEETS)
    verb = "short of" if sign > 0 else "above"
    has = f"{label[0].upper()}{label[1:]} {with_unit(band.typical, shown)}"
    if reserve.typical >= 0.0:
        end = with_unit(band.low if sign > 0 else band.high, shown)
        return Finding(label, DOUBTFUL, f"{has} meets {with_unit(need, shown)}, but the "
                                        f"{'low' if sign > 0 else 'high'} end, {end}, does not.")
    gap = with_unit(-reserve.typical, "K" if shown == "°C" else shown)
    best = "" if reserve.high < 0.0 else "The favourable end of its band would do. "
    return Finding(label, REFUSED, f"{has} is {gap} {verb} {with_unit(need, shown)}.",
                   (best + remedy).strip())
