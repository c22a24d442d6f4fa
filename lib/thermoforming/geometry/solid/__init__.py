"""The tool as a watertight solid, built from the tool-side surface and the decisions.

plan      what is to be built: wall, ribs, vents, drains, channels, holes, pieces
body      the block below the surface, with run-off and flange
hollow    the room below the wall, with its ribs
fittings  vents, drains, holes, dowels and channels
pieces    splitting into build volumes with registered joints
audit     what was built: watertight, walls, gaps, open vents
build     all of it in order

Lengths are metres; the boolean library works on millimetres inside (`MM`), where its tolerances
suit a tool.
"""

from thermoforming.geometry.solid.audit import Audit, Fault
from thermoforming.geometry.solid.build import Built, build
from thermoforming.geometry.solid.plan import Channel, Drain, Hole, ToolPlan, Vent

__all__ = ["Audit", "Built", "Channel", "Drain", "Fault", "Hole", "ToolPlan", "Vent", "build"]
