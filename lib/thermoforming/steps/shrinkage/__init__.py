"""Shrinkage and draft: dimensions of the tool, whether they hold, and whether the part comes off."""

from thermoforming.steps.shrinkage.decide import STEP

__all__ = ["STEP"]
