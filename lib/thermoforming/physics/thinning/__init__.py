"""Thinning of the sheet, level by level.

area           mean gauge from the area ratio
elements       geometric elements: cones, cups, troughs, corners, boxes, drapes
hyperelastic   what the hot sheet is made of
axisymmetric   large-strain membrane of revolution on any tool profile
membrane       the same material in three dimensions on the tool's own mesh
design         the design questions: starting gauge, bands on the least gauge
"""
