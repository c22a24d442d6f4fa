"""The side that touches the tool, taken out of a closed part or a closed tool block."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, dijkstra

from thermoforming.geometry.draft import undercut
from thermoforming.geometry.soundness import KINDS
from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused, one_of

_TALL = 0.5  # share of the part's height from which an outermost upright face is a wall
_TURN_COST = 30.0  # going round a right angle counts like so many times the way across a facet


def tool_side(surface: Surface, kind: str) -> Surface:
    """Tool-side surface with normals towards the sheet, the part leaving along +z.

    Parameters
    ----------
    surface : Surface
        As read; closed kinds have normals outwards. [m]
    kind : str
        "surface" (returned as it is), "solid" (the part lies on the tool, so its lower side is
        wanted, turned over) or "block" (the upper side of the tool is wanted).

    Returns
    -------
    Surface
        Open at the rim. [m]

    Raises
    ------
    Refused
        If no facet can be seen from above, or none from below.

    Notes
    -----
    Facets seen in full from above belong to the upper side, those seen from below to the lower;
    upright facets on the outside of the box to neither: they are the sides of the block, or the
    trimmed edge of the part. Where they are tall they are walls of a part without a flange, and go
    to the side whose floor they stand on. The rest (upright or hidden walls) goes to whichever it
    is nearest along the surface, where a turn counts as a long way.
    """
    one_of("kind", kind, tuple(KINDS))
    if kind == "surface":
        return surface
    below = undercut(surface, (0.0, 0.0, -1.0)).hidden == 0.0
    above = undercut(surface, (0.0, 0.0, 1.0)).hidden == 0.0
    upright = np.abs(surface.normals[:, 2]) < 1e-3
    above, below = above & ~upright, below & ~upright
    if not above.any() or not below.any():
        raise Refused("kind", "The body has no upper and lower side along z; check the up "
                              "direction and the kind of the mesh.")
    edge = upright & _outermost(surface)
    if kind == "solid":
        above, below, edge = _with_walls(surface, above, below, edge)
    side = _nearest(surface, [np.flatnonzero(above), np.flatnonzero(below),
                              np.flatnonzero(edge)])
    if kind == "block":
        return surface.part(side == 0)
    return surface.part(side == 1).flipped()


def _with_walls(surface: Surface, above, below, edge):
    """Tall outermost facets of a part go to the larger of the faces above and below them."""
    pairs = surface.edges.pairs
    walls = _pieces(pairs, edge)
    above_piece, below_piece = _pieces(pairs, above), _pieces(pairs, below)
    heights = surface.corners[:, :, 2]
    above, below, edge = above.copy(), below.copy(), edge.copy()
    for number in range(walls.max() + 1):
        wall = walls == number
        if np.ptp(heights[wall]) < _TALL * surface.size[2]:
            continue
        near = np.zeros(len(wall), dtype=bool)
        near[pairs[wall[pairs].any(axis=1)].ravel()] = True
        areas = [max((surface.areas[pieces == i].sum() for i in np.unique(pieces[near & side])),
                     default=0.0)
                 for pieces, side in ((above_piece, above), (below_piece, below))]
        edge[wall] = False
        (above if areas[0] > areas[1] else below)[wall] = True
    return above, below, edge


def _pieces(pairs: np.ndarray, chosen: np.ndarray) -> np.ndarray:
    """Number of the connected piece of each chosen facet; -1 for the others."""
    inside = pairs[chosen[pairs].all(axis=1)]
    count = len(chosen)
    graph = coo_array((np.ones(len(inside), dtype=np.int8), inside.T), shape=(count, count))
    label = connected_components(graph, directed=False)[1]
    numbers = np.full(count, -1)
    numbers[chosen] = np.unique(label[chosen], return_inverse=True)[1]
    return numbers


def _outermost(surface: Surface) -> np.ndarray:
    """Facets in a plane that has the whole mesh behind it (for upright facets)."""
    found = np.zeros(len(surface.faces), dtype=bool)
    slack = 1e-4 * float(surface.size.max())
    upright = np.flatnonzero(np.abs(surface.normals[:, 2]) < 1e-3)
    reach = np.einsum("ij,ij->i", surface.normals[upright], surface.centres[upright])
    directions, which = np.unique(np.round(surface.normals[upright], 3), axis=0,
                                  return_inverse=True)
    hull = surface.vertices[_plan_hull(surface)]
    farthest = np.array([(hull @ d).max() for d in directions]) if len(directions) else np.zeros(0)
    found[upright] = reach > farthest[which.ravel()] - slack - 1e-3 * np.abs(reach)
    return found


def _plan_hull(surface: Surface) -> np.ndarray:
    """Vertices farthest out in 720 directions in plan."""
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    ways = np.column_stack([np.cos(angle), np.sin(angle)])
    return np.unique([np.argmax(surface.vertices[:, :2] @ way) for way in ways])


def _nearest(surface: Surface, seeds: list[np.ndarray]) -> np.ndarray:
    """Which group of seeds each facet is nearest to along the surface, turns counting extra."""
    pairs = surface.edges.pairs
    way = np.linalg.norm(surface.centres[pairs[:, 0]] - surface.centres[pairs[:, 1]], axis=1)
    turn = np.einsum("ij,ij->i", surface.normals[pairs[:, 0]], surface.normals[pairs[:, 1]])
    cost = way * (1.0 + _TURN_COST * (1.0 - np.clip(turn, -1.0, 1.0))) + 1e-15
    count = len(surface.faces)
    graph = coo_array((cost, (pairs[:, 0], pairs[:, 1])), shape=(count, count)).tocsr()
    ways = [dijkstra(graph, directed=False, indices=group, min_only=True) if len(group)
            else np.full(count, np.inf) for group in seeds]
    return np.argmin(ways, axis=0)
