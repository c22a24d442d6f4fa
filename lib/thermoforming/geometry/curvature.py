"""Radii and sharp edges of a tool surface, from the angle across each edge of the mesh."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians

import numpy as np

from thermoforming.geometry.regions import Region, regions, weighted_quantile
from thermoforming.geometry.surface import Surface
from thermoforming.guard import within

SHARP = radians(35.0)  # a fillet drawn with three facets or more turns less than this at each edge


@dataclass(frozen=True, eq=False)
class Bends:
    """The shared edges of a surface, where it turns.

    Parameters
    ----------
    turn : array, shape (p,)
        Angle between the two triangles, positive where the edge stands out towards the sheet
        (external), negative where it is a valley (internal). [rad]
    radius : array, shape (p,)
        Radius across the edge; infinite where flat or where the mesh cannot tell, 0 if sharp. [m]
    length : array, shape (p,)
        Length of the edge. [m]
    """

    turn: np.ndarray
    radius: np.ndarray
    length: np.ndarray

    @property
    def sharp(self) -> np.ndarray:
        """Edges that turn more at once than a drawn fillet does."""
        return np.abs(self.turn) > SHARP


def bends(surface: Surface) -> Bends:
    """Turn, radius and length of each shared edge (in the order of `surface.edges.pairs`).

    The planes of two neighbours touch a smooth surface near the centres of their circumcircles.
    Both centres lie square to the edge, at d1 and d2 from it, so the radius across the edge is
    (d1 + d2) / (2 sin(turn / 2)); on a cylinder whose facets run along it this is exact.

    Notes
    -----
    Edges that turn less than 0.06 degrees are flat. Where the circumcentres lie on the edge or on
    its wrong side (diagonals, very blunt triangles) the mesh says nothing about the radius and it
    is left infinite; the neighbouring edges still tell it.
    """
    edges = surface.edges
    first, second = surface.normals[edges.pairs[:, 0]], surface.normals[edges.pairs[:, 1]]
    along = surface.vertices[edges.ends[:, 1]] - surface.vertices[edges.ends[:, 0]]
    length = np.linalg.norm(along, axis=1)
    sine = np.einsum("ij,ij->i", np.cross(first, second), along) / np.maximum(length, 1e-30)
    turn = np.arctan2(sine, np.einsum("ij,ij->i", first, second))
    reach = sum(_reach(surface, edges.pairs[:, i], edges.ends, length) for i in (0, 1))
    heights = 2.0 * surface.areas[edges.pairs].sum(axis=1) / np.maximum(length, 1e-30)
    bent = (np.abs(turn) > 1e-3) & (reach > 0.15 * heights)
    radius = np.full(len(turn), np.inf)
    radius[bent] = reach[bent] / (2.0 * np.sin(np.abs(turn[bent]) / 2.0))
    radius[np.abs(turn) > SHARP] = 0.0
    return Bends(turn, radius, length)


def _reach(surface: Surface, faces, ends, length) -> np.ndarray:
    """Signed distance of the circumcentre from the edge: half its length times a cotangent."""
    total = surface.faces[faces].sum(axis=1)
    tip = surface.vertices[total - ends.sum(axis=1)]
    to_first = surface.vertices[ends[:, 0]] - tip
    to_second = surface.vertices[ends[:, 1]] - tip
    across = 2.0 * np.maximum(surface.areas[faces], 1e-30)
    return length / 2.0 * np.einsum("ij,ij->i", to_first, to_second) / across


def smallest_radius(found: Bends, external: bool, share: float = 0.02) -> float:
    """Radius that all but a small share of the edge length of all fillets keeps; 0 if sharp. [m]

    Parameters
    ----------
    found : Bends
        From `bends`.
    external : bool
        Edges that stand out towards the sheet, or valleys.
    share : float
        Share of the length of bent edges that may be smaller, 0 to 0.5. [-]

    Returns
    -------
    float
        Infinite when nothing turns that way. [m]
    """
    within("share", share, 0.0, 0.5)
    bent = np.isfinite(found.radius) & ((found.turn > 0) == external)
    if not bent.any():
        return float("inf")
    return weighted_quantile(found.radius[bent], found.length[bent], (share,))[0]


def radius_by_face(surface: Surface, found: Bends, external: bool) -> np.ndarray:
    """Smallest radius at the edges of each triangle, one sort of bend only. [m]"""
    radius = np.full(len(surface.faces), np.inf)
    bent = np.isfinite(found.radius) & ((found.turn > 0) == external)
    for side in (0, 1):
        np.minimum.at(radius, surface.edges.pairs[bent, side], found.radius[bent])
    return radius


def tight_regions(surface: Surface, found: Bends, external: bool, below: float,
                  least_area: float = 1e-6) -> list[Region]:
    """Named regions with a radius below a limit: E for external, I for internal ones.

    Parameters
    ----------
    surface : Surface
        Tool side. [m]
    found : Bends
        From `bends`.
    external : bool
        Which sort.
    below : float
        Radius wanted, > 0. [m]
    least_area : float
        Smaller regions are left out, >= 0. [m2]

    Returns
    -------
    list of Region
        `low` is the smallest radius of the region. [m]
    """
    within("radius wanted", below, 0.0, unit="m", above=True)
    radius = radius_by_face(surface, found, external)
    return regions(surface, radius < below, "E" if external else "I", radius, least_area)
