"""The tool wall: stiff and cool enough, shot after shot."""

from thermoforming.steps.wall.decide import STEP

__all__ = ["STEP"]
