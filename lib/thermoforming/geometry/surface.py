"""A triangle mesh with the few things every measure needs, each worked out once."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from thermoforming.guard import Refused, finite


@dataclass(frozen=True, eq=False)
class Surface:
    """Triangles in space, never changed after they are made.

    Parameters
    ----------
    vertices : array, shape (n, 3)
        Corner points. [m]
    faces : array of int, shape (m, 3)
        Vertex numbers of each triangle, counter-clockwise seen from the side of the sheet. [-]

    Raises
    ------
    Refused
        If the arrays have another shape, a coordinate is not finite, or a number points nowhere.
    """

    vertices: np.ndarray
    faces: np.ndarray

    def __post_init__(self):
        vertices = np.array(finite("vertices", self.vertices), dtype=np.float64, order="C")
        faces = np.array(self.faces, dtype=np.int64, order="C")
        if vertices.ndim != 2 or vertices.shape[1] != 3 or faces.ndim != 2 or faces.shape[1] != 3:
            raise Refused("mesh", "A mesh needs vertices of three coordinates and triangles.")
        if len(faces) == 0 or faces.min() < 0 or faces.max() >= len(vertices):
            raise Refused("mesh", "A mesh needs at least one triangle, each of existing vertices.")
        for name, array in (("vertices", vertices), ("faces", faces)):
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    @cached_property
    def sha256(self) -> str:
        """Hash of the coordinates and the triangles, in hexadecimal."""
        digest = hashlib.sha256(self.vertices.astype("<f8").tobytes())
        digest.update(self.faces.astype("<i8").tobytes())
        return digest.hexdigest()

    @cached_property
    def corners(self) -> np.ndarray:
        """Corner points by triangle, shape (m, 3, 3). [m]"""
        return self.vertices[self.faces]

    @cached_property
    def centres(self) -> np.ndarray:
        """Centre of each triangle, shape (m, 3). [m]"""
        return self.corners.mean(axis=1)

    @cached_property
    def _area_vectors(self) -> np.ndarray:
        a, b, c = self.corners[:, 0], self.corners[:, 1], self.corners[:, 2]
        return 0.5 * np.cross(b - a, c - a)

    @cached_property
    def areas(self) -> np.ndarray:
        """Area of each triangle. [m2]"""
        return np.linalg.norm(self._area_vectors, axis=1)

    @cached_property
    def normals(self) -> np.ndarray:
        """Unit normal of each triangle, zero where it has no area, shape (m, 3). [-]"""
        size = np.where(self.areas > 0.0, self.areas, 1.0)
        return self._area_vectors / size[:, None]

    @property
    def area(self) -> float:
        """Area of the whole mesh. [m2]"""
        return float(self.areas.sum())

    @cached_property
    def bounds(self) -> np.ndarray:
        """Lowest and highest corner of the box around the triangles, shape (2, 3). [m]"""
        used = self.vertices[np.bincount(self.faces.ravel(), minlength=len(self.vertices)) > 0]
        return np.array([used.min(axis=0), used.max(axis=0)])

    @property
    def size(self) -> np.ndarray:
        """Edges of the box around the triangles, shape (3,). [m]"""
        return self.bounds[1] - self.bounds[0]

    @cached_property
    def edges(self) -> Edges:
        """The edges and the triangles on each side of them."""
        return Edges.of(self.faces)

    def part(self, chosen) -> Surface:
        """The surface made of the chosen triangles (mask or numbers) only."""
        faces = self.faces[chosen]
        used, renumbered = np.unique(faces, return_inverse=True)
        return Surface(self.vertices[used], renumbered.reshape(faces.shape))

    def flipped(self) -> Surface:
        """The same triangles seen from the other side."""
        return Surface(self.vertices, self.faces[:, ::-1])

    def moved(self, rotation, shift=(0.0, 0.0, 0.0)) -> Surface:
        """Rotated by a 3 x 3 matrix about the origin, then shifted. [m]"""
        return Surface(self.vertices @ np.asarray(rotation, dtype=float).T + shift, self.faces)


@dataclass(frozen=True, eq=False)
class Edges:
    """Edges of a mesh.

    Parameters
    ----------
    open : array of int, shape (k, 2)
        Directed edges with one triangle only. [-]
    pairs : array of int, shape (p, 2)
        Triangles on the two sides of each edge shared by exactly two. [-]
    ends : array of int, shape (p, 2)
        Vertices of each shared edge, in the direction of its first triangle. [-]
    against : array of bool, shape (p,)
        Whether the two triangles run along the edge in opposite directions, as they should.
    crowded : int
        Number of edges with three triangles or more. [-]
    """

    open: np.ndarray
    pairs: np.ndarray
    ends: np.ndarray
    against: np.ndarray
    crowded: int

    @classmethod
    def of(cls, faces: np.ndarray) -> Edges:
        directed = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
        owner = np.tile(np.arange(len(faces)), 3)
        low, high = directed.min(axis=1), directed.max(axis=1)
        key = low * (int(faces.max()) + 1) + high
        order = np.argsort(key, kind="stable")
        _, start, count = np.unique(key[order], return_index=True, return_counts=True)
        single = order[start[count == 1]]
        first, second = order[start[count == 2]], order[start[count == 2] + 1]
        return cls(open=directed[single],
                   pairs=np.column_stack([owner[first], owner[second]]),
                   ends=directed[first],
                   against=directed[first, 0] == directed[second, 1],
                   crowded=int((count > 2).sum()))
