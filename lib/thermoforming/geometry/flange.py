"""The flat around a part: a sheet that is wider than the part lies on it."""

from __future__ import annotations

import numpy as np

from thermoforming.geometry.surface import Surface
from thermoforming.guard import within

LEVEL = 5e-4  # m; an outline further from one plane than this is no rim


def with_flange(surface: Surface, reach: float) -> Surface:
    """The surface carried on outward from its outline, in the plane of the outline.

    Parameters
    ----------
    surface : Surface
        Tool side with one open outline that runs round it in a level plane. [m]
    reach : float
        How far beyond the part's box the flat reaches at least, > 0. [m]

    Returns
    -------
    Surface
        With a strip of triangles around it; the surface itself where the outline is not level, or
        is not seen whole from the middle.
    """
    within("reach of the flange", reach, 0.0, unit="m", above=True)
    loop = _outline(surface)
    if loop is None:
        return surface
    middle = surface.bounds[:, :2].mean(axis=0)
    points = surface.vertices[loop]
    away = points[:, :2] - middle
    if np.ptp(points[:, 2]) > LEVEL or not _seen_whole(away):
        return surface
    half = 0.5 * surface.size[:2] + 2.0 * reach  # cut corners of the far outline do not matter
    scale = np.max(np.abs(away) / half, axis=1)
    outer = np.column_stack([middle + away / scale[:, None], points[:, 2]])
    first = len(surface.vertices)
    a, far_a = loop, first + np.arange(len(loop))
    b, far_b = np.roll(a, -1), np.roll(far_a, -1)
    strip = np.concatenate([np.column_stack([b, a, far_a]), np.column_stack([b, far_a, far_b])])
    return Surface(np.vstack([surface.vertices, outer]), np.vstack([surface.faces, strip]))


def _outline(surface: Surface):
    """Vertices of the open outline around the whole part, in order; None if there is not one."""
    onward = {int(a): int(b) for a, b in surface.edges.open}
    if len(onward) != len(surface.edges.open):
        return None
    loops = []
    while onward:
        start, loop = next(iter(onward)), []
        at = start
        while at in onward:
            loop.append(at)
            at = onward.pop(at)
        if at != start:
            return None
        loops.append(loop)
    if not loops:
        return None
    widest = max(loops, key=lambda loop: np.ptp(surface.vertices[loop, :2], axis=0).min())
    whole = np.ptp(surface.vertices[widest, :2], axis=0) >= surface.size[:2] - 2 * LEVEL
    return np.array(widest) if whole.all() else None


def _seen_whole(away) -> bool:
    """Whether the direction to the outline turns once, always the same way."""
    angle = np.arctan2(away[:, 1], away[:, 0])
    turn = np.angle(np.exp(1j * np.diff(np.append(angle, angle[0]))))
    return bool(np.all(turn > 0.0) and abs(turn.sum() - 2 * np.pi) < 1e-6)
