"""The choice of sheet, tool material and build process."""

from thermoforming.steps.material.decide import STEP, chosen_sheet, chosen_tool

__all__ = ["STEP", "chosen_sheet", "chosen_tool"]
