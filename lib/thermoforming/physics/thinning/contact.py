"""Contact of the sheet with the tool's own triangles: signed distance in a volume hierarchy.

The hierarchy is stored in depth-first order with skip links, so that a query is one loop without
a stack. The sign comes from angle-weighted pseudonormals, which are right on edges and vertices
too (Baerentzen, Aanaes, IEEE Trans. Vis. Comput. Graph. 11 (2005) 243-253, from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from thermoforming.guard import Refused, finite

_LEAF = 4
_TRIED = (0.5, 0.125, 0.875, 0.25, 0.75, 0.375, 0.625)


class Surface(NamedTuple):
    """Triangles of one rigid body, ready for distance queries.

    Attributes
    ----------
    vertices, faces : array
        Welded mesh, wound so that normals point to the sheet's side. [m]
    face_normals, edge_normals, vertex_normals : array
        Unit normals of faces, (pseudo)normals of their edges 01, 12, 20 and of the vertices.
    low, high : array
        Corners of the boxes of the hierarchy. [m]
    first, count, skip : array
        Leaf triangles of each box (count 0 inside the tree) and where to go on past it.
    order : array
        Faces in the order of the leaves.
    sharp : array of bool, shape (m, 3)
        Edges 01, 12, 20 that are convex and turn by more than 20 degrees.
    """

    vertices: np.ndarray
    faces: np.ndarray
    face_normals: np.ndarray
    edge_normals: np.ndarray
    vertex_normals: np.ndarray
    low: np.ndarray
    high: np.ndarray
    first: np.ndarray
    count: np.ndarray
    skip: np.ndarray
    order: np.ndarray
    sharp: np.ndarray


def surface(vertices, faces, facing=(0.0, 0.0, 1.0)) -> Surface:
    """Prepare a mesh for contact: weld it, wind it alike, turn it to the sheet, build the boxes.

    Parameters
    ----------
    vertices : array, shape (n, 3)
        Corners of the triangles, in any order, repeated or not. [m]
    faces : array of int, shape (m, 3)
        Triangles, at least one. Those without area are dropped. [1]
    facing : tuple
        Direction in which the sheet lies, seen from the body. [1]

    Returns
    -------
    Surface
        Ready for `distance`.

    Raises
    ------
    Refused
        If a value is not finite, an index is out of range, or no triangle has an area.

    Notes
    -----
    Closed and open surfaces both; each connected piece is turned so that its outermost part along
    `facing` looks that way.
    """
    points, triangles = _weld(vertices, faces)
    triangles = _orient(points, triangles, np.asarray(facing, float))
    normals = _unit(_cross(points, triangles))
    edges, corners = _pseudonormals(points, triangles, normals)
    low, high, first, count, skip, order = _hierarchy(points, triangles)
    return Surface(points, triangles, normals, edges, corners, low, high, first, count, skip,
                   order, _sharp_edges(points, triangles, normals))


def _weld(vertices, faces):
    points = np.ascontiguousarray(finite("tool vertices", vertices), dtype=float)
    triangles = np.asarray(faces, dtype=np.int64)
    if points.ndim != 2 or points.shape[1] != 3 or triangles.ndim != 2 or triangles.shape[1] != 3:
        raise Refused("tool faces", "the tool mesh must be points in space and triangles of them.")
    if len(triangles) == 0 or triangles.min() < 0 or triangles.max() >= len(points):
        raise Refused("tool faces", "the tool mesh has no triangles, or they name missing points.")
    size = np.ptp(points, axis=0).max()
    _, keep, back = np.unique(np.round(points / (1e-7 * size)).astype(np.int64), axis=0,
                              return_index=True, return_inverse=True)
    points, triangles = points[keep], back.reshape(-1)[triangles]
    area = np.linalg.norm(_cross(points, triangles), axis=1)
    triangles = triangles[area > 1e-14 * size**2]
    if len(triangles) == 0:
        raise Refused("tool faces", "no triangle of the tool mesh has an area.")
    return points, triangles


def _cross(points, triangles):
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return np.cross(b - a, c - a)


def _unit(vectors):
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return vectors / np.where(length > 0.0, length, 1.0)


def _edge_pairs(triangles):
    """Half-edges 3 * face + k of the two sides of each edge that has two sides, and their ends."""
    ends = np.stack([triangles, np.roll(triangles, -1, axis=1)], -1).reshape(-1, 2)
    key = np.sort(ends, axis=1)
    order = np.lexsort((key[:, 1], key[:, 0]))
    same = np.all(key[order[1:]] == key[order[:-1]], axis=1)
    # an edge of three or more faces joins none of them
    crowd = np.concatenate([[False], same[1:] & same[:-1], [False]])
    same &= ~(crowd[1:] | crowd[:-1])
    return ends, order[:-1][same], order[1:][same]


def _orient(points, triangles, facing):
    """Wind every connected piece alike, its outermost triangle towards `facing`."""
    ends, one, two = _edge_pairs(triangles)
    alike = ends[one, 0] == ends[two, 1]
    sign, piece = _flood(len(triangles), one // 3, two // 3, alike)
    flip = sign < 0
    triangles = triangles.copy()
    triangles[flip] = triangles[flip][:, ::-1]
    up = _unit(_cross(points, triangles)) @ facing
    reach = (points[triangles] @ facing).mean(axis=1)
    for number in range(piece.max() + 1):
        inside = np.flatnonzero(piece == number)
        seen = inside[np.abs(up[inside]) > 0.1]
        if len(seen) and up[seen[np.argmax(reach[seen])]] < 0.0:
            triangles[inside] = triangles[inside][:, ::-1]
    return triangles


def _flood(count, one, two, alike):
    degree = np.bincount(np.concatenate([one, two]), minlength=count)
    start = np.concatenate([[0], np.cumsum(degree)])
    other = np.concatenate([two, one])[np.argsort(np.concatenate([one, two]), kind="stable")]
    same = np.concatenate([alike, alike])[np.argsort(np.concatenate([one, two]), kind="stable")]
    return _flood_kernel(count, start, other, same)


@njit(cache=True)
def _flood_kernel(count, start, other, same):
    sign = np.zeros(count, np.int64)
    piece = np.zeros(count, np.int64)
    stack = np.empty(count, np.int64)
    pieces = 0
    for seed in range(count):
        if sign[seed] != 0:
            continue
        sign[seed], piece[seed], stack[0], depth = 1, pieces, seed, 1
        while depth > 0:
            depth -= 1
            face = stack[depth]
            for k in range(start[face], start[face + 1]):
                near = other[k]
                if sign[near] == 0:
                    sign[near] = sign[face] if same[k] else -sign[face]
                    piece[near] = pieces
                    stack[depth] = near
                    depth += 1
        pieces += 1
    return sign, piece


def _pseudonormals(points, triangles, normals):
    _, one, two = _edge_pairs(triangles)
    edges = np.repeat(normals[:, None, :], 3, axis=1).reshape(-1, 3)
    both = normals[one // 3] + normals[two // 3]
    edges[one], edges[two] = both, both
    corners = np.zeros_like(points)
    for k in range(3):
        a = points[triangles[:, k]]
        b, c = points[triangles[:, (k + 1) % 3]] - a, points[triangles[:, (k + 2) % 3]] - a
        angle = np.arccos(np.clip(np.sum(_unit(b) * _unit(c), axis=1), -1.0, 1.0))
        np.add.at(corners, triangles[:, k], angle[:, None] * normals)
    return edges.reshape(-1, 3, 3), corners


def _sharp_edges(points, triangles, normals):
    _, one, two = _edge_pairs(triangles)
    sharp = np.zeros(3 * len(triangles), bool)
    turns = np.sum(normals[one // 3] * normals[two // 3], axis=1) < np.cos(np.radians(20.0))
    tip = points[triangles[two // 3, (two % 3 + 2) % 3]] - points[triangles[one // 3, one % 3]]
    sharp[one] = sharp[two] = turns & (np.sum(tip * normals[one // 3], axis=1) < 0.0)
    return sharp.reshape(-1, 3)


def ridges(tool: Surface) -> Surface:
    """Sharp edges of a surface as triangles without width for `closest`, or one of its corners."""
    ends = np.stack([tool.faces, np.roll(tool.faces, -1, axis=1)], -1)[tool.sharp]
    ends = np.unique(np.sort(ends, axis=1), axis=0) if len(ends) else np.zeros((1, 2), np.int64)
    faces = np.concatenate([ends, ends[:, 1:]], axis=1)
    low, high, first, count, skip, order = _hierarchy(tool.vertices, faces)
    none = np.zeros((len(faces), 3))
    return Surface(tool.vertices, faces, none, np.zeros((len(faces), 3, 3)), tool.vertex_normals,
                   low, high, first, count, skip, order, np.zeros((len(faces), 3), bool))


def _hierarchy(points, triangles):
    corner = points[triangles]
    return _build(corner.min(axis=1), corner.max(axis=1), corner.mean(axis=1))


@njit(cache=True)
def _build(low, high, centre):
    n = centre.shape[0]
    order = np.arange(n)
    size = 2 * n + 1
    box_low, box_high = np.empty((size, 3)), np.empty((size, 3))
    first, count = np.zeros(size, np.int64), np.zeros(size, np.int64)
    skip = np.zeros(size, np.int64)
    ranges = np.empty((128, 3), np.int64)
    ranges[0, 0], ranges[0, 1], ranges[0, 2] = 0, n, -1
    depth, nodes = 1, 0
    while depth > 0:
        depth -= 1
        begin, end, parent = ranges[depth, 0], ranges[depth, 1], ranges[depth, 2]
        if parent >= 0:
            skip[parent] = nodes
        here = order[begin:end]
        for k in range(3):
            box_low[nodes, k] = low[here, k].min()
            box_high[nodes, k] = high[here, k].max()
        if end - begin <= _LEAF:
            first[nodes], count[nodes] = begin, end - begin
        else:
            axis, widest = 0, -1.0
            for k in range(3):
                spread = centre[here, k].max() - centre[here, k].min()
                if spread > widest:
                    axis, widest = k, spread
            order[begin:end] = here[np.argsort(centre[here, axis])]
            middle = (begin + end) // 2
            ranges[depth, 0], ranges[depth, 1], ranges[depth, 2] = middle, end, -1
            ranges[depth + 1, 0], ranges[depth + 1, 1], ranges[depth + 1, 2] = begin, middle, -1
            depth += 2
        nodes += 1
    _link(first, count, skip, nodes)
    return (box_low[:nodes].copy(), box_high[:nodes].copy(), first[:nodes].copy(),
            count[:nodes].copy(), skip[:nodes].copy(), order)


@njit(cache=True)
def _link(first, count, skip, nodes):
    """Skip links of a depth-first binary tree: where its branch ends."""
    open_at = np.empty(nodes + 1, np.int64)
    left = np.empty(nodes + 1, np.int64)
    depth = 0
    for node in range(nodes):
        if count[node] == 0:
            open_at[depth], left[depth] = node, 2
            depth += 1
            continue
        skip[node] = node + 1
        while depth > 0:
            left[depth - 1] -= 1
            if left[depth - 1] > 0:
                break
            depth -= 1
            skip[open_at[depth]] = node + 1


@njit(cache=True, inline="always")
def _box_gap(low, high, node, x, y, z):
    """Squared distance from a point to a box."""
    dx = max(low[node, 0] - x, 0.0, x - high[node, 0])
    dy = max(low[node, 1] - y, 0.0, y - high[node, 1])
    dz = max(low[node, 2] - z, 0.0, z - high[node, 2])
    return dx * dx + dy * dy + dz * dz


@njit(cache=True)
def _closest_on_triangle(v, f, t, x, y, z):
    """Closest point of a triangle and its feature: 0 face, 1..3 edges 01 12 20, 4..6 corners.

    By the regions of Ericson, Real-Time Collision Detection (from memory).
    """
    i, j, k = f[t, 0], f[t, 1], f[t, 2]
    ax, ay, az = v[i, 0], v[i, 1], v[i, 2]
    abx, aby, abz = v[j, 0] - ax, v[j, 1] - ay, v[j, 2] - az
    acx, acy, acz = v[k, 0] - ax, v[k, 1] - ay, v[k, 2] - az
    apx, apy, apz = x - ax, y - ay, z - az
    d1 = abx * apx + aby * apy + abz * apz
    d2 = acx * apx + acy * apy + acz * apz
    if d1 <= 0.0 and d2 <= 0.0:
        return ax, ay, az, 4
    bpx, bpy, bpz = x - v[j, 0], y - v[j, 1], z - v[j, 2]
    d3 = abx * bpx + aby * bpy + abz * bpz
    d4 = acx * bpx + acy * bpy + acz * bpz
    if d3 >= 0.0 and d4 <= d3:
        return v[j, 0], v[j, 1], v[j, 2], 5
    vc = d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        s = d1 / (d1 - d3)
        return ax + s * abx, ay + s * aby, az + s * abz, 1
    cpx, cpy, cpz = x - v[k, 0], y - v[k, 1], z - v[k, 2]
    d5 = abx * cpx + aby * cpy + abz * cpz
    d6 = acx * cpx + acy * cpy + acz * cpz
    if d6 >= 0.0 and d5 <= d6:
        return v[k, 0], v[k, 1], v[k, 2], 6
    vb = d5 * d2 - d1 * d6
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        s = d2 / (d2 - d6)
        return ax + s * acx, ay + s * acy, az + s * acz, 3
    va = d3 * d6 - d5 * d4
    if va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        s = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        return (v[j, 0] + s * (v[k, 0] - v[j, 0]), v[j, 1] + s * (v[k, 1] - v[j, 1]),
                v[j, 2] + s * (v[k, 2] - v[j, 2]), 2)
    total = 1.0 / (va + vb + vc)
    s, r = vb * total, vc * total
    return (ax + abx * s + acx * r, ay + aby * s + acy * r, az + abz * s + acz * r, 0)


@njit(cache=True, nogil=True)
def closest(tool, x, y, z, guess):
    """Closest point of the surface to one point.

    Returns
    -------
    tuple
        Signed distance (negative inside), the closest point's x, y, z, its triangle. `guess` is
        the triangle of an earlier query nearby, or 0; it only makes the query quick.
    """
    v, f = tool.vertices, tool.faces
    bx, by, bz, feature = _closest_on_triangle(v, f, guess, x, y, z)
    best = (x - bx) ** 2 + (y - by) ** 2 + (z - bz) ** 2
    face = guess
    node, nodes = 0, tool.skip.shape[0]
    while node < nodes:
        if _box_gap(tool.low, tool.high, node, x, y, z) >= best:
            node = tool.skip[node]
            continue
        for k in range(tool.first[node], tool.first[node] + tool.count[node]):
            t = tool.order[k]
            cx, cy, cz, where = _closest_on_triangle(v, f, t, x, y, z)
            gap = (x - cx) ** 2 + (y - cy) ** 2 + (z - cz) ** 2
            if gap < best:
                best, bx, by, bz, face, feature = gap, cx, cy, cz, t, where
        node += 1
    nx, ny, nz = feature_normal(tool, face, feature)
    side = (x - bx) * nx + (y - by) * ny + (z - bz) * nz
    away = np.sqrt(best)
    return (away if side >= 0.0 else -away), bx, by, bz, face


@njit(cache=True)
def feature_normal(tool, face, feature):
    """Pseudonormal of a face, an edge or a corner; not of unit length."""
    if feature == 0:
        n = tool.face_normals[face]
    elif feature < 4:
        n = tool.edge_normals[face, feature - 1]
    else:
        n = tool.vertex_normals[tool.faces[face, feature - 4]]
    return n[0], n[1], n[2]


@njit(cache=True, nogil=True)
def distances(tool, points):
    """Signed distances of many points. [m]"""
    out = np.empty(points.shape[0])
    guess = 0
    for i in range(points.shape[0]):
        out[i], _, _, _, guess = closest(tool, points[i, 0], points[i, 1], points[i, 2], guess)
    return out


@njit(cache=True, nogil=True)
def cast(tool, x, y, z, dx, dy, dz):
    """Share of the way at which a straight step first meets the surface, 2 if it does not."""
    best = 2.0
    node, nodes = 0, tool.skip.shape[0]
    while node < nodes:
        if not _meets_box(tool.low, tool.high, node, x, y, z, dx, dy, dz, best):
            node = tool.skip[node]
            continue
        for k in range(tool.first[node], tool.first[node] + tool.count[node]):
            s = _meets_triangle(tool.vertices, tool.faces, tool.order[k], x, y, z, dx, dy, dz)
            if s < best:
                best = s
        node += 1
    return best if best <= 1.0 else 2.0


@njit(cache=True)
def _meets_box(low, high, node, x, y, z, dx, dy, dz, limit):
    near, far = 0.0, min(limit, 1.0)
    for k in range(3):
        p = x if k == 0 else (y if k == 1 else z)
        d = dx if k == 0 else (dy if k == 1 else dz)
        if abs(d) < 1e-300:
            if p < low[node, k] or p > high[node, k]:
                return False
            continue
        a, b = (low[node, k] - p) / d, (high[node, k] - p) / d
        near, far = max(near, min(a, b)), min(far, max(a, b))
        if near > far + 1e-12:
            return False
    return True


@njit(cache=True)
def _meets_triangle(v, f, t, x, y, z, dx, dy, dz):
    """Moeller and Trumbore's crossing of a segment and a triangle (from memory)."""
    a, b, c = v[f[t, 0]], v[f[t, 1]], v[f[t, 2]]
    e1x, e1y, e1z = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    e2x, e2y, e2z = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    px, py, pz = dy * e2z - dz * e2y, dz * e2x - dx * e2z, dx * e2y - dy * e2x
    det = e1x * px + e1y * py + e1z * pz
    if abs(det) < 1e-300:
        return 2.0
    tx, ty, tz = x - a[0], y - a[1], z - a[2]
    u = (tx * px + ty * py + tz * pz) / det
    qx, qy, qz = ty * e1z - tz * e1y, tz * e1x - tx * e1z, tx * e1y - ty * e1x
    w = (dx * qx + dy * qy + dz * qz) / det
    if u < -1e-9 or w < -1e-9 or u + w > 1.0 + 1e-9:
        return 2.0
    s = (e2x * qx + e2y * qy + e2z * qz) / det
    return s if 0.0 <= s <= 1.0 else 2.0


