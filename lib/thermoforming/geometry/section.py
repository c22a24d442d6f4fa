"""The lines in which a plane cuts a mesh, for drawings."""

from __future__ import annotations

import numpy as np

from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused, finite


def section(surface: Surface, origin, normal) -> list[np.ndarray]:
    """Polylines in which a plane cuts the surface.

    Parameters
    ----------
    surface : Surface
        Any mesh. [m]
    origin : sequence of float
        A point of the plane. [m]
    normal : sequence of float
        Direction square to the plane, not all zero. [-]

    Returns
    -------
    list of array, shape (k, 3)
        Connected runs of points, the longest first; a closed run repeats its first point. [m]

    Raises
    ------
    Refused
        If a number is not finite, or the normal has no length.
    """
    return [points for points, _ in section_values(surface, origin, normal)]


def section_values(surface: Surface, origin, normal, values=None) -> list[tuple]:
    """As `section`, with values of the vertices carried to the points of the cut.

    Parameters
    ----------
    surface : Surface
        Any mesh. [m]
    origin, normal : sequence of float
        A point of the plane [m] and the direction square to it. [-]
    values : array, shape (n,), optional
        A value of each vertex. [any]

    Returns
    -------
    list of (array, array)
        Points [m] and values of each run, the longest first.
    """
    normal = np.asarray(finite("normal", normal), dtype=float)
    if np.linalg.norm(normal) == 0.0:
        raise Refused("normal", "The normal of the plane must not be all zero.")
    side = (surface.vertices - np.asarray(finite("origin", origin), dtype=float)) @ normal
    above = side >= 0.0  # a vertex in the plane counts as above: no case in between
    cut = surface.faces[np.ptp(above[surface.faces].astype(np.int8), axis=1) > 0]
    if len(cut) == 0:
        return []
    values = np.zeros(len(surface.vertices)) if values is None else np.asarray(values, float)
    keys, points, carried = _crossings(surface, cut, side, above, values)
    return sorted(((points[run], carried[run]) for run in _runs(keys)),
                  key=lambda run: _length(run[0]), reverse=True)


def _crossings(surface: Surface, cut, side, above, values):
    """For each cut triangle the numbers of its two crossed edges; each edge's point and value."""
    ends = np.stack([cut, np.roll(cut, -1, axis=1)], axis=2)
    crossed = above[ends[..., 0]] != above[ends[..., 1]]
    pairs = np.sort(ends[crossed].reshape(-1, 2), axis=1)
    edges, number = np.unique(pairs, axis=0, return_inverse=True)
    a, b = side[edges[:, 0]], side[edges[:, 1]]
    share = (a / (a - b))[:, None]
    start, stop = surface.vertices[edges[:, 0]], surface.vertices[edges[:, 1]]
    first, last = values[edges[:, 0]], values[edges[:, 1]]
    return (number.reshape(-1, 2), start + share * (stop - start),
            first + share[:, 0] * (last - first))


def _runs(keys: np.ndarray) -> list[list[int]]:
    """Chain pairs of numbers end to end."""
    near: dict[int, list[int]] = {}
    for i, (a, b) in enumerate(keys.tolist()):
        near.setdefault(a, []).append(i)
        near.setdefault(b, []).append(i)
    used = np.zeros(len(keys), dtype=bool)
    loose_ends = [key for key, at in near.items() if len(at) == 1]
    runs = []
    for start in [*loose_ends, *near]:
        run = _follow(start, near, keys, used)
        if len(run) > 1:
            runs.append(run)
    return runs


def _follow(start, near, keys, used) -> list[int]:
    run = [start]
    while True:
        onward = next((i for i in near[run[-1]] if not used[i]), None)
        if onward is None:
            return run
        used[onward] = True
        a, b = keys[onward]
        run.append(int(b if a == run[-1] else a))


def _length(points: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
