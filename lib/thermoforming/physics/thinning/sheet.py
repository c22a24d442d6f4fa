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
from scipy.spatial import Delaunay, cKDTree

from thermoforming.guard import Refused, within
from thermoforming.physics.thinning.contact import closest, deepest
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


def flat_mesh(clamp: Clamp, mesh_size: float, turn: float = 0.0, features=None):
    """Triangulate the flat sheet inside the frame.

    Parameters
    ----------
    clamp : Clamp
        Outline.
    mesh_size : float
        Edge of the triangles, > 0, at most a quarter of the least width of the frame. [m]
    turn : float
        Angle of the lattice, to show that it does not matter. [rad]
    features : array, shape (k, 2), or None
        Points of lines that the mesh is to follow, no closer than about the mesh size. [m]

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
    lines = np.zeros((0, 2)) if features is None else features - np.array(clamp.centre)
    lines = lines[_inside(clamp, lines, 0.5 * mesh_size)]
    inner = _lattice(clamp, mesh_size, turn)
    inner = inner[_inside(clamp, inner, 0.55 * mesh_size)]
    if len(lines):
        inner = inner[cKDTree(lines).query(inner)[0] > 0.7 * mesh_size]
    points = np.vstack([outline, lines, inner])
    fixed = np.arange(len(points)) < len(outline) + len(lines)
    for _ in range(3):
        triangles = _triangulate(points, clamp)
        points = _smooth(points, triangles, fixed)
    held = np.arange(len(points)) < len(outline)
    return points + np.array(clamp.centre), _triangulate(points, clamp), held


def sharp_lines(tool, height: float, spacing: float, tolerance: float) -> np.ndarray:
    """Points along the tool's sharp edges that lie in a plane, about `spacing` apart.

    The flat sheet that first meets the tool in this plane folds along these edges.

    Tips that end in this plane (a cone's) are points of their own.

    Returns
    -------
    array, shape (k, 2)
        Across the plane. [m]
    """
    ends = np.stack([tool.faces, np.roll(tool.faces, -1, axis=1)], -1)[tool.sharp]
    ends = np.unique(np.sort(ends, axis=1), axis=0)
    a, b = tool.vertices[ends[:, 0]], tool.vertices[ends[:, 1]]
    flat = (np.abs(a[:, 2] - height) < tolerance) & (np.abs(b[:, 2] - height) < tolerance)
    points = [_along(p, q, 0.25 * spacing) for p, q in zip(a[flat, :2], b[flat, :2])]
    level = np.abs(tool.vertices[:, 2] - height) < tolerance
    level[tool.faces[level[tool.faces].sum(axis=1) > 1]] = False
    points.extend(tool.vertices[level, None, :2])
    return _thin(np.vstack(points), spacing) if points else np.zeros((0, 2))


def _along(p, q, step):
    n = max(int(np.ceil(np.hypot(*(q - p)) / step)), 1)
    return p + (q - p) * (np.arange(n + 1) / n)[:, None]


def _thin(points, spacing):
    """Keep points that are at least nearly `spacing` from those kept before."""
    near = cKDTree(points).query_ball_point(points, 0.8 * spacing)
    taken = np.zeros(len(points), bool)
    kept = []
    for i, around in enumerate(near):
        if not taken[i]:
            kept.append(i)
            taken[around] = True
    return points[kept]


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
def _halve(tri, beyond, parent, cut, t, k, middle, new):
    """Cut triangle t at `middle` of its edge k; the half at the edge's far end becomes `new`."""
    a, b, c = tri[t, k], tri[t, (k + 1) % 3], tri[t, (k + 2) % 3]
    over_ab, over_bc, over_ca = beyond[t, k], beyond[t, (k + 1) % 3], beyond[t, (k + 2) % 3]
    tri[t, 0], tri[t, 1], tri[t, 2] = a, middle, c
    beyond[t, 0], beyond[t, 1], beyond[t, 2] = over_ab, new, over_ca
    tri[new, 0], tri[new, 1], tri[new, 2] = middle, b, c
    beyond[new, 0], beyond[new, 1], beyond[new, 2] = over_ab, over_bc, t
    _relink(beyond, over_bc, t, new)
    parent[new] = t
    cut[t] = cut[new] = middle


@njit(cache=True)
def split_edge(tri, beyond, parent, cut, ends, t, k, nodes, faces):
    """Bisect edge k of triangle t and the triangle beyond it with a new node `nodes`.

    Returns the new counts of nodes and faces; `ends` keeps the two ends of the new node's edge,
    and 1 if it is on the outline; `parent` the triangle that each new one was cut from, and
    `cut` the node by which each was cut last.
    """
    a, b = tri[t, k], tri[t, (k + 1) % 3]
    other = beyond[t, k]
    ends[nodes, 0], ends[nodes, 1], ends[nodes, 2] = a, b, int(other < 0)
    first = faces
    _halve(tri, beyond, parent, cut, t, k, nodes, first)
    if other < 0:
        return nodes + 1, faces + 1
    second = faces + 1
    _halve(tri, beyond, parent, cut, other, _edge_towards(tri, other, b, a), nodes, second)
    # t holds a-m, `first` m-b; `other` was cut from b: it holds b-m, `second` m-a
    beyond[t, 0], beyond[second, 0] = second, t
    beyond[first, 0], beyond[other, 0] = other, first
    return nodes + 1, faces + 2


@njit(cache=True)
def bisect(x, tri, beyond, parent, cut, ends, t, nodes, faces):
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
        nodes, faces = split_edge(tri, beyond, parent, cut, ends, t, k, nodes, faces)
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
    features : array, shape (k, 2)
        Points of lines that the mesh follows. [m]
    """

    _NODES = {"flat": 2, "x": 3, "v": 3, "w": 3, "f": 3, "a": 3, "normal": 3, "gap": 2, "gone": 2,
              "m": 0, "landed": 0, "heat": 0, "share": 0}
    _NODE_NUMBERS = {"state": 0, "near": 2, "ends": 3}
    _FACE_NUMBERS = {"tri": 3, "beyond": 3, "parent": 0, "chilled": 0, "cut": 0}

    def __init__(self, clamp: Clamp, mesh_size: float, turn: float, height: float,
                 features=None):
        flat, tri, held = flat_mesh(clamp, mesh_size, turn, features)
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
        tables = ((self._NODES, float, nodes), (self._NODE_NUMBERS, np.int64, nodes),
                  (self._FACE_NUMBERS, np.int64, faces), ({"set": 4}, float, faces))
        for table, kind, size in tables:
            for name, width in table.items():
                new = np.zeros((size, width) if width else size, kind)
                if name in self._data:
                    new[: len(self._data[name])] = self._data[name]
                self._data[name] = new

    def refine(self, limit: float, marked, tool, tolerance: float, volume: float = 0.0) -> bool:
        """Bisect every moving triangle with an edge above `limit`, and the marked ones once.

        New points within `tolerance` of the tool land there, at the given evacuated volume.

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
                d["heat"], d["state"], d["near"], d["ends"], d["share"], d["tri"], d["beyond"],
                d["parent"], d["cut"], d["chilled"], d["set"], marked, limit * limit, tool,
                tolerance, volume, self.nodes, self.faces)
            marked = marked[:0]
            if self.nodes == start or self.nodes >= MOST_NODES:
                return self.nodes > before

    def conform(self, fresh, since: int, tool, sharp, depth: float, shortest: float,
                volume: float) -> int:
        """Give the formed sheet a point wherever an edge is sunk in the tool, there exactly.

        For the finished picture: the new triangles are too thin to calculate with.

        Parameters
        ----------
        fresh : array of bool, shape (nodes,)
            Points that have landed since the last call; edges between others at rest are skipped.
        since : int
            Edges between triangles last cut by a point before this number are skipped.
        tool, sharp : Surface
            The tool and its `contact.ridges`: a point near one is put on it.
        depth : float
            How far an edge may sink. [m]
        shortest : float
            Edges shorter than this are left alone. [m]
        volume : float
            Volume evacuated, noted as the time of landing. [m3]

        Returns
        -------
        int
            Points added.
        """
        before, d = self.nodes, self._data
        while True:
            if len(d["x"]) < 1.3 * self.nodes or len(d["tri"]) < 1.3 * self.faces:
                self._room(2 * self.nodes, 2 * self.faces)
            self.nodes, self.faces, full = _conform(
                d["flat"], d["x"], d["v"], d["w"], d["normal"], d["gap"], d["gone"], d["landed"],
                d["heat"], d["state"], d["near"], d["ends"], d["share"], d["tri"], d["beyond"],
                d["parent"], d["cut"], d["chilled"], d["set"], fresh, since, tool, sharp, depth,
                shortest, volume, self.nodes, self.faces)
            if not full or self.nodes > MOST_NODES:
                return self.nodes - before

    def earlier(self, positions) -> np.ndarray:
        """Positions of today's nodes in the picture of an earlier, coarser moment."""
        out = np.empty((self.nodes, 3))
        out[: len(positions)] = positions
        return self.later(out, len(positions))

    def later(self, values, known: int):
        """Fill rows from `known` on with values between the ends of the edges they were put in."""
        _prolong(values, self.ends, self.share, known)
        return values

    def inverse(self, faces):
        """Inverse flat edge matrices, row by row, and flat areas of some triangles."""
        a, b, c = (self.flat[self.tri[faces, k]] for k in range(3))
        u, w = b - a, c - a
        twice = u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]
        inverse = np.stack([w[:, 1], -w[:, 0], -u[:, 1], u[:, 0]], 1) / twice[:, None]
        return inverse, 0.5 * twice