@njit(cache=True, nogil=True)
def deepest(tool, ax, ay, az, bx, by, bz, guess, tolerance, pierced):
    """Where along a straight line a-b the surface is entered deepest.

    `pierced` asks to look for thin ribs between the points tried, too.

    Returns
    -------
    tuple
        Depth (0 if none above `tolerance`), share of the way from a, the point of the surface
        there and its triangle.
    """
    depth, share, clear = 0.0, 0.5, 1e300
    face = guess
    length = np.sqrt((bx - ax) ** 2 + (by - ay) ** 2 + (bz - az) ** 2)
    if length == 0.0:
        return 0.0, 0.5, ax, ay, az, face
    low = high = 0.5  # the part of the line that the distance at its middle keeps clear
    for k in range(7):
        s = _TRIED[k]
        if low < s < high:
            continue
        away, _, _, _, face = closest(tool, ax + s * (bx - ax), ay + s * (by - ay),
                                      az + s * (bz - az), face)
        if k == 0 and away > 0.0:
            low, high = 0.5 - away / length, 0.5 + away / length
        clear = min(clear, away)
        if -away > depth:
            depth, share = -away, s
    if depth <= tolerance:
        if not pierced or clear > 0.125 * length:
            return 0.0, 0.5, ax, ay, az, face
        s = cast(tool, ax + 0.03 * (bx - ax), ay + 0.03 * (by - ay), az + 0.03 * (bz - az),
                 0.94 * (bx - ax), 0.94 * (by - ay), 0.94 * (bz - az))
        if s > 1.0:
            return 0.0, 0.5, ax, ay, az, face
        r = cast(tool, bx + 0.03 * (ax - bx), by + 0.03 * (ay - by), bz + 0.03 * (az - bz),
                 0.94 * (ax - bx), 0.94 * (ay - by), 0.94 * (az - bz))
        share = 0.5 * (0.03 + 0.94 * s + 0.97 - 0.94 * r)
    step = 0.125
    for _ in range(5):
        step *= 0.5
        for way in range(-1, 2, 2):
            s = share + way * step
            away, _, _, _, face = closest(tool, ax + s * (bx - ax), ay + s * (by - ay),
                                          az + s * (bz - az), face)
            if -away > depth:
                depth, share = -away, s
    if depth <= tolerance:
        return 0.0, 0.5, ax, ay, az, face
    x, y, z = ax + share * (bx - ax), ay + share * (by - ay), az + share * (bz - az)
    _, cx, cy, cz, face = closest(tool, x, y, z, face)
    return depth, share, cx, cy, cz, face


@njit(cache=True, nogil=True)
def deepest_edges(tool, points, edges, tolerance):
    """Greatest depth below the surface of straight lines between points. [m]"""
    most, face = 0.0, 0
    for e in range(edges.shape[0]):
        a, b = points[edges[e, 0]], points[edges[e, 1]]
        depth, _, _, _, _, face = deepest(tool, a[0], a[1], a[2], b[0], b[1], b[2], face,
                                          tolerance, False)
        most = max(most, depth)
    return most
