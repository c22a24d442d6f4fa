"""The room below the wall: the face shifted inward by the wall, and the ribs left standing in it.

The shift is a ball rolled along the underside of the face over a plan grid, so that the wall is
nowhere thinner than asked, whatever the face does; the grid makes it thicker by up to one cell.
"""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d as m3
import numpy as np
from scipy import ndimage

from thermoforming.geometry.columns import columns, top
from thermoforming.geometry.solid.body import solid
from thermoforming.geometry.solid.plan import MM
from thermoforming.geometry.surface import Surface

PEG_ROOM = 13e-3  # m of material that a registering peg and its socket need on each side


@dataclass(frozen=True)
class Underside:
    """Heights over a plan grid.

    Attributes
    ----------
    xs, ys : arrays
        Places. [m]
    face : array, shape (len(ys), len(xs))
        Lowest point of the face there; the rim's height beside the part. [m]
    """

    xs: np.ndarray
    ys: np.ndarray
    face: np.ndarray

    @property
    def cell(self) -> float:
        return float(self.xs[1] - self.xs[0])

    def shifted(self, distance: float) -> np.ndarray:
        """Highest z at which a point keeps `distance` from the face, by place. [m]"""
        reach = int(np.ceil(distance / self.cell))
        steps = np.arange(-reach, reach + 1) * self.cell
        square = steps[:, None] ** 2 + steps[None, :] ** 2
        inside = square <= distance**2
        ball = np.where(inside, np.sqrt(np.maximum(distance**2 - square, 0.0)), -np.inf)
        rolled = ndimage.grey_erosion(self.face, footprint=inside, structure=ball, mode="nearest")
        return ndimage.minimum_filter(rolled, size=3, mode="nearest")  # no chord cuts the wall

    def at(self, heights: np.ndarray, x, y) -> np.ndarray:
        """Heights of this grid at any places, between its points linearly. [m]"""
        i = (np.asarray(y) - self.ys[0]) / self.cell
        j = (np.asarray(x) - self.xs[0]) / self.cell
        return ndimage.map_coordinates(heights, [np.atleast_1d(i), np.atleast_1d(j)], order=1,
                                       mode="nearest")


def underside(surface: Surface, low, high, cell: float, rim: float) -> Underside:
    """Lowest height of the face over a grid from `low` to `high` in plan; `rim` beside it. [m]"""
    mirrored = Surface(surface.vertices * (1.0, 1.0, -1.0), surface.faces[:, ::-1])
    counts = np.maximum(np.ceil((np.asarray(high) - low) / cell).astype(int), 2)
    xs = low[0] + cell * np.arange(counts[0] + 1)
    ys = low[1] + cell * np.arange(counts[1] + 1)
    found = -top(columns(mirrored), xs, ys)
    return Underside(xs, ys, np.where(np.isnan(found), rim, found))


def room(grid: Underside, ceiling: np.ndarray, base: float, low, high) -> m3.Manifold:
    """The room from below the base up to `ceiling`, between `low` and `high` in plan. [m]"""
    slack = 1e-9
    keep_x, keep_y = ((line >= a - slack) & (line <= b + slack)
                      for line, a, b in zip((grid.xs, grid.ys), low, high, strict=True))
    return under(grid.xs[keep_x], grid.ys[keep_y], ceiling[np.ix_(keep_y, keep_x)], base)


def under(xs, ys, ceiling, base: float) -> m3.Manifold:
    """The solid below a height field, down to a plane well below `base`. [m]"""
    floor = base - 20e-3
    nx, ny = len(xs), len(ys)
    x, y = np.meshgrid(xs, ys)
    upper = np.column_stack([x.ravel(), y.ravel(), np.maximum(ceiling, base - 10e-3).ravel()])
    lower = upper.copy()
    lower[:, 2] = floor
    index = np.arange(nx * ny).reshape(ny, nx)
    a, b = index[:-1, :-1].ravel(), index[:-1, 1:].ravel()
    c, d = index[1:, 1:].ravel(), index[1:, :-1].ravel()
    above = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    around = np.concatenate([index[0, :], index[1:, -1], index[-1, -2::-1], index[-2:0:-1, 0]])
    p, q = around, np.roll(around, -1)
    n = nx * ny
    sides = np.vstack([np.column_stack([q, p, p + n]), np.column_stack([q, p + n, q + n])])
    faces = np.vstack([above, above[:, ::-1] + n, sides])
    return solid(np.vstack([upper, lower]), faces, "the room below the wall")


def rib_lines(low: float, high: float, count: int) -> np.ndarray:
    """Middles of ribs, evenly spaced between two outer walls. [m]"""
    return low + (high - low) * np.arange(1, count + 1) / (count + 1)


def rib_plates(low, high, base: float, height: float, thickness: float, counts,
               notch: float) -> m3.Manifold:
    """Upright plates in both directions with openings at the base between all rooms. [m]"""
    size = np.asarray(high) - low
    across_x, across_y = (rib_lines(low[k], high[k], counts[k]) for k in range(2))
    plates = [box((x - thickness / 2, low[1], base), (thickness, size[1], height))
              for x in across_x]
    plates += [box((low[0], y - thickness / 2, base), (size[0], thickness, height))
               for y in across_y]
    middles_x = _middles(low[0], across_x, high[0])
    middles_y = _middles(low[1], across_y, high[1])
    narrowest = min(np.diff(np.concatenate([[low[k]], lines, [high[k]]])).min()
                    for k, lines in enumerate((across_x, across_y)))
    width = min(narrowest / 3.0, 4.0 * notch)
    openings = [box((x - thickness, y - width / 2, base - 1e-3),
                    (2 * thickness, width, notch + 1e-3)) for x in across_x for y in middles_y]
    openings += [box((x - width / 2, y - thickness, base - 1e-3),
                     (width, 2 * thickness, notch + 1e-3)) for y in across_y for x in middles_x]
    return (m3.Manifold.batch_boolean(plates, m3.OpType.Add)
            - m3.Manifold.batch_boolean(openings, m3.OpType.Add))


def bulkhead(low, high, base: float, axis: int, at: float, half: float,
             notch: float) -> m3.Manifold:
    """An upright plate on both sides of a joint, deep enough for its pegs, with air notches. [m]"""
    half = max(half, PEG_ROOM)
    corner, size = np.array([*low, base - 5e-3]), np.array([*(high - low), 1.0])
    corner[axis], size[axis] = at - half, 2 * half
    other = 1 - axis
    width = 4.0 * notch
    opening_corner, opening_size = corner.copy(), size.copy()
    opening_corner[other] = 0.5 * (low[other] + high[other]) - width / 2
    opening_size[other] = width
    opening_size[2] = 5e-3 + notch
    return box(corner, size) - box(opening_corner, opening_size)


def _middles(low: float, lines: np.ndarray, high: float) -> np.ndarray:
    ends = np.concatenate([[low], lines, [high]])
    return 0.5 * (ends[1:] + ends[:-1])


def box(corner, size) -> m3.Manifold:
    """An upright block from its lowest corner and its size. [m]"""
    return m3.Manifold.cube([float(s) * MM for s in size]).translate(
        [float(c) * MM for c in corner])