MOST_NODES = 150_000


@njit(cache=True)
def _prolong(x, ends, share, known):
    for i in range(known, x.shape[0]):
        for d in range(x.shape[1]):
            a, b = x[ends[i, 0], d], x[ends[i, 1], d]
            x[i, d] = a + share[i] * (b - a)


@njit(cache=True)
def _refine(flat, x, v, w, normal, gap, gone, landed, heat, state, near, ends, share, tri, beyond,
            parent, cut, chilled, touched, marked, limit, tool, tolerance, volume,
            nodes, faces):
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
            if nodes >= MOST_NODES:
                return nodes, faces
            n, m = bisect(x, tri, beyond, parent, cut, ends, t, nodes, faces)
            if n == nodes:
                return nodes, faces
            for i in range(nodes, n):
                share[i] = 0.5
                _inherit(i, flat, v, w, normal, gap, gone, landed, heat, state, near, ends, share)
                _settle(i, x, v, w, normal, landed, state, near, tool, tolerance, volume)
            _inherit_faces(faces, m, parent, chilled, touched)
            nodes, faces = n, m
            if once:
                break
    return nodes, faces


@njit(cache=True)
def _inherit_faces(first, end, parent, chilled, touched):
    for e in range(first, end):
        chilled[e] = chilled[parent[e]]
        for k in range(4):
            touched[e, k] = touched[parent[e], k]


