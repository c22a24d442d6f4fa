"""The sheet: triangles over the clamp frame, and their refinement while the sheet stretches.

The flat mesh is a regular triangular lattice fitted to the outline. A triangle whose longest edge
has stretched too far is bisected by longest-edge propagation (Rivara, Int. J. Numer. Methods Eng.
20 (1984) 745-756, from memory), so that resolution follows the stretch and every triangle keeps
its own flat shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from scipy.spatial import Delaunay

from thermoforming.guard import Refused, within
from thermoforming.physics.thinning.contact import closest
from thermoforming.physics.thinning.relaxation import CLAMP, FREE, TOOL


@dataclass(frozen=True)
class Clamp:
    """Inner outline of the clamp frame.

    Attributes
    ----------
    centre : tuple
        Middle of the frame, x and y. [m]
    size : tuple
        Length and width of a rectangle; one number, the diameter, for a ring. [m]
    height : float
        z at which the frame holds the sheet when the vacuum comes. [m]
    """

    centre: tuple
    size: tuple
    height: float = 0.0

    @property
    def round(self) -> bool:
        """True for a ring, False for a rectangle."""
        return len(self.size) == 1

    @property
    def area(self) -> float:
        """Area of sheet inside the frame. [m2]"""
        return 0.25 * np.pi * self.size[0] ** 2 if self.round else self.size[0] * self.size[1]


def rectangle(centre, length: float, width: float, height: float = 0.0) -> Clamp:
    """Rectangular clamp frame: centre, length along x, width along y, z of the frame. [m]"""
    within("frame length", length, 0.0, unit="m", above=True)
    within("frame width", width, 0.0, unit="m", above=True)
    return Clamp(tuple(map(float, centre)), (float(length), float(width)),
                 float(within("frame height", height, unit="m")))


def ring(centre, diameter: float, height: float = 0.0) -> Clamp:
    """Round clamp frame: centre, inner diameter, z of the frame. [m]"""
    within("frame diameter", diameter, 0.0, unit="m", above=True)
    return Clamp(tuple(map(float, centre)), (float(diameter),),
                 float(within("frame height", height, unit="m")))


def flat_mesh(clamp: Clamp, mesh_size: float, turn: float = 0.0):
    """Triangulate the flat sheet inside the frame.

    Parameters
    ----------
    clamp : Clamp
        Outline.
    mesh_size : float
        Edge of the triangles, > 0, at most a quarter of the least width of the frame. [m]
    turn : float
        Angle of the lattice, to show that it does not matter. [rad]

    Returns
    -------
    tuple
        Points (n, 2) [m], triangles (m, 3) wound anticlockwise, True where clamped (n,).

    Raises
    ------
    Refused
        If the mesh size is not above zero or too coarse for the frame.
    """
    within("mesh size", mesh_size, 0.0, 0.25 * min(clamp.size), unit="m", above=True)
    outline = _outline(clamp, mesh_size)
    inner = _lattice(clamp, mesh_size, turn)
    inner = inner[_inside(clamp, inner, 0.55 * mesh_size)]
    points = np.vstack([outline, inner])
    held = np.arange(len(points)) < len(outline)
    for _ in range(3):
        triangles = _triangulate(points, clamp)
        points = _smooth(points, triangles, held)
    return points + np.array(clamp.centre), _triangulate(points, clamp), held


def _outline(clamp, h):
    if clamp.round:
        n = max(int(round(np.pi * clamp.size[0] / h)), 12)
        angle = 2.0 * np.pi * np.arange(n) / n
        return 0.5 * clamp.size[0] * np.stack([np.cos(angle), np.sin(angle)], 1)
    a, b = 0.5 * clamp.size[0], 0.5 * clamp.size[1]
    n, m = max(int(round(2 * a / h)), 4), max(int(round(2 * b / h)), 4)
    u, v = np.linspace(-a, a, n + 1)[:-1], np.linspace(-b, b, m + 1)[:-1]
    return np.vstack([np.stack([u, np.full(n, -b)], 1), np.stack([np.full(m, a), v], 1),
                      np.stack([-u, np.full(n, b)], 1), np.stack([np.full(m, -a), -v], 1)])


def _lattice(clamp, h, turn):
    reach = 0.75 * np.hypot(clamp.size[0], clamp.size[-1])
    rows = np.arange(-int(reach / h / 0.866) - 1, int(reach / h / 0.866) + 2)
    columns = np.arange(-int(reach / h) - 1, int(reach / h) + 2)
    x = (columns[None, :] + 0.5 * (rows[:, None] % 2)) * h
    y = np.repeat(rows[:, None] * h * np.sqrt(0.75), len(columns), axis=1)
    c, s = np.cos(turn), np.sin(turn)
    return np.stack([(c * x - s * y).ravel(), (s * x + c * y).ravel()], 1)


def _inside(clamp, points, margin):
    if clamp.round:
        return np.hypot(points[:, 0], points[:, 1]) < 0.5 * clamp.size[0] - margin
    half = 0.5 * np.array(clamp.size) - margin
    return np.all(np.abs(points) < half, axis=1)


def _triangulate(points, clamp):
    triangles = Delaunay(points).simplices.astype(np.int64)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    twice = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    triangles[twice < 0.0] = triangles[twice < 0.0][:, ::-1]
    flat = np.abs(twice) < 1e-9 * max(clamp.size) ** 2
    return triangles[~flat]


def _smooth(points, triangles, held):
    total, count = np.zeros_like(points), np.zeros(len(points))
    for k in range(3):
        for j in (1, 2):
            np.add.at(total, triangles[:, k], points[triangles[:, (k + j) % 3]])
            np.add.at(count, triangles[:, k], 1.0)
    return np.where(held[:, None], points, total / np.maximum(count, 1.0)[:, None])


def neighbours(triangles):
    """Triangle beyond each edge 01, 12, 20; -1 at the outline.

    Raises
    ------
    Refused
        If more than two triangles share an edge.
    """
    ends = np.sort(np.stack([triangles, np.roll(triangles, -1, axis=1)], -1).reshape(-1, 2), 1)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    same = np.all(ends[order[1:]] == ends[order[:-1]], axis=1)
    if np.any(same[1:] & same[:-1]):
        raise Refused("sheet mesh", "more than two triangles of the sheet share an edge.")
    beyond = np.full(3 * len(triangles), -1, dtype=np.int64)
    one, two = order[:-1][same], order[1:][same]
    beyond[one], beyond[two] = two // 3, one // 3
    return beyond.reshape(-1, 3)


@njit(cache=True)
def _length2(x, a, b):
    return (x[a, 0] - x[b, 0]) ** 2 + (x[a, 1] - x[b, 1]) ** 2 + (x[a, 2] - x[b, 2]) ** 2


@njit(cache=True)
def longest_edge(x, tri, t):
    """Number 0, 1, 2 and squared length of the longest edge; ties go by the node numbers."""
    best, longest = 0, -1.0
    key = -1
    for k in range(3):
        a, b = tri[t, k], tri[t, (k + 1) % 3]
        size = _length2(x, a, b)
        rank = min(a, b) * 4294967296 + max(a, b)
        if size > longest * (1.0 + 1e-12) or (size > longest * (1.0 - 1e-12) and rank > key):
            best, longest, key = k, size, rank
    return best, longest


@njit(cache=True)
def _edge_towards(tri, t, a, b):
    for k in range(3):
        if tri[t, k] == a and tri[t, (k + 1) % 3] == b:
            return k
    return -1


@njit(cache=True)
def _relink(beyond, t, old, new):
    if t >= 0:
        for k in range(3):
            if beyond[t, k] == old:
                beyond[t, k] = new
                return


@njit(cache=True)
def _halve(tri, beyond, parent, t, k, middle, new):
    """Cut triangle t at `middle` of its edge k; the half at the edge's far end becomes `new`."""
    a, b, c = tri[t, k], tri[t, (k + 1) % 3], tri[t, (k + 2) % 3]
    over_ab, over_bc, over_ca = beyond[t, k], beyond[t, (k + 1) % 3], beyond[t, (k + 2) % 3]
    tri[t, 0], tri[t, 1], tri[t, 2] = a, middle, c
    beyond[t, 0], beyond[t, 1], beyond[t, 2] = over_ab, new, over_ca
    tri[new, 0], tri[new, 1], tri[new, 2] = middle, b, c
    beyond[new, 0], beyond[new, 1], beyond[new, 2] = over_ab, over_bc, t
    _relink(beyond, over_bc, t, new)
    parent[new] = t


