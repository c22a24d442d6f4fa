"""Vents, drains, holes and cooling channels: what is cut out, and the tubes channels run in."""

from __future__ import annotations

import manifold3d as m3
import numpy as np

from thermoforming.geometry.solid.hollow import Underside
from thermoforming.geometry.solid.plan import MM, Channel, Drain, Hole, Vent

ROUND = 24  # sides of a bore
CLEAR = 2e-3  # m by which a cutter passes a surface


def vent_cutter(vent: Vent, face: float, roof: float, base: float, in_rib: bool) -> m3.Manifold:
    """Narrow bore below the face, then relief to the room, or to the base where a rib stands."""
    start = max(face, vent.z)
    end = base - CLEAR if in_rib or roof < base else roof - CLEAR
    step = min(start - vent.narrow, start)
    narrow = _upright(vent.x, vent.y, vent.bore, min(step, start) - CLEAR / 4, start + CLEAR)
    if step <= end:
        return _upright(vent.x, vent.y, vent.bore, end, start + CLEAR)
    return narrow + _upright(vent.x, vent.y, vent.relief, end, step)


def drain_cutter(drain: Drain, centre, base: float, reach: float) -> m3.Manifold:
    """A level hole just above the base, through the outer wall towards the middle."""
    direction = np.asarray(centre) - (drain.x, drain.y)
    direction = direction / max(float(np.linalg.norm(direction)), 1e-12)
    start = np.array([drain.x, drain.y]) - direction * CLEAR
    angle = np.degrees(np.arctan2(direction[1], direction[0]))
    made = m3.Manifold.cylinder((reach + 2 * CLEAR) * MM, drain.bore / 2 * MM,
                                circular_segments=ROUND)
    return made.rotate((0.0, 90.0, 0.0)).rotate((0.0, 0.0, float(angle))).translate(
        (float(start[0]) * MM, float(start[1]) * MM, (base + drain.bore) * MM))


def hole_cutter(hole: Hole, base: float, top: float) -> m3.Manifold:
    """A fixing hole through everything above and below, or a blind dowel hole from the base."""
    if hole.depth is None:
        return _upright(hole.x, hole.y, hole.bore, base - CLEAR, top + CLEAR)
    return _upright(hole.x, hole.y, hole.bore, base - CLEAR, base + hole.depth)


def channel_path(channel: Channel, grid: Underside, step: float) -> np.ndarray:
    """Middle line of a channel in space: its plan path, at its depth below the face. [m]"""
    corners = np.asarray(channel.path, dtype=float)
    lengths = np.linalg.norm(np.diff(corners, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    places = np.linspace(0.0, along[-1], max(2, int(np.ceil(along[-1] / step)) + 1))
    places = np.unique(np.concatenate([places, along]))
    xy = np.column_stack([np.interp(places, along, corners[:, k]) for k in range(2)])
    z = grid.at(grid.shifted(channel.depth), xy[:, 0], xy[:, 1])
    return np.column_stack([xy, z])


def tube(path: np.ndarray, bore: float) -> m3.Manifold:
    """A round tube along a path [m], its ends round too."""
    ball = m3.Manifold.sphere(bore / 2 * MM, ROUND)
    balls = [ball.translate([float(c) * MM for c in point]) for point in path]
    links = [m3.Manifold.batch_hull([a, b]) for a, b in zip(balls, balls[1:], strict=False)]
    return m3.Manifold.batch_boolean(links, m3.OpType.Add)


def _upright(x: float, y: float, bore: float, low: float, high: float) -> m3.Manifold:
    made = m3.Manifold.cylinder(max(high - low, 1e-6) * MM, bore / 2 * MM,
                                circular_segments=ROUND)
    return made.translate((x * MM, y * MM, low * MM))
