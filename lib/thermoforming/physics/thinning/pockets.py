"""Pockets of air cut off between sheet and tool, from the order in which the sheet landed.

At any moment the sheet that has not landed falls into regions that touch nowhere: each holds its
own air and needs its own vent. Regions count by their area in millimetres, never by a number of
nodes, so that a finer mesh finds the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from thermoforming.guard import within

LEAST_SHARE_OF_FRAME = 2e-3
LEAST_DEPTH = 2.5e-4


@dataclass(frozen=True)
class Pocket:
    """A region of sheet that has been cut off from every other.

    Attributes
    ----------
    born, closed : float
        Volume evacuated when it was cut off, and when the last of it landed; NaN if some is still
        free at the end. [m3]
    air : float
        Volume that the sheet sweeps over it from then to the end. [m3]
    area : float
        Area of its sheet when it was cut off. [m2]
    centre : array, shape (3,)
        Middle of its sheet then. [m]
    last : array, shape (3,)
        Where its sheet lands last, or is farthest from landing: the place for a vent. [m]
    parent : int
        Number of the pocket that it was cut from, -1 for the first ones.
    left : float
        Area still free at the end. [m2]
    """

    born: float
    closed: float
    air: float
    area: float
    centre: np.ndarray
    last: np.ndarray
    parent: int
    left: float


@dataclass
class _Region:
    """Nodes of one connected region at one moment, and the pocket that it continues."""

    nodes: np.ndarray
    pocket: int


def find_pockets(frames, volumes, landed, triangles, clamped, gap,
                 least_area: float | None = None) -> list[Pocket]:
    """Pockets of air through forming, in the order in which they are cut off.

    Parameters
    ----------
    frames : array, shape (k, n, 3)
        Positions of the sheet's points through the vacuum stage, the last at the end. [m]
    volumes : array, shape (k,)
        Volume evacuated at each. [m3]
    landed : array, shape (n,)
        Volume evacuated when each point landed, NaN if it did not. [m3]
    triangles : array of int, shape (m, 3)
        Triangles of the sheet.
    clamped : array of bool, shape (n,)
        Points held by the frame.
    gap : array, shape (n,)
        Distance of each point from the tool at the end. [m]
    least_area : float or None
        Regions of less sheet are left out, and those that hold less air than 0.25 mm over this
        area and close; None for 0.2 % of the sheet. [m2]

    Returns
    -------
    list of Pocket
        The first ones are there from the start: one for each cavity that the rim closes off.

    Raises
    ------
    Refused
        If the least area is negative or not finite.

    Notes
    -----
    A pocket that splits into parts that are both large enough ends, and its parts are new ones.
    """
    frames, volumes = np.asarray(frames, float), np.asarray(volumes, float)
    triangles = np.asarray(triangles)
    areas = _areas(frames[0], triangles)
    if least_area is None:
        least_area = LEAST_SHARE_OF_FRAME * areas.sum()
    within("least area of a pocket", least_area, 0.0, unit="m2")
    when = np.where(np.isnan(landed), np.inf, landed)
    moments = _moments(volumes, when)
    found: list[Pocket] = []
    regions: list[_Region] = []
    for volume in moments:
        points = _positions(frames, volumes, volume)
        areas = _areas(points, triangles)
        now = [nodes for nodes, area in _regions(when > volume, triangles, areas, clamped)
               if area >= least_area and _counts(nodes, points, frames[-1], when, triangles,
                                                 least_area)]
        regions = _follow(now, regions, volume, points, areas, frames[-1], when, gap, triangles,
                          found)
    return found


def _counts(nodes, points, end, when, triangles, least_area) -> bool:
    """True if a region holds air worth a vent, or stays open to the end."""
    inside = np.zeros(len(points), bool)
    inside[nodes] = True
    own = triangles[inside[triangles].any(axis=1)]
    open_ = np.isinf(when[own]).any(axis=1)
    return _swept(points, end, own) >= LEAST_DEPTH * least_area or \
        _areas(end, own[open_]).sum() >= least_area


def _moments(volumes, when):
    """Moments to look at: the start, the pictures, and quantiles of the landings."""
    finite = when[np.isfinite(when)]
    between = np.quantile(finite, np.linspace(0.0, 1.0, 60)) if len(finite) else []
    moments = np.unique(np.concatenate([[0.0], volumes, between]))
    return moments[moments >= 0.0]


def _positions(frames, volumes, volume):
    """Positions at an evacuated volume, between two pictures."""
    order = np.argsort(volumes, kind="stable")
    k = int(np.clip(np.searchsorted(volumes[order], volume), 1, len(order) - 1))
    a, b = order[k - 1], order[k]
    span = volumes[b] - volumes[a]
    s = np.clip((volume - volumes[a]) / span, 0.0, 1.0) if span > 0.0 else 1.0
    return frames[a] + s * (frames[b] - frames[a])


def _areas(points, triangles):
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)


def _regions(free, triangles, areas, clamped):
    """Connected regions of free sheet: nodes and area of each, the largest first."""
    count = len(free)
    movable = free & ~clamped
    inside = np.flatnonzero(movable[triangles].any(axis=1))
    ends = np.stack([triangles[inside], np.roll(triangles[inside], -1, axis=1)], -1).reshape(-1, 2)
    both = movable[ends].all(axis=1)
    links = coo_matrix((np.ones(both.sum()), ends[both].T), shape=(count, count))
    _, label = connected_components(links, directed=False)
    first = triangles[inside]
    owner = label[np.where(movable[first[:, 0]], first[:, 0],
                           np.where(movable[first[:, 1]], first[:, 1], first[:, 2]))]
    area = np.bincount(owner, areas[inside], count)
    members = np.flatnonzero(movable)
    members = members[np.argsort(label[members], kind="stable")]
    split = np.split(members, np.flatnonzero(np.diff(label[members])) + 1) if len(members) else []
    return sorted(((nodes, float(area[label[nodes[0]]])) for nodes in split), key=lambda r: -r[1])


def _follow(now, before, volume, points, areas, end, when, gap, triangles, found):
    """Tell which regions go on and which have been cut off, and note the new pockets."""
    regions = []
    for old in before or [None]:
        parts = now if old is None else [n for n in now if np.isin(n[:1], old.nodes).all()]
        if old is not None and len(parts) == 1:
            regions.append(_Region(parts[0], old.pocket))
            continue
        for nodes in parts:
            found.append(_pocket(nodes, volume, points, areas, end, when, gap, triangles,
                                 -1 if old is None else old.pocket))
            regions.append(_Region(nodes, len(found) - 1))
    return regions


def _pocket(nodes, volume, points, areas, end, when, gap, triangles, parent):
    inside = np.zeros(len(points), bool)
    inside[nodes] = True
    own = inside[triangles].any(axis=1)
    corners = points[triangles[own]]
    weight = areas[own]
    last = nodes[np.lexsort((gap[nodes], when[nodes]))[-1]]
    closed = when[nodes].max()
    free = np.isinf(when[triangles]).any(axis=1) & own
    return Pocket(float(volume), float(closed) if np.isfinite(closed) else np.nan,
                  _swept(points, end, triangles[own]), float(weight.sum()),
                  np.average(corners.mean(axis=1), axis=0, weights=weight), end[last], parent,
                  float(_areas(end, triangles[free]).sum()))


def _swept(points, end, triangles):
    """Volume between two positions of some triangles, by the mean of their areas."""
    def vector(x):
        a, b, c = (x[triangles[:, k]] for k in range(3))
        return 0.5 * np.cross(b - a, c - a)
    travel = (end - points)[triangles].mean(axis=1)
    return float(-np.sum(0.5 * (vector(points) + vector(end)) * travel))


def of_formed(formed, gap, least_area: float | None = None) -> list[Pocket]:
    """Pockets of a `membrane.Formed`, given the distance of its points from the tool. [m]"""
    pictures = [s for s in formed.snapshots if s.pressure >= 0.0 and s.stage == "The vacuum draws"]
    frames = [s.points for s in pictures] + [formed.points]
    last = formed.curve[-1, 0] if len(formed.curve) else 0.0
    volumes = [s.volume for s in pictures] + [last]
    return find_pockets(frames, volumes, formed.landed, formed.triangles, formed.clamped, gap,
                        least_area)
