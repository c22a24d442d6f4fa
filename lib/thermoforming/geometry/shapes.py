"""Parametric tool surfaces: a flat rim with drafted, filleted forms sunk into it or raised.

Every form is a rounded rectangle in plan (a circle when the corner radius is half the size) whose
flank runs through a fillet at the top, a wall with its own draft on each side, and a fillet at the
bottom. Walls are ruled, not stepped: their facets lie exactly on the drafted planes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil, pi, sqrt

import numpy as np
from scipy.spatial import Delaunay, cKDTree

from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused, within


@dataclass(frozen=True)
class Form:
    """A cavity sunk into a plane, or a boss raised on it.

    Parameters
    ----------
    centre : tuple of float
        Middle of the plan. [m]
    size : tuple of float
        Plan size of the upper end along x and y, at its sharp edge (before the fillet). [m]
    height : float
        From plane to floor, or from plane to top, > 0. [m]
    corner : float
        Plan radius of the corners at the upper end, > 0. [m]
    drafts : tuple of float
        Draft of the walls on the +x, +y, -x and -y side, 0 to 1.2. [rad]
    upper, lower : float
        Radius of the fillet at the upper and at the lower end, > 0. [m]
    on_floor : tuple of Form
        Bosses on the floor of a cavity.
    """

    centre: tuple[float, float]
    size: tuple[float, float]
    height: float
    corner: float
    drafts: tuple[float, float, float, float]
    upper: float
    lower: float
    on_floor: tuple[Form, ...] = field(default=())

    def __post_init__(self):
        for name in ("height", "corner", "upper", "lower"):
            within(name, getattr(self, name), 0.0, unit="m", above=True)
        within("drafts", self.drafts, 0.0, 1.2, "rad")
        if self.upper + self.lower > self.height:
            raise Refused("height", "The form is not as high as its two fillets together.")


def flank_profile(draft, height: float, upper: float, lower: float, chord: float):
    """Section of a flank: fillet, drafted wall, fillet.

    Parameters
    ----------
    draft : array, shape (n,)
        Angle of the wall from the pull at each place round the form, 0 to 1.2. [rad]
    height, upper, lower : float
        Height of the flank and radii of its upper and lower fillet. [m]
    chord : float
        Longest step along a fillet; walls take three times as long ones, > 0. [m]

    Returns
    -------
    run, drop : arrays, shape (rows, n)
        Horizontal distance from the sharp upper edge towards the lower end, and depth below the
        upper plane. [m]
    """
    draft = np.asarray(draft, dtype=float)
    sin, cos = np.sin(draft), np.cos(draft)
    steps_up, steps_low = (max(3, ceil(r * pi / 2 / chord)) for r in (upper, lower))
    start = upper * (1 - sin) / cos  # along the wall from its sharp upper edge
    end = (height - lower * (1 - sin)) / cos
    turn = (pi / 2 - draft) * np.linspace(0, 1, steps_up + 1)[:, None]
    rim = (start * sin - upper * cos + upper * np.sin(turn), upper - upper * np.cos(turn))
    rows = max(1, ceil(float(np.max(end - start)) / (3 * chord)))
    along = start + (end - start) * np.linspace(0, 1, rows + 1)[1:-1, None]
    turn = (pi / 2 - draft) * np.linspace(1, 0, steps_low + 1)[:, None]
    foot = (end * sin + lower * cos - lower * np.sin(turn), height - lower + lower * np.cos(turn))
    wall = (along * sin, along * cos)
    return tuple(np.concatenate([rim[i], wall[i], foot[i]]) for i in (0, 1))


def rounded_rectangle(centre, size, corner: float, step: float):
    """Points round a rounded rectangle, counter-clockwise, with normals and side weights.

    Parameters
    ----------
    centre, size : tuple of float
        Middle and full size along x and y. [m]
    corner : float
        Corner radius, at most half the smaller size. [m]
    step : float
        Longest distance between points, > 0. [m]

    Returns
    -------
    points, normals : arrays, shape (n, 2)
        Points [m] and outward unit normals. [-]
    weights : array, shape (n, 4)
        How much of the +x, +y, -x and -y side each point belongs to, summing to 1. [-]
    """
    within("corner", corner, 0.0, min(size) / 2 * (1 + 1e-9), "m", above=True)
    half = np.maximum(np.array(size) / 2 - corner, 0.0)
    arc_steps = max(6, 2 * ceil(corner * pi / 4 / step))
    points, normals, weights = [], [], []
    for side in range(4):
        angle = pi / 2 * (side + np.linspace(0, 1, arc_steps + 1))
        signs = np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)])[side]
        arc = np.column_stack([np.cos(angle), np.sin(angle)])
        t = np.linspace(0, 1, arc_steps + 1)
        blend = t * t * (3 - 2 * t)
        weight = np.zeros((arc_steps + 1, 4))
        weight[:, side], weight[:, (side + 1) % 4] = 1 - blend, blend
        length = 2 * half[side % 2]
        straight = np.linspace(0, 1, max(1, ceil(length / step)) + 1)[1:-1]
        start = signs * half + corner * arc[-1]
        run = np.array([-arc[-1, 1], arc[-1, 0]]) * length
        keep = slice(None) if length > 0 else slice(0, -1)
        points += [signs * half + corner * arc[keep], start + straight[:, None] * run]
        normals += [arc[keep], np.repeat(arc[-1:], len(straight), axis=0)]
        weights += [weight[keep], np.repeat(weight[-1:], len(straight), axis=0)]
    return (np.concatenate(points) + centre, np.concatenate(normals), np.concatenate(weights))


def tray(size, corner: float, forms, step: float = 3e-3, chord: float = 0.8e-3,
         raised: bool = False) -> Surface:
    """A flat rim at height zero with cavities sunk into it, or forms on it, the pull along +z.

    Parameters
    ----------
    size : tuple of float
        Outer size along x and y. [m]
    corner : float
        Corner radius of the outline. [m]
    forms : sequence of Form
        The cavities, apart from each other and from the outline; each may carry bosses. Raised
        forms are given by the size of their tops.
    step, chord : float
        Longest triangle edge on flats and round contours, and along fillets. [m]
    raised : bool
        Whether the forms stand on the rim plane instead of being sunk into it.

    Returns
    -------
    Surface
        Open at its outline only, normals up. [m]
    """
    points, _, _ = rounded_rectangle((0.0, 0.0), size, corner, step)
    builder = _Builder(step, chord)
    rim = builder.add(np.column_stack([points, np.zeros(len(points))]))
    place = builder.rise if raised else builder.sink
    builder.fill(rim, [place(form, 0.0) for form in forms])
    return Surface(np.concatenate(builder.points), np.concatenate(builder.faces))


class _Builder:
    """Collects rings of points and the triangles between them."""

    def __init__(self, step: float, chord: float):
        self.step, self.chord = step, chord
        self.points: list[np.ndarray] = []
        self.faces: list[np.ndarray] = []
        self.count = 0

    def add(self, points: np.ndarray) -> np.ndarray:
        self.points.append(points)
        self.count += len(points)
        return np.arange(self.count - len(points), self.count)

    def sink(self, form: Form, level: float) -> np.ndarray:
        """A cavity below `level`, floor and bosses included; the ring where it meets the plane."""
        rings = self.flank(form, level, inward=True)
        floor = level - form.height
        self.fill(rings[-1], [self.rise(boss, floor) for boss in form.on_floor])
        return rings[0]

    def rise(self, form: Form, level: float) -> np.ndarray:
        """A boss on `level`, top included; the ring where it meets the plane."""
        rings = self.flank(form, level + form.height, inward=False)
        self.fill(rings[0], [])
        return rings[-1]

    def flank(self, form: Form, top: float, inward: bool) -> list[np.ndarray]:
        points, normals, weights = rounded_rectangle(form.centre, form.size, form.corner,
                                                     self.step)
        run, drop = flank_profile(weights @ np.array(form.drafts), form.height, form.upper,
                                  form.lower, self.chord)
        if inward and run.max() >= form.corner:
            raise Refused("corner", "The corner radius is used up by draft and fillets before the "
                                    "floor; make it larger, or the form shallower.")
        sign = -1.0 if inward else 1.0
        rings = [self.add(np.column_stack([points + sign * normals * r[:, None], top - d]))
                 for r, d in zip(run, drop, strict=True)]
        for a, b in zip(rings, rings[1:]):
            self.faces.append(_band(a, b) if inward else _band(b, a))
        return rings

    def fill(self, outline: np.ndarray, holes: list[np.ndarray]) -> None:
        """Triangles of a flat between an outline and holes, kept as they are."""
        points = np.concatenate(self.points)
        rings = [points[ring, :2] for ring in (outline, *holes)]
        edge = np.concatenate(rings)
        inner = _lattice(edge.min(axis=0), edge.max(axis=0), self.step)
        inner = inner[_between(inner, rings)]
        inner = inner[cKDTree(edge).query(inner)[0] > 0.72 * self.step]
        level = np.full(len(inner), points[outline[0], 2])
        numbers = np.concatenate([outline, *holes, self.add(np.column_stack([inner, level]))])
        flat = np.concatenate([edge, inner])
        triangles = Delaunay(flat).simplices
        triangles = triangles[_between(flat[triangles].mean(axis=1), rings)]
        a, b, c = (flat[triangles[:, i]] for i in range(3))
        turn = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
        triangles[turn < 0] = triangles[turn < 0][:, ::-1]
        self.faces.append(numbers[triangles[np.abs(turn) > 1e-6 * self.step**2]])


def _band(outer: np.ndarray, inner: np.ndarray) -> np.ndarray:
    """Triangles between two rings of equal length, facing the side that sees both turn left."""
    outer_next, inner_next = np.roll(outer, -1), np.roll(inner, -1)
    return np.concatenate([np.column_stack([outer, outer_next, inner_next]),
                           np.column_stack([outer, inner_next, inner])])


def _lattice(low, high, step: float) -> np.ndarray:
    """Points of a triangular lattice over a box, symmetric about its middle."""
    rise = step * sqrt(3.0) / 2.0
    nx, ny = (int(np.ceil((high - low)[i] / 2 / d)) + 1 for i, d in enumerate((step, rise)))
    rows, columns = np.mgrid[-ny:ny + 1, -nx:nx + 1]
    x = (columns + 0.5 * (rows % 2)) * step
    return np.column_stack([x.ravel(), (rows * rise).ravel()]) + (low + high) / 2


def _between(points: np.ndarray, rings: list[np.ndarray]) -> np.ndarray:
    """Which points lie inside the first ring and outside the others (even-odd rule)."""
    inside = np.zeros(len(points), dtype=bool)
    x, y = points[:, 0], points[:, 1]
    for ring in rings:
        for (x0, y0), (x1, y1) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            if y0 != y1:
                crosses = (y0 > y) != (y1 > y)
                inside ^= crosses & (x < x0 + (y - y0) * (x1 - x0) / (y1 - y0))
    return inside
