"""The decision: heating time and zones, time to form, release, cycle."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.physics import cooling
from thermoforming.physics.heating import profile_at, surface_core_difference
from thermoforming.physics.radiation import peak_wavelength, view_factor
from thermoforming.reference import Material, tool_materials
from thermoforming.steps.base import (CAUTION, PASS, STOP, Check, Column, Grid, Outcome, Result,
                                      Step, Worked, graded)
from thermoforming.steps.earlier import found
from thermoforming.steps.heating.fields import FIELDS
from thermoforming.steps.heating.solve import (Shot, needed_flux, solve, start_up_shots)
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.thermal import diffusivity, solid_of
from thermoforming.steps.upstream import Upstream
from thermoforming.units import with_unit


@dataclass(frozen=True, eq=False)
class Found:
    """All that results, checks and figures are made from."""

    inputs: Mapping[str, Any]
    sheet: Material
    tool: Material
    shot: Shot

    @property
    def end(self) -> np.ndarray:
        """Profile when the sheet leaves the heater. [K]"""
        return profile_at(self.shot.heating.history, self.shot.heating.seconds)

    @property
    def formed(self) -> np.ndarray:
        """Profile when the vacuum valve opens. [K]"""
        return profile_at(self.shot.air, min(self.inputs["transfer"],
                                             float(self.shot.air.time[-1])))


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """One shot from loading to release, what limits it, and the shots in a row."""
    sheet, tool = chosen_sheet(upstream), chosen_tool(upstream)
    it = Found(inputs, sheet, tool, solve(inputs, sheet, tool, tool_materials()))
    return Outcome(results=_results(it), checks=tuple(_checks(it, upstream)), worked=_worked(it),
                   tables=(_cycle_table(it), _map_table(it), _shot_table(it)),
                   arrays={"shot": it.shot, "end": it.end, "formed": it.formed})


def _finite(value: float):
    return None if math.isinf(value) else float(value)


def _results(it: Found) -> tuple[Result, ...]:
    s, times = it.shot, it.shot.times
    x, y, temperatures = s.map
    return (
        Result("heating_time", "Heating", s.band or _finite(s.heating.ready), "s", "τ_h",
               help="Until the core is there; band from the heat content of the sheet"),
        Result("formable_air", "Formable in air for", _finite(s.formable_air), "s", "τ_f",
               help="From heater off until the coldest place is below the forming limit"),
        Result("contact_time", "Time on the tool", _finite(s.release + it.inputs["evacuate"]), "s",
               help="Vacuum and cooling until the hottest place is below the set temperature"),
        Result("cycle", "Shot to shot", times.cycle if times else None, "s", "τ_c"),
        Result("cycle_limit", "Longest stage", times.limit if times else None),
        Result("surface_end", "Hottest face at the end of heating", float(it.end.max()), "°C"),
        Result("difference", "Surface to core at transfer", float(np.ptp(it.formed)), "K"),
        Result("sag", "Sag", s.sag, "mm", "δ"),
        Result("formable_tool", "Formable on the tool for", _finite(s.formable_tool), "s",
               help="Until the mean over the gauge is below the forming limit"),
        Result("heater_temperature", "Heater at", s.heating.heater, "°C", "T_h"),
        Result("transfer", "Heater off to vacuum", it.inputs["transfer"], "s"),
        Result("cooling_ideal", "On a tool that does not warm", _finite(s.ideal), "s"),
        Result("cooling_warm", "Cooling once the tool is warm", _finite(s.warm), "s"),
        Result("startup_shots", "Start-up shots", start_up_shots(s.runs) if s.runs else None,
               "shots", help="Until the tool's face is within 1 K of its steady cycle"),
        Result("tool_steady", "Tool before a shot, steady", s.runs[2] if s.runs else None, "°C"),
        Result("map_spread", "Sheet hottest less coolest place", float(np.ptp(temperatures)), "K"),
        Result("edge_cooler", "Edge cooler than the middle by", _edge_cooler(temperatures), "K",
               help="What the thinning page takes as its temperature map"),
        Result("cooling", "Free side cooled by", it.inputs["cooling"]),
    )


def _edge_cooler(temperatures: np.ndarray) -> float:
    rim = np.concatenate([temperatures[0], temperatures[-1], temperatures[:, 0],
                          temperatures[:, -1]])
    rows, columns = temperatures.shape
    return float(temperatures[rows // 2, columns // 2] - rim.mean())


def _checks(it: Found, upstream: Upstream):
    yield _ready_check(it)
    yield _surface_check(it)
    yield _even_check(it)
    yield _formable_check(it)
    yield _sag_check(it)
    yield _map_check(it, upstream)
    yield _release_check(it)
    yield _brake_check(it)
    yield _run_check(it)


def _ready_check(it: Found) -> Check:
    core, reached = it.inputs["core"], float(it.end.min())
    verdict = PASS if reached >= core - 0.5 else \
        CAUTION if reached >= it.inputs["forming_low"] else STOP
    return Check("ready", "Core in the forming window", verdict,
                 f"The core leaves the heater at {with_unit(reached, '°C')}.", value=reached,
                 limit=core, shown="°C", source="conduction through the gauge",
                 advice="" if verdict == PASS else "Heat longer, or with more power; the sheet "
                                                   "tears or springs back where it is too cold.")


def _surface_check(it: Found) -> Check:
    hottest, limit = float(it.end.max()), it.inputs["surface_limit"]
    verdict = STOP if hottest > limit else CAUTION if hottest > limit - 10.0 else PASS
    scorch = it.shot.heating.scorch
    word = "never" if math.isinf(scorch) else f"after {with_unit(scorch, 's')}"
    return Check("surface", "Surface below its limit", verdict,
                 f"{with_unit(hottest, '°C')} when the core is ready; the limit is passed {word}.",
                 value=hottest, limit=limit, shown="°C",
                 source=it.sheet.source("surface_limit").citation
                 if "surface_limit" in it.sheet else "forming window",
                 advice="" if verdict == PASS else
                 "Less power for longer, both sides, or an equalising pause before the end.")


def _seconds(value: float) -> str:
    return "too long" if math.isinf(value) else with_unit(value, "s")


def _even_check(it: Found) -> Check:
    difference, limit = float(np.ptp(it.formed)), it.inputs["spread"]
    verdict = PASS if difference <= limit else CAUTION
    even = it.shot.even
    return Check("even", "Even through the gauge when it is formed", verdict,
                 f"{difference:.0f} K between surface and core; "
                 + ("never even in air." if math.isinf(even) else
                    f"even enough {with_unit(even, 's')} after the heater."),
                 value=difference, limit=limit, shown="K", source="conduction through the gauge",
                 advice="" if verdict == PASS else "Wait longer before the vacuum, or heat slower.")


def _formable_check(it: Found) -> Check:
    time, limit = it.shot.formable_air, it.inputs["transfer"] + it.inputs["evacuate"]
    verdict = graded(time, 1.5 * limit, limit)
    return Check("formable", "Formed before it is too cold", verdict,
                 f"Formable in air for {'long' if math.isinf(time) else with_unit(time, 's')}; "
                 f"transfer and vacuum take {with_unit(limit, 's')}.",
                 value=_finite(time), limit=limit, shown="s",
                 source="radiation and convection from both sides",
                 advice="" if verdict == PASS else
                 "Transfer faster, heat hotter within the window, or open more vents.")


def _sag_check(it: Found) -> Check:
    room = it.inputs["clearance"]
    verdict = STOP if it.shot.sag.typical > room else \
        CAUTION if it.shot.sag.high > 0.8 * room else PASS
    return Check("sag", "Sag clear of the lower heater", verdict,
                 f"{with_unit(it.shot.sag.typical, 'mm')} in the middle.", value=it.shot.sag,
                 limit=room, shown="mm",
                 source="strip under its own weight; hot modulus is an order of magnitude",
                 advice="" if verdict == PASS else "Cooler sheet, smaller span, air pressure "
                 "below it; a sheet on the heater burns.")


def _map_check(it: Found, upstream: Upstream) -> Check:
    spread = float(np.ptp(it.shot.map[2]))
    edge = _edge_cooler(it.shot.map[2])
    assumed = found(upstream, "thinning", "edge_cooler")
    window = it.inputs["surface_limit"] - it.inputs["forming_low"]
    coolest = float(it.shot.map[2].min())
    verdict = graded(spread, 0.5 * window, window)
    if coolest < it.inputs["forming_low"]:
        verdict = STOP
    text = (f"{spread:.0f} K between hottest and coolest place, {with_unit(coolest, '°C')}; the "
            f"edge is {edge:.0f} K cooler.")
    if assumed is not None and abs(edge - float(assumed)) > 5.0:
        verdict = CAUTION if verdict == PASS else verdict
        text += f" The thinning page assumed {float(assumed):.0f} K."
    return Check("map", "Even over the sheet", verdict, text, value=spread, limit=0.5 * window,
                 shown="K", source="view factors of the zones from each place",
                 advice="" if verdict == PASS else "Turn up the outer zones, and type the edge's "
                                                   "difference into the thinning page.")


def _release_check(it: Found) -> Check:
    s = it.shot
    if math.isinf(s.release):
        return Check("release", "Sets on the tool", STOP,
                     "The part does not fall below its set temperature in the time followed.",
                     limit=it.inputs["set"], shown="°C", source="sheet and wall together",
                     advice="Cooler tool, thinner wall with channels behind it, fan or mist.")
    early = s.grips <= s.release
    room = s.grips - s.release
    return Check("release", "Window for release", CAUTION if early else PASS,
                 f"Set after {with_unit(s.release, 's')}; "
                 + ("grips before it is set everywhere." if early else "does not grip in the time "
                    "followed." if math.isinf(room) else
                    f"{with_unit(room, 's')} later it begins to grip."),
                 value=s.release, limit=_finite(s.grips), shown="s",
                 source="sheet and wall together; grip temperature is an assumption",
                 advice="" if not early else "Even out the gauge, or eject with air and take it "
                                             "off while the thick places are still warm.")


def _brake_check(it: Found) -> Check:
    s = it.shot
    name, time = s.metal
    slow = not math.isinf(s.release) and s.release > 1.5 * s.ideal
    verdict = CAUTION if slow or math.isinf(s.release) else PASS
    took = "too long" if math.isinf(s.release) else with_unit(s.release, "s")
    return Check("brake", "What holds up the cooling", verdict,
                 f"{took} on this wall, {with_unit(s.ideal, 's')} on one that does not warm, "
                 f"{with_unit(time, 's') if not math.isinf(time) else 'too long'} on "
                 f"{name.lower()} of the same thickness.",
                 value=_finite(s.release), limit=1.5 * s.ideal, shown="s",
                 source="sheet and wall solved together",
                 advice="" if verdict == PASS else "The tool is the brake: its wall stores the "
                 "heat. Cool the free side, start cooler, or lead the heat away close to the face.")


def _run_check(it: Found) -> Check:
    runs = it.shot.runs
    if runs is None:
        return Check("run", "Shots in a row", STOP, "There is no cycle to repeat.",
                     source="tool shot by shot", advice="See the check on release.")
    face, part, steady = runs
    shots, hottest = start_up_shots(runs), float(part.max())
    limit = it.tool.band("usable_limit").typical
    warm = hottest > it.inputs["set"] + 2.0
    verdict = STOP if steady > limit else CAUTION if warm else PASS
    return Check("run", "Shots in a row", verdict,
                 f"The tool's face goes from {with_unit(float(face[0]), '°C')} to "
                 f"{with_unit(steady, '°C')} before a shot, within 1 K after {shots} shots"
                 + (f"; then the part leaves at {with_unit(hottest, '°C')}, above its set "
                    f"temperature." if warm else "."), value=steady, limit=limit, shown="°C",
                 source="tool shot by shot; usable limit from the table",
                 advice="" if verdict == PASS else
                 f"Preheat to {with_unit(steady, '°C')} and type that as the tool before the shot: "
                 f"cooling then takes {_seconds(it.shot.warm)}; or pause, or cool the wall.")


def _cycle_table(it: Found) -> Grid:
    stages = it.shot.times.stages if it.shot.times else ()
    return Grid("cycle", "Cycle", (Column("stage", "Stage"), Column("station", "Where"),
                                   Column("begin", "Begins", "s"), Column("seconds", "Takes", "s")),
                tuple(dict(zip(("stage", "station", "begin", "seconds"), s, strict=True))
                      for s in stages))


def _map_table(it: Found) -> Grid:
    x, y, t = it.shot.map
    rows = tuple({"x": float(a), "y": float(b), "temperature": float(t[j, i])}
                 for j, b in list(enumerate(y))[::2] for i, a in list(enumerate(x))[::2])
    return Grid("temperature_map", "Temperature map at the end of heating, for the setup sheet",
                (Column("x", "x", "mm"), Column("y", "y", "mm"),
                 Column("temperature", "Mean temperature", "°C")), rows)


def _shot_table(it: Found) -> Grid:
    rows = ()
    if it.shot.runs:
        face, part, _ = it.shot.runs
        last = len(face) - 1
        picked = sorted({0, 1, 2, 4, 9, 19, 39, 99, last} & set(range(last + 1)))
        rows = tuple({"shot": i + 1, "face": float(face[i]), "part": float(part[i])}
                     for i in picked)
    return Grid("shots", "Shots in a row at this cycle", (
        Column("shot", "Shot"), Column("face", "Tool before it", "°C"),
        Column("part", "Part's hottest place at release", "°C")), rows)


def _worked(it: Found) -> tuple[Worked, ...]:
    i, s = it.inputs, it.shot
    view = view_factor(i["heater_x"], i["heater_y"], i["distance"])
    lines = [Worked("View factor between the heater and its like in the plane of the sheet",
                    r"F_{12}(X,Y),\quad X=\frac ac,\ Y=\frac bc",
                    rf"X=\frac{{{i['heater_x'] * 1e3:.0f}}}{{{i['distance'] * 1e3:.0f}}},\ "
                    rf"Y=\frac{{{i['heater_y'] * 1e3:.0f}}}{{{i['distance'] * 1e3:.0f}}}",
                    f"{view:.3f}; the sheet itself sees {s.heating.view:.3f} of it, exchange "
                    f"factor {s.heating.factor:.3f}",
                    "Hottel; radiosity of heater, sheet and surroundings"),
             Worked("Heater temperature at its mean power, and where it radiates most",
                    r"P = a_h\sigma(T_h^4-T_s^4)+b\,\sigma(T_h^4-T_\infty^4),\quad "
                    r"\lambda=\frac{2898}{T_h}",
                    rf"P = {i['power'] * i['running'] / 1e3:.1f}\,\mathrm{{kW/m^2}}",
                    f"{with_unit(s.heating.heater, '°C')}; "
                    f"{with_unit(peak_wavelength(s.heating.heater), 'µm')}",
                    "Stefan-Boltzmann, Wien")]
    if not math.isinf(s.heating.seconds) and s.heating.seconds > 0.0:
        flux = needed_flux(i, solid_of(it.sheet), s.heating.seconds)
        sides = 2 if i["sides"] == "two" else 1
        k = float(it.sheet.curve("conductivity").at(i["core"], outside="hold").typical)
        lines += [Worked("Mean flux that the sheet's heat content needs in this time",
                         r"q = \frac{\rho\,\Delta h\,t_0}{n\,\tau}",
                         rf"n={sides},\ t_0={i['gauge'] * 1e3:.2f}\,\mathrm{{mm}},\ "
                         rf"\tau={s.heating.seconds:.1f}\,\mathrm{{s}}",
                         with_unit(flux, "kW/m²"), "heat balance, losses left out"),
                  Worked("Surface to core while that flux flows",
                         r"\Delta T = \frac{q\,(t_0/n)}{2k}",
                         rf"\frac{{{flux:.0f}\cdot {i['gauge'] / sides * 1e3:.2f}\cdot 10^{{-3}}}}"
                         rf"{{2\cdot {k:.3f}}}",
                         with_unit(surface_core_difference(flux, i["gauge"], k, sides), "K"),
                         "slab under constant flux; radiation inside the sheet evens it")]
    return (*lines, *_worked_cooling(it))


def _worked_cooling(it: Found):
    i = it.inputs
    hot = float(np.mean(it.formed))
    a = diffusivity(it.sheet, 0.5 * (hot + i["set"]))
    k = it.sheet.curve("conductivity").at(hot, outside="hold").typical
    tool = it.tool
    e1 = k / math.sqrt(a)
    e2 = cooling.effusivity(tool.band("conductivity").typical, tool.band("density").typical,
                            tool.band("specific_heat").typical)
    touch = cooling.contact_temperature(hot, i["tool_start"], e1, e2)
    yield Worked("Faces at first touch, contact perfect",
                 r"T_i=\frac{e_1T_1+e_2T_2}{e_1+e_2},\quad e=\sqrt{k\rho c}",
                 rf"e_1={e1:.0f},\ e_2={e2:.0f},\ T_1={hot - 273.15:.0f},\ "
                 rf"T_2={i['tool_start'] - 273.15:.0f}",
                 with_unit(touch, "°C"), "two semi-infinite solids")
    if i["tool_start"] < i["set"] < hot:
        ideal = cooling.one_term_cooling_time(i["thickest"], a, hot, i["tool_start"], i["set"])
        yield Worked("Cooling on an ideal tool, free side closed, as a first estimate",
                     r"\tau = \frac{t^2}{a}\frac{4}{\pi^2}\ln\frac{4(T_0-T_t)}{\pi(T_e-T_t)}",
                     rf"t={i['thickest'] * 1e3:.2f}\,\mathrm{{mm}},\ a={a * 1e6:.3f}\,"
                     rf"\mathrm{{mm^2/s}}", with_unit(ideal, "s"), "first term of the slab series")


STEP = Step(
    key="heating", number=5, title="Heating, cooling and cycle",
    question="How is the sheet heated, how long does it stay formable, and what limits the cycle?",
    fields=FIELDS, compute=compute, needs=("brief", "material"), uses=("thinning",),
    cautions=("hot surfaces", "fume"),
)
