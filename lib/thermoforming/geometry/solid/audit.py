"""What was built, measured on the solid itself; what is wrong, named with its place."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d as m3
import numpy as np
from scipy.spatial import cKDTree
from trimesh.triangles import closest_point

from thermoforming.geometry.solid.fittings import Way, rod
from thermoforming.geometry.solid.plan import MM
from thermoforming.geometry.surface import Surface

CANDIDATES = 48  # nearest samples whose triangles are tried; slivers crowd the rim
SPLINTER = 1.0  # mm³
SAMPLE = 0.5e-3  # m between points on the face, for the least wall


@dataclass(frozen=True)
class Fault:
    """Something that could not be built or proven, in words, with its place in the tool [m]."""

    text: str
    place: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Audit:
    """Measures of the built tool.

    Attributes
    ----------
    volume, area : float
        Material [m3] and its whole surface [m2].
    least_wall : float or None
        Least distance between the face and the room below, vents apart; None if solid. [m]
    least_gap : float or None
        Least free width between ribs of the room, None without ribs. [m]
    triangles, bodies : int
        Of the whole tool before splitting.
    vents_open, vents : int
        How many vents were proven open, and how many there are.
    face_error : float
        Largest distance of the built face from the scaled surface. [m]
    faults : tuple of Fault
        Empty if everything was built and proven.
    notes : tuple of str
        What was built otherwise than planned, and why.
    """

    volume: float
    area: float
    least_wall: float | None
    least_gap: float | None
    triangles: int
    bodies: int
    vents_open: int
    vents: int
    face_error: float
    faults: tuple[Fault, ...]
    notes: tuple[str, ...] = ()


def bodies(tool: m3.Manifold) -> list[m3.Manifold]:
    """The separate bodies of a tool, without splinters below a cubic millimetre."""
    return [body for body in tool.decompose() if abs(body.volume()) > SPLINTER]


def least_wall(face: Surface, hole: m3.Manifold, base: float, outer_low, outer_high) -> float:
    """Least distance of a room's corners from the face and from the outer sides. [m]

    The face is sampled every `SAMPLE`, which reads a wall w too thick by at most SAMPLE²/(2w).
    """
    corners = np.asarray(hole.to_mesh64().vert_properties)[:, :3] / MM
    corners = corners[corners[:, 2] > base + 1e-6]
    if not len(corners):
        return float("inf")
    to_face, _ = cKDTree(sampled(face, SAMPLE)[0]).query(corners)
    plan = corners[:, :2]
    to_side = np.minimum(plan - outer_low, outer_high - plan).min()
    return float(min(to_face.min(), to_side))


def sampled(face: Surface, spacing: float) -> tuple[np.ndarray, np.ndarray]:
    """Points over a surface, at most `spacing` [m] apart, and the triangle of each."""
    edges = np.linalg.norm(np.roll(face.corners, -1, axis=1) - face.corners, axis=2)
    turn = (np.argmax(edges, axis=1)[:, None] + np.arange(3)) % 3
    corners = np.take_along_axis(face.corners, turn[:, :, None], axis=1)  # the longest edge first
    longest = edges.max(axis=1)
    along = np.maximum(np.ceil(longest / spacing), 1).astype(int)
    across = np.maximum(np.ceil(2.0 * face.areas / longest / spacing), 1).astype(int)
    points, owners = [], []
    for n, m in np.unique(np.column_stack([along, across]), axis=0):
        chosen = np.flatnonzero((along == n) & (across == m))
        weights = _weights(int(n), int(m))
        points.append(np.einsum("pk,tkc->tpc", weights, corners[chosen]).reshape(-1, 3))
        owners.append(np.repeat(chosen, len(weights)))
    return np.vstack(points), np.concatenate(owners)


def _weights(along: int, across: int) -> np.ndarray:
    """Barycentric weights of rows parallel to the first edge, `across` rows up to the tip."""
    rows = []
    for k in range(across + 1):
        up = k / across
        steps = max(1, int(np.ceil(along * (1.0 - up))))
        u = np.linspace(0.0, 1.0 - up, steps + 1) if up < 1.0 else np.zeros(1)
        rows.append(np.column_stack([1.0 - up - u, u, np.full_like(u, up)]))
    return np.vstack(rows)


def passage_open(tool: m3.Manifold, bore: float, way: Way) -> bool:
    """Whether a rod of half the bore passes from before the face to the room untouched. [m]"""
    before = way.start - way.direction * 1e-3
    return (rod(before, way.direction, bore / 2, way.length + 1e-3) ^ tool).volume() < 1e-6


def face_error(tool: m3.Manifold, corners: np.ndarray) -> float:
    """Largest distance of corners that the face must have from the built tool's triangles. [m]"""
    mesh = tool.to_mesh64()
    built = Surface(np.asarray(mesh.vert_properties)[:, :3] / MM, np.asarray(mesh.tri_verts))
    built = built.part(built.centres[:, 2] > corners[:, 2].min() - 2e-3)
    points, owner = sampled(built, SAMPLE)
    _, near = cKDTree(points).query(corners, k=CANDIDATES)
    least = np.full(len(corners), np.inf)
    for k in range(CANDIDATES):
        closest = closest_point(built.corners[owner[near[:, k]]], corners)
        least = np.minimum(least, np.linalg.norm(closest - corners, axis=1))
    return float(least.max())
