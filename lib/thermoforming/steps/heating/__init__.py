"""How the sheet is heated, how long it stays formable, how it cools, and what the cycle is."""

from thermoforming.steps.heating.decide import STEP

__all__ = ["STEP"]
