"""Tool materials and build processes against the sheet, the load, the quantity and the time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np

from thermoforming.bands import Band, spread
from thermoforming.physics import toolheat
from thermoforming.physics.toolwall.plates import panel_stress
from thermoforming.reference import Material, rule
from thermoforming.steps.compare import Criterion, sampled
from thermoforming.steps.material.findings import (
    DOUBTFUL,
    MEETS,
    REFUSED,
    Finding,
    at_least,
    at_most,
    must,
)
from thermoforming.units import with_unit

CRITERIA = (
    Criterion("cost", "Cheap tool", False, True, "Bought tool, against a general print."),
    Criterion("days", "Soon ready", False, True, "Days from drawing to first shot."),
    Criterion("accuracy", "Accuracy", False, True, "Tolerance over the longest side."),
    Criterion("finish", "Smooth face", False, True, "Roughness as made."),
    Criterion("life", "Long life", True, True, "Shots that common practice trusts."),
    Criterion("stiffness", "Stiff when warm", True, True, "Modulus at the running temperature."),
    Criterion("reserve", "Heat reserve", True, False,
              "Usable limit less running temperature."),
    Criterion("conductivity", "Sheds heat", True, True, "Thermal conductivity."),
)
_SAMPLED = ("relative_cost", "lead_time", "tolerance_fixed", "tolerance_relative", "roughness",
            "shots", "usable_limit", "conductivity")
COOLING = (("still", "still air"), ("fan", "fan"), ("mist", "water mist"),
           ("channels", "water in channels"))
_FILMS = {"still": "film coefficient, still air", "fan": "film coefficient, fan",
          "mist": "film coefficient, water mist", "channels": "film coefficient, still air"}


@dataclass(frozen=True)
class Running:
    """How warm a tool runs, as samples and as numbers at typical inputs."""

    samples: np.ndarray  # K, after the shots in a row
    typical: float
    steady: float
    time_constant: float
    cooling: float  # W/(m2 K), from the wall to ambient
    contact: float

    @property
    def band(self) -> Band:
        return spread(self.samples, self.typical)


def running(tool: Material, sheet: Material, need: Mapping[str, Any],
            cooling: str | None = None) -> Running:
    """Running temperature of a tool of this material, cooled as asked (or as the inputs say)."""
    cooling = cooling or need["cooling"]
    bands = _heat_bands(sheet, cooling) | {"k": tool.band("conductivity")}
    drawn = {key: np.append(samples, bands[key].typical)  # the last one: at typical inputs
             for key, samples in sampled("running", bands).items()}
    after, *others = _temperatures(
        **drawn, need=need, cooling=cooling, capacity=_capacity(tool, need),
        given=_given(sheet, need), reference=sheet.band("tool_temperature").typical)
    typical = float(after[-1])
    return Running(after[:-1], typical, *(float(other[-1]) for other in others),
                   _contact(tool, sheet, typical, need))


def values(tool: Material, run: Running, size: float) -> tuple[dict, dict]:
    """Samples and typical values of the criteria for one tool material."""
    bands = {key: tool.band(key) for key in _SAMPLED}
    modulus = tool.curve("modulus")
    stiffness = Band(*modulus(run.typical, outside="hold"))
    bands["stiffness"] = stiffness
    return (_criteria(sampled(tool.key, bands), run.samples, size),
            _criteria({key: band.typical for key, band in bands.items()}, run.typical, size))


def findings(tool: Material, sheet: Material, run: Running, need: Mapping[str, Any]
             ) -> list[Finding]:
    """Every hard requirement against one tool material."""
    return [
        _temperature(tool, sheet, run, need),
        _quantity(tool, need["quantity"]),
        *_size(tool, need),
        at_most("lead time", tool.band("lead_time"), need["days"], "d",
                "A purchase at extra cost or a simpler first tool may be quicker."),
        _finish(tool, need),
        _strength(tool, run, need),
        must("channels", need["cooling"] != "channels" or tool.flag("channels"),
             "Channels cannot be made in it.", "Cool it with a fan instead."),
    ]


def wall_stress(need: Mapping[str, Any], poisson: float) -> float:
    """Bending stress of a wall panel between ribs under the forming pressure. [Pa]"""
    return float(panel_stress(need["pressure"], need["span"], need["span"], need["wall"], poisson,
                              "clamped"))


def _temperature(tool, sheet, run: Running, need) -> Finding:
    limit = tool.band("usable_limit")
    over = float(np.mean(run.samples > sampled(tool.key, {"limit": limit})["limit"]))
    said = (f"It would run at {with_unit(run.typical, '°C')}, and its usable limit is "
            f"{with_unit(limit.typical, '°C')}")
    if run.typical > limit.typical:
        gap = with_unit(run.typical - limit.typical, "K")
        return Finding("temperature", REFUSED, f"{said}: {gap} too warm.",
                       _cooler(tool, sheet, run, need))
    if over > 0.1:
        return Finding("temperature", DOUBTFUL, f"{said}: too warm in {over:.0%} of the samples.",
                       _cooler(tool, sheet, run, need))
    return Finding("temperature", MEETS)


def _cooler(tool, sheet, run: Running, need) -> str:
    """What would keep the tool below its limit: cooling, a slower cycle, fewer shots in a row."""
    limit, ambient = tool.band("usable_limit").typical, need["ambient"]
    ways = []
    for way, label in COOLING:
        if way == need["cooling"] or (way == "channels" and not tool.flag("channels")):
            continue
        other = running(tool, sheet, need, way).typical
        if other < min(limit, run.typical - 2.0):
            ways.append(f"{label} would bring it to {with_unit(other, '°C')}")
    if ambient < limit < run.steady:
        ways.append(f"a cycle of {with_unit(slower_cycle(run, limit, need), 's')} would keep it "
                    f"there")
        shots = int(toolheat.shots_to_reach((limit - ambient) / (run.steady - ambient),
                                            need["cycle"], run.time_constant))
        ways.append(f"so would a pause after {shots} shots in a row" if shots else
                    "even the first shot from cold warms it past its limit")
    text = "; ".join(ways)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def slower_cycle(run: Running, limit: float, need: Mapping[str, Any]) -> float:
    """Cycle that keeps a tool at a limit below the sheet's temperature, however long it runs. [s]
    """
    hot, ambient = need["sheet_temperature"], need["ambient"]
    heating = run.cooling * (run.steady - ambient) / (hot - run.steady)
    return need["cycle"] * heating * (hot - limit) / (run.cooling * (limit - ambient))


def _quantity(tool: Material, quantity: float) -> Finding:
    shots = tool.band("shots")
    state = MEETS if shots.low >= quantity else DOUBTFUL if shots.typical >= quantity else REFUSED
    if state == MEETS:
        return Finding("quantity", MEETS)
    tools = ceil(quantity / shots.typical)
    said = (f"Common practice trusts it for {shots.low:g} to {shots.high:g} shots, and "
            f"{quantity:g} are wanted.")
    return Finding("quantity", state, said,
                   f"{tools} tools in turn would do." if state == REFUSED else
                   "Plan for a second tool.")


def _size(tool: Material, need) -> list[Finding]:
    sides = sorted((need["tool_length"], need["tool_width"], need["tool_height"]), reverse=True)
    return [_fits(side, room) for side, room in zip(sides, _rooms(tool, need))]


def _rooms(tool: Material, need) -> list[Band]:
    """Sides of the build volume, longest first: the shop's own printer, else usual machines."""
    printer = [need[f"build_{axis}"] for axis in "xyz"]
    if tool.flag("printed") and None not in printer:
        return [Band.exact(side) for side in sorted(printer, reverse=True)]
    return [tool.band(key) for key in ("build_length", "build_width", "build_height")]


