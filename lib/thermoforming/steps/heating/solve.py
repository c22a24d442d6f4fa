"""The phases of a shot, one after the other."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.physics import toolthermal
from thermoforming.physics.conduction import History, Layer, Side, Solid, conduct
from thermoforming.physics.heating import (equalising_time, flux_for, formable_time, levels_over,
                                           profile_at, ready_time, scorch_time)
from thermoforming.physics.radiation import (STEFAN_BOLTZMANN, exchange_factors,
                                             heater_temperature, point_view_factor, view_factor,
                                             zone_rectangles)
from thermoforming.physics.sag import sag
from thermoforming.reference import Material, rule
from thermoforming.steps.heating.fields import FILM
from thermoforming.steps.thermal import open_air, solid_of

LONGEST = 1800.0  # s, no heating is followed longer
STEADY = 1.0  # K; a tool this near its steady cycle counts as there
MAP = (15, 11)  # places of the temperature map in x and y


@dataclass(frozen=True, eq=False)
class Heating:
    """The sheet in the heater."""

    history: History
    seconds: float
    ready: float
    scorch: float
    heater: float
    factor: float
    view: float


@dataclass(frozen=True, eq=False)
class Shot:
    """All phases of one shot."""

    heating: Heating
    one_sided: Heating
    band: Band | None
    air: History
    formable_air: float
    even: float
    on_tool: History
    formable_tool: float
    release: float
    grips: float
    ideal: float
    metal: tuple[str, float]
    sag: Band
    sag_curve: tuple[np.ndarray, np.ndarray]
    map: tuple[np.ndarray, np.ndarray, np.ndarray]
    runs: tuple[np.ndarray, np.ndarray, float] | None
    warm: float
    times: Timeline | None


def solve(inputs: Mapping[str, Any], sheet: Material, tool: Material,
          others: Mapping[str, Material]) -> Shot:
    """Heat, carry, form, cool."""
    solid, places = solid_of(sheet), local_view(inputs)
    view = float(np.mean(places[2]))
    heated = heat(inputs, solid, view)
    profile = profile_at(heated.history, heated.seconds)
    air = _in_air(inputs, solid, profile)
    formed = profile_at(air, min(inputs["transfer"], float(air.time[-1])))
    on_tool = _on_tool(inputs, solid, solid_of(tool), formed, inputs["thickest"])
    conductor = max(others.values(), key=lambda m: m.band("conductivity").typical)
    metal = _on_tool(inputs, solid, solid_of(conductor), formed, inputs["thickest"])
    warps = released(on_tool, inputs["set"])
    times = None if math.inf in (warps, heated.seconds) else timeline(inputs, heated.seconds, warps)
    runs = _runs(inputs, sheet, tool, formed, times)
    return Shot(
        heated, heat(inputs, solid, view, one=inputs["sides"] == "two"),
        _time_band(inputs, sheet, heated), air,
        formable_time(air, inputs["forming_low"]), equalising_time(air, inputs["spread"]),
        on_tool, formable_time(on_tool, inputs["forming_low"], on_tool=True), warps,
        on_tool.when(on_tool.mean(0), inputs["grip"], False), _ideal(inputs, solid, formed),
        (conductor.text("short"), released(metal, inputs["set"])),
        _sag_band(inputs, sheet, heated), _sag_curve(inputs, sheet),
        _map(inputs, solid, heated, places), runs,
        _warm(inputs, solid, solid_of(tool), formed, runs), times)


def _warm(inputs, solid: Solid, wall: Solid, profile, runs) -> float:
    """Release time on the tool as it stands once many shots have warmed it. [s]"""
    if runs is None:
        return math.inf
    on_tool = _on_tool(dict(inputs) | {"tool_start": runs[2]}, solid, wall, profile,
                       inputs["thickest"])
    return released(on_tool, inputs["set"])


def released(history: History, limit: float) -> float:
    """When the hottest place of the part is below a temperature. [s]"""
    return history.when(history.of(0).max(axis=1), limit, rising=False)


def heat(inputs, solid: Solid, view: float, one: bool = False, seconds: float | None = None,
         steps: int = 90) -> Heating:
    """Heat a place that sees `view` of the heater; `one` lights the upper side only."""
    a, around = exchange_factors(view, inputs["heater_emissivity"], inputs["emissivity"])
    both = inputs["sides"] == "two" and not one
    element = _element(inputs)
    upper, lower = _lit(inputs, element, a, around), _dark(inputs)
    if both:
        lower = _lit(inputs, element, inputs["below"] * a, around)
    until = seconds or _horizon(inputs, solid, upper, 2 if both else 1)
    history = conduct([Layer(solid, inputs["gauge"])], inputs["start"], upper, lower, until,
                      steps=steps, even=True)
    ready = ready_time(history, inputs["core"])
    typed = inputs["typed_time"]
    used = typed if typed is not None else ready
    return Heating(history, min(used, float(history.time[-1])), ready,
                   scorch_time(history, inputs["surface_limit"]), element, float(a), view)


def _element(inputs) -> float:
    """Temperature of the heater, which faces its whole plane."""
    view = view_factor(inputs["heater_x"], inputs["heater_y"], inputs["distance"])
    return heater_temperature(inputs["power"] * inputs["running"], view,
                              inputs["heater_emissivity"], inputs["emissivity"],
                              inputs["start"], inputs["oven_air"])


def _lit(inputs, element: float, factor: float, around: float) -> Side:
    return Side(inputs["oven_air"], inputs["oven_film"], element, min(factor, 1.0),
                inputs["oven_air"], around, inputs["absorption_depth"])


def _dark(inputs) -> Side:
    return Side(inputs["air"], inputs["oven_film"], around=inputs["air"],
                from_around=inputs["emissivity"])


def _horizon(inputs, solid: Solid, lit: Side, sides: int) -> float:
    """A time that surely covers heating: several times what the flux at first would need."""
    rise = float(solid.content(inputs["core"]) - solid.content(inputs["start"]))
    flux = STEFAN_BOLTZMANN * lit.from_heater * (lit.heater**4 - inputs["core"]**4)
    if flux <= 0.0:
        return 600.0
    short = rise * inputs["gauge"] / (sides * flux)
    through = inputs["gauge"] ** 2 / sides**2 * 1e7
    typed = inputs["typed_time"] or 0.0
    return float(np.clip(2.5 * short + 0.6 * through, 1.3 * typed + 5.0, LONGEST))


def _time_band(inputs, sheet: Material, heated: Heating) -> Band | None:
    """Heating time with the heat content at the ends of its band."""
    if math.isinf(heated.ready) or "enthalpy" not in sheet:
        return None
    curve, k = sheet.curve("enthalpy"), sheet.curve("conductivity")
    ends = []
    for values in (curve.low, curve.high):
        solid = Solid.curves(sheet.band("density").typical, curve.temperature, values,
                             k.temperature, k.typical)
        ends.append(heat(inputs, solid, heated.view, seconds=2.0 * heated.ready,
                         steps=60).ready)
    ends = [heated.ready if math.isinf(t) else t for t in ends]
    return Band(min(*ends, heated.ready), heated.ready, max(*ends, heated.ready))


def _in_air(inputs, solid: Solid, profile: np.ndarray) -> History:
    side = open_air(inputs["air"], inputs["oven_film"], inputs["emissivity"])
    low = inputs["forming_low"]
    heat = float(solid.content(max(float(profile.max()), low + 10.0)) - solid.content(low))
    loss = (inputs["oven_film"] * max(low - inputs["air"], 10.0) + inputs["emissivity"]
            * STEFAN_BOLTZMANN * max(low**4 - inputs["air"]**4, 0.0) + 20.0)
    slow = heat * inputs["gauge"] / (2.0 * loss)  # rather long: the faces are warmer than that
    return conduct([Layer(solid, inputs["gauge"])], profile, side, side,
                   float(np.clip(1.3 * slow, inputs["transfer"] + 10.0, LONGEST)), steps=90)


def _free_side(inputs) -> Side:
    return Side(inputs["air"], rule("cooling", FILM[inputs["cooling"]]).band.typical)


def _on_tool(inputs, solid: Solid, wall: Solid, profile: np.ndarray, gauge: float) -> History:
    """Upper face free, lower face on the tool."""
    sheet = Layer(solid, gauge)
    tool = Layer(wall, inputs["wall"])
    start = np.concatenate([profile, np.full(tool.cells + 1, inputs["tool_start"])])
    until = 60.0 + 4e7 * gauge**2 + 1.2e5 * gauge
    return conduct([sheet, tool], start, _free_side(inputs),
                   Side(inputs["air"], inputs["back_film"]), min(until, LONGEST),
                   contact=1.0 / inputs["contact"], steps=110)


def _ideal(inputs, solid: Solid, profile: np.ndarray) -> float:
    """Release time on a tool that does not warm, same contact."""
    held = Side(inputs["tool_start"], inputs["contact"])
    history = conduct([Layer(solid, inputs["thickest"])], profile, _free_side(inputs), held,
                      60.0 + 2e7 * inputs["thickest"] ** 2, steps=80)
    return released(history, inputs["set"])


def _sag_at(inputs, sheet: Material, hot: float, end: str) -> float:
    band = sheet.curve("hot_modulus").at(hot, outside="hold")
    growth = sheet.band("expansion").typical * max(hot - inputs["start"], 0.0) * inputs["grown"]
    return sag(min(inputs["sheet_x"], inputs["sheet_y"]), sheet.band("density").typical,
               getattr(band, end), growth)


def _sag_band(inputs, sheet: Material, heated: Heating) -> Band:
    hot = float(np.mean(profile_at(heated.history, heated.seconds)))
    return Band(*(_sag_at(inputs, sheet, hot, end) for end in ("high", "typical", "low")))


def _sag_curve(inputs, sheet: Material):
    temperatures = np.linspace(inputs["forming_low"], inputs["surface_limit"], 13)
    return temperatures, np.array([[_sag_at(inputs, sheet, t, end) for t in temperatures]
                                   for end in ("high", "typical", "low")])


def local_view(inputs):
    """Places over the sheet and what each sees of the zones, weighted by their settings."""
    x, y = (np.linspace(-0.5, 0.5, n) * inputs[f"sheet_{c}"] for n, c in zip(MAP, "xy",
                                                                            strict=True))
    settings = [row[c] for row in inputs["zones"] for c in ("left", "middle", "right")]
    if not np.any(np.array(settings) > 0.0):
        raise Refused("zones", "All zones are off; at least one must be above 0 %.")
    zones = zone_rectangles(inputs["heater_x"], inputs["heater_y"], len(inputs["zones"]), 3)
    places = np.meshgrid(x, y)
    local = sum(s * point_view_factor(*places, inputs["distance"], z)
                for s, z in zip(settings, zones, strict=True))
    return x, y, np.minimum(local, 1.0)


def _map(inputs, solid: Solid, heated: Heating, places):
    """Mean temperature over the sheet at the end of heating, from the zones' settings."""
    x, y, local = places
    levels = levels_over(local, 4)
    means = [float(heat(inputs, solid, float(view), seconds=heated.seconds,
                        steps=24).history.mean(0)[-1]) for view in levels]
    return x, y, np.interp(local, levels, means)


