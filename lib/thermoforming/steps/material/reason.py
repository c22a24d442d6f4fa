"""The reason of a choice, written from its numbers for the engineer to edit."""

from __future__ import annotations

from thermoforming.steps.compare import Comparison
from thermoforming.steps.material.findings import DOUBTFUL, REFUSED


def reason(chosen: str, short: dict[str, str], comparison: Comparison | None,
           states: dict[str, str], why: dict[str, str], weights: dict[str, float],
           labels: dict[str, str]) -> str:
    """Sentences on one choice: requirements, weights, how often first, what it cannot be told from.
    """
    name = short[chosen]
    if states[chosen] == REFUSED:
        return f"{name} is refused: {why[chosen]}"
    refused = [short[key] for key, state in states.items() if state == REFUSED]
    said = [f"{name} meets the hard requirements"
            + ("; not beyond doubt: " + why[chosen] if states[chosen] == DOUBTFUL else ".")]
    if refused:
        said.append(f"Refused: {', '.join(refused)}.")
    said.append(_weighed(weights, labels))
    if comparison is not None:
        said += _standing(chosen, short, comparison)
    return " ".join(said)


def _weighed(weights: dict[str, float], labels: dict[str, str]) -> str:
    used = sorted(((w, labels[key]) for key, w in weights.items() if w > 0), reverse=True)
    if not used:
        return "No weights are set, so all that meet the requirements count the same."
    total = sum(w for w, _ in used)
    return "Weighed: " + ", ".join(f"{label.lower()} {w / total:.0%}" for w, label in used) + "."


def _standing(chosen: str, short: dict[str, str], comparison: Comparison) -> list[str]:
    here = comparison.keys.index(chosen)
    leader = comparison.order()[0]
    said = [f"It comes first in {comparison.first[here]:.0%} of the samples of the bands."]
    if leader != here:
        said.append(f"{short[comparison.keys[leader]]} does so in "
                    f"{comparison.first[leader]:.0%}, and is better than {short[chosen]} in "
                    f"{comparison.beats[leader, here]:.0%}.")
    alike = [short[comparison.keys[j if i == here else i]]
             for i, j in comparison.alike() if here in (i, j)]
    if alike:
        said.append(f"On these numbers it cannot be told apart from {', '.join(alike)}.")
    return said
