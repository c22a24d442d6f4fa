"""Sheet thinning: gauge everywhere on the formed part, by four levels of calculation."""

from thermoforming.steps.thinning.decide import STEP

__all__ = ["STEP"]