@njit(cache=True)
def _inherit(i, flat, v, w, normal, gap, gone, landed, heat, state, near, ends, share):
    """What a new node takes from the two ends of its edge."""
    a, b, s = ends[i, 0], ends[i, 1], share[i]
    for d in range(2):
        flat[i, d] = flat[a, d] + s * (flat[b, d] - flat[a, d])
        gap[i, d] = 0.0 if np.isfinite(gap[a, d]) else np.inf
        gone[i, d] = 0.0
        near[i, d] = near[a, d]
    for d in range(3):
        v[i, d] = v[a, d] + s * (v[b, d] - v[a, d])
        w[i, d] = w[a, d] + s * (w[b, d] - w[a, d])
        normal[i, d] = normal[a, d]
    heat[i] = heat[a] + s * (heat[b] - heat[a])
    landed[i] = np.nan
    state[i] = CLAMP if ends[i, 2] == 1 else FREE


@njit(cache=True)
def _settle(i, x, v, w, normal, landed, state, near, tool, tolerance, volume):
    """A new node that finds itself in the tool rests there."""
    if state[i] != FREE:
        return
    away, cx, cy, cz, face = closest(tool, x[i, 0], x[i, 1], x[i, 2], near[i, 0])
    near[i, 0] = face
    if away <= tolerance:
        _put(i, cx, cy, cz, face, volume, x, v, w, normal, landed, state, near, tool)


