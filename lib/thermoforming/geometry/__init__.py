"""Meshes: read, check, measure and build. Knows no physics."""
