"""Vents, drains, holes and cooling channels: what is cut out, and the tubes channels run in."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d as m3
import numpy as np
from trimesh.triangles import closest_point

from thermoforming.geometry.columns import rotation_to
from thermoforming.geometry.solid.hollow import Underside
from thermoforming.geometry.solid.plan import MM, Channel, Drain, Hole, Vent
from thermoforming.geometry.surface import Surface

ROUND = 24  # sides of a bore
STEEP = 0.7  # z of the normal below which a vent starts square into the wall
TILTS = (0.0, 0.3, 0.5, 0.7, 0.85, 1.0)  # from square into the face to straight down
SKIN = 1e-3  # m of material left around a relief, on the bore
LONGEST = 0.25  # m, no vent is longer
CLEAR = 2e-3  # m by which a cutter passes a surface


@dataclass(frozen=True)
class Way:
    """The way of a vent: from a point of the face [m], along a direction, to the room below."""

    start: np.ndarray
    direction: np.ndarray
    length: float
    relief: float


def vent_way(vent: Vent, face: Surface, body: m3.Manifold, room: m3.Manifold | None,
             base: float) -> Way | None:
    """The way that leads from the face to the room and cuts the face nowhere else.

    Square into the face where that works, else tilted towards the base, step by step; if no tilt
    works, with a smaller relief, at last with none; None if that does not work either.
    """
    nearest = int(np.argmin(np.linalg.norm(face.centres - (vent.x, vent.y, vent.z), axis=1)))
    start = closest_point(face.corners[nearest][None], np.array([[vent.x, vent.y, vent.z]]))[0]
    inward, down = -face.normals[nearest], np.array([0.0, 0.0, -1.0])
    tilts = TILTS if face.normals[nearest][2] < STEEP else TILTS[::-1]
    for relief in (vent.relief, 0.5 * (vent.relief + vent.bore), vent.bore):
        for tilt in tilts:
            direction = (1.0 - tilt) * inward + tilt * down
            direction /= np.linalg.norm(direction)
            way = Way(start, direction, _way_out(room, start, direction, base), relief)
            if way.length < LONGEST and _keeps_off(way, vent, body, base):
                return way
    return None


def _way_out(room: m3.Manifold | None, start, direction, base: float) -> float:
    """Length from the face until the way is in the room, or below the base. [m]"""
    to_base = (start[2] - base) / -direction[2] if direction[2] < -1e-3 else LONGEST
    longest = min(to_base, LONGEST)
    hits = [] if room is None else room.ray_cast(list(start * MM),
                                                 list((start + direction * longest) * MM))
    reached = [float(np.linalg.norm(np.asarray(hit.position) / MM - start)) for hit in hits]
    return min([*reached, longest]) + CLEAR / 2


def _keeps_off(way: Way, vent: Vent, body: m3.Manifold, base: float) -> bool:
    """Whether bore and relief, beyond the mouth, stay inside the block or below its base."""
    mouth = min(vent.narrow, 1.5 * vent.bore)
    fine = rod(way.start + way.direction * mouth, way.direction, vent.bore,
               max(way.length - mouth, 0.0))
    wide = rod(way.start + way.direction * vent.narrow, way.direction, way.relief + SKIN,
               max(way.length - vent.narrow, 0.0))
    stray = ((fine + wide) - body).trim_by_plane((0.0, 0.0, 1.0), base * MM + 0.05)
    return stray.volume() < 1e-3


def vent_cutter(vent: Vent, way: Way) -> m3.Manifold:
    """Narrow bore below the face, then relief to the end of the way."""
    narrow = rod(way.start - way.direction * CLEAR / 2, way.direction, vent.bore,
                 CLEAR / 2 + min(vent.narrow, way.length))
    if vent.narrow >= way.length or way.relief <= vent.bore:
        return narrow + rod(way.start, way.direction, vent.bore, way.length)
    lap = CLEAR / 8
    return narrow + rod(way.start + way.direction * (vent.narrow - lap), way.direction,
                        way.relief, way.length - vent.narrow + lap)


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
    return rod(np.array([x, y, low]), np.array([0.0, 0.0, 1.0]), bore, high - low)


def rod(start, direction, bore: float, length: float) -> m3.Manifold:
    """A round rod from a point along a direction. [m]"""
    made = m3.Manifold.cylinder(max(length, 1e-6) * MM, bore / 2 * MM, circular_segments=ROUND)
    turn = rotation_to(direction).T  # turns z to the direction
    return made.transform(np.column_stack([turn, np.asarray(start) * MM]))