@njit(cache=True)
def _put(i, cx, cy, cz, face, when, x, v, w, normal, landed, state, near, tool):
    """Lay a node on the tool."""
    x[i, 0], x[i, 1], x[i, 2] = cx, cy, cz
    for d in range(3):
        v[i, d] = w[i, d] = 0.0
        normal[i, d] = tool.face_normals[face, d]
    state[i], landed[i], near[i, 0] = TOOL, when, face


@njit(cache=True)
def _worth_asking(a, b, x, state, gap, gone, normal, fresh, shortest):
    """True if the edge a-b may have sunk into the tool since it was last looked at."""
    if a >= fresh.shape[0] or b >= fresh.shape[0]:
        return False
    length = np.sqrt(_length2(x, a, b))
    if length < shortest:
        return False
    if state[a] != FREE and state[b] != FREE:
        if not (fresh[a] or fresh[b]):
            return False
        turn = 0.0
        for d in range(3):
            turn += (normal[a, d] - normal[b, d]) ** 2
        return turn > 1e-8 or state[a] != state[b]
    free_a = gap[a, 0] - gone[a, 0] if state[a] == FREE else 0.0
    free_b = gap[b, 0] - gone[b, 0] if state[b] == FREE else 0.0
    return free_a + free_b <= length


@njit(cache=True)
def _edge_depth(a, b, x, state, near, tool, depth):
    return deepest(tool, x[a, 0], x[a, 1], x[a, 2], x[b, 0], x[b, 1], x[b, 2], near[a, 0], depth,
                   state[a] == FREE and state[b] == FREE)


@njit(cache=True)
def _middle_depth(t, x, state, gap, gone, near, normal, tri, fresh, tool, shortest):
    """Depth in the tool of the middle of a triangle that may have sunk since it was looked at."""
    ask = False
    for k in range(3):
        a, b = tri[t, k], tri[t, (k + 1) % 3]
        ask = ask or _worth_asking(a, b, x, state, gap, gone, normal, fresh, shortest)
    if not ask:
        return 0.0
    i, j, k = tri[t, 0], tri[t, 1], tri[t, 2]
    return -closest(tool, (x[i, 0] + x[j, 0] + x[k, 0]) / 3.0, (x[i, 1] + x[j, 1] + x[k, 1]) / 3.0,
                    (x[i, 2] + x[j, 2] + x[k, 2]) / 3.0, near[i, 0])[0]


@njit(cache=True, nogil=True)
def sunk_faces(x, state, gap, gone, near, normal, tri, beyond, cut, fresh, since, tool, depth,
               shortest):
    """Triangles with an edge or a middle that has sunk into the tool by more than `depth`.

    `fresh` tells which nodes have landed since the last call; edges between others at rest, edges
    without a node from number `since` on, and those shorter than `shortest` are not looked at.
    """
    out = np.empty(tri.shape[0], np.int64)
    count = 0
    for t in range(tri.shape[0]):
        if cut[t] >= since and _middle_depth(t, x, state, gap, gone, near, normal, tri, fresh, tool,
                                             shortest) > depth:
            out[count] = t
            count += 1
            continue
        for k in range(3):
            a, b = tri[t, k], tri[t, (k + 1) % 3]
            other = beyond[t, k]
            if 0 <= other < t and max(cut[t], cut[other]) >= since and \
                    _worth_asking(a, b, x, state, gap, gone, normal, fresh, shortest):
                if _edge_depth(a, b, x, state, near, tool, depth)[0] > depth:
                    out[count] = t
                    count += 1
                    break
    return out[:count]


