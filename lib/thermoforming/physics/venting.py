"""Where vents go and why: pockets, last contact, corners, edges; drains of hollow prints."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from thermoforming.guard import Refused, finite, within

GRAVITY = 9.80665  # m/s2, standard value
POCKET, CORNER, EDGE, LAST = "pocket", "corner", "edge", "last contact"
_LASTING = 0.02  # share of the air that must go between the closing of a pocket and its end
_BEND = 0.05  # share of the normals' spread that counts as another wall


@dataclass(frozen=True)
class Site:
    """A place for a vent and why.

    Parameters
    ----------
    point : int
        Number of the point of the tool surface.
    reason : str
        One of pocket, corner, edge, last contact.
    pocket : int
        Pocket it serves, 0 for the main space.
    order : float
        Share of the air that has gone when the sheet lands there, 0 to 1. [1]
    """

    point: int
    reason: str
    pocket: int
    order: float


def touching_radius(points: np.ndarray, normals: np.ndarray, reach: float) -> np.ndarray:
    r"""Radius of the largest ball of air that touches the tool at each point.

    .. math:: r \leftarrow \frac{|p-q|^2}{2\,n\cdot(q-p)}

    In words: a ball of radius `reach` stands on the point; while another point q lies inside it,
    it shrinks until q is on its surface. Small radii are corners and grooves, which a sheet
    reaches last.

    Parameters
    ----------
    points : array, shape (n, 3)
        Points of the tool surface. [m]
    normals : array, shape (n, 3)
        Unit normals towards the sheet. [1]
    reach : float
        Largest radius looked for, > 0. [m]

    Returns
    -------
    array, shape (n,)
        Radius, at most `reach`. [m]

    Raises
    ------
    Refused
        If a value is not finite or the arrays do not match.

    Notes
    -----
    Radii below the spacing of the points are not resolved.

    References
    ----------
    Ma, Bae and Choi, shrinking ball, The Visual Computer 28 (2012) 7 (from memory).
    """
    _matching(points, normals)
    within("reach", reach, 0.0, unit="m", above=True)
    tree = cKDTree(points)
    radius = np.full(len(points), float(reach))
    active = np.arange(len(points))
    for _ in range(40):
        centre = points[active] + radius[active, None] * normals[active]
        distance, nearest = tree.query(centre)
        inside = (distance < radius[active] * (1.0 - 1e-3)) & (nearest != active)
        active, nearest = active[inside], nearest[inside]
        if len(active) == 0:
            break
        gap = points[nearest] - points[active]
        along = np.einsum("ij,ij->i", gap, normals[active])
        radius[active] = np.einsum("ij,ij->i", gap, gap) / (2.0 * np.maximum(along, 1e-12))
        radius[active] = np.minimum(radius[active], reach)
    return radius


def order_from_shape(points: np.ndarray, normals: np.ndarray, reach: float) -> np.ndarray:
    """Order of contact judged from the shape alone, until a drawn sheet gives a better one.

    Parameters
    ----------
    points : array, shape (n, 3)
        Points of the tool surface. [m]
    normals : array, shape (n, 3)
        Unit normals towards the sheet. [1]
    reach : float
        Half of the widest opening, > 0. [m]

    Returns
    -------
    array, shape (n,)
        0 where the sheet lands at once to 1 where it lands last. [1]

    Raises
    ------
    Refused
        If a value is not finite or the arrays do not match.
    """
    return 1.0 - touching_radius(points, normals, reach) / reach


def walls_met(points: np.ndarray, normals: np.ndarray, at: np.ndarray, radius: float) -> np.ndarray:
    """How many walls meet near points: 1 on a face, 2 along an edge, 3 in a corner.

    Parameters
    ----------
    points : array, shape (n, 3)
        Points of the tool surface. [m]
    normals : array, shape (n, 3)
        Unit normals towards the sheet. [1]
    at : array of int
        Numbers of the points asked about.
    radius : float
        How far to look, > 0. [m]

    Returns
    -------
    array of int
        1, 2 or 3 for each point asked about.

    Raises
    ------
    Refused
        If a value is not finite or the arrays do not match.

    Notes
    -----
    Counts the directions in which the normals nearby spread (eigenvalues of their scatter).
    """
    _matching(points, normals)
    within("radius", radius, 0.0, unit="m", above=True)
    near = cKDTree(points).query_ball_point(points[at], radius)
    scatter = [normals[i].T @ normals[i] / len(i) for i in near]
    spread = np.linalg.eigvalsh(np.array(scatter).reshape(-1, 3, 3))
    return np.sum(spread > _BEND, axis=1).clip(1, 3)


def place_vents(points: np.ndarray, normals: np.ndarray, order: np.ndarray, spacing: float, *,
                last: float = 0.9, pocket: np.ndarray | None = None,
                allowed: np.ndarray | None = None, most: int = 200) -> list[Site]:
    """Propose vents where the sheet lands last, one in every pocket at least.

    Parameters
    ----------
    points : array, shape (n, 3)
        Points of the tool surface. [m]
    normals : array, shape (n, 3)
        Unit normals towards the sheet. [1]
    order : array, shape (n,)
        When the sheet lands on each point, 0 first to 1 last or never. [1]
    spacing : float
        Least distance between vents, > 0. [m]
    last : float
        Order from which a point counts as landing last, 0 to 1. [1]
    pocket : array of int, shape (n,), optional
        Pocket of each point, 0 for the main space.
    allowed : array of bool, shape (n,), optional
        Where a hole can be made.
    most : int
        Most vents proposed, >= 1.

    Returns
    -------
    list of Site
        Pockets first, then by falling order.

    Raises
    ------
    Refused
        If a value is not finite or out of range or the arrays do not match.
    """
    _matching(points, normals)
    within("order", order, 0.0, 1.0)
    within("spacing", spacing, 0.0, unit="m", above=True)
    within("last", last, 0.0, 1.0)
    within("most", most, 1)
    pocket = np.zeros(len(points), int) if pocket is None else np.asarray(pocket)
    allowed = np.ones(len(points), bool) if allowed is None else np.asarray(allowed, bool)
    if not len(points) == len(order) == len(pocket) == len(allowed):
        raise Refused("order", "There must be one order, pocket and permission for each point.")
    chosen = [_last_of(np.flatnonzero((pocket == p) & allowed), order)
              for p in np.unique(pocket[pocket > 0])]
    chosen = [i for i in chosen if i is not None][:most]
    served = len(chosen)
    candidates = np.flatnonzero(allowed & (order >= last))
    chosen = _spread(points, candidates[np.argsort(-order[candidates], kind="stable")], chosen,
                     spacing, most)
    if not chosen:
        return []
    walls = walls_met(points, normals, np.array(chosen), 0.6 * spacing)
    named = {1: LAST, 2: EDGE, 3: CORNER}
    return [Site(int(i), POCKET if k < served else named[int(walls[k])], int(pocket[i]),
                 float(order[i])) for k, i in enumerate(chosen)]


def _last_of(numbers: np.ndarray, order: np.ndarray) -> int | None:
    return int(numbers[np.argmax(order[numbers])]) if len(numbers) else None


def _spread(points, ranked, chosen: list[int], spacing: float, most: int) -> list[int]:
    """Take points by rank, none nearer than `spacing` to one already taken."""
    free = np.ones(len(points), bool)
    tree = cKDTree(points)
    for i in chosen:
        free[tree.query_ball_point(points[i], spacing)] = False
    for i in ranked:
        if len(chosen) >= most:
            break
        if free[i]:
            chosen.append(int(i))
            free[tree.query_ball_point(points[i], spacing)] = False
    return chosen


@dataclass(frozen=True, eq=False)
class Enclosed:
    """A part of the surface whose air the advancing sheet cuts off.

    Parameters
    ----------
    points : array of int
        Points of the tool surface in it.
    closes : float
        Share of the air that has gone when it is cut off, 0 to 1. [1]
    parent : int
        Pocket of the list that it was part of.
    """

    points: np.ndarray
    closes: float
    parent: int


def landed_share(order: np.ndarray, areas: np.ndarray) -> np.ndarray:
    r"""Share of the air gone when the sheet lands on each point, from an order alone.

    .. math:: x = 1-(1-A_{landed}/A)^{3/2}

    In words: what is left of the air is as deep as it is wide. Points of one order land together.

    Parameters
    ----------
    order : array
        When the sheet lands on each point, in any rising measure. [1]
    areas : array
        Area that each point stands for, >= 0. [m2]

    Returns
    -------
    array
        Share, 0 to 1. [1]

    Raises
    ------
    Refused
        If a value is not finite or the areas sum to nothing.
    """
    finite("order", order)
    within("areas", areas, 0.0, unit="m2")
    within("whole area", float(np.sum(areas)), 0.0, unit="m2", above=True)
    levels, level = np.unique(order, return_inverse=True)
    landing = np.bincount(level, weights=areas, minlength=len(levels))
    before = np.cumsum(landing) - landing
    left = np.maximum(1.0 - before[level] / landing.sum(), 0.0)
    return 1.0 - left**1.5


def enclosed_pockets(order: np.ndarray, triangles: np.ndarray, areas: np.ndarray,
                     least: float = 0.01, most: int = 12) -> list[Enclosed]:
    """Pockets that an advancing contact line cuts off, the main space first.

    Followed backwards in time: the place that lands last is an island; islands grow and meet; where
    two of some size meet, the sheet has cut them apart on its way.

    Parameters
    ----------
    order : array
        Share of the air gone when the sheet lands on each point, 0 to 1. [1]
    triangles : array of int, shape (m, 3)
        Triangles of the surface.
    areas : array
        Area that each point stands for, >= 0. [m2]
    least : float
        Least share of the whole area that counts, above 0, below 1. [1]
    most : int
        Most pockets returned, the largest, >= 1.

    Returns
    -------
    list of Enclosed
        Each a part of an earlier one; a point belongs to one pocket only.

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    finite("order", order)
    within("least", least, 0.0, 1.0, above=True, below=True)
    within("most", most, 1)
    events = _meetings(np.asarray(order, float), _neighbours(triangles, len(order)),
                       np.asarray(areas, float), least * float(np.sum(areas)))
    events = sorted(sorted(events, key=lambda e: -e[2])[:most - 1], key=lambda e: e[1])
    label = np.zeros(len(order), int)
    pockets = [Enclosed(np.arange(len(order)), 0.0, 0)]
    for points, closes, _ in events:
        parent = int(label[points[0]])
        label[points] = len(pockets)
        pockets.append(Enclosed(np.array(points), float(closes), parent))
    return [Enclosed(np.flatnonzero(label == i), p.closes, p.parent)
            for i, p in enumerate(pockets)]


