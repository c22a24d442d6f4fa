"""A membrane run judges itself: a finished run is not yet a valid one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermoforming.physics.thinning.contact import distances

LEAST_PENETRATION = 2e-5


@dataclass(frozen=True)
class Check:
    """One judgement: what was looked at, its value, its limit, whether it passed, in words."""

    name: str
    value: float
    limit: float
    passed: bool
    text: str


def judge(formed, tool, residual: float) -> list[Check]:
    """Checks of a formed sheet against its tool."""
    return [_scatter(formed), _depth_inside(formed, tool), _plastic(formed),
            _rest(residual)]


def _scatter(formed) -> Check:
    """Gauge of each triangle against the mean of its neighbours, worst twentieth."""
    limit = 0.15
    around = formed.node_gauge[formed.triangles].mean(axis=1)
    apart = np.abs(formed.gauge / around - 1.0)
    value = float(np.quantile(apart, 0.95))
    return Check("scatter", value, limit, value <= limit,
                 "Gauge of neighbouring triangles differs by this share (95 of 100 by less).")


def _depth_inside(formed, tool) -> Check:
    """How far points of the sheet, and the middles of its edges, are inside the tool."""
    value = float(max(0.0, -distances(tool, formed.points[~formed.clamped]).min(initial=0.0)))
    return Check("penetration", value, LEAST_PENETRATION, value <= LEAST_PENETRATION,
                 "Deepest point of the sheet inside the tool. [m]")


def _plastic(formed) -> Check:
    """Plastic in the formed sheet against the flat one."""
    a, b, c = (formed.points[formed.triangles[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    a, b, c = (formed.flat[formed.triangles[:, k]] for k in range(3))
    u, w = b - a, c - a
    flat = 0.5 * (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]).sum() * formed.starting_gauge
    value = abs(float((area * formed.gauge).sum()) / flat - 1.0)
    return Check("plastic", value, 1e-3, value <= 1e-3, "Plastic gained or lost, as a share.")


def _rest(residual) -> Check:
    limit = 0.05
    return Check("rest", float(residual), limit, residual <= limit,
                 "Force out of balance in the free sheet over the force in it.")
