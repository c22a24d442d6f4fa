"""Tool meshes of the membrane tests: surfaces of revolution and rounded male forms."""

import numpy as np


def revolve(profile, count=180):
    """Mesh of a profile (across, up) from the axis outward. [m]"""
    profile = np.asarray(profile, float)
    turn = 2.0 * np.pi * np.arange(count) / count
    points = np.stack([np.outer(profile[:, 0], np.cos(turn)), np.outer(profile[:, 0], np.sin(turn)),
                       np.repeat(profile[:, 1:], count, axis=1)], -1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(len(profile) - 1), np.arange(count), indexing="ij")
    a, b = (i * count + j).ravel(), (i * count + (j + 1) % count).ravel()
    return points, np.vstack([np.stack([a, a + count, b + count], 1),
                              np.stack([a, b + count, b], 1)])


def rounded_block(centre, half, height, draft, fillet, corner):
    """Mesh of a male form: drafted walls, rounded corners, a fillet around the flat top. [m]"""
    rise = height - fillet
    bend = np.linspace(0.0, 0.5 * np.pi, 9)
    inset = np.concatenate([np.linspace(0.0, rise * np.tan(draft), 7),
                            rise * np.tan(draft) + fillet * (1.0 - np.cos(bend[1:]))])
    level = np.concatenate([np.linspace(0.0, rise, 7), rise + fillet * np.sin(bend[1:])])
    turn = (np.arange(4)[:, None] * 0.5 * np.pi + np.linspace(0.0, 0.5 * np.pi, 12)).ravel()
    sign = np.repeat([[1, 1], [-1, 1], [-1, -1], [1, -1]], 12, axis=0)
    rings = []
    for d, z in zip(inset, level):
        r = max(corner - d, 0.4 * corner)
        xy = sign * (half - d - r) + r * np.stack([np.cos(turn), np.sin(turn)], 1) + centre
        rings.append(np.c_[xy, np.full(len(xy), z)])
    n = len(turn)
    points = np.vstack(rings + [[[*centre, height]]])
    i, j = np.meshgrid(np.arange(len(rings) - 1), np.arange(n), indexing="ij")
    a, b = (i * n + j).ravel(), (i * n + (j + 1) % n).ravel()
    last = (len(rings) - 1) * n + np.arange(n)
    cap = np.stack([last, np.roll(last, -1), np.full(n, len(points) - 1)], 1)
    return points, np.vstack([np.stack([a, b, b + n], 1), np.stack([a, b + n, a + n], 1), cap])


def grid_faces(rows, columns):
    """Triangles of a grid of points, row by row."""
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns - 1), indexing="ij")
    a = (i * columns + j).ravel()
    return np.vstack([np.stack([a, a + 1, a + columns + 1], 1),
                      np.stack([a, a + columns + 1, a + columns], 1)])


def together(*meshes):
    """Several meshes as one."""
    starts = np.cumsum([0] + [len(points) for points, _ in meshes[:-1]])
    return (np.vstack([points for points, _ in meshes]),
            np.vstack([faces + start for (_, faces), start in zip(meshes, starts)]))


def errors(formed, reference, starting_gauge):
    """Gauge of a formed sheet against the membrane of revolution.

    Returns the root mean square over the formed area and the error of the least gauge.
    """
    radius = np.hypot(*formed.flat.T)
    middle = 0.5 * (reference.rest[1:] + reference.rest[:-1])
    a, b, c = (formed.points[formed.triangles[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    weight = np.bincount(formed.triangles.ravel(), np.repeat(area, 3), len(radius))
    apart = formed.node_gauge / starting_gauge / np.interp(radius, middle, reference.gauge) - 1.0
    least = formed.node_gauge.min() / starting_gauge / reference.gauge.min() - 1.0
    return float(np.sqrt(np.average(apart**2, weights=weight))), float(least)
