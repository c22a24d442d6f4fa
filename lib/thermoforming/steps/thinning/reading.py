"""What a run on the mesh says: least gauge, last contacts, bridges, folds, pockets, section."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from thermoforming.geometry.section import section_values
from thermoforming.geometry.surface import Surface
from thermoforming.steps.thinning.whole import AGREES, DIFFERS

LEAST_SHARE = 0.004  # of the sheet's area: smaller bridges and folds are not named
FEW_NODES = 12  # a region of fewer is an accident of the mesh, whatever its size
BRIDGE_GAP = 1e-3  # m; sheet nearer to the tool than this only rounds an edge
CORNER_GAP = 0.75  # of the formed radius: the gap under a ball in a corner of three planes


@dataclass(frozen=True)
class Region:
    """A connected part of the sheet: its middle [m], area [m2] and a size of interest."""

    centre: tuple[float, float, float]
    area: float
    size: float


@dataclass(frozen=True)
class PocketFound:
    """Air that the sheet cuts off: where it ends [m], when it is cut off and closes [m3 drawn
    out], how much it holds then [m3], its sheet [m2]; `closes_at` is None if some stays free."""

    place: tuple[float, float, float]
    cut_at: float
    closes_at: float | None
    air: float
    area: float


@dataclass(frozen=True, eq=False)
class Reading:
    """A run on the mesh in the words of the page. Lengths [m], areas [m2], volumes [m3]."""

    arrays: Mapping[str, Any]
    surface: Surface
    areas: np.ndarray
    mean: float
    least: float
    least_at: tuple[float, float, float]
    formed_radius: float
    bridges: tuple[Region, ...]
    folds: tuple[Region, ...]
    pockets: tuple[PocketFound, ...]
    last: tuple[tuple[float, float, float, float, float], ...]

    @property
    def fine(self) -> bool:
        return str(self.arrays["level"]) == "fine"

    @property
    def verified(self) -> bool | None:
        """True, False, or None while the run at half the rate has not ended."""
        return {AGREES: True, DIFFERS: False}.get(int(self.arrays["verified"]))

    @property
    def passed(self) -> bool:
        """Whether the run passes its own checks."""
        return bool(np.all(self.arrays["check_passed"]))


def read(simulation: Mapping[str, Any]) -> Reading:
    """Make sense of the arrays of a run."""
    surface = Surface(np.asarray(simulation["points"], float), simulation["triangles"])
    areas = surface.areas
    gauge = np.asarray(simulation["node_gauge"], float)
    weakest = int(np.argmin(np.where(simulation["clamped"], np.inf, gauge)))
    mean = float(np.sum(areas * simulation["gauge"]) / np.sum(areas))
    return Reading(simulation, surface, areas, mean, float(gauge[weakest]),
                   _place(surface.vertices[weakest]), _formed_radius(simulation),
                   _bridges(simulation, surface), _folds(simulation, surface),
                   _pockets(simulation), _last(simulation, surface))


def _place(point) -> tuple[float, float, float]:
    return tuple(float(x) for x in point)


def _free(simulation) -> np.ndarray:
    held = np.asarray(simulation["on_tool"]) | np.asarray(simulation["clamped"])
    return ~held


def _formed_radius(simulation) -> float:
    """Radius that the end pressure bends the free sheet to: tension over pressure.

    The middle value over the free triangles, of the larger principal stress; 0 if none is free.
    """
    triangles = np.asarray(simulation["triangles"])
    free = np.any(_free(simulation)[triangles], axis=1)
    pressure = float(simulation["end_pressure"])
    if not free.any() or pressure <= 0.0:
        return 0.0
    tension = (np.asarray(simulation["stresses"], float)[free, 0]
               * np.asarray(simulation["gauge"], float)[free])
    return float(max(np.median(tension), 0.0) / pressure)


def _regions(surface: Surface, chosen: np.ndarray, value: np.ndarray) -> tuple[Region, ...]:
    """Connected groups of the chosen triangles large enough to be named, the largest first."""
    numbers = np.flatnonzero(chosen)
    if numbers.size == 0:
        return ()
    pairs = surface.edges.pairs
    pairs = pairs[chosen[pairs].all(axis=1)]
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])),
                       shape=(len(chosen), len(chosen)))
    _, label = connected_components(graph, directed=False)
    found = []
    for group in np.unique(label[numbers]):
        mine = numbers[label[numbers] == group]
        area = float(surface.areas[mine].sum())
        if area < LEAST_SHARE * surface.area or len(mine) < FEW_NODES:
            continue
        centre = np.average(surface.centres[mine], axis=0, weights=surface.areas[mine])
        found.append(Region(_place(centre), area, float(value[mine].max())))
    return tuple(sorted(found, key=lambda region: -region.area))


def _bridges(simulation, surface: Surface) -> tuple[Region, ...]:
    """Sheet that spans a gap: free, and clear of the tool by more than a corner's rounding."""
    gap = np.asarray(simulation["gap"], float)[surface.faces].mean(axis=1)
    free = np.any(_free(simulation)[surface.faces], axis=1)
    clear = gap > max(BRIDGE_GAP, CORNER_GAP * _formed_radius(simulation))
    return _regions(surface, free & clear, gap)