@njit(cache=True)
def _conform(flat, x, v, w, normal, gap, gone, landed, heat, state, near, ends, share, tri, beyond,
             parent, cut, chilled, touched, fresh, since, tool, sharp, depth, shortest, volume,
             nodes, faces):
    """One pass of `Sheet.conform`; the last value returned is True if the arrays were full."""
    for t in range(faces):
        k, s, cx, cy, cz, face = _where_sunk(t, x, state, gap, gone, near, normal, tri, beyond, cut,
                                             fresh, since, tool, sharp, depth, shortest)
        if k < 0:
            continue
        if nodes + 1 > x.shape[0] or faces + 2 > tri.shape[0]:
            return nodes, faces, True
        a, b = tri[t, k], tri[t, (k + 1) % 3]
        n, m = split_edge(tri, beyond, parent, cut, ends, t, k, nodes, faces)
        share[nodes] = s
        _inherit(nodes, flat, v, w, normal, gap, gone, landed, heat, state, near, ends, share)
        when = volume
        if state[a] == TOOL and state[b] == TOOL:
            when = max(landed[a], landed[b])
        if face >= 0:
            _put(nodes, cx, cy, cz, face, when, x, v, w, normal, landed, state, near, tool)
        else:
            x[nodes, 0], x[nodes, 1], x[nodes, 2] = cx, cy, cz
            _settle(nodes, x, v, w, normal, landed, state, near, tool, depth, when)
        _inherit_faces(faces, m, parent, chilled, touched)
        nodes, faces = n, m
    return nodes, faces, False


@njit(cache=True)
def _where_sunk(t, x, state, gap, gone, near, normal, tri, beyond, cut, fresh, since, tool, sharp,
                depth, shortest):
    """Edge of a triangle to split, the share along it, the new point and its face of the tool.

    The edge is -1 if nothing has sunk; the face -1 if only the middle has, and the longest edge is
    to be halved.
    """
    for k in range(3):
        a, b = tri[t, k], tri[t, (k + 1) % 3]
        other = beyond[t, k]
        if other >= 0 and max(cut[t], cut[other]) >= since and \
                _worth_asking(a, b, x, state, gap, gone, normal, fresh, shortest):
            sunk, s, cx, cy, cz, face = _edge_depth(a, b, x, state, near, tool, depth)
            if sunk > depth and min(s, 1.0 - s) >= 0.02:
                x0, y0 = x[a, 0] + s * (x[b, 0] - x[a, 0]), x[a, 1] + s * (x[b, 1] - x[a, 1])
                z0 = x[a, 2] + s * (x[b, 2] - x[a, 2])
                _, ex, ey, ez, _ = closest(sharp, x0, y0, z0, 0)
                if (ex - x0) ** 2 + (ey - y0) ** 2 + (ez - z0) ** 2 < 9.0 * sunk * sunk:
                    cx, cy, cz = ex, ey, ez
                return k, s, cx, cy, cz, face
    if cut[t] >= since and _middle_depth(t, x, state, gap, gone, near, normal, tri, fresh, tool,
                                         shortest) > depth:
        k, _ = longest_edge(x, tri, t)
        a, b = tri[t, k], tri[t, (k + 1) % 3]
        return (k, 0.5, 0.5 * (x[a, 0] + x[b, 0]), 0.5 * (x[a, 1] + x[b, 1]),
                0.5 * (x[a, 2] + x[b, 2]), -1)
    return -1, 0.5, 0.0, 0.0, 0.0, -1
