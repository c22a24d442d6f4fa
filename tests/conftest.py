"""The same examples on every run, however slow the machine: a red test must mean something."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True, database=None)
settings.load_profile("steady")
