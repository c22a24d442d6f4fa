"""Draft and undercut of a tool surface for a pull: by the normals and by visibility, both."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import cos, radians, sin, tan

import numpy as np
from scipy.ndimage import distance_transform_edt
from scipy.optimize import minimize

from thermoforming.geometry.columns import columns, covered, roofed, rotation_to, top
from thermoforming.geometry.regions import Region, regions
from thermoforming.geometry.surface import Surface
from thermoforming.guard import within

BANDS = tuple(radians(a) for a in (0.0, 0.5, 1.0, 2.0, 3.0, 5.0, 15.0, 90.0))
UPRIGHT = radians(0.02)  # a wall this close to the pull is upright, not undercut: rounding of files
_SAMPLES = np.array([[1, 1, 1], [10, 1, 1], [1, 10, 1], [1, 1, 10]]) / [[3], [12], [12], [12]]


def pull_direction(tilt_x: float, tilt_y: float) -> np.ndarray:
    """Unit pull, tilted from +z towards +x and towards +y.

    Parameters
    ----------
    tilt_x, tilt_y : float
        Angles between the pull's shadow on the xz and yz plane and z, -1.4 to 1.4. [rad]
    """
    within("tilt towards x", tilt_x, -1.4, 1.4, "rad")
    within("tilt towards y", tilt_y, -1.4, 1.4, "rad")
    pull = np.array([tan(tilt_x), tan(tilt_y), 1.0])
    return pull / np.linalg.norm(pull)


def draft_angles(surface: Surface, pull=(0.0, 0.0, 1.0)) -> np.ndarray:
    """Angle between each triangle and the pull: 90 deg on a floor, 0 upright, negative overhung.

    Returns
    -------
    array, shape (m,)
        Draft. [rad]
    """
    direction = rotation_to(pull)[2]
    return np.arcsin(np.clip(surface.normals @ direction, -1.0, 1.0))


def area_by_band(surface: Surface, drafts: np.ndarray, limits=BANDS) -> np.ndarray:
    """Area of the triangles below the first limit and between each limit and the next. [m2]"""
    place = np.clip(np.searchsorted(limits, drafts, side="right"), 0, len(limits) - 1)
    return np.bincount(place, surface.areas, minlength=len(limits))


@dataclass(frozen=True, eq=False)
class Undercut:
    """What the pull cannot free.

    Parameters
    ----------
    surface : Surface
        Tool side. [m]
    pull : array, shape (3,)
        Unit direction. [-]
    drafts : array, shape (m,)
        By triangle. [rad]
    hidden : array, shape (m,)
        Share of each triangle that something overhangs, 1 where it faces down. [-]
    """

    surface: Surface
    pull: np.ndarray
    drafts: np.ndarray
    hidden: np.ndarray

    @cached_property
    def area(self) -> float:
        """Area overhung or facing down. [m2]"""
        return float(self.hidden @ self.surface.areas)

    def below(self, required) -> np.ndarray:
        """Triangles that are free but have less draft than required (scalar or by triangle)."""
        return (self.drafts < required) & (self.hidden < 0.5)


def undercut(surface: Surface, pull=(0.0, 0.0, 1.0)) -> Undercut:
    """Which triangles are overhung, by normals and by visibility along the pull.

    Parameters
    ----------
    surface : Surface
        Tool side, normals towards the sheet. [m]
    pull : sequence of float
        Direction in which the part leaves the tool. [-]

    Returns
    -------
    Undercut
        Draft and hidden share of every triangle.

    Notes
    -----
    A triangle is looked at from four places just off its surface; one of them hidden counts as a
    quarter. Triangles that face down by more than 0.02 degrees are hidden whatever is above them.
    """
    drafts = draft_angles(surface, pull)
    turn = rotation_to(pull)
    table = columns(surface, pull)
    off = 1e-6 * float(np.linalg.norm(surface.size))
    lift = off * (surface.normals @ turn.T) + [0.0, 0.0, off]
    share = np.zeros(len(drafts))
    for weights in _SAMPLES:
        share += covered(table, np.einsum("k,mkd->md", weights, table.corners) + lift) / 4
    share[drafts < -UPRIGHT] = 1.0
    return Undercut(surface, turn[2], drafts, share)


@dataclass(frozen=True, eq=False)
class Trapped(Region):
    """An undercut region.

    Parameters
    ----------
    volume : float
        Space under its roof that the part fills when it is formed into it. [m3]
    depth : float
        How far sideways the part must give way to come free; infinite when enclosed. [m]
    """

    volume: float = 0.0
    depth: float = 0.0


def undercut_regions(found: Undercut, cells: int = 700, least_area: float = 1e-6) -> list[Trapped]:
    """Named undercut regions with volume and depth.

    Parameters
    ----------
    found : Undercut
        From `undercut`.
    cells : int
        Lines along the longer side of the plan, 50 to 4000: volume and depth are this fine. [-]
    least_area : float
        Smaller regions are left out, >= 0. [m2]

    Notes
    -----
    The volume is the length of free space under a roof, summed over a grid of lines along the
    pull. The depth of a point is its distance, square to the pull, from the nearest place that is
    open upwards at its height; a region has the depth of its deepest point.
    """
    within("cells", cells, 50, 4000)
    named = regions(found.surface, found.hidden >= 0.5, "U", found.drafts, least_area)
    if not named:
        return []
    table = columns(found.surface, found.pull)
    xs, ys, cell = _grid(table.corners, cells)
    lengths = np.zeros(len(found.drafts))
    roofed(table, xs, ys, lengths)
    heights = top(table, xs, ys)
    return [Trapped(**vars(region), volume=float(lengths[region.faces].sum()) * cell**2,
                    depth=_depth(_near_corners(table.corners[region.faces]), heights, xs, ys, cell))
            for region in named]


def _near_corners(corners) -> np.ndarray:
    """Points just inside the corners of triangles."""
    return (corners + 0.02 * (corners.mean(axis=1, keepdims=True) - corners)).reshape(-1, 3)


def _grid(corners, cells: int):
    low, high = corners[..., :2].min(axis=(0, 1)), corners[..., :2].max(axis=(0, 1))
    cell = float((high - low).max()) / cells
    # an irrational share of a cell keeps the lines off edges that are aligned with the axes
    xs, ys = (np.arange(low[i] + 0.4142 * cell, high[i], cell) for i in (0, 1))
    return xs, ys, cell


def _depth(points, heights, xs, ys, cell: float) -> float:
    """Largest sideways way to the open, at a few heights between the region's ends."""
    column = np.clip(np.rint((points[:, 0] - xs[0]) / cell).astype(int), 0, len(xs) - 1)
    row = np.clip(np.rint((points[:, 1] - ys[0]) / cell).astype(int), 0, len(ys) - 1)
    levels = np.linspace(points[:, 2].min(), points[:, 2].max(), 12)
    nearest = np.abs(points[:, 2, None] - levels).argmin(axis=1)
    deepest = 0.0
    for i in np.unique(nearest):
        closed = heights > levels[i]
        if closed.all():
            return float("inf")
        way = distance_transform_edt(closed, sampling=cell)
        here = nearest == i
        deepest = max(deepest, float(way[row[here], column[here]].max()) - cell / 2)
    return max(deepest, 0.0)


