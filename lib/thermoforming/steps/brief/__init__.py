"""The brief: the part, what it must keep to, how many, and the machine it is formed on."""

from thermoforming.steps.brief.decide import STEP
from thermoforming.steps.brief.part import part_surface

__all__ = ["STEP", "part_surface"]
