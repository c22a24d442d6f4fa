"""Distances between the faces on both sides of a place picked on the part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused, finite


@dataclass(frozen=True, eq=False)
class Across:
    """Two faces on either side of a place.

    Parameters
    ----------
    distance : float
        Between them along the direction. [m]
    faces : tuple of int
        The triangle hit against the direction and the one hit along it. [-]
    ends : array, shape (2, 3)
        Where they are hit. [m]
    """

    distance: float
    faces: tuple[int, int]
    ends: np.ndarray


def across(surface: Surface, place, direction) -> Across:
    """Distance between the nearest faces on both sides of a place, along a direction.

    Parameters
    ----------
    surface : Surface
        Any mesh. [m]
    place : sequence of float
        A point between the two faces: inside a cavity, or inside a boss. [m]
    direction : sequence of float
        Along which to measure. [-]

    Raises
    ------
    Refused
        If a number is not finite, the direction has no length, or there is no face on a side.
    """
    place = np.asarray(finite("place", place), dtype=float)
    direction = np.asarray(finite("direction", direction), dtype=float)
    length = np.linalg.norm(direction)
    if length == 0.0:
        raise Refused("direction", "The direction must not be all zero.")
    direction = direction / length
    way, faces = _hits(surface, place, direction)
    before, after = way < 0.0, way > 0.0
    if not before.any() or not after.any():
        raise Refused("place", "There is no face on both sides of the place picked: it must lie "
                               "between the two faces, inside the part's cavity or boss.")
    first = np.flatnonzero(before)[np.argmax(way[before])]
    last = np.flatnonzero(after)[np.argmin(way[after])]
    ends = place + np.outer(way[[first, last]], direction)
    return Across(float(way[last] - way[first]), (int(faces[first]), int(faces[last])), ends)


def depth_below(surface: Surface, place, level: float = 0.0) -> float:
    """How far the highest face under or over a place in plan lies below a level.

    Parameters
    ----------
    surface : Surface
        Tool side, pull along z. [m]
    place : sequence of float
        The place; its height does not matter. [m]
    level : float
        Height from which to measure. [m]

    Returns
    -------
    float
        Depth, negative above the level. [m]

    Raises
    ------
    Refused
        If there is no face there.
    """
    place = np.array([*np.asarray(finite("place", place), dtype=float)[:2], level])
    way, _ = _hits(surface, place, np.array([0.0, 0.0, 1.0]))
    if len(way) == 0:
        raise Refused("place", "The place picked is beside the part.")
    return float(-way.max())


def _hits(surface: Surface, place, direction):
    """Signed way to every triangle that the line meets, and which it is."""
    near = _beside_the_line(surface, place, direction)
    a, b, c = np.moveaxis(surface.corners[near], 1, 0)
    edge1, edge2, away = b - a, c - a, place - a
    square = np.cross(direction, edge2)
    det = np.einsum("ij,ij->i", edge1, square)
    met = np.flatnonzero(np.abs(det) > 1e-9 * surface.areas[near])
    u = np.einsum("ij,ij->i", away[met], square[met]) / det[met]
    turned = np.cross(away[met], edge1[met])
    v = turned @ direction / det[met]
    inside = (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1.0 + 1e-9)
    way = np.einsum("ij,ij->i", edge2[met], turned) / det[met]
    return way[inside], near[met[inside]]


def _beside_the_line(surface: Surface, place, direction) -> np.ndarray:
    """Triangles whose box, seen along the line, has the line in it."""
    across_line = np.linalg.svd(direction[None])[2][1:]
    slack = 1e-9 * float(surface.size.max())
    chosen = np.arange(len(surface.faces))
    for axis in across_line:
        side = (surface.vertices - place) @ axis
        here = side[surface.faces[chosen]]
        chosen = chosen[(here.min(axis=1) <= slack) & (here.max(axis=1) >= -slack)]
    return chosen