def _fits(side: float, room: Band) -> Finding:
    if side <= room.typical:
        return Finding("size", MEETS)
    pieces = ceil(side / room.typical - 1e-9)
    said = (f"A side of {with_unit(side, 'mm')} does not fit the build volume's "
            f"{with_unit(room.typical, 'mm')}.")
    if side > room.high:
        return Finding("size", REFUSED, said, f"Split into {pieces} pieces it would.")
    return Finding("size", DOUBTFUL, said, f"It needs a large machine, or {pieces} pieces.")


def _finish(tool: Material, need) -> Finding:
    if need["roughness"] is None:
        return Finding("finish", MEETS)
    if need["finishing"]:
        made = tool.band("roughness").typical <= need["roughness"]
        return Finding("finish", MEETS if made else DOUBTFUL, "The face needs finishing by hand.",
                       tool.text("release"))
    return at_most("roughness as made", tool.band("roughness"), need["roughness"], "µm",
                   "Finishing by hand would reach it.")


def _strength(tool: Material, run: Running, need) -> Finding:
    if not tool.flag("printed"):
        return Finding("strength", MEETS)
    factor = rule("wall", "safety factor on strength, printed tool").band.typical
    warm = Band(*tool.curve("strength")(run.typical, outside="hold"))
    allowed = warm.scaled(tool.band("fatigue_ratio").typical / factor)
    stress = wall_stress(need, tool.band("poisson").typical)
    thicker = need["wall"] * (stress / allowed.typical) ** 0.5
    return at_least("stress a warm wall bears again and again", allowed, stress, "MPa",
                    f"A wall of {with_unit(thicker, 'mm')}, or ribs closer together, would bear "
                    f"it.")


