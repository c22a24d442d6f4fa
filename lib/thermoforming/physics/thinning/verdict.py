"""A membrane run judges itself: a finished run is not yet a valid one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import LinearNDInterpolator

from thermoforming.physics.thinning.contact import deepest_edges, distances, surface

LEAST_PENETRATION = 2e-5
MOST_SCATTER = 0.15
MOST_UNBALANCED = 0.05
MOST_RATE_EFFECT = 0.03


@dataclass(frozen=True)
class Check:
    """One judgement: what was looked at, its value, its limit, whether it passed, in words."""

    name: str
    value: float
    limit: float
    passed: bool
    text: str


def at_most(name: str, value: float, limit: float, text: str) -> Check:
    """Check that passes if a value is finite and not above its limit."""
    value = float(value)
    return Check(name, value, float(limit), bool(np.isfinite(value) and value <= limit), text)


def judge(formed, tool, residual: float, sink: float = LEAST_PENETRATION) -> Iterator[Check]:
    """Checks of a formed sheet against its tool, one by one as some take a while.

    Parameters
    ----------
    formed : Formed
        The sheet at the end.
    tool : Surface
        The tool.
    residual : float
        Force out of balance over force, in the free sheet. [1]
    sink : float
        Permitted depth of the sheet in the tool, > 0. [m]

    Yields
    ------
    Check
        Scatter of gauge, points, middles and edges in the tool, tool through the sheet, plastic
        kept, rest.
    """
    yield _scatter(formed)
    yield from _inside(formed, tool, sink)
    yield _pierced(formed, tool)
    yield _plastic(formed)
    yield at_most("rest", residual, MOST_UNBALANCED,
                  "Force out of balance in the free sheet over the force in it.")


def half_rate(formed, slower) -> Check:
    """Compare a run with the same one at half the loading rate.

    Parameters
    ----------
    formed, slower : Formed
        The two runs.

    Returns
    -------
    Check
        Root mean square, over the flat sheet, of the gauge of one over that of the other, less 1.
    """
    other = LinearNDInterpolator(slower.flat, slower.node_gauge)(formed.flat)
    known = np.isfinite(other)
    weight = np.bincount(formed.triangles.ravel(), np.repeat(_flat_areas(formed), 3),
                         len(formed.flat))[known]
    apart = formed.node_gauge[known] / other[known] - 1.0
    return at_most("half rate", np.sqrt(np.average(apart**2, weights=weight)), MOST_RATE_EFFECT,
                   "Gauge of this run against the same at half the loading rate.")


def _scatter(formed) -> Check:
    around = formed.node_gauge[formed.triangles].mean(axis=1)
    apart = np.abs(formed.gauge / around - 1.0)
    order = np.argsort(apart)
    share = np.cumsum(_flat_areas(formed)[order])
    value = apart[order][np.searchsorted(share, 0.95 * share[-1])]
    return at_most("scatter", value, MOST_SCATTER,
                   "Gauge of triangles against their neighbours: 95 of 100 differ by less.")


def _inside(formed, tool, sink) -> Iterator[Check]:
    """How far points and middles of triangles, and edges, of the sheet are inside the tool."""
    points = formed.points[~formed.clamped]
    middles = formed.points[formed.triangles].mean(axis=1)
    deepest = max(-distances(tool, points).min(initial=0.0),
                  -distances(tool, middles).min(initial=0.0))
    yield at_most("penetration", deepest, 1.25 * sink,
                  "Deepest point of the sheet inside the tool. [m]")
    edges = np.sort(np.stack([formed.triangles, np.roll(formed.triangles, -1, 1)], -1), -1)
    edges = np.unique(edges.reshape(-1, 2), axis=0)
    yield at_most("edges", deepest_edges(tool, formed.points, edges, sink), 1.25 * sink,
                  "Deepest part of a triangle's edge inside the tool. [m]")


def _pierced(formed, tool) -> Check:
    """How far corners of the tool stand out of the sheet, away from the frame."""
    held = formed.points[formed.clamped, :2]
    low, high = held.min(axis=0) + formed.mesh_size, held.max(axis=0) - formed.mesh_size
    xy = tool.vertices[:, :2]
    inside = np.all((xy > low) & (xy < high), axis=1)
    away = distances(surface(formed.points, formed.triangles), tool.vertices[inside])
    near = away < formed.mesh_size
    return at_most("pierced", max(0.0, float(away[near].max(initial=0.0))), 0.2 * formed.mesh_size,
                   "Tallest tip of the tool that stands out of the sheet: use a finer mesh. [m]")


def _flat_areas(formed):
    a, b, c = (formed.flat[formed.triangles[:, k]] for k in range(3))
    u, w = b - a, c - a
    return 0.5 * (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0])


def _plastic(formed) -> Check:
    a, b, c = (formed.points[formed.triangles[:, k]] for k in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    flat = _flat_areas(formed).sum() * formed.starting_gauge
    return at_most("plastic", abs((area * formed.gauge).sum() / flat - 1.0), 1e-3,
                   "Plastic gained or lost, as a share: finds mistakes, proves no accuracy.")