@njit(cache=True)
def split_edge(tri, beyond, parent, ends, t, k, nodes, faces):
    """Bisect edge k of triangle t and the triangle beyond it with a new node `nodes`.

    Returns the new counts of nodes and faces; `ends` keeps the two ends of the new node's edge, and 1 if
    it is on the outline; `parent` the triangle that each new one was cut from.
    """
    a, b = tri[t, k], tri[t, (k + 1) % 3]
    other = beyond[t, k]
    ends[nodes, 0], ends[nodes, 1], ends[nodes, 2] = a, b, int(other < 0)
    first = faces
    _halve(tri, beyond, parent, t, k, nodes, first)
    if other < 0:
        return nodes + 1, faces + 1
    second = faces + 1
    _halve(tri, beyond, parent, other, _edge_towards(tri, other, b, a), nodes, second)
    # t holds a-m, `first` m-b; `other` was cut from b: it holds b-m, `second` m-a
    beyond[t, 0], beyond[second, 0] = second, t
    beyond[first, 0], beyond[other, 0] = other, first
    return nodes + 1, faces + 2


@njit(cache=True)
def bisect(x, tri, beyond, parent, ends, t, nodes, faces):
    """Bisect triangle t at its longest edge, cutting longer-edged neighbours first.

    `x` needs room for the new nodes: their positions are set to the middle of their edge. Returns
    the new counts of nodes and faces, unchanged if there is no room left.
    """
    target = t
    while True:
        k, size = longest_edge(x, tri, t)
        other = beyond[t, k]
        if other >= 0:
            j, _ = longest_edge(x, tri, other)
            if beyond[other, j] != t:
                t = other
                continue
        if nodes >= x.shape[0] or faces + 2 > tri.shape[0]:
            return nodes, faces
        a, b = tri[t, k], tri[t, (k + 1) % 3]
        for c in range(3):
            x[nodes, c] = 0.5 * (x[a, c] + x[b, c])
        nodes, faces = split_edge(tri, beyond, parent, ends, t, k, nodes, faces)
        if t == target or other == target:
            return nodes, faces
        t = target


