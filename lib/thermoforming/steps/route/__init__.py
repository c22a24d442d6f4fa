"""The choice of route: cost, days and tool life."""

from thermoforming.steps.route.decide import STEP, trim_tolerance

__all__ = ["STEP", "trim_tolerance"]
