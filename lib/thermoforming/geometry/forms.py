"""Forms seen from above: cavities and bosses, their draw, their gaps, flats, and a plan of heights.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians

import numpy as np
from scipy.ndimage import (
    binary_dilation,
    binary_erosion,
    binary_fill_holes,
    distance_transform_edt,
    label,
)
from scipy.spatial import ConvexHull, QhullError

from thermoforming.geometry.columns import columns, top
from thermoforming.geometry.regions import Region, regions
from thermoforming.geometry.soundness import rims
from thermoforming.geometry.surface import Surface
from thermoforming.guard import within

_AROUND = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, eq=False)
class HeightMap:
    """Top height over a grid of places in plan.

    Parameters
    ----------
    xs, ys : arrays
        Places. [m]
    heights : array, shape (len(ys), len(xs))
        Highest point there, nan beside the part. [m]
    cell : float
        Distance between places. [m]
    """

    xs: np.ndarray
    ys: np.ndarray
    heights: np.ndarray
    cell: float


@dataclass(frozen=True, eq=False)
class FormFound:
    """A cavity or a raised form, as it is found on the mesh.

    Parameters
    ----------
    name : str
        C1, C2, ... for cavities, B1, ... for raised forms and bosses, the deepest or highest first.
    centre : tuple of float
        Middle in plan. [m]
    box : tuple of tuple
        Lowest and highest x and y of its opening. [m]
    depth : float
        From its surroundings to its floor, or to its top. [m]
    width, length : float
        Sides of the smallest rectangle around its opening, the shorter first. [m]
    opening : float
        Plan area of its opening. [m2]
    surface_area : float
        Area of the tool inside its opening. [m2]
    faces : array of int
        Triangles of that area. [-]
    mask : array of bool
        Its places on the height map.
    inside : str
        Name of the cavity that holds it, or empty.
    """

    name: str
    centre: tuple[float, float]
    box: tuple[tuple[float, float], tuple[float, float]]
    depth: float
    width: float
    length: float
    opening: float
    surface_area: float
    faces: np.ndarray
    mask: np.ndarray
    inside: str = ""

    @property
    def draw(self) -> float:
        """Depth over width. [-]"""
        return self.depth / self.width

    @property
    def areal_draw(self) -> float:
        """Area of the form, base included, over its opening. [-]"""
        return self.surface_area / self.opening


@dataclass(frozen=True)
class Gap:
    """Distance between two neighbours.

    Parameters
    ----------
    between : tuple of str
        Names.
    width : float
        Least distance in plan: the web between two cavities, the channel beside a boss. [m]
    height : float
        Height of the lower of the two. [m]
    length : float
        Along how far they face each other within a quarter more than that distance. [m]
    """

    between: tuple[str, str]
    width: float
    height: float
    length: float

    @property
    def slenderness(self) -> float:
        """Height over width. [-]"""
        return self.height / self.width


def height_map(surface: Surface, cells: int = 500) -> HeightMap:
    """Top height along z on a grid with so many places on the longer side (50 to 4000)."""
    within("cells", cells, 50, 4000)
    low, high = surface.bounds[:, :2]
    cell = float((high - low).max()) / cells
    xs, ys = (np.arange(low[i] + 0.4142 * cell, high[i], cell) for i in (0, 1))
    return HeightMap(xs, ys, top(columns(surface), xs, ys), cell)


def forms(surface: Surface, plan: HeightMap, least: float = 0.06) -> list[FormFound]:
    """Cavities below and forms above the rim, and the bosses inside the cavities.

    Parameters
    ----------
    surface : Surface
        Tool side, pull along z. [m]
    plan : HeightMap
        Of the same surface.
    least : float
        Forms lower than this share of the whole height are taken as flat, 0.01 to 0.5. [-]

    Notes
    -----
    The rim is the middle height of the outermost places, or the open edge where upright walls
    stand on it and there is no flange. A form is what lies more than the
    tolerance below or above it in one piece; a boss is an island of a cavity's floor that does
    not touch the cavity's edge. Opening, width and area are those beyond the tolerance.
    """
    within("least share of the height", least, 0.01, 0.5)
    known = np.isfinite(plan.heights)
    rim = _rim_level(surface, plan, known)
    span = float(np.ptp(np.append(plan.heights[known], rim)))
    if span <= 1e-6 * float(surface.size.max()):  # rounding is no form
        return []
    tolerance = least * span
    heights = np.where(known, plan.heights, rim)
    build = _Builder(surface, plan)
    cavities = [build.form(f"C{i}", mask, depth, surface.centres[:, 2] < rim - tolerance)
                for i, (mask, depth) in enumerate(
                    _pieces(heights < rim - tolerance, rim - heights), start=1)]
    raised = [(mask, height, "", rim) for mask, height in
              _pieces(heights > rim + tolerance, heights - rim)]
    raised += [(mask, height, cavity.name, rim - cavity.depth) for cavity in cavities
               for mask, height in _bosses(cavity, heights, tolerance)]
    raised.sort(key=lambda piece: -piece[1])
    return cavities + [build.form(f"B{i}", mask, height, surface.centres[:, 2] > level + tolerance,
                                  inside)
                       for i, (mask, height, inside, level) in enumerate(raised, start=1)]


def gaps(plan: HeightMap, found: list[FormFound], within_heights: float = 4.0) -> list[Gap]:
    """Webs between cavities, channels between raised forms, and round bosses; the slimmest first.

    Parameters
    ----------
    plan : HeightMap
        As given to `forms`.
    found : list of FormFound
        From `forms`.
    within_heights : float
        Gaps wider than so many heights do not matter, > 0. [-]
    """
    listed = []
    for i, one in enumerate(found):
        way = distance_transform_edt(~one.mask, sampling=plan.cell)
        for other in found[i + 1:]:
            if other.inside == one.name:
                away = distance_transform_edt(binary_fill_holes(one.mask), sampling=plan.cell)
            elif other.inside == one.inside and other.name[0] == one.name[0]:
                away = way
            else:
                continue
            away = away[other.mask & ~binary_erosion(other.mask)]
            width = float(away.min())
            gap = Gap((one.name, other.name), width, min(one.depth, other.depth),
                      float((away < 1.25 * width + plan.cell).sum()) * plan.cell)
            if gap.width < within_heights * gap.height:
                listed.append(gap)
    return sorted(listed, key=lambda gap: -gap.slenderness)


def flats(surface: Surface, least_area: float = 1e-4, slope: float = radians(1.0)) -> list[Region]:
    """Named flat areas that face the sheet (F1, ...): on a smooth tool they hold air.

    Parameters
    ----------
    surface : Surface
        Tool side, pull along z. [m]
    least_area : float
        Smaller flats are left out, >= 0. [m2]
    slope : float
        Steepest that still counts as flat, 0 to 0.3. [rad]

    Returns
    -------
    list of Region
        `mean` is the height of the flat. [m]
    """
    within("slope", slope, 0.0, 0.3, "rad")
    level = surface.normals[:, 2] > np.cos(slope)
    return regions(surface, level, "F", surface.centres[:, 2], least_area)


def plan_area(surface: Surface) -> float:
    """Area of the tool side seen from above: what the sheet covers before it is drawn. [m2]

    Notes
    -----
    Sum of the vertical components of all triangles, so overhangs do not count twice.
    """
    return float(surface.areas @ surface.normals[:, 2])


def _rim_level(surface: Surface, plan: HeightMap, known: np.ndarray) -> float:
    from_edge = distance_transform_edt(np.pad(known, 1))[1:-1, 1:-1]
    outermost = (from_edge > 0) & (from_edge <= 2.5)
    level = float(np.median(plan.heights[outermost]))
    loops = rims(surface.edges.open)
    if not loops:
        return level
    edge = float(surface.vertices[loops[0], 2].mean())
    slack = 1e-6 * float(surface.size.max())
    hood = bool((plan.heights[known] > level - slack).all())  # no cavity: walls down to the edge
    return edge if edge > level or hood else level


def _pieces(mask, heights, least_cells: int = 9):
    """Connected pieces of a mask with the largest height in each, the largest first."""
    number, count = label(mask, structure=_AROUND)
    pieces = [number == i for i in range(1, count + 1)]
    return sorted(((piece, float(np.max(heights[piece]))) for piece in pieces
                   if piece.sum() >= least_cells), key=lambda piece: -piece[1])


def _bosses(cavity: FormFound, heights, tolerance: float):
    """Islands of a cavity's floor with their height above the floor."""
    floor = float(np.min(heights[cavity.mask]))
    around = ~binary_fill_holes(cavity.mask)
    number, _ = label(around | (heights > floor + tolerance), structure=_AROUND)
    islands = (number > 0) & ~np.isin(number, np.unique(number[around]))
    return _pieces(islands, heights - floor)


