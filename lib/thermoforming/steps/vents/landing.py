"""When the sheet lands where: from a formed sheet, or from the shape until there is one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermoforming.geometry.surface import Surface
from thermoforming.physics.venting import (Enclosed, enclosed_pockets, landed_share,
                                           order_from_shape)
from thermoforming.steps.brief.part import kept, part_surface
from thermoforming.steps.upstream import Upstream

ON_THE_RIM = 3e-4  # m; the sheet lies there from the start
LEAST_POCKET = 0.01  # of the area; smaller ones belong to the space they are in


@dataclass(frozen=True, eq=False)
class Landing:
    """Points of the tool face, when the sheet lands there, and the pockets it cuts off.

    `order` is the share of the air gone by then; `curve` (share gone, pull) is None where no
    sheet has been formed.
    """

    points: np.ndarray
    normals: np.ndarray
    triangles: np.ndarray
    areas: np.ndarray
    order: np.ndarray
    pockets: tuple[Enclosed, ...]
    curve: tuple[np.ndarray, np.ndarray] | None
    from_sheet: bool


def landing_of(upstream: Upstream) -> Landing:
    """The landing on the project's part, kept once it is worked out."""
    surface = part_surface(upstream)
    arrays = upstream.arrays("thinning") if upstream.has("thinning") else {}
    if {"points", "triangles", "landed", "curve"} <= set(arrays):
        return kept("landing", surface, lambda: _from_sheet(arrays),
                    upstream.decision("thinning").hash)
    return kept("landing", surface, lambda: _from_shape(surface))


def _from_sheet(arrays) -> Landing:
    points = np.asarray(arrays["points"], float)
    triangles = np.asarray(arrays["triangles"], int)
    curve, landed = np.asarray(arrays["curve"], float), np.asarray(arrays["landed"], float)
    whole = float(curve[-1, 0])
    order = np.clip(np.where(np.isfinite(landed), landed / whole, 1.0), 0.0, 1.0)
    share = np.maximum.accumulate(np.clip(curve[:, 0] / whole, 0.0, 1.0))
    pull = np.maximum.accumulate(curve[:, 1])
    return _landing(points, triangles, order, (share, pull), True)


def _from_shape(surface: Surface) -> Landing:
    points, triangles = surface.vertices, surface.faces
    normals, areas = _at_points(points, triangles)
    reach = 0.5 * float(np.sort(surface.size)[1])
    order = order_from_shape(points, normals, reach)
    top = points[:, 2] > points[:, 2].max() - ON_THE_RIM
    if surface.bounds[1, 2] - surface.bounds[0, 2] > 10 * ON_THE_RIM:
        order = np.where(top, 0.0, order)
    return _landing(points, triangles, landed_share(order, areas), None, False)


def _landing(points, triangles, order, curve, from_sheet) -> Landing:
    normals, areas = _at_points(points, triangles)
    pockets = enclosed_pockets(order, triangles, areas, LEAST_POCKET, most=8)
    return Landing(points, normals, triangles, areas, order, tuple(pockets), curve, from_sheet)


def _at_points(points, triangles):
    """Unit normal and area of each point."""
    a, b, c = points[triangles[:, 0]], points[triangles[:, 1]], points[triangles[:, 2]]
    cross = np.cross(b - a, c - a)
    normals, areas = np.zeros_like(points), np.zeros(len(points))
    for k in range(3):
        np.add.at(normals, triangles[:, k], cross)
        np.add.at(areas, triangles[:, k], np.linalg.norm(cross, axis=1) / 6.0)
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    return normals / np.where(length > 0.0, length, 1.0), areas
