"""Thinning of the sheet, level by level.

area           mean gauge from the area ratio
elements       geometric elements: cones, cups, troughs, corners, boxes, drapes
hyperelastic   what the hot sheet is made of
axisymmetric   large-strain membrane of revolution on any tool profile
membrane       the same material in three dimensions on the tool's own mesh
pockets        air cut off between sheet and tool
verdict        how a run of the membrane judges itself
design         the design questions: starting gauge, bands on the least gauge
"""

from pathlib import Path

from thermoforming.physics.compiled import forget_outdated

forget_outdated(Path(__file__).parent)
