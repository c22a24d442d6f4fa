"""Where the air leaves the tool, through how many holes of what size, and in what time."""

from thermoforming.steps.vents.decide import STEP

__all__ = ["STEP"]