class Sheet:
    """The sheet on its way: growing arrays of nodes and triangles.

    Parameters
    ----------
    clamp : Clamp
        Frame.
    mesh_size : float
        Edge of the flat triangles, > 0. [m]
    turn : float
        Angle of the lattice. [rad]
    height : float
        z of the flat sheet at the start. [m]
    """

    _NODES = {"flat": 2, "x": 3, "v": 3, "w": 3, "f": 3, "a": 3, "normal": 3, "gap": 2, "gone": 2,
              "m": 0, "landed": 0, "heat": 0}
    _NODE_NUMBERS = {"state": 0, "near": 2, "ends": 3}
    _FACE_NUMBERS = {"tri": 3, "beyond": 3, "parent": 0, "chilled": 0}

    def __init__(self, clamp: Clamp, mesh_size: float, turn: float, height: float):
        flat, tri, held = flat_mesh(clamp, mesh_size, turn)
        self.first_nodes = self.nodes = len(flat)
        self.faces = len(tri)
        self._data = {}
        self._room(3 * self.nodes, 3 * self.faces)
        self.flat[:] = flat
        self.x[:, :2], self.x[:, 2] = flat, height
        self.state[held], self.landed[:], self.heat[:] = CLAMP, np.nan, 1.0
        self.tri[:], self.beyond[:] = tri, neighbours(tri)

    def __getattr__(self, name):
        data = self.__dict__.get("_data", {})
        if name not in data:
            raise AttributeError(name)
        count = self.faces if name in self._FACE_NUMBERS or name == "set" else self.nodes
        return data[name][:count]

    def _room(self, nodes, faces):
        for table, kind, size in ((self._NODES, float, nodes), (self._NODE_NUMBERS, np.int64, nodes),
                                  (self._FACE_NUMBERS, np.int64, faces), ({"set": 4}, float, faces)):
            for name, width in table.items():
                new = np.zeros((size, width) if width else size, kind)
                if name in self._data:
                    new[: len(self._data[name])] = self._data[name]
                self._data[name] = new

    def refine(self, limit: float, marked, tool, tolerance: float) -> bool:
        """Bisect every moving triangle with an edge above `limit`, and the marked ones once.

        Returns
        -------
        bool
            True if the mesh has changed.
        """
        before = self.nodes
        d = self._data
        while True:
            if len(d["x"]) < 1.3 * self.nodes or len(d["tri"]) < 1.3 * self.faces:
                self._room(2 * self.nodes, 2 * self.faces)
            start = self.nodes
            self.nodes, self.faces = _refine(
                d["flat"], d["x"], d["v"], d["w"], d["normal"], d["gap"], d["gone"], d["landed"],
                d["heat"], d["state"], d["near"], d["ends"], d["tri"], d["beyond"], d["parent"],
                d["chilled"], d["set"], marked, limit * limit, tool, tolerance, self.nodes,
                self.faces)
            marked = marked[:0]
            if self.nodes == start or self.nodes > MOST_NODES:
                return self.nodes > before

    def earlier(self, positions) -> np.ndarray:
        """Positions of today's nodes in the picture of an earlier, coarser moment."""
        out = np.empty((self.nodes, 3))
        out[: len(positions)] = positions
        _prolong(out, self.ends, len(positions))
        return out

    def inverse(self, faces):
        """Inverse flat edge matrices, row by row, and flat areas of some triangles."""
        a, b, c = (self.flat[self.tri[faces, k]] for k in range(3))
        u, w = b - a, c - a
        twice = u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]
        inverse = np.stack([w[:, 1], -w[:, 0], -u[:, 1], u[:, 0]], 1) / twice[:, None]
        return inverse, 0.5 * twice


