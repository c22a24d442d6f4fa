"""The whole tool, step by step; what fails is named and the rest is built."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import manifold3d as m3
import numpy as np

from thermoforming.geometry.solid import audit, fittings, hollow, pieces
from thermoforming.geometry.solid.audit import Audit, Fault
from thermoforming.geometry.solid.body import block, flange, rim_loop, scaled
from thermoforming.geometry.solid.plan import MM, ToolPlan
from thermoforming.geometry.surface import Surface

FINE = 0.02e-3  # m, how far the room's ceiling may be flattened; the wall is made so much thicker
Progress = Callable[[float, str], bool]


class Stopped(Exception):
    """The caller asked the build to stop."""


@dataclass(frozen=True)
class Built:
    """A built tool: `whole` for checks and pictures, `pieces` to be made, and its audit."""

    whole: Surface
    pieces: tuple[Surface, ...]
    audit: Audit


def build(part: Surface, plan: ToolPlan, progress: Progress | None = None) -> Built:
    """Build the tool below a part's tool-side surface.

    Parameters
    ----------
    part : Surface
        Tool side at the part's size, facing up, open at one rim. [m]
    plan : ToolPlan
        What is to be built. [m]
    progress : callable or None
        Called with a fraction and a text; returns True to stop.

    Raises
    ------
    Refused
        If the surface has no single rim or does not enclose a volume with the base.
    Stopped
        If `progress` returned True.
    """
    say = _teller(progress)
    say(0.02, "scaling the face")
    face = scaled(part, plan.scale)
    base = float(face.vertices[:, 2].min()) - plan.below
    body = block(face, base)
    if plan.run_off > 0.0:
        body = body + flange(face, base, plan.run_off)
    work = _Work(face, plan, base, body, *_plan_box(face, plan))
    say(0.15, "measuring the underside")
    work.measure()
    say(0.35, "hollowing")
    work.hollow_out()
    say(0.55, "cutting channels and vents")
    work.cut()
    say(0.75, "splitting")
    made, problems = pieces.split(work.tool, work.joints, plan.joint_clearance)
    work.faults += [Fault(text) for text in problems]
    say(0.85, "proving what was built")
    report = work.report()
    say(1.0, "done")
    return Built(_surface(work.tool), tuple(_surface(piece) for piece in made), report)


class _Work:
    """The tool while it is being built."""

    def __init__(self, face, plan, base, body, low, high):
        self.face, self.plan, self.base, self.body = face, plan, base, body
        self.low, self.high = low, high
        self.tool, self.room, self.faults = body, None, []
        self.joints, self.ways = (), {}
        if plan.build is not None:
            size = (*(high - low), float(face.vertices[:, 2].max()) - base)
            self.joints, problem = pieces.joints(low, high, size, plan.build)
            self.faults += [Fault(problem)] if problem else []

    def measure(self):
        rim = float(self.face.vertices[rim_loop(self.face), 2].min())
        self.grid = hollow.underside(self.face, self.low, self.high, self.plan.cell, rim)
        wall = self.plan.wall
        self.roof = self.grid.shifted(wall + FINE) if wall else self.grid.face

    def hollow_out(self):
        plan = self.plan
        if plan.wall == 0.0:
            return
        self.room = hollow.room(self.grid, self.roof, self.base, self.low + plan.wall,
                                self.high - plan.wall).simplify(FINE * MM)
        if any(plan.ribs):
            self.room = self.room - self._ribs()
        for axis, at in self.joints:
            self.room = self.room - hollow.bulkhead(self.low, self.high, self.base, axis, at,
                                                    plan.wall, plan.air_notch)
        self.tool = self.body - self.room
        if self.room.trim_by_plane((0, 0, 1), self.base * MM + 0.01).volume() < 1.0:
            self.faults.append(Fault("There is no room below the wall: the tool is too shallow to "
                                     "be hollow. Add depth below the face or thin the wall."))

    def _ribs(self):
        """Plates up to the wall, less what lies deeper below it than a rib is high."""
        plan = self.plan
        low, high = self.low + plan.wall, self.high - plan.wall
        tall = float(self.grid.face.max()) - self.base
        plates = hollow.rib_plates(low, high, self.base, tall, plan.rib_thickness, plan.ribs,
                                   plan.air_notch)
        if plan.rib_height >= tall:
            return plates
        deeper = hollow.room(self.grid, self.roof - plan.rib_height, self.base, self.low, self.high)
        return plates - deeper.simplify(FINE * MM)

    def _least_gap(self) -> float | None:
        """Least free width between neighbouring ribs or outer walls. [m]"""
        if self.room is None or not any(self.plan.ribs):
            return None
        gaps = []
        for k, count in enumerate(self.plan.ribs):
            low, high = self.low[k] + self.plan.wall, self.high[k] - self.plan.wall
            lines = hollow.rib_lines(low, high, count)
            edges = np.concatenate([[low], np.sort(np.concatenate(
                [lines - self.plan.rib_thickness / 2, lines + self.plan.rib_thickness / 2])),
                [high]])
            gaps.append(np.diff(edges)[::2].min())
        return float(min(gaps))

    def cut(self):
        plan = self.plan
        top = float(self.face.vertices[:, 2].max())
        for channel in plan.channels:
            self._channel(channel)
        cutters = self._vents()
        centre = 0.5 * (self.low + self.high)
        cutters += [fittings.drain_cutter(d, centre, self.base, 2 * plan.wall + 2e-3)
                    for d in plan.drains]
        cutters += [fittings.hole_cutter(h, self.base, top) for h in plan.holes]
        if cutters:
            self.tool = self.tool - m3.Manifold.batch_boolean(cutters, m3.OpType.Add)
        self.tool = m3.Manifold.compose(audit.bodies(self.tool))

    def _vents(self) -> list[m3.Manifold]:
        for vent in self.plan.vents:
            self.ways[vent] = fittings.vent_way(vent, self.face, self.body, self.room, self.base)
        return [fittings.vent_cutter(vent, way) for vent, way in self.ways.items() if way]

    def _channel(self, channel):
        path = fittings.channel_path(channel, self.grid, 2.0 * channel.bore)
        jacket = fittings.tube(path, 2 * channel.depth) ^ self.body
        water = fittings.tube(path, channel.bore)
        self.tool = (self.tool + jacket) - water
        self.room = self.room - jacket if self.room is not None else None
        inside = hollow.box((*self.low, self.base - 1.0), (*(self.high - self.low), 2.0))
        if ((water ^ inside) - self.body).volume() > 0.01:
            self.faults.append(Fault("A channel breaks the surface: set it deeper or choose a "
                                     "smaller bore.",
                                     tuple(float(c) for c in path[len(path) // 2])))

    def report(self) -> Audit:
        tool, plan = self.tool, self.plan
        count = len(audit.bodies(tool))
        if count != 1:
            self.faults.append(Fault(f"The tool falls into {count} bodies; a wall is cut through. "
                                     "Look at the section and thicken it."))
        wall = (audit.least_wall(self.face, self.room, self.base, self.low, self.high)
                if self.room is not None else None)
        if wall is not None and wall < plan.wall - 1e-6:
            self.faults.append(Fault(f"The least wall is {wall * MM:.2f} mm, but "
                                     f"{plan.wall * MM:.2f} mm is asked for."))
        opened = sum(self._is_open(vent) for vent in plan.vents)
        return Audit(tool.volume() / MM**3, tool.surface_area() / MM**2, wall, self._least_gap(),
                     tool.num_tri(), count, opened, len(plan.vents),
                     audit.face_error(tool, self._whole_face()), tuple(self.faults),
                     tuple(self._smaller_reliefs()))

    def _whole_face(self) -> np.ndarray:
        """Corners of the face [m] that no vent or hole has touched."""
        corners = self.face.vertices
        kept = np.ones(len(corners), dtype=bool)
        for vent, way in self.ways.items():
            if way is not None:
                out = corners - way.start
                off_axis = out - np.outer(out @ way.direction, way.direction)
                kept &= np.linalg.norm(off_axis, axis=1) > vent.bore
        for hole in self.plan.holes:
            kept &= np.hypot(corners[:, 0] - hole.x, corners[:, 1] - hole.y) > hole.bore
        return corners[kept]

    def _smaller_reliefs(self) -> list[str]:
        return [f"Vent {vent.number}: the relief is {way.relief * MM:.1f} mm instead of "
                f"{vent.relief * MM:.1f} mm, so that it cuts the face nowhere else."
                for vent, way in self.ways.items() if way and way.relief < vent.relief]

    def _is_open(self, vent) -> bool:
        way = self.ways[vent]
        is_open = way is not None and audit.passage_open(self.tool, vent.bore, way)
        if not is_open:
            why = ("no straight bore leads from there to the room without cutting the face "
                   "elsewhere" if way is None else "it is not open from the face to the room")
            self.faults.append(Fault(f"Vent {vent.number}: {why}. Move it, or choose a smaller "
                                     "relief bore.", (vent.x, vent.y, vent.z)))
        return is_open


def _plan_box(face: Surface, plan: ToolPlan):
    rim = face.vertices[rim_loop(face)][:, :2]
    return rim.min(axis=0) - plan.run_off, rim.max(axis=0) + plan.run_off


def _surface(made: m3.Manifold) -> Surface:
    mesh = made.to_mesh64()
    return Surface(np.asarray(mesh.vert_properties)[:, :3] / MM, np.asarray(mesh.tri_verts))


def _teller(progress: Progress | None):
    def say(fraction: float, text: str) -> None:
        if progress is not None and progress(fraction, text):
            raise Stopped
    return say
