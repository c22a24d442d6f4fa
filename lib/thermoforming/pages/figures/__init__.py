"""Figures of each page: `panels()` of the module named like the step."""