def best_pull(surface: Surface, required: float = radians(3.0), most_tilt: float = radians(30.0),
              faces: int = 20_000) -> np.ndarray:
    """Pull with the least undercut, then the least area short of draft, then the least tilt.

    Parameters
    ----------
    surface : Surface
        Tool side, normals towards the sheet. [m]
    required : float
        Draft that walls should have, 0 to 0.5. [rad]
    most_tilt : float
        How far from +z the pull may lean, 0 to 1.2. [rad]
    faces : int
        Triangles on which directions are tried (a sample weighted by area in larger meshes). [-]

    Returns
    -------
    array, shape (3,)
        Unit direction. [-]
    """
    within("required draft", required, 0.0, 0.5, "rad")
    within("largest tilt", most_tilt, 0.0, 1.2, "rad")
    normals, areas = _few(surface, faces)

    def cost(tilt):
        size = float(np.hypot(*tilt))
        pull = _leaning(tilt, size)
        draft = np.arcsin(np.clip(normals @ pull, -1.0, 1.0))
        short = np.clip((required - draft) / max(required, 1e-3), 0.0, None)
        over = np.clip(-np.sin(draft), 0.0, None)
        beyond = max(0.0, size - most_tilt)
        return areas @ (100.0 * over + short**2) + 1e-3 * size + 100.0 * beyond

    starts = _cap(most_tilt, 60)
    firsts = sorted(starts, key=cost)[:3]
    found = [minimize(cost, start, method="Nelder-Mead",
                      options={"xatol": 1e-4, "fatol": 1e-9, "initial_simplex": start + np.array(
                          [[0, 0], [0.03, 0], [0, 0.03]])}).x for start in firsts]
    found = sorted([*found, np.zeros(2)], key=cost)
    best, least = None, np.inf
    for tilt in found:
        area = undercut(surface, _leaning(tilt)).area / surface.area
        if area < least - 1e-4:
            best, least = tilt, area
        if least < 1e-4:
            break
    return _leaning(best)


def _leaning(tilt, size: float | None = None) -> np.ndarray:
    size = float(np.hypot(*tilt)) if size is None else size
    if size == 0.0:
        return np.array([0.0, 0.0, 1.0])
    return np.array([*(np.asarray(tilt) / size * sin(size)), cos(size)])


def _cap(most: float, count: int) -> list[np.ndarray]:
    """Tilts spread evenly over a cap (sunflower pattern), the upright one first."""
    i = np.arange(count)
    radius, turn = most * np.sqrt(i / max(count - 1, 1)), i * np.pi * (3 - np.sqrt(5))
    return list(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)]))


def _few(surface: Surface, most: int):
    areas, normals = surface.areas / surface.area, surface.normals
    if len(areas) <= most:
        return normals, areas
    edges = (np.arange(most) + 0.5) / most
    chosen = np.searchsorted(np.cumsum(areas), edges)
    return normals[np.minimum(chosen, len(areas) - 1)], np.full(most, 1.0 / most)
