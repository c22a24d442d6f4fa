"""A coarser copy of a mesh that a browser can turn."""

from __future__ import annotations

import numpy as np

from thermoforming.geometry.surface import Surface
from thermoforming.guard import within

MOST_SHOWN = 40_000


def coarser(surface: Surface, most: int = MOST_SHOWN) -> tuple[Surface, np.ndarray]:
    """A mesh of at most so many triangles, and which triangle of the original each one stands for.

    Points within a cell of a grid become one; triangles that lose their area drop out. The mesh is
    for looking at: nothing is measured on it.

    Parameters
    ----------
    surface : Surface
        The original; returned as it is when small enough. [m]
    most : int
        Triangles wanted at most, >= 200. [-]
    """
    within("triangles shown", most, 200)
    if len(surface.faces) <= most:
        return surface, np.arange(len(surface.faces))
    cell = float(np.sqrt(2.0 * surface.area / most))
    while True:
        shown, origin = _clustered(surface, cell)
        if len(origin) <= most:
            return shown, origin
        cell *= 1.15


def _clustered(surface: Surface, cell: float) -> tuple[Surface, np.ndarray]:
    steps = np.floor((surface.vertices - surface.bounds[0]) / cell).astype(np.int64)
    span = steps.max(axis=0) + 1
    _, first, number = np.unique((steps[:, 0] * span[1] + steps[:, 1]) * span[2] + steps[:, 2],
                                 return_index=True, return_inverse=True)
    faces = number.reshape(-1)[surface.faces]
    kept = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (
        faces[:, 2] != faces[:, 0])
    origin = np.flatnonzero(kept)
    _, once = np.unique(np.sort(faces[origin], axis=1), axis=0, return_index=True)
    origin = origin[np.sort(once)]
    return Surface(surface.vertices[first], faces[origin]), origin
