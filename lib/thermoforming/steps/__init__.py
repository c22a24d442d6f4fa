"""One module a decision, in the order in which the thread passes through them."""

from __future__ import annotations

from functools import cache
from importlib import import_module

ORDER = ("brief", "material", "shrinkage", "thinning", "heating", "vents", "wall", "tool", "route",
         "trial")


@cache
def step(key: str):
    """The `Step` declared in the module of that name."""
    return import_module(f"thermoforming.steps.{key}").STEP


def standing_on() -> dict[str, tuple[str, ...]]:
    """Which decisions each one may stand on, in order of the thread."""
    return {key: tuple(other for other in step(key).upstream if other in ORDER) for key in ORDER}
