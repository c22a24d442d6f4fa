"""The tool: the ledger closed with what later pages found, and the solid built from them."""

from thermoforming.steps.tool.decide import STEP

__all__ = ["STEP"]
