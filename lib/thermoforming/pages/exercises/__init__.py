"""Exercises of each page: `EXERCISES` of the module named like the step."""
