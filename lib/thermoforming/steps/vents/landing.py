"""When the sheet lands where: from a formed sheet, or from the shape until there is one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermoforming.geometry.surface import Surface
from thermoforming.physics.thinning import contact
from thermoforming.physics.venting import (Enclosed, enclosed_pockets, landed_share,
                                           order_from_shape)
from thermoforming.steps.brief.part import kept, part_surface
from thermoforming.steps.upstream import Upstream

NEEDED = {"points", "triangles", "landed", "curve", "node_gauge", "gap"}
SETTLED = 0.97  # order of the last contact; places that stay off the tool follow, widest gap last
ON_THE_RIM = 3e-4  # m; the sheet lies there from the start
LEAST_POCKET = 0.01  # of the area; smaller ones belong to the space they are in


@dataclass(frozen=True, eq=False)
class Landing:
    """Points of the tool face, when the sheet lands there, and the pockets it cuts off.

    `order` is the share of the air gone by then; `curve` (share gone, pull) and `gauge` are None
    where no sheet has been formed.
    """

    points: np.ndarray
    normals: np.ndarray
    triangles: np.ndarray
    areas: np.ndarray
    order: np.ndarray
    pockets: tuple[Enclosed, ...]
    curve: tuple[np.ndarray, np.ndarray] | None
    gauge: np.ndarray | None
    tool: contact.Surface | None

    def seats(self, numbers) -> np.ndarray:
        """Places on the tool below points, shape (n, 3): the sheet may not reach its corners. [m]
        """
        points = self.points[np.asarray(numbers, int)]
        if self.tool is None:
            return points
        return np.array([self._seat(p, n) for p, n in zip(
            points, self.normals[np.asarray(numbers, int)], strict=True)])

    def _seat(self, point, normal):
        gap, *_ = contact.closest(self.tool, *point, 0)
        return contact.closest(self.tool, *(point - 2.0 * abs(gap) * normal), 0)[1:4]

    @property
    def from_sheet(self) -> bool:
        """Whether a sheet has been formed on the thinning page."""
        return self.curve is not None


def landing_of(upstream: Upstream) -> Landing:
    """The landing on the project's part, kept once it is worked out."""
    surface = part_surface(upstream)
    formed = upstream.decision("thinning").hash if upstream.has("thinning") else ""
    return kept("landing", surface, lambda: _made(surface, upstream, formed), formed)


def _made(surface: Surface, upstream: Upstream, formed: str) -> Landing:
    arrays = upstream.arrays("thinning") if formed else {}
    return _from_sheet(arrays, surface) if NEEDED <= set(arrays) else _from_shape(surface)


def _from_sheet(arrays, surface: Surface) -> Landing:
    points = np.asarray(arrays["points"], float)
    triangles = np.asarray(arrays["triangles"], int)
    curve, landed = np.asarray(arrays["curve"], float), np.asarray(arrays["landed"], float)
    whole = float(curve[-1, 0])
    gap = np.asarray(arrays["gap"], float)
    open_still = SETTLED + (1.0 - SETTLED) * gap / max(float(gap.max()), 1e-9)
    order = np.clip(np.where(np.isfinite(landed), SETTLED * landed / whole, open_still), 0.0, 1.0)
    share = np.maximum.accumulate(np.clip(curve[:, 0] / whole, 0.0, 1.0))
    # A sheet just draped over a male form balances a little pressure from above: no pull yet.
    pull = np.maximum.accumulate(np.clip(curve[:, 1], 0.0, None))
    # What the sheet has not filled at the end of the run it would fill at a stronger pull only.
    share, pull = np.append(SETTLED * share, 1.0), np.append(pull, 1.2 * pull[-1] + 2.0)
    tool = contact.surface(surface.vertices, surface.faces)
    return _landing(points, triangles, order, (share, pull),
                    np.asarray(arrays["node_gauge"], float), tool)


def _from_shape(surface: Surface) -> Landing:
    points, triangles = surface.vertices, surface.faces
    normals, areas = _at_points(points, triangles)
    reach = 0.5 * float(np.sort(surface.size)[1])
    order = order_from_shape(points, normals, reach)
    top = points[:, 2] > points[:, 2].max() - ON_THE_RIM
    if surface.bounds[1, 2] - surface.bounds[0, 2] > 10 * ON_THE_RIM:
        order = np.where(top, 0.0, order)
    return _landing(points, triangles, landed_share(order, areas))


def _landing(points, triangles, order, curve=None, gauge=None, tool=None) -> Landing:
    normals, areas = _at_points(points, triangles)
    if np.sum(normals[:, 2] * areas) < 0.0:  # the sheet is above the tool
        normals = -normals
    pockets = enclosed_pockets(order, triangles, areas, LEAST_POCKET, most=8)
    return Landing(points, normals, triangles, areas, order, tuple(pockets), curve, gauge,
                   tool)


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
