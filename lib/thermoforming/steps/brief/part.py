"""The part's tool side, from a file of the project or from a parametric shape, kept once read."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from threading import RLock
from typing import Any

from thermoforming.geometry.curvature import Bends, bends
from thermoforming.geometry.forms import FormFound, Gap, HeightMap, forms, gaps, height_map
from thermoforming.geometry.mesh import read_mesh, stand
from thermoforming.geometry.shapes import Form, tray
from thermoforming.geometry.sides import tool_side
from thermoforming.geometry.soundness import Finding
from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused
from thermoforming.steps.upstream import Upstream


class _Kept:
    """The last results of slow, pure work: a few for each kind of work, so that memory is bounded.

    A large part has measures of a hundred megabytes; a slider asks for one after the other.
    """

    def __init__(self, kinds: int = 60, each: int = 4):
        self.kinds, self.each, self.lock = kinds, each, RLock()
        self.held: OrderedDict[Hashable, OrderedDict[Hashable, Any]] = OrderedDict()

    def get(self, kind: Hashable, key: Hashable, make: Callable[[], Any]):
        with self.lock:
            found = self.held.setdefault(kind, OrderedDict())
            if key not in found:
                found[key] = make()
            self.held[kind] = found  # making it may have used others and dropped this kind
            _newest(self.held, kind, self.kinds)
            return _newest(found, key, self.each)


def _newest(held: OrderedDict, key: Hashable, most: int):
    """Mark an entry as used last, drop those used longest ago, and return it."""
    held.move_to_end(key)
    while len(held) > most:
        held.popitem(last=False)
    return held[key]


_kept = _Kept()


def kept(name: str, surface: Surface, make: Callable[[], Any], *also: Hashable):
    """A measure of a surface, made once for the same mesh and the same further arguments."""
    return _kept.get((name, surface.sha256), also, make)


def part_surface(upstream: Upstream) -> Surface:
    """Tool side of the part of the saved brief, rim at z = 0, pull along +z. [m]

    Raises
    ------
    NotDecided
        If no brief has been saved.
    Refused
        If its part cannot be used.
    """
    return surface_of(upstream.decision("brief").inputs, upstream)[0]


def surface_of(inputs: Mapping[str, Any], upstream: Upstream) -> tuple[Surface, list[Finding]]:
    """Tool side from the inputs of a brief, and what was found while reading it.

    Raises
    ------
    Refused
        If the part cannot be used; the message says why and what to do.
    """
    if inputs["part"] == "shape":
        return _shape(inputs), []
    mesh = inputs["mesh"]
    if mesh is None:
        raise Refused("mesh", "No part is loaded. Upload an STL, OBJ, PLY or 3MF file, or choose "
                              "the simple tray to try things out.")
    key = (mesh["sha256"], mesh["name"], inputs["mesh_unit"], inputs["mesh_kind"],
           inputs["up"])
    return _kept.get("mesh", key, lambda: _read(mesh, inputs, upstream))


def plan_of(surface: Surface) -> HeightMap:
    """Heights of the part seen from above."""
    return kept("plan", surface, lambda: height_map(surface))


def forms_of(surface: Surface) -> list[FormFound]:
    """Cavities, bosses and raised forms of the part."""
    return kept("forms", surface, lambda: forms(surface, plan_of(surface)))


def gaps_of(surface: Surface) -> list[Gap]:
    """Webs and channels between the forms of the part."""
    return kept("gaps", surface, lambda: gaps(plan_of(surface), forms_of(surface)))


def bends_of(surface: Surface) -> Bends:
    """Turn and radius at each edge of the part."""
    return kept("bends", surface, lambda: bends(surface))


def _read(mesh: Mapping[str, str], inputs, upstream: Upstream):
    reading = read_mesh(upstream.file(mesh["sha256"]), inputs["mesh_unit"], inputs["mesh_kind"],
                        mesh["name"])
    stops = [f"{f.text} {f.advice}" for f in reading.findings if f.verdict == "stop"]
    if stops:
        raise Refused("mesh", f"{mesh['name']} cannot be used. " + " ".join(stops))
    side = tool_side(stand(reading.surface, inputs["up"]), inputs["mesh_kind"])
    if min(side.size[:2]) <= 1e-6 * max(side.size):
        raise Refused("mesh", f"{mesh['name']} has no area seen from above. Change the way along "
                              "which the part leaves the tool.")
    return stand(side), list(reading.findings)


def _shape(inputs) -> Surface:
    """A tray with one cavity (female) or one raised form (male)."""
    length, width, height = (inputs[f"shape_{k}"] for k in ("length", "width", "height"))
    radius, corner, rim = (inputs[f"shape_{k}"] for k in ("radius", "corner", "rim"))
    form = Form((0.0, 0.0), (length, width), height, corner, (inputs["shape_draft"],) * 4,
                radius, radius)
    outer = (length + 2 * rim, width + 2 * rim)
    key = (length, width, height, radius, corner, rim, inputs["shape_draft"],
           inputs["side"])
    step = max(max(outer) / 60, 1e-3)
    chord = max(radius / 5, 2e-4)
    return _kept.get("shape", key, lambda: tray(outer, corner / 2, [form], step, chord,
                                                raised=inputs["side"] == "male"))
