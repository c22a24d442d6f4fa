"""Level 4: the hyperelastic membrane in three dimensions, formed on the tool's own mesh.

The vacuum is below the sheet: z points up, out of the tool, and the sheet comes from above. The
calculation is quasi-static, isothermal but for the given map, and incompressible, so that a
triangle's gauge is the starting gauge times its flat area over its formed one. Slack sheet folds
instead of bearing compression (tension field).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Callable

import numpy as np

from thermoforming.guard import Refused, finite, one_of, within
from thermoforming.physics.thinning import relaxation as relax
from thermoforming.physics.thinning.contact import Surface, ridges, surface
from thermoforming.physics.thinning.hyperelastic import shear_modulus
from thermoforming.physics.thinning.relaxation import CLAMP, FREE, PLUG, STICKING, TOOL
from thermoforming.physics.thinning.sheet import MOST_NODES, Clamp, Sheet, sharp_lines, sunk_faces
from thermoforming.physics.thinning.verdict import LEAST_PENETRATION, at_most, judge

STRAIGHT, DRAPE = "straight", "drape"
_CHUNK = 16
_MARGIN = 1.3
_SPLIT = 1.5
_PER_RADIUS, _FINEST = 0.5, 0.5
_MOST_STEPS = 400_000
_BALANCED = 0.005
_DRAWN = 0.8  # share of the time after which the vacuum is drawn and the result is finished

Progress = Callable[[float, str], bool]


class _Lost(Exception):
    """The run cannot end well; the checks say why."""


class Cancelled(Exception):
    """The caller asked the run to stop."""


@dataclass(frozen=True)
class Plug:
    """A plug that pushes the sheet before the vacuum and stays while the vacuum comes.

    Attributes
    ----------
    vertices, faces : array
        Mesh of the plug, in the place that it has at the end of its stroke. [m]
    friction : float or None
        Coulomb friction of sheet on plug, >= 0; None sticks while pressed. [1]
    chill : float
        Stiffness of sheet that has touched the plug over that of hot sheet, >= 1. [1]
    """

    vertices: np.ndarray
    faces: np.ndarray
    friction: float | None = None
    chill: float = 1.0


@dataclass(frozen=True)
class Method:
    """How the sheet is brought to the tool.

    Attributes
    ----------
    kind : str
        "straight": clamped on the tool's rim; "drape": the tool rises into the sheet first.
    bubble : float
        Height blown upward before anything else, 0 for none. [m]
    plug : Plug or None
        Plug that moves in before the vacuum.
    """

    kind: str = STRAIGHT
    bubble: float = 0.0
    plug: Plug | None = None


@dataclass(frozen=True)
class Snapshot:
    """The sheet at one moment, with the triangles of the end.

    Attributes
    ----------
    stage : str
        What is going on.
    volume, pressure : float
        Volume evacuated [m3] and pressure difference [Pa].
    points : array, shape (n, 3)
        Positions. [m]
    plug : float or None
        How far the plug still has to go, or None without one. [m]
    """

    stage: str
    volume: float
    pressure: float
    points: np.ndarray
    plug: float | None = None


@dataclass(frozen=True)
class Formed:
    """A formed sheet.

    Attributes
    ----------
    flat, points : array
        Where each point of the sheet was (n, 2) and is (n, 3). [m]
    triangles : array of int, shape (m, 3)
        Triangles of both.
    gauge, node_gauge : array
        Gauge by triangle and by point. [m]
    stretches : array, shape (m, 2)
        Principal stretches, the larger first. [1]
    stresses : array, shape (m, 2)
        Principal true stresses in the same order. [Pa]
    on_tool, on_plug, clamped : array of bool, shape (n,)
        Where each point is held.
    landed : array, shape (n,)
        Volume evacuated when the point came to rest on the tool, NaN if free. [m3]
    wrinkled : array of bool, shape (m,)
        Triangles that fold because a principal stress would be compressive.
    curve : array, shape (k, 2)
        Volume evacuated [m3] and pressure difference [Pa] through the vacuum stage.
    end_pressure : float
        Pressure difference at the end. [Pa]
    snapshots : list of Snapshot
        For a slider.
    checks : list of Check
        The run's judgement of itself.
    steps, mesh_size, starting_gauge : float
        Steps taken, edge of the triangles [m], gauge at the start [m].
    rate : float
        Mean travel of the free sheet in a step over the mesh size. [1]
    """

    flat: np.ndarray
    points: np.ndarray
    triangles: np.ndarray
    gauge: np.ndarray
    node_gauge: np.ndarray
    stretches: np.ndarray
    stresses: np.ndarray
    on_tool: np.ndarray
    on_plug: np.ndarray
    clamped: np.ndarray
    landed: np.ndarray
    wrinkled: np.ndarray
    curve: np.ndarray
    end_pressure: float
    starting_gauge: float
    mesh_size: float
    rate: float
    steps: int
    snapshots: list = field(default_factory=list)
    checks: list = field(default_factory=list)

    @property
    def valid(self) -> bool:
        """True if every check of the run has passed."""
        return all(check.passed for check in self.checks)

    @property
    def least(self) -> tuple[float, np.ndarray]:
        """Least gauge at a point [m] and where it is [m]."""
        i = int(np.argmin(self.node_gauge))
        return float(self.node_gauge[i]), self.points[i]


def form(tool_vertices, tool_faces, clamp: Clamp, gauge: float, law, pressure: float,
         mesh_size: float, friction: float | None = None, method: Method = Method(), *,
         stiffness=None, platen: float | None = None, rate: float = 0.005, turn: float = 0.0,
         sink: float = LEAST_PENETRATION, progress: Progress | None = None) -> Formed:
    """Form a sheet on a tool.

    Parameters
    ----------
    tool_vertices, tool_faces : array
        The tool's surface, z up towards the sheet. [m]
    clamp : Clamp
        Frame, from `sheet.rectangle` or `sheet.ring`.
    gauge : float
        Starting gauge, > 0. [m]
    law : array
        Terms of the hot sheet's law, from `hyperelastic`. [Pa, 1]
    pressure : float
        Largest pressure difference across the sheet, > 0. [Pa]
    mesh_size : float
        Edge of the triangles, flat and formed, > 0. [m]
    friction : float or None
        Coulomb friction on the tool, >= 0; None sticks where it lands. [1]
    method : Method
        Forming method.
    stiffness : callable or None
        Takes flat positions (n, 2) in metres, returns the local stiffness over that of the law,
        > 0: the temperature map. [1]
    platen : float or None
        z of a plate around the tool; None puts one only where the frame is wider than the tool:
        at its foot under a drape, at its rim otherwise. [m]
    rate : float
        Mean travel of the free sheet in a step over the mesh size, above 0 to 0.1. [1]
    turn : float
        Angle of the sheet's mesh. [rad]
    sink : float
        How deep edges of the finished sheet may cut into convex parts of the tool, > 0; the
        sheet's points and triangles are many where it is small. [m]
    progress : callable or None
        Called with a fraction and a text; returns True to stop.

    Returns
    -------
    Formed
        The result with its own verdict; `valid` is False where it must not be used.

    Raises
    ------
    Refused
        If an input is not finite or out of range, or the tool stands above a straight clamp.
    Cancelled
        If `progress` returned True.

    Notes
    -----
    Membrane: no bending, so a radius under about the gauge is outside it. Time plays no part.

    References
    ----------
    Dynamic relaxation: Underwood, in Belytschko and Hughes, Computational Methods for Transient
    Analysis (1983) 245-265 (from memory).
    """
    _check(gauge, law, pressure, friction, method, rate)
    vertices, faces = _with_platen(tool_vertices, tool_faces, clamp, platen, method.kind)
    tell = progress or (lambda fraction, text: False)
    if tell(0.0, "The tool is prepared"):
        raise Cancelled("The run was stopped.")
    tool = surface(vertices, faces)
    run = _Run(tool, clamp, float(gauge), np.ascontiguousarray(law, float), float(pressure),
               float(mesh_size), friction, method, rate, turn, sink, tell)
    if stiffness is not None:
        run.sheet.heat[:] = within("stiffness map", stiffness(run.sheet.flat), 0.0, above=True)
    try:
        run.all_stages()
    except _Lost:
        with np.errstate(all="ignore"):  # what is left may be anything
            return run.result()
    return run.result()


def _check(gauge, law, pressure, friction, method, rate):
    within("starting gauge", gauge, 0.0, unit="m", above=True)
    within("pressure", pressure, 0.0, unit="Pa", above=True)
    within("loading rate", rate, 0.0, 0.1, above=True)
    one_of("forming method", method.kind, (STRAIGHT, DRAPE))
    within("bubble height", method.bubble, 0.0, unit="m")
    within("shear modulus of the law", shear_modulus(np.asarray(finite("law", law))), 0.0,
           unit="Pa", above=True)
    if friction is not None:
        within("friction on the tool", friction, 0.0)
    if method.plug is not None:
        within("chill factor", method.plug.chill, 1.0)
        within("friction on the plug", method.plug.friction or 0.0, 0.0)


def _with_platen(vertices, faces, clamp, platen, kind):
    """Add the plate around the tool: a full one at its foot, else one with a window for it."""
    vertices, faces = np.asarray(finite("tool vertices", vertices), float), np.asarray(faces)
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    hair = 1e-5 * np.ptp(vertices[:, :2], axis=0).max()  # keeps the plate apart from the tool
    half = 0.5 * np.array([clamp.size[0], clamp.size[-1]])
    outer_low, outer_high = np.array(clamp.centre) - half, np.array(clamp.centre) + half
    slack = 1e-6 * half.max()
    wider = np.any(outer_low < low[:2] - slack) or np.any(outer_high > high[:2] + slack)
    if platen is None:
        if not wider:
            return vertices, faces
        platen = low[2] if kind == DRAPE else high[2]
    a, b = np.minimum(outer_low, low[:2]) - half, np.maximum(outer_high, high[:2]) + half
    xs = np.array([a[0], low[0] - hair, high[0] + hair, b[0]])
    ys = np.array([a[1], low[1] - hair, high[1] + hair, b[1]])
    grid = np.array([[x, y, platen] for y in ys for x in xs])
    window = platen > low[2] + slack
    cells = [(i, j) for j in range(3) for i in range(3) if not (window and i == 1 and j == 1)]
    plate = [t for i, j in cells for t in
             ((4 * j + i, 4 * j + i + 1, 4 * j + i + 5), (4 * j + i, 4 * j + i + 5, 4 * j + i + 4))]
    return np.vstack([vertices, grid]), np.vstack([faces, np.array(plate) + len(vertices)])


class _Run:
    """One forming run: the sheet, the bodies, the clock."""

    def __init__(self, tool, clamp, gauge, law, pressure, mesh_size, friction, method, rate, turn,
                 sink, progress):
        self.tool, self.clamp, self.gauge, self.law = tool, clamp, gauge, law
        self.pressure, self.h, self.method, self.rate = pressure, mesh_size, method, rate
        self.sink = within("depth of edges in the tool", sink, 0.0, unit="m", above=True)
        self.progress = progress
        self._tell(0.0, "The sheet is meshed")
        top = float(tool.vertices[:, 2].max())
        self.tolerance = 1e-3 * mesh_size
        if method.kind == STRAIGHT and _top_inside(tool, clamp) > clamp.height + self.tolerance:
            raise Refused("frame height", f"the tool stands {top - clamp.height:.6g} m above the "
                                          "frame; choose the drape, or raise the frame.")
        start = clamp.height
        if method.kind == DRAPE:
            start = max(start, top + 2.0 * self.tolerance)
        lines = sharp_lines(tool, min(start, top), mesh_size, 2.0 * self.tolerance)
        self.sheet = Sheet(clamp, mesh_size, turn, start, lines)
        self.start = start
        self.plug, self.lift = tool, 0.0
        if method.plug is not None:
            self.plug = surface(method.plug.vertices, method.plug.faces, facing=(0, 0, -1.0))
        self.control = self._controls(friction)
        self.constants = _mooney_constants(law)
        self.steps, self.checks = 0, []
        self.curve, self.pictures, self.interval, self.since = [], [], 4, 0
        self.floor = float(tool.vertices[:, 2].min())
        self.sunk = max(sink, 0.02 * mesh_size)
        self.resting = np.zeros(0, bool)

    def _controls(self, friction):
        control = np.zeros(18)
        control[relax.TOLERANCE] = self.tolerance
        control[relax.FRICTION] = STICKING if friction is None else friction
        grip = self.method.plug.friction if self.method.plug is not None else None
        control[relax.PLUG_FRICTION] = STICKING if grip is None else grip
        control[relax.FRAME_AREA] = self.clamp.area
        control[relax.MEMORY] = 1.0
        return control

    def all_stages(self):
        """Bubble, tool or plug, vacuum."""
        if self.method.plug is None:
            self.sheet.gap[:, 1] = np.inf
        else:
            self._park_plug()
        fall = self.start - self.clamp.height
        vacuum = self._depth()
        total = (self.method.bubble + fall + self.lift + vacuum) / _DRAWN
        done = 0.0
        if self.method.bubble > 0.0:
            self._blow(total)
            done += self.method.bubble
        if fall > 0.0:
            self._move(relax.CLAMP_STEP, fall, "The tool rises", done / total, fall / total)
            done += fall
        if self.lift > 0.0:
            self._move(relax.PLUG_STEP, self.lift, "The plug goes in", done / total,
                       self.lift / total)
            done += self.lift
        self._evacuate(done / total)

    def _depth(self):
        """Depth to evacuate, which tells how long the vacuum takes."""
        return max(float(np.ptp(self.tool.vertices[:, 2])), 4.0 * self.h)

    def _park_plug(self):
        """Raise the plug until it clears the flat sheet and what the bubble will need."""
        low = float(self.plug.vertices[:, 2].min())
        self.lift = max(0.0, self.start + self.method.bubble - low + 2.0 * self.tolerance)
        self.control[relax.PLUG_AT] = self.lift

    def _tell(self, fraction, text):
        if self.progress(min(max(fraction, 0.0), 1.0), text):
            raise Cancelled("The run was stopped.")

    def _blow(self, total):
        """Blow the sheet up to a height, by volume."""
        target = self.start + self.method.bubble
        self._limits(-self.pressure, 0.0)
        while self.control[relax.TOP] < target or self.steps == 0:
            if self.steps > 20 and self.control[relax.PRESSURE] < -0.99 * self.pressure and \
                    abs(self.control[relax.SPEED]) < 0.02 * self.rate * self.h:
                raise Refused("bubble height", "the pressure does not blow a bubble of "
                                               f"{self.method.bubble:.6g} m.")
            left = max(target - self.control[relax.TOP], 0.0) if self.steps else np.inf
            speed = min(self.rate * self.h, max(0.3 * left / _CHUNK, 0.05 * self.rate * self.h))
            self._advance(-speed, "The bubble is blown")
            rise = self.control[relax.TOP] - self.start
            self._tell(rise / total, "The bubble is blown")
        self.control[relax.RATE] = 0.0

    def _move(self, which, distance, text, begin, share):
        """Lower the clamp over the tool, or the plug into the sheet, the air free to leave.

        A bubble keeps its air while the tool rises into it.
        """
        closed = self.method.bubble > 0.0 and which == relax.CLAMP_STEP
        self._limits(-self.pressure if closed else 0.0, 0.0)
        steps = int(np.ceil(distance / (self.rate * self.h) / _CHUNK)) * _CHUNK
        self.control[which] = -distance / steps
        for k in range(0, steps, _CHUNK):
            self._advance(0.0, text)
            self._tell(begin + share * k / steps, text)
        self.control[which] = 0.0
        if which == relax.PLUG_STEP:
            on = self.sheet.state == PLUG
            self.sheet.v[on] = self.sheet.w[on] = 0.0
            self._chill(on)

    def _chill(self, on):
        """Stiffen the sheet that has touched the plug, in the shape it has there."""
        s = self.sheet
        if self.method.plug.chill <= 1.0:
            return
        faces = np.flatnonzero(np.all(on[s.tri], axis=1))
        inverse, _ = s.inverse(faces)
        s.set[faces] = _touched_shape(s.x[s.tri[faces]], inverse)
        s.chilled[faces] = 1

    def _evacuate(self, begin):
        """Draw the vacuum by volume until the pressure is reached and the sheet has come to rest.

        At rest it hardly moves and its forces balance; one that keeps trembling, hardly moving, is
        let go after a while, and judged.
        """
        self._limits(-0.2 * self.pressure, self.pressure)
        self.control[relax.VOLUME] = 0.0
        self.sheet.landed[np.isfinite(self.sheet.landed)] = 0.0
        speed, memory, depth = self.rate * self.h, 0.0, self._depth()
        travelled, quiet = 0.0, 0.0
        while quiet < 3.0:
            memory += speed
            self._advance(min(speed, memory / self.control[relax.MEMORY]), "The vacuum draws")
            if self.free == 0:
                break
            travelled += max(self.control[relax.SPEED], 0.0) * _CHUNK
            self.curve.append((self.control[relax.VOLUME], self.control[relax.PRESSURE]))
            resting = abs(self.control[relax.SPEED]) < 0.03 * speed
            full = self.control[relax.PRESSURE] > 0.99 * self.pressure
            balanced = self.control[relax.RESIDUAL] < _BALANCED
            quiet = (quiet + (1.0 if balanced else 0.1)) if resting and full else 0.0
            share = 1.0 - np.exp(-1.5 * travelled / depth)
            self._tell(begin + (_DRAWN - begin) * share, "The vacuum draws")

    def _watch(self):
        """Stop a run that cannot end well: diverged, too long, too many points, past the tool."""
        x, control = self.sheet.x, self.control
        sound = np.isfinite(control[relax.PRESSURE] + control[relax.SPEED])
        checks = [
            at_most("stable", np.nan if not sound else 0.0, 0.0, "The calculation diverged."),
            at_most("ended", self.steps, _MOST_STEPS, "Steps taken without coming to rest."),
            at_most("size", self.sheet.nodes, MOST_NODES - 1, "Points of the sheet."),
            at_most("held", self.floor - float(x[:, 2].min()), 0.05 * min(self.clamp.size),
                    "The sheet was drawn past the tool: close the gap between tool and frame, for "
                    "example with a platen. [m]")]
        self.checks = [check for check in checks if not check.passed]
        if self.checks:
            raise _Lost

    def _limits(self, least, most):
        self.control[relax.LEAST], self.control[relax.MOST] = least, most

    def _advance(self, speed, stage):
        """One chunk of steps, with the mesh and the masses brought up to date before it."""
        s, control = self.sheet, self.control
        self._renew()
        control[relax.RATE] = speed
        relax.march(_CHUNK, s.x, s.v, s.w, s.m, s.state, s.gap, s.gone, s.near, s.normal, s.landed,
                    self.nodes, self.tri, self.inverse, self.volume, self.skin, *self.constants,
                    self.law, s.f, s.a, self.tool, self.plug, control)
        self.steps += _CHUNK
        self._watch()
        self._picture(stage)

    def _renew(self):
        """Refine, list the moving triangles and nodes, set masses and damping."""
        s = self.sheet
        self.since += 1
        if self.since % 2 and self.steps:
            return
        self._refine()
        held = s.state == CLAMP
        if self.control[relax.FRICTION] >= STICKING:
            held |= s.state == TOOL
        if self.control[relax.CLAMP_STEP] != 0.0:
            held &= s.state != CLAMP
        moving = np.flatnonzero(~np.all(held[s.tri], axis=1))
        self._layers(moving)
        self.nodes = np.flatnonzero(~held)
        self.free = int(np.count_nonzero(s.state == FREE))
        relax.masses(s.x, self.tri, self.inverse, self.volume, self.law, _MARGIN, s.m)
        slowest = 3.0 / np.sqrt(max(self.free, 20))
        # triple pole of the lowest mode with its running mean
        self.control[relax.DAMPING] = 1.54 * slowest
        self.control[relax.MEMORY] = 5.2 / slowest

    def _refine(self):
        """Bisect what has stretched, and what would cut through a convex part of the tool."""
        s, volume = self.sheet, self.control[relax.VOLUME]
        marked, limit = np.zeros(0, np.int64), self._longest()
        for k in range(6):
            known = s.nodes
            s.refine(limit, marked, self.tool, self.tolerance, volume)
            since = known if k else 0
            marked = sunk_faces(s.x, s.state, s.gap, s.gone, s.near, s.normal, s.tri, s.beyond,
                                s.cut, self._fresh(), since, self.tool, self.sunk, 0.3 * self.h)
            if len(marked) == 0:
                break
        self.resting = s.state == TOOL

    def _longest(self) -> float:
        """Longest edge that may move: shorter once the pressure curves what is left more sharply.

        Tension in a well stretched sheet is about its shear modulus times its starting gauge.
        """
        radius = shear_modulus(self.law) * self.gauge / max(self.control[relax.PRESSURE], 1e-9)
        return max(min(_SPLIT * self.h, _PER_RADIUS * radius), _FINEST * _SPLIT * self.h)

    def _fresh(self):
        fresh = self.sheet.state == TOOL
        fresh[: len(self.resting)] &= ~self.resting
        return fresh

    def _layers(self, moving):
        """Triangles of the sheet, then the chilled ones again in the shape that they set in."""
        s = self.sheet
        inverse, area = s.inverse(moving)
        volume = area * self.gauge * s.heat[s.tri[moving]].mean(axis=1)
        set_ = np.flatnonzero(s.chilled[moving])
        self.skin = len(moving)
        self.tri = np.ascontiguousarray(s.tri[np.concatenate([moving, moving[set_]])])
        if len(set_) == 0:
            self.inverse, self.volume = inverse, volume
            return
        b, g = inverse[set_].reshape(-1, 2, 2), s.set[moving[set_]].reshape(-1, 2, 2)
        self.inverse = np.vstack([inverse, (b @ g).reshape(-1, 4)])
        more = self.method.plug.chill - 1.0
        self.volume = np.concatenate([volume, more * volume[set_]])

    def _picture(self, stage):
        if len(self.pictures) and (self.steps // _CHUNK) % self.interval:
            return
        plug = None if self.method.plug is None else float(self.control[relax.PLUG_AT])
        self.pictures.append((stage, float(self.control[relax.VOLUME]),
                              float(self.control[relax.PRESSURE]), self.sheet.x.copy(), plug))
        if len(self.pictures) > 60:
            self.pictures = self.pictures[::2]
            self.interval *= 2

    def result(self) -> Formed:
        """Gather what came out, give it the points it lacks on the tool, and judge it.

        A run that was given up is not judged further.
        """
        s = self.sheet
        inverse, flat_area = s.inverse(slice(None))
        l1, l2 = _stretches(s.x[s.tri], inverse)
        node_gauge = self._node_gauge(s.tri, flat_area, l1 * l2)
        before = _areas(s.x[s.tri])
        source = np.arange(s.faces) if self.checks else self._finish()
        # the plastic of a triangle spreads over all that it became
        after = np.bincount(source, _areas(s.x[s.tri]), len(before))
        spread = np.sqrt(after / before)[source]
        l1, l2 = l1[source] * spread, l2[source] * spread
        known = np.empty((s.nodes, 1))
        known[: len(node_gauge), 0] = node_gauge
        formed = Formed(
            flat=s.flat.copy(), points=s.x.copy(), triangles=s.tri.copy(),
            gauge=self.gauge / (l1 * l2), node_gauge=s.later(known, len(node_gauge))[:, 0],
            stretches=np.stack([l1, l2], 1), stresses=_true_stress(l1, l2, self.law),
            on_tool=s.state == TOOL, on_plug=s.state == PLUG, clamped=s.state == CLAMP,
            landed=s.landed.copy(),
            wrinkled=l2 < np.minimum(1.0, 1.0 / np.sqrt(l1)) * (1.0 - 1e-3),
            curve=np.array(self.curve).reshape(-1, 2),
            end_pressure=float(self.control[relax.PRESSURE]), starting_gauge=self.gauge,
            mesh_size=self.h, rate=self.rate, steps=self.steps,
            snapshots=[Snapshot(a, b, c, s.earlier(x), p) for a, b, c, x, p in self.pictures])
        formed.checks.extend(self.checks)
        for check in () if self.checks else judge(formed, self.tool, self.control[relax.RESIDUAL],
                                                  self.sink):
            formed.checks.append(check)
            self._tell(_DRAWN + 0.1 + 0.02 * len(formed.checks), "The run is judged")
        return formed

    def _finish(self):
        """Lay edges that still cut through the tool on it, for the picture; gauge stays as it was.

        Returns the number of the calculated triangle that each one is a part of.
        """
        s = self.sheet
        source = np.arange(s.faces)
        since, sharp = 0, ridges(self.tool)
        for _ in range(14):
            known = s.nodes
            added = s.conform(np.ones(known, bool), since, self.tool, sharp, self.sink, self.sink,
                              self.control[relax.VOLUME])
            if not added:
                break
            since, source = known, _trace(source, s.parent)
            self._tell(_DRAWN + 0.1, "The sheet is laid on the tool")
        return source

    def _node_gauge(self, tri, flat_area, ratio):
        """Gauge at a point: plastic over area of the triangles around it."""
        count = self.sheet.nodes
        flat = np.bincount(tri.ravel(), np.repeat(flat_area, 3), count)
        formed = np.bincount(tri.ravel(), np.repeat(flat_area * ratio, 3), count)
        return self.gauge * flat / formed


def _trace(source, parent):
    """Extend the origin of triangles to those cut from them, in the order of cutting."""
    out = np.empty(len(parent), np.int64)
    out[: len(source)] = source
    for t in range(len(source), len(parent)):
        out[t] = out[parent[t]]
    return out


def _top_inside(tool: Surface, clamp: Clamp) -> float:
    """Height of the tool inside the frame."""
    xy = tool.vertices[:, :2] - np.array(clamp.centre)
    half = 0.5 * np.array([clamp.size[0], clamp.size[-1]])
    inside = np.hypot(*xy.T) <= half[0] if clamp.round else np.all(np.abs(xy) <= half, axis=1)
    return float(tool.vertices[inside, 2].max()) if inside.any() else -np.inf


def _mooney_constants(law):
    """c1, c2 of a Mooney-Rivlin law; c1 = -1 for a law with other powers."""
    if not np.all(np.isin(law[:, 1], (2.0, -2.0))):
        return -1.0, 0.0
    first, second = law[:, 1] == 2.0, law[:, 1] == -2.0
    return float(0.5 * law[first, 0].sum()), float(-0.5 * law[second, 0].sum())


def _areas(corners):
    return 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0],
                                         corners[:, 2] - corners[:, 0]), axis=1)


def _gradient(corners, inverse):
    edges = np.stack([corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]], 2)
    return edges @ inverse.reshape(-1, 2, 2)


def _stretches(corners, inverse):
    """Principal stretches of triangles, the larger first."""
    g = _gradient(corners, inverse)
    c = np.swapaxes(g, 1, 2) @ g
    mean, half = 0.5 * (c[:, 0, 0] + c[:, 1, 1]), 0.5 * (c[:, 0, 0] - c[:, 1, 1])
    r = np.hypot(half, c[:, 0, 1])
    return np.sqrt(mean + r), np.sqrt(np.maximum(mean - r, 1e-12))


def _touched_shape(corners, inverse):
    """Inverse of the in-plane deformation (right stretch) of triangles, row by row."""
    g = _gradient(corners, inverse)
    c = np.swapaxes(g, 1, 2) @ g
    root_det = np.sqrt(np.linalg.det(c))
    trace = np.sqrt(c[:, 0, 0] + c[:, 1, 1] + 2.0 * root_det)
    stretch = (c + root_det[:, None, None] * np.eye(2)) / trace[:, None, None]
    return np.linalg.inv(stretch).reshape(-1, 4)


def _true_stress(l1, l2, law):
    """Principal true stresses, with none across a fold."""
    taut = np.maximum(l2, 1.0 / np.sqrt(np.maximum(l1, 1.0)))
    l1 = np.maximum(l1, 1.0)
    across = 1.0 / (l1 * taut)
    both = [sum(m * (stretch**a - across**a) for m, a in law) for stretch in (l1, taut)]
    return np.stack(both, 1)
