"""Straight lines along the pull through a mesh: what lies above a point, and what a line crosses.

The mesh is turned so that the pull is z; each triangle is entered in the cells of a plan grid that
it touches, so that a line has to be tried against a handful of triangles only. Crossings are
exact, the grid only makes them quick.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused, finite

MOST_CROSSINGS = 64


class Columns(NamedTuple):
    """Triangles sorted into plan cells. Made by `columns`."""

    corners: np.ndarray  # (m, 3, 3), pull along z [m]
    low: np.ndarray      # corner of the grid in plan [m]
    cell: float          # edge of a cell [m]
    shape: tuple[int, int]
    start: np.ndarray    # first entry of each cell in `members`
    members: np.ndarray  # triangle numbers by cell


def rotation_to(pull) -> np.ndarray:
    """Rotation that turns the pull to +z by the shortest way, shape (3, 3). [-]

    Raises
    ------
    Refused
        If the pull has no length or is not finite.
    """
    pull = np.asarray(finite("pull", pull), dtype=float)
    length = np.linalg.norm(pull)
    if pull.shape != (3,) or length == 0.0:
        raise Refused("pull", "The pull must be a direction of three numbers, not all zero.")
    x, y, z = pull / length
    if z < -1.0 + 1e-12:
        return np.diag([1.0, -1.0, -1.0])
    k = 1.0 / (1.0 + z)
    return np.array([[1 - k * x * x, -k * x * y, -x], [-k * x * y, 1 - k * y * y, -y], [x, y, z]])


def columns(surface: Surface, pull=(0.0, 0.0, 1.0)) -> Columns:
    """Sort the triangles of a surface into plan cells seen along the pull.

    Parameters
    ----------
    surface : Surface
        Tool side. [m]
    pull : sequence of float
        Direction in which the part leaves the tool. [-]
    """
    corners = np.ascontiguousarray(surface.corners @ rotation_to(pull).T)
    low, high = corners[..., :2].min(axis=(0, 1)), corners[..., :2].max(axis=(0, 1))
    size = np.maximum(high - low, 1e-12)
    cells = min(max(len(corners) / 2, 1024.0), 1e6)
    cell = float(np.sqrt(size[0] * size[1] / cells) + 1e-15)
    cell = max(cell, float(size.max()) / 4000)
    nx, ny = (int(s // cell) + 1 for s in size)
    count = _enter(corners, low, cell, nx, ny, np.zeros(1, np.int64), np.zeros(0, np.int64))
    start = np.concatenate([[0], np.cumsum(count)])
    members = np.empty(start[-1], np.int64)
    _enter(corners, low, cell, nx, ny, start, members)
    return Columns(corners, low, cell, (nx, ny), start, members)


@njit(cache=True, nogil=True)
def _enter(corners, low, cell, nx, ny, start, members):
    """Count the triangles of each cell, and write them too where `members` has room."""
    count = np.zeros(nx * ny, np.int64)
    for t in range(corners.shape[0]):
        y_low = min(corners[t, 0, 1], corners[t, 1, 1], corners[t, 2, 1])
        y_high = max(corners[t, 0, 1], corners[t, 1, 1], corners[t, 2, 1])
        first = max(0, int((y_low - low[1]) / cell - 1e-9))
        last = min(ny - 1, int((y_high - low[1]) / cell + 1e-9))
        for row in range(first, last + 1):
            a, b = _span(corners, t, low[1] + row * cell, low[1] + (row + 1) * cell)
            left = max(0, int((a - low[0]) / cell - 1e-9))
            right = min(nx - 1, int((b - low[0]) / cell + 1e-9))
            for column in range(left, right + 1):
                c = row * nx + column
                if members.shape[0]:
                    members[start[c] + count[c]] = t
                count[c] += 1
    return count


@njit(cache=True)
def _span(corners, t, y0, y1):
    """Lowest and highest x of a triangle between two values of y."""
    a, b = np.inf, -np.inf
    for k in range(3):
        px, py = corners[t, k, 0], corners[t, k, 1]
        qx, qy = corners[t, (k + 1) % 3, 0], corners[t, (k + 1) % 3, 1]
        if min(py, qy) > y1 or max(py, qy) < y0:
            continue
        s, e = 0.0, 1.0
        if py != qy:
            u, v = (y0 - py) / (qy - py), (y1 - py) / (qy - py)
            s, e = max(0.0, min(u, v)), min(1.0, max(u, v))
        for w in (s, e):
            x = px + w * (qx - px)
            a, b = min(a, x), max(b, x)
    return a, b


@njit(cache=True)
def _height(corners, t, x, y):
    """Height of triangle t over (x, y) and twice its signed plan area; nan where it is not."""
    ax, ay = corners[t, 0, 0] - x, corners[t, 0, 1] - y
    bx, by = corners[t, 1, 0] - x, corners[t, 1, 1] - y
    cx, cy = corners[t, 2, 0] - x, corners[t, 2, 1] - y
    u, v, w = bx * cy - by * cx, cx * ay - cy * ax, ax * by - ay * bx
    if (u < 0.0 or v < 0.0 or w < 0.0) and (u > 0.0 or v > 0.0 or w > 0.0):
        return np.nan, 0.0
    area = u + v + w
    if area == 0.0:
        return np.nan, 0.0
    z = (u * corners[t, 0, 2] + v * corners[t, 1, 2] + w * corners[t, 2, 2]) / area
    return z, area


@njit(cache=True, nogil=True)
def covered(table: Columns, points):
    """Whether any triangle lies above each point (in the turned frame of the table)."""
    hidden = np.zeros(points.shape[0], np.bool_)
    nx, ny = table.shape
    for i in range(points.shape[0]):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        column, row = int((x - table.low[0]) / table.cell), int((y - table.low[1]) / table.cell)
        if x < table.low[0] or y < table.low[1] or column >= nx or row >= ny:
            continue
        c = row * nx + column
        for k in range(table.start[c], table.start[c + 1]):
            height, _ = _height(table.corners, table.members[k], x, y)
            if height > z:
                hidden[i] = True
                break
    return hidden


@njit(cache=True, nogil=True)
def top(table: Columns, xs, ys):
    """Height of the highest triangle over every (x, y) of a grid; nan beside the mesh. [m]"""
    heights = np.full((ys.shape[0], xs.shape[0]), np.nan)
    nx, ny = table.shape
    for j in range(ys.shape[0]):
        for i in range(xs.shape[0]):
            column = int((xs[i] - table.low[0]) / table.cell)
            row = int((ys[j] - table.low[1]) / table.cell)
            if xs[i] < table.low[0] or ys[j] < table.low[1] or column >= nx or row >= ny:
                continue
            c = row * nx + column
            for k in range(table.start[c], table.start[c + 1]):
                z, _ = _height(table.corners, table.members[k], xs[i], ys[j])
                if not np.isnan(z) and not z <= heights[j, i]:
                    heights[j, i] = z
    return heights


@njit(cache=True, nogil=True)
def roofed(table: Columns, xs, ys, share):
    """Length of free space under a roof along lines, added up by the triangle that roofs it.

    Parameters
    ----------
    table : Columns
        The mesh.
    xs, ys : arrays
        Grid of lines in plan. [m]
    share : array, shape (m,)
        Filled with the sum of lengths under each triangle that faces down. [m]

    Returns
    -------
    array, shape (len(ys), len(xs))
        Length of free space under roofs on each line. [m]
    """
    lengths = np.zeros((ys.shape[0], xs.shape[0]))
    z, up, who = (np.empty(MOST_CROSSINGS), np.empty(MOST_CROSSINGS, np.bool_),
                  np.empty(MOST_CROSSINGS, np.int64))
    nx, ny = table.shape
    for j in range(ys.shape[0]):
        for i in range(xs.shape[0]):
            column = int((xs[i] - table.low[0]) / table.cell)
            row = int((ys[j] - table.low[1]) / table.cell)
            if xs[i] < table.low[0] or ys[j] < table.low[1] or column >= nx or row >= ny:
                continue
            c, n = row * nx + column, 0
            for k in range(table.start[c], table.start[c + 1]):
                height, area = _height(table.corners, table.members[k], xs[i], ys[j])
                if np.isnan(height) or n == MOST_CROSSINGS:
                    continue
                p = n
                while p > 0 and z[p - 1] > height:
                    z[p], up[p], who[p] = z[p - 1], up[p - 1], who[p - 1]
                    p -= 1
                z[p], up[p], who[p] = height, area > 0.0, table.members[k]
                n += 1
            for p in range(1, n):
                if up[p - 1] and not up[p]:
                    lengths[j, i] += z[p] - z[p - 1]
                    share[who[p]] += z[p] - z[p - 1]
    return lengths