def _neighbours(triangles: np.ndarray, count: int) -> list[np.ndarray]:
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    edges = np.concatenate([edges, edges[:, ::-1]])
    edges = edges[np.argsort(edges[:, 0], kind="stable")]
    return np.split(edges[:, 1], np.searchsorted(edges[:, 0], np.arange(1, count)))


def _meetings(order, neighbours, areas, least):
    """Where two islands of some size meet: points of the smaller, order, its area."""
    island = np.full(len(order), -1)
    members: dict[int, list[int]] = {}
    size: dict[int, float] = {}
    found = []
    for i in np.argsort(-order, kind="stable"):
        i = int(i)
        around = sorted({int(island[j]) for j in neighbours[i] if island[j] >= 0},
                        key=lambda k: -size[k])
        home = around[0] if around else i
        members.setdefault(home, []).append(i)
        size[home] = size.get(home, 0.0) + float(areas[i])
        island[i] = home
        for other in around[1:]:
            if size[other] >= least and order[members[other][0]] - order[i] > _LASTING:
                found.append((list(members[other]), order[i], size[other]))
            island[members[other]] = home
            members[home] += members.pop(other)
            size[home] += size.pop(other)
    return found


def pocket_volumes(pockets: list[Enclosed], order: np.ndarray, areas: np.ndarray, volume: float,
                   gone: np.ndarray, dead: float = 1e-3) -> np.ndarray:
    r"""Air left in each pocket as the whole empties.

    .. math:: V_j(x) = V(1-x)\,\frac{A_j(x)^{3/2}}{\sum_k A_k(x)^{3/2}}

    In words: what is left is shared out by the area each pocket has not yet landed on, its air
    being as deep as it is wide.

    Parameters
    ----------
    pockets : list of Enclosed
        From `enclosed_pockets`.
    order : array
        Share of the air gone when the sheet lands on each point, 0 to 1. [1]
    areas : array
        Area that each point stands for, >= 0. [m2]
    volume : float
        Air below the sheet at first, > 0. [m3]
    gone : array
        Shares of the air gone at which the volumes are wanted, rising from 0. [1]
    dead : float
        Share of a pocket's air that never leaves its corners, above 0 to 0.5. [1]

    Returns
    -------
    array, shape (pockets, len(gone))
        Volumes, never rising. [m3]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("volume", volume, 0.0, unit="m3", above=True)
    within("gone", gone, 0.0, 1.0)
    within("dead", dead, 0.0, 0.5, above=True)
    left = np.array([_area_left(order[p.points], areas[p.points], gone) for p in pockets])
    weight = left**1.5
    total = np.maximum(weight.sum(axis=0), 1e-30)
    shares = np.minimum.accumulate(weight / total * (1.0 - np.asarray(gone)), axis=1)
    return volume * np.maximum(shares, dead * np.maximum(shares[:, :1], 1e-6))


def _area_left(order, areas, gone) -> np.ndarray:
    ranked = np.argsort(order, kind="stable")
    landed = np.concatenate([[0.0], np.cumsum(areas[ranked])])
    return landed[-1] - landed[np.searchsorted(order[ranked], gone, side="right")]


def drain_time(volume: float, bore: float, length: float, head: float, viscosity: float,
               density: float, count: int = 1, left: float = 0.01) -> float:
    r"""Time for liquid resin to run out of a hollow print through drain holes.

    .. math:: t = \frac{128\,\mu L}{\pi n d^4 \rho g}\,\frac Vh\,\ln\frac1{left}

    Parameters
    ----------
    volume : float
        Volume of the hollow, > 0. [m3]
    bore : float
        Diameter of a drain, > 0. [m]
    length : float
        Length of a drain, > 0. [m]
    head : float
        Height of the liquid at first, > 0. [m]
    viscosity : float
        Dynamic viscosity of the resin, > 0. [Pa s]
    density : float
        Density of the resin, > 0. [kg/m3]
    count : int
        Number of drains, besides one hole above that lets air in, >= 1.
    left : float
        Share that may stay behind, above 0, below 1. [1]

    Returns
    -------
    float
        Time. [s]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Laminar, upright walls; a film stays on them and is washed out. Without a second hole air must
    bubble in against the flow, and the hollow may not empty at all.

    References
    ----------
    Hagen-Poiseuille flow under a falling head, any fluids text.
    """
    for name, value in (("volume", volume), ("bore", bore), ("length", length), ("head", head),
                        ("viscosity", viscosity), ("density", density)):
        within(name, value, 0.0, above=True)
    within("count", count, 1)
    within("left", left, 0.0, 1.0, above=True, below=True)
    resistance = 128.0 * viscosity * length / (math.pi * count * bore**4 * density * GRAVITY)
    return resistance * volume / head * math.log(1.0 / left)


def _matching(points, normals) -> None:
    finite("points", points)
    finite("normals", normals)
    if np.ndim(points) != 2 or np.shape(points)[1] != 3 or np.shape(points) != np.shape(normals):
        raise Refused("points", "Points and normals must be arrays of three columns, "
                                "one normal for each point.")