def _heat_bands(sheet: Material, cooling: str) -> dict[str, Band]:
    bands = {"density": sheet.band("density"), "enthalpy": sheet.band("enthalpy_to_forming"),
             "share": rule("cooling", "share of the sheet's heat that the tool takes").band,
             "film": rule("cooling", _FILMS[cooling]).band}
    if cooling == "channels":
        bands["water"] = rule("cooling", "film coefficient, water in a channel").band
        bands["cover"] = rule("cooling", "cover over a channel").band
    return bands


def _given(sheet: Material, need) -> float:
    """Share of the heat to the normal forming temperature that leaves before the part is set."""
    enthalpy = sheet.curve("enthalpy")
    hot, cold, normal = (enthalpy.at(kelvin, "hold").typical for kelvin in (
        need["sheet_temperature"], sheet.band("set_temperature").typical,
        sheet.band("forming_normal").typical))
    return (hot - cold) / normal


def _capacity(tool: Material, need) -> float:
    return (tool.band("density").typical * tool.band("specific_heat").typical * need["wall"])


def _temperatures(density, enthalpy, share, film, k, need, cooling, capacity, given, reference,
                  water=None, cover=None):
    """Temperature after the shots in a row, steady temperature, time constant, cooling."""
    heat = density * need["gauge"] * enthalpy * given * share
    hot, ambient = need["sheet_temperature"], need["ambient"]
    away = toolheat.wall_conductance(0.5 * film, film, need["wall"], k)
    if cooling == "channels":
        away = away + 1.0 / (1.0 / water + cover / k)
    heating = toolheat.heating_conductance(heat, need["cycle"], hot, reference)
    steady = toolheat.running_temperature(heating, away, hot, ambient)
    time_constant = capacity / (heating + away)
    warmed = 1.0 - np.exp(-need["run_shots"] * need["cycle"] / time_constant)
    return ambient + (steady - ambient) * warmed, steady, time_constant, away


def _contact(tool: Material, sheet: Material, temperature: float, need) -> float:
    touch = [toolheat.effusivity(*(m.band(key).typical for key in
                                   ("conductivity", "density", "specific_heat")))
             for m in (sheet, tool)]
    return float(toolheat.contact_temperature(need["sheet_temperature"], temperature, *touch))


def _criteria(v: Mapping[str, Any], temperature, size: float) -> dict[str, Any]:
    return {"cost": v["relative_cost"], "days": v["lead_time"],
            "accuracy": v["tolerance_fixed"] + v["tolerance_relative"] * size,
            "finish": v["roughness"], "life": v["shots"], "stiffness": v["stiffness"],
            "reserve": v["usable_limit"] - temperature, "conductivity": v["conductivity"]}
