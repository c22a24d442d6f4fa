"""Which way of forming the depth and the details of a part ask for."""

from __future__ import annotations

from dataclasses import dataclass

from thermoforming.reference import rule
from thermoforming.units import with_unit

STRAIGHT, DRAPE, PLUG, BUBBLE, PRESSURE = ("straight vacuum", "drape", "plug assist",
                                           "pre-stretch", "pressure")
ASSISTED = (PLUG, BUBBLE)


@dataclass(frozen=True)
class Proposal:
    """A forming method with its reason."""

    method: str
    reason: str


def depth_limits(method: str):
    """The rule that limits depth to width for a method."""
    case = "depth to width, plug assist" if method in ASSISTED else \
        "depth to width, preferred below" if method in (DRAPE, PRESSURE) else \
        "depth to width, vacuum, female"
    return rule("draw", case)


def proposal(side: str, depth_ratio: float, smallest_internal: float, minimum_wall: float,
             texture_depth: float, plug: bool, pressure: float) -> Proposal:
    """Forming method by side, depth to width, detail and what the machine has.

    Straight vacuum (drape over a male form) is kept as long as its rule allows; deeper parts ask
    for a plug, or a bubble where there is none; detail that a bar cannot press the sheet into asks
    for pressure where the machine has it.
    """
    simple = DRAPE if side == "male" else STRAIGHT
    limit = depth_limits(simple).band.typical
    said = f"depth to width is {depth_ratio:.2f}"
    if depth_ratio > limit:
        deeper = PLUG if plug and side == "female" else BUBBLE
        return Proposal(deeper, f"{said}, above {limit:.2g} for {simple}")
    fine = texture_depth > 0.0 or smallest_internal < minimum_wall
    if fine and pressure > 0.0:
        detail = (f"a texture of {with_unit(texture_depth, 'mm')}" if texture_depth > 0.0 else
                  f"internal radii of {with_unit(smallest_internal, 'mm')}")
        return Proposal(PRESSURE, f"{said}, but {detail} asks for more than vacuum")
    return Proposal(simple, f"{said}, within {limit:.2g} for {simple}")
