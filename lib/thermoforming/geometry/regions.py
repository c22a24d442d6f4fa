"""Connected groups of triangles with a name, so that the list and the picture speak alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from thermoforming.geometry.surface import Surface


@dataclass(frozen=True, eq=False)
class Region:
    """A connected group of triangles.

    Parameters
    ----------
    name : str
        Letter of its sort and number, the largest first.
    faces : array of int
        Its triangles. [-]
    area : float
        [m2]
    centre : array, shape (3,)
        The point of the region nearest to its middle. [m]
    low, high : float
        Least and largest value of the quantity asked for, over nearly all of its area.
    mean : float
        Mean of that quantity, weighted by area.
    """

    name: str
    faces: np.ndarray
    area: float
    centre: np.ndarray
    low: float
    high: float
    mean: float


def connected(surface: Surface, chosen: np.ndarray) -> np.ndarray:
    """Number of the connected group of each chosen triangle, -1 for the others. [-]

    Parameters
    ----------
    surface : Surface
        Mesh. [m]
    chosen : array of bool, shape (m,)
        Triangles that may belong together when they share an edge.
    """
    pairs = surface.edges.pairs
    pairs = pairs[chosen[pairs].all(axis=1)]
    count = len(surface.faces)
    graph = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])),
                      shape=(count, count))
    label = connected_components(graph, directed=False)[1]
    numbers = np.full(count, -1)
    numbers[chosen] = np.unique(label[chosen], return_inverse=True)[1]
    return numbers


def regions(surface: Surface, chosen: np.ndarray, letter: str, values: np.ndarray,
            least_area: float = 1e-6) -> list[Region]:
    """Name the connected groups among the chosen triangles, the largest first.

    Parameters
    ----------
    surface : Surface
        Mesh. [m]
    chosen : array of bool, shape (m,)
        Which triangles.
    letter : str
        First letter of the names.
    values : array, shape (m,)
        Quantity of which each region states low, mean and high.
    least_area : float
        Smaller groups are left out, >= 0. [m2]
    """
    chosen = np.asarray(chosen, dtype=bool)
    if not chosen.any():
        return []
    number = connected(surface, chosen)[chosen]
    faces = np.flatnonzero(chosen)
    area = np.bincount(number, surface.areas[faces])
    order = np.argsort(number, kind="stable")
    ends = np.cumsum(np.bincount(number))
    kept = [g for g in np.argsort(-area, kind="stable") if area[g] >= least_area]
    groups = [faces[order[ends[g - 1] if g else 0:ends[g]]] for g in kept]
    return [_region(surface, group, f"{letter}{i}", values)
            for i, group in enumerate(groups, start=1)]


def _region(surface: Surface, faces: np.ndarray, name: str, values: np.ndarray) -> Region:
    areas, centres, here = surface.areas[faces], surface.centres[faces], values[faces]
    middle = np.average(centres, axis=0, weights=areas)
    nearest = np.argmin(np.linalg.norm(centres - middle, axis=1))
    low, high = weighted_quantile(here, areas, (0.02, 0.98))
    return Region(name, faces, float(areas.sum()), centres[nearest], low, high,
                  float(np.average(here, weights=areas)))


def weighted_quantile(values, weights, shares) -> tuple[float, ...]:
    """Values below which the given shares of the total weight lie. [unit of values]"""
    order = np.argsort(values)
    total = np.cumsum(np.asarray(weights)[order])
    places = np.searchsorted(total, np.asarray(shares) * total[-1])
    return tuple(float(v) for v in np.asarray(values)[order][np.minimum(places, len(order) - 1)])