class _Builder:
    """Measures what a mask of places holds."""

    def __init__(self, surface: Surface, plan: HeightMap):
        self.plan, self.areas = plan, surface.areas
        steps = (surface.centres[:, :2] - [plan.xs[0], plan.ys[0]]) / plan.cell
        places = np.rint(steps).astype(int)
        self.columns = np.clip(places[:, 0], 0, len(plan.xs) - 1)
        self.rows = np.clip(places[:, 1], 0, len(plan.ys) - 1)

    def form(self, name: str, mask, depth: float, beyond, inside: str = "") -> FormFound:
        rows, cols = np.nonzero(mask)
        points = np.column_stack([self.plan.xs[cols], self.plan.ys[rows]])
        width, length = _smallest_rectangle(points, self.plan.cell)
        filled = binary_fill_holes(mask)
        # upright walls stand on the border of the mask, hence two cells more
        near = binary_dilation(filled, structure=_AROUND, iterations=2)
        belongs = near[self.rows, self.columns] & beyond
        centre = points.mean(axis=0)
        box = tuple(tuple(map(float, end)) for end in (points.min(axis=0), points.max(axis=0)))
        return FormFound(name, (float(centre[0]), float(centre[1])), box, depth, width, length,
                         float(filled.sum()) * self.plan.cell**2,
                         float(self.areas[belongs].sum()), np.flatnonzero(belongs), mask, inside)


def _smallest_rectangle(points: np.ndarray, cell: float) -> tuple[float, float]:
    """Sides of the smallest rectangle round points that each stand for a cell."""
    try:
        hull = points[ConvexHull(points).vertices]
    except QhullError:
        return cell, float(np.ptp(points, axis=0).max()) + cell
    along = np.roll(hull, -1, axis=0) - hull
    along /= np.linalg.norm(along, axis=1)[:, None]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    sides = np.column_stack([np.ptp(hull @ along.T, axis=0), np.ptp(hull @ across.T, axis=0)])
    # a cell square to the rectangle adds its edge, one turned by 45 degrees its diagonal
    sides = sides + cell * (np.abs(along).sum(axis=1))[:, None]
    best = sides[np.argmin(sides.prod(axis=1))]
    return float(best.min()), float(best.max())
