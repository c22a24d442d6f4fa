"""The block below the tool-side surface, with run-off and flange."""

from __future__ import annotations

import manifold3d as m3
import numpy as np

from thermoforming.geometry.solid.plan import MM
from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused

LAP = 0.005  # mm by which neighbouring bodies overlap so that they become one


def scaled(surface: Surface, scale) -> Surface:
    """The surface enlarged along each axis, for shrinkage."""
    return Surface(surface.vertices * np.asarray(scale, dtype=float), surface.faces)


def rim_loop(surface: Surface) -> np.ndarray:
    """Vertices of the one open rim, in the order in which the faces run along it.

    Raises
    ------
    Refused
        If the surface is closed or has more than one rim.
    """
    faces = surface.faces
    edges = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    there = set(map(tuple, edges))
    following = {a: b for a, b in map(tuple, edges) if (b, a) not in there}
    if not following:
        raise Refused("part", "The surface is closed, but the tool is built below a surface that "
                              "is open at its rim; take the tool side alone.")
    start = next(iter(following))
    loop, at = [start], following[start]
    while at != start and len(loop) <= len(following):
        loop.append(at)
        at = following.get(at, start)
    if len(loop) != len(following):
        raise Refused("part", f"The surface has {len(following)} open edges, but only "
                              f"{len(loop)} lie on one rim: close the holes in it first.")
    return np.array(loop)


def block(surface: Surface, base: float) -> m3.Manifold:
    """The solid between the surface and the plane z = `base` [m]."""
    loop = rim_loop(surface)
    n, rim = len(surface.vertices), len(loop)
    foot = surface.vertices[loop].copy()
    foot[:, 2] = base
    below = n + np.arange(rim)
    a, b = loop, np.roll(loop, -1)
    a_below, b_below = below, np.roll(below, -1)
    skirt = np.vstack([np.column_stack([b, a, a_below]), np.column_stack([b, a_below, b_below])])
    outline = np.ascontiguousarray(foot[:, :2] * MM)
    cap = below[np.asarray(m3.triangulate([outline]))][:, ::-1]
    return solid(np.vstack([surface.vertices, foot]),
                 np.vstack([surface.faces, skirt, cap]), "the block below the face")


def solid(vertices, faces, what: str) -> m3.Manifold:
    """Vertices [m] and faces as a solid of the boolean library.

    Raises
    ------
    Refused
        If they do not enclose a volume.
    """
    made = m3.Manifold(m3.Mesh64(np.ascontiguousarray(np.asarray(vertices) * MM),
                                 np.ascontiguousarray(faces, dtype=np.uint64)))
    if made.status() != m3.Error.NoError or made.is_empty():
        raise Refused(what, f"{what.capitalize()} cannot be made watertight "
                            f"({made.status().name}): the surface crosses itself or has holes.")
    return made


def flange(surface: Surface, base: float, run_off: float) -> m3.Manifold:
    """The frame around the part's rim, from the base up to the rim. [lengths in m]"""
    rim = surface.vertices[rim_loop(surface)] * MM
    low, high = rim[:, :2].min(axis=0) - run_off * MM, rim[:, :2].max(axis=0) + run_off * MM
    outer = m3.CrossSection([np.array([low, [high[0], low[1]], high, [low[0], high[1]]])])
    inner = m3.CrossSection([np.ascontiguousarray(rim[:, :2])]).offset(-LAP, m3.JoinType.Miter)
    top = float(rim[:, 2].min())
    return (outer - inner).extrude(top - base * MM).translate((0.0, 0.0, base * MM))
