"""Thinning of the sheet, level by level.

area           1: mean gauge from the area ratio
elements       2: geometric elements: cones, cups, troughs, corners, boxes, drapes
hyperelastic   what the hot sheet is made of
axisymmetric   3: large-strain membrane of revolution on any tool profile
ring_elements  its compiled kernels
membrane       4: the same material in three dimensions on the tool's own mesh
sheet, contact, relaxation, verdict, pockets
               its mesh, its tool, its solver, its judgement of itself, the air it cuts off
design         the design questions: starting gauge, bands on the least gauge, best setting
print_map      where each place of the flat sheet ends, and what to print there
"""

from pathlib import Path

from thermoforming.physics.compiled import forget_outdated

forget_outdated(Path(__file__).parent)
