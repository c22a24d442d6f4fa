"""Formulas of the field: pure functions in SI on floats and arrays."""