MOST_NODES = 150_000


@njit(cache=True)
def _prolong(x, ends, known):
    for i in range(known, x.shape[0]):
        for d in range(3):
            x[i, d] = 0.5 * (x[ends[i, 0], d] + x[ends[i, 1], d])


@njit(cache=True)
def _refine(flat, x, v, w, normal, gap, gone, landed, heat, state, near, ends, tri, beyond, parent,
            chilled, touched, marked, limit, tool, tolerance, nodes, faces):
    """One pass of `Sheet.refine`; stops early when the arrays are full."""
    count = faces
    for q in range(marked.shape[0] + count):
        once = q < marked.shape[0]
        t = marked[q] if once else q - marked.shape[0]
        while True:
            fixed = True
            for k in range(3):
                fixed = fixed and state[tri[t, k]] in (TOOL, CLAMP)
            if not once and (fixed or longest_edge(x, tri, t)[1] <= limit):
                break
            n, m = bisect(x, tri, beyond, parent, ends, t, nodes, faces)
            if n == nodes:
                return nodes, faces
            for i in range(nodes, n):
                _inherit(i, flat, x, v, w, normal, gap, gone, landed, heat, state, near, ends, tool,
                         tolerance)
            for e in range(faces, m):
                chilled[e] = chilled[parent[e]]
                for k in range(4):
                    touched[e, k] = touched[parent[e], k]
            nodes, faces = n, m
            if once:
                break
    return nodes, faces


@njit(cache=True)
def _inherit(i, flat, x, v, w, normal, gap, gone, landed, heat, state, near, ends, tool, tolerance):
    """What a new node takes from the two ends of its edge."""
    a, b = ends[i, 0], ends[i, 1]
    for d in range(2):
        flat[i, d] = 0.5 * (flat[a, d] + flat[b, d])
        gap[i, d] = gone[i, d] = 0.0
        near[i, d] = near[a, d]
    for d in range(3):
        v[i, d] = 0.5 * (v[a, d] + v[b, d])
        w[i, d] = 0.5 * (w[a, d] + w[b, d])
        normal[i, d] = normal[a, d]
    heat[i] = 0.5 * (heat[a] + heat[b])
    landed[i] = np.nan
    state[i] = FREE
    if ends[i, 2] == 1:
        state[i] = CLAMP
    elif state[a] == TOOL and state[b] == TOOL:
        away, cx, cy, cz, face = closest(tool, x[i, 0], x[i, 1], x[i, 2], near[a, 0])
        near[i, 0] = face
        if away <= tolerance:
            x[i, 0], x[i, 1], x[i, 2] = cx, cy, cz
            for d in range(3):
                v[i, d] = w[i, d] = 0.0
                normal[i, d] = tool.face_normals[face, d]
            state[i], landed[i] = TOOL, max(landed[a], landed[b])