def _folds(simulation, surface: Surface) -> tuple[Region, ...]:
    """Sheet that would be pressed together across: how much narrower it is than it is wide."""
    stretch = np.asarray(simulation["stretches"], float)
    natural = np.minimum(1.0, stretch[:, 0] ** -0.5)
    slack = 1.0 - stretch[:, 1] / natural
    return _regions(surface, slack > 0.02, slack)


def _order(simulation) -> np.ndarray:
    """Share of the air gone when each point lands; 1 where it never did."""
    whole = float(simulation["curve"][-1, 0])
    landed = np.asarray(simulation["landed"], float)
    return np.clip(np.where(np.isfinite(landed), landed / whole, 1.0), 0.0, 1.0)


def _pockets(simulation) -> tuple[PocketFound, ...]:
    """Spaces of air that the advancing contact cuts off, in order."""
    return tuple(PocketFound(_place(row[:3]), float(row[3]),
                             float(row[4]) if np.isfinite(row[4]) else None, float(row[5]),
                             float(row[6])) for row in np.asarray(simulation["pockets"], float))


def _last(simulation, surface: Surface, most: int = 8):
    """Places that land last, then those left empty, apart from each other.

    Each with the share of the air gone when it lands and the gap left under it at the end.
    """
    order, gap = _order(simulation), np.maximum(np.asarray(simulation["gap"], float), 0.0)
    apart = 0.12 * float(surface.size[:2].max())
    chosen: list[int] = []
    for i in np.lexsort((-gap, -order)):
        if bool(simulation["clamped"][i]):
            continue
        if all(np.linalg.norm(surface.vertices[i] - surface.vertices[j]) > apart for j in chosen):
            chosen.append(int(i))
        if len(chosen) == most:
            break
    return tuple((*_place(surface.vertices[i]), float(order[i]),
                  0.0 if simulation["on_tool"][i] else float(gap[i])) for i in chosen)


def section_of(reading: Reading, along: str, at: float, frame: int | None = None):
    """Runs of the section: distance along the axis, height and gauge. [m]"""
    axis = 0 if along == "x" else 1
    normal = np.eye(3)[1 - axis]
    points = reading.arrays["points"] if frame is None else reading.arrays["frames"][frame]
    surface = Surface(np.asarray(points, float), reading.arrays["triangles"])
    gauge = (np.asarray(reading.arrays["node_gauge"], float) if frame is None
             else gauge_at(reading.arrays, frame))
    return [(points[:, axis], points[:, 2], values)
            for points, values in section_values(surface, normal * at, normal, gauge)]


def gauge_at(arrays: Mapping[str, Any], frame: int) -> np.ndarray:
    """Gauge of the nodes in a frame, from the area ratio of the triangles around them. [m]"""
    triangles = np.asarray(arrays["triangles"])
    formed = _areas3(np.asarray(arrays["frames"][frame], float), triangles)
    flat = np.column_stack([np.asarray(arrays["flat"], float), np.zeros(len(arrays["flat"]))])
    before = _areas3(flat, triangles)
    count = len(flat)
    whole = np.bincount(triangles.ravel(), np.repeat(before, 3), count)
    now = np.bincount(triangles.ravel(), np.repeat(formed, 3), count)
    return float(arrays["starting_gauge"]) * whole / np.maximum(now, 1e-30)


def _areas3(points, triangles) -> np.ndarray:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
