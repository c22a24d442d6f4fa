"""First articles: what was measured, how it compares, what it teaches, what to change."""

from thermoforming.steps.trial.decide import STEP

__all__ = ["STEP"]