def _runs(inputs, sheet: Material, tool: Material, profile, times: Timeline | None):
    """Tool face before each shot, hottest place of the part at release, and the steady face."""
    if times is None:
        return None
    hot = float(np.mean(profile))
    solid = solid_of(sheet)
    warm = max(hot, inputs["set"] + 1.0)
    content = (solid.content(warm) - solid.content(inputs["set"])) / (warm - inputs["set"])
    middle = 0.5 * (hot + inputs["set"])
    layer = toolthermal.Layer(inputs["thickest"], float(sheet.curve("conductivity").at(
        middle, outside="hold").typical), float(content))
    wall = toolthermal.Layer(inputs["wall"], tool.band("conductivity").typical,
                             tool.band("density").typical * tool.band("specific_heat").typical)
    film = rule("cooling", FILM[inputs["cooling"]]).band.typical
    cycle = toolthermal.Cycle(toolthermal.Setting(
        layer, hot, inputs["contact"], (wall,), inputs["air"], film, film,
        max(inputs["back_film"], 0.1), times.contact,
        max(times.cycle - times.contact, 1.0)))
    walls = cycle.walls(inputs["tool_start"], min(int(inputs["shots"]), 200))
    shots = cycle.shots(walls)
    steady = cycle.shots(cycle.steady())
    return shots.face, shots.part, float(steady.face[0])


