"""Dimensions of the tool, whether they hold the tolerances, and whether the part comes off."""

from thermoforming.steps.shrinkage.decide import STEP

__all__ = ["STEP"]
