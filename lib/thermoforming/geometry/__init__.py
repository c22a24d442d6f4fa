"""Meshes in metres: read and check them, build parametric shapes, measure them. No physics."""
