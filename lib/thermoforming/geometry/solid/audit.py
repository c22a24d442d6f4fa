"""What was built, measured on the solid itself; what is wrong, named with its place."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d as m3
import numpy as np

from thermoforming.geometry.solid.plan import MM

FAR = 60.0  # mm, how far a gap is looked for


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


def bodies(tool: m3.Manifold) -> int:
    """Number of separate bodies."""
    return len(tool.decompose())


def least_wall(block: m3.Manifold, hole: m3.Manifold) -> float:
    """Least distance between what stands outside a block and a room inside it. [m]"""
    low, high = np.array(block.bounding_box()).reshape(2, 3)
    margin = np.array([5.0, 5.0, 5.0])
    around = m3.Manifold.cube(list(high - low + 2 * margin)).translate(list(low - margin))
    outside = (around - block).trim_by_plane((0.0, 0.0, 1.0), float(low[2]) + 0.01)
    inside = hole.trim_by_plane((0.0, 0.0, 1.0), float(low[2]) + 0.01)
    return float(outside.min_gap(inside, FAR)) / MM


def passage_open(tool: m3.Manifold, x: float, y: float, bore: float, low: float,
                 high: float) -> bool:
    """Whether a rod of half the bore passes from `high` down to `low` without touching. [m]"""
    rod = m3.Manifold.cylinder((high - low) * MM, bore / 4 * MM, circular_segments=12)
    return (rod.translate((x * MM, y * MM, low * MM)) ^ tool).volume() < 1e-6


def face_error(tool: m3.Manifold, vertices: np.ndarray, most: int = 4000) -> float:
    """Largest distance of the face's own corner points from the built tool, sampled. [m]

    A corner that a vent or a hole took away is not counted: it is further off than any error.
    """
    import trimesh

    mesh = tool.to_mesh64()
    built = trimesh.Trimesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts),
                            process=False)
    chosen = vertices[:: max(1, len(vertices) // most)] * MM
    nearest = np.asarray(built.vertices)
    from scipy.spatial import cKDTree

    distance, _ = cKDTree(nearest).query(chosen)
    near = distance[distance < 0.5]
    return float(near.max()) / MM if len(near) else 0.0
