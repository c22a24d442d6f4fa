"""Formulas of the field: pure functions in SI on floats and arrays."""

from pathlib import Path

from thermoforming.physics.compiled import forget_outdated

forget_outdated(Path(__file__).parent)
