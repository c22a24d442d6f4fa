"""What else would do: ways to run cooler, other tool materials, lighter walls; and the solid."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from thermoforming.physics import channels
from thermoforming.physics.toolthermal import Layer, Sink
from thermoforming.physics.toolwall import fe, search
from thermoforming.physics.toolwall.wall import Wall, Warm, brackets, volume, worse
from thermoforming.reference import tool_materials
from thermoforming.steps.base import Cancelled
from thermoforming.steps.wall.situation import (
    Situation,
    air_film,
    other,
    run_of,
    solid_layer,
)

FILLING = "epoxy_aluminium"  # what the table of ways to cool fills the hollow with
SKINS = np.concatenate([np.arange(1.0, 12.0, 0.5), np.arange(12.0, 31.0, 1.0)]) * 1e-3
RIB_SHARES = (0.6, 0.8, 1.0)  # of a rib by its wall: the usual range
HEIGHTS = (0.25, 0.5, 0.75, 0.9)  # of a hanging rib by the hollow
SPARE_CELLS = 10  # cells of a wall where only its temperature level counts
MOST_UNKNOWNS = 30_000  # of the finest mesh, so that it takes seconds


def ways_to_cool(here: Situation) -> tuple[dict[str, Any], ...]:
    """The run as it is, and with one thing changed at a time."""
    s, v = here.setting, here.inputs
    behind = s.wall[1:] or (solid_layer(tool_materials()[FILLING], v["fill_thickness"], 8),)
    thicker = replace(s.wall[0], thickness=1.5 * s.wall[0].thickness)
    fan = air_film("fan")
    ways = [("as it is", s),
            ("fan on face and back", other(s, open_film=max(fan, s.open_film),
                                           sheet_film=max(fan, s.sheet_film),
                                           back_film=max(fan, s.back_film))),
            ("tool open twice as long", other(s, open_time=2.0 * s.open_time)),
            ("wall half as thick again", other(s, wall=(thicker, *s.wall[1:]))),
            ("hollow filled with aluminium-filled epoxy", other(s, wall=(s.wall[0], *behind))),
            _with_channels(here)]
    return tuple(_way(here, name, setting) for name, setting in ways)


def _with_channels(here: Situation):
    """The wall made thick enough for the channels of the inputs, with water in them."""
    v, k = here.inputs, here.tool.band("conductivity").typical
    thick = max(v["skin"], v["channel_depth"] + v["bore"] / 2 + here.tool.band(
        "smallest_wall").typical)
    sink = Sink(v["channel_depth"], channels.sink_conductance(
        v["bore"], v["channel_depth"], v["pitch"], here.film, k), v["inlet"])
    wall = replace(here.setting.wall[0], thickness=thick)
    return (f"water in channels, wall {thick * 1e3:.0f} mm",
            other(here.setting, wall=(wall, *here.setting.wall[1:]), sink=sink))


def _way(here: Situation, name: str, setting) -> dict[str, Any]:
    heat = here.heat if setting is here.setting else run_of(
        other(setting, wall=tuple(_coarse(layer) for layer in setting.wall)), here.inputs["run"])
    count = heat.before_rest(here.temperature_limit)
    return {"way": name, "mean": heat.warmest, "peak": float(heat.last.peak[0]),
            "steady": float(heat.steady.mean_peak[0]), "part": float(heat.last.part[0]),
            "cycle": setting.cycle, "shots": "no rest" if count is None else str(count)}


def _coarse(layer: Layer) -> Layer:
    return replace(layer, cells=min(layer.cells, SPARE_CELLS))


def other_materials(here: Situation) -> tuple[dict[str, Any], ...]:
    """Every tool material on the same wall: temperature, deflection, thickness that would hold."""
    tools = dict(tool_materials())
    tools[here.tool.key] = here.tool
    runs = {key: _run_with(here, tool) for key, tool in tools.items()}
    warm = [here.warm_at(tool, runs[key].warmest) for key, tool in tools.items()]
    stacked = Warm(*(np.array([getattr(w, name) for w in warm])[:, None] for name in (
        "modulus", "poisson", "strength", "density")))
    now = worse(brackets(here.wall, here.load.pressure, stacked), "deflection")
    tried = replace(here.wall, skin=SKINS[None, :], side=SKINS[None, :])
    used = search.use(tried, here.load.pressure, stacked, here.limits)
    holds = np.maximum.reduce([used[name] for name in search.GOVERNS]) <= 1.0
    solid = np.broadcast_to(volume(tried), holds.shape)
    rows = []
    for i, (key, tool) in enumerate(tools.items()):
        first = int(np.argmax(holds[i])) if holds[i].any() else None
        rows.append(_material_row(tool, runs[key], float(np.ravel(now[i])[0]), first,
                                  None if first is None else float(solid[i, first])))
        rows[-1]["warm"] = runs[key].warmest <= tool.band("usable_limit").typical \
            - here.inputs["margin"]
    return tuple(rows)


def _run_with(here: Situation, tool):
    if tool is here.tool:
        return here.heat
    wall = solid_layer(tool, here.inputs["skin"], SPARE_CELLS)
    behind = tuple(_coarse(layer) for layer in here.setting.wall[1:])
    return run_of(other(here.setting, wall=(wall, *behind), sink=None), here.inputs["run"])


def _material_row(tool, heat, deflection, first, solid) -> dict[str, Any]:
    return {"material": tool.text("short"), "key": tool.key, "mean": heat.warmest,
            "limit": tool.band("usable_limit").typical, "peak": float(heat.last.peak[0]),
            "deflection": deflection, "skin": None if first is None else float(SKINS[first]),
            "mass": None if solid is None else solid * tool.band("density").typical,
            "time": None if solid is None else time_of(tool, solid)}


def time_of(tool, solid: float) -> float | None:
    """Time to make a volume; None for cast materials, which are poured at once. [s]"""
    return solid / tool.band("build_rate").typical if "build_rate" in tool else None


def lightest(here: Situation, standing: bool) -> search.Found | None:
    """The lightest wall with ribs that stand, or hang, for the same plan and load."""
    least, v = here.tool.band("smallest_wall").typical, here.inputs
    like = replace(here.wall, on_base=standing)
    walls = search.candidates(like, SKINS[SKINS >= least], RIB_SHARES,
                              [share * like.depth for share in HEIGHTS], v["most_ribs"], v["gap"],
                              least)
    return search.best(walls, here.load.pressure, here.warm, here.limits)


# -- beside the page ----------------------------------------------------------------------

def simulate(here: Situation, run) -> Mapping[str, Any]:
    """Finite elements on two meshes, bowing, and the search."""
    wall = here.wall
    depth, young = _modulus_over_depth(here)
    fines = _fineness(wall)
    solutions = []
    for i, fine in enumerate(fines):
        said = f"Solid model, {2 * fine} elements between ribs"
        if run.report(0.05 + 0.55 * i / len(fines), said):
            raise Cancelled
        solutions.append(fe.solve(wall, here.load.pressure, (depth, young), here.warm.poisson,
                                  "walls", fine))
        if i == 0:
            run.preview(_answer(solutions, fines[:1]))
    if run.report(0.7, "Solid model warmed"):
        raise Cancelled
    swell = here.tool.band("expansion").typical * (here.heat.part_off - here.inputs["ambient"])
    hold = {"slots": "sliding", "middle": "free", "ends": "walls"}[here.inputs["held"]]
    bowed = fe.solve(wall, 0.0, (depth, young), here.warm.poisson, hold, fines[0],
                     (here.heat.cycle.depth, swell))
    if run.report(0.8, "Search of lighter walls"):
        raise Cancelled
    answer = _answer(solutions, fines) | {"bow": bowed.bow}
    for name, standing in (("standing", True), ("hanging", False)):
        answer |= {f"lightest_{name}": _flat(lightest(here, standing))}
    return answer


def _fineness(wall: Wall) -> tuple[int, int]:
    """Two meshes that are solved in seconds: 4 and 6 elements between ribs, or half as many."""
    return (2, 3) if fe.unknowns(wall, "walls", 3) <= MOST_UNKNOWNS else (1, 2)


def _modulus_over_depth(here: Situation):
    """Modulus over the depth of the wall when the part is taken off, creep included."""
    curve, ratio = (here.tool.curve(key)(here.heat.part_off, "hold")[1]
                    for key in ("modulus", "creep_ratio"))
    return here.heat.cycle.depth, curve / here.creep(ratio)


def _answer(solutions, fines) -> dict[str, Any]:
    deflections = [s.deflection for s in solutions]
    limit, error = fe.converged(deflections, fines) if len(solutions) > 1 else (deflections[0], 1.0)
    last = solutions[-1]
    return {"x": last.x, "y": last.y, "inward": last.inward, "deflections": np.array(deflections),
            "fines": np.array(fines), "limit": limit, "error": error, "stress": last.stress,
            "unknowns": np.array([s.unknowns for s in solutions])}


def _flat(found: search.Found | None) -> np.ndarray:
    """A found wall as numbers: skin, rib, height, along, across, volume, governing limit, tried,
    passed; empty where none holds."""
    if found is None:
        return np.zeros(0)
    w = found.wall
    return np.array([w.skin, w.rib_thickness, w.height, w.ribs_along, w.ribs_across, found.volume,
                     search.GOVERNS.index(found.governs), found.tried, found.passed], dtype=float)