@dataclass(frozen=True)
class Timeline:
    """Stages (name, station, begin, seconds) of a cycle, its length, and what limits it."""

    stages: tuple[tuple[str, str, float, float], ...]
    cycle: float
    contact: float
    limit: str


def timeline(inputs, heating: float, release: float) -> Timeline:
    """The cycle, from the heating time and the time on the tool until release."""
    contact = inputs["evacuate"] + release
    oven = (("load", inputs["load"]), ("heat", heating), ("transfer", inputs["transfer"]))
    tool = (("vacuum", inputs["evacuate"]), ("cool", release), ("eject", inputs["eject"]),
            ("pause", inputs["pause"]))
    first = _row(oven, "heater", 0.0)
    after = _row(tool, "tool", first[-1][2] + first[-1][3])
    busy = {"heater": sum(t for _, t in oven), "tool": inputs["transfer"] + sum(t for _, t in tool)}
    cycle = max(busy.values()) if inputs["overlap"] else sum(t for _, t in (*oven, *tool))
    station = max(busy, key=busy.get) if inputs["overlap"] else None
    longest = max((s for s in (*first, *after) if station in (None, s[1])), key=lambda s: s[3])
    return Timeline((*first, *after), cycle, contact, longest[0])


def _row(stages, station: str, begin: float):
    found = []
    for name, seconds in stages:
        found.append((name, station, begin, seconds))
        begin += seconds
    return found


def start_up_shots(runs) -> int:
    """Shots until the tool's face is near its steady cycle."""
    face, _, steady = runs
    there = np.flatnonzero(np.abs(face - steady) <= STEADY)
    return int(there[0]) if len(there) else len(face)


def needed_flux(inputs, solid: Solid, seconds: float) -> float:
    """Mean flux on each lit face by the balance of the sheet. [W/m2]"""
    rise = float(solid.content(inputs["core"]) - solid.content(inputs["start"]))
    return flux_for(1.0, inputs["gauge"], rise, seconds, 2 if inputs["sides"] == "two" else 1)
