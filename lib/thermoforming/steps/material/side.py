"""One of the two choices, worked through: what is refused, and how the rest compare."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from thermoforming.reference import Material
from thermoforming.steps import compare
from thermoforming.steps.material import findings as finding
from thermoforming.steps.material.reason import reason

WORD = {"sheet": "sheet", "tool": "tool material"}


@dataclass(frozen=True)
class Side:
    """One of the two choices (sheet, tool material) worked through."""

    kind: str
    materials: Mapping[str, Material]
    chosen: str
    findings: Mapping[str, list[finding.Finding]]
    criteria: tuple[compare.Criterion, ...]
    weights: Mapping[str, float]
    typical: Mapping[str, Mapping[str, float]]
    comparison: compare.Comparison | None

    @property
    def short(self) -> dict[str, str]:
        return {key: material.text("short") for key, material in self.materials.items()}

    @property
    def states(self) -> dict[str, str]:
        return {key: finding.worst(found) for key, found in self.findings.items()}

    @property
    def why(self) -> dict[str, str]:
        return {key: finding.reasons(found, finding.worst(found))
                for key, found in self.findings.items()}

    @property
    def reason(self) -> str:
        labels = {c.key: c.label for c in self.criteria}
        return reason(self.chosen, self.short, self.comparison, self.states, self.why,
                      self.weights, labels)

    @property
    def first(self) -> float:
        """Share of the samples in which the chosen one comes first; 0 where it is refused."""
        c = self.comparison
        return float(c.first[c.keys.index(self.chosen)]) if c and self.chosen in c.keys else 0.0

    @property
    def material(self) -> Material:
        return self.materials[self.chosen]
