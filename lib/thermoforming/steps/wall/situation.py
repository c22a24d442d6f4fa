"""What the inputs mean for the physics: wall, heat of a run, material when warm, load."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from thermoforming.physics import channels
from thermoforming.physics.toolthermal import Cycle, Layer, Setting, Shots, Sink, shots_before
from thermoforming.physics.toolwall import loads, warm
from thermoforming.physics.toolwall.search import Limits
from thermoforming.physics.toolwall.wall import Wall, Warm
from thermoforming.reference import Material, rule, tool_materials, water
from thermoforming.steps.wall.fields import NO_FILL

CREEP_TIME = 1000.0  # s, to which the tables' creep ratio belongs by definition
FATIGUE_SHOTS = 1e4  # to which the tables' fatigue ratio belongs by definition
SHEET_CELLS, WALL_CELLS, FILL_CELLS = 12, 18, 8


@dataclass(frozen=True, eq=False)
class Heat:
    """A run of shots from cold: the cycle's maps and the wall before each shot."""

    cycle: Cycle
    walls: np.ndarray

    @cached_property
    def run(self) -> Shots:
        return self.cycle.shots(self.walls)

    @cached_property
    def last(self) -> Shots:
        """The run's last shot alone, where only that counts."""
        return self.cycle.shots(self.walls[-1])

    @cached_property
    def steady(self) -> Shots:
        """A shot after so many that each is like the one before."""
        return self.cycle.shots(self.cycle.steady())

    @property
    def warmest(self) -> float:
        """Highest mean of the wall in the run. [K]"""
        return float(self.last.mean_peak[0])

    @property
    def part_off(self) -> np.ndarray:
        """Wall by cell when the run's last part is taken off. [K]"""
        return self.cycle.taken(self.walls[-1])

    def before_rest(self, limit: float) -> int | None:
        """Shots in a row before the wall's mean passes a limit; None if it never does."""
        if float(self.steady.mean_peak[0]) <= limit:
            return None
        length = len(self.walls)
        while length < 20_000:
            shots = self.cycle.shots(self.cycle.walls(self.walls[0], length))
            count = shots_before(shots.mean_peak, limit)
            if count is not None:
                return count
            length *= 4
        return None


@dataclass(frozen=True, eq=False)
class Situation:
    """Everything the page knows, in the terms of the physics."""

    inputs: Mapping[str, Any]
    sheet: Material
    tool: Material
    gauge: float
    sheet_temperature: float

    @cached_property
    def wall(self) -> Wall:
        v = self.inputs
        stands = v["ribs"] == "standing" or v["rib_height"] >= v["depth"]
        return Wall(v["length"], v["width"], v["skin"], v["rib_thickness"], v["rib_height"],
                    v["ribs_along"], v["ribs_across"], v["depth"], v["side"],
                    stands)

    @cached_property
    def setting(self) -> Setting:
        v = self.inputs
        layers = [solid_layer(self.tool, v["skin"], WALL_CELLS)]
        if v["fill"] != NO_FILL:
            layers.append(solid_layer(tool_materials()[v["fill"]], v["fill_thickness"],
                                      FILL_CELLS))
        above = air_film(v["face_air"])
        return Setting(self._sheet_layer(), self.sheet_temperature, v["contact"], tuple(layers),
                       v["ambient"], above, above, air_film(v["back_air"]), v["contact_time"],
                       v["open_time"], self.sink)

    @cached_property
    def sink(self) -> Sink | None:
        v = self.inputs
        if not v["channels"]:
            return None
        k = self.tool.band("conductivity").typical
        return Sink(v["channel_depth"], channels.sink_conductance(
            v["bore"], v["channel_depth"], v["pitch"], self.film, k), v["inlet"])

    @cached_property
    def coolant(self) -> channels.Coolant:
        return channels.Coolant(**water(self.inputs["inlet"]))

    @cached_property
    def film(self) -> float:
        """Film coefficient in a channel. [W/(m2 K)]"""
        v = self.inputs
        return float(channels.film(v["flow"], v["bore"], v["length"], self.coolant))

    @cached_property
    def heat(self) -> Heat:
        return run_of(self.setting, self.inputs["run"])

    @cached_property
    def moments(self) -> tuple[loads.Moment, ...]:
        v = self.inputs
        return loads.moments_of_load(v["hollow"], v["ambient_pressure"], v["plenum"],
                                     v["forming_pressure"])

    @cached_property
    def load(self) -> loads.Moment:
        """The moment of greatest load."""
        return max(self.moments, key=lambda moment: abs(moment.pressure))

    @cached_property
    def creep_sum(self) -> float:
        """Creep over the run for a material that would have doubled its strain at 1000 s. [1]"""
        v = self.inputs
        exponent = rule("wall", "exponent of creep in time").band.typical
        return warm.creep_factor(v["contact_time"], self.setting.cycle, v["run"], CREEP_TIME, 0.5,
                                 exponent) - 1.0

    @cached_property
    def warm(self) -> Warm:
        return self.warm_at(self.tool, self.heat.warmest)

    def warm_at(self, tool: Material, temperature: float) -> Warm:
        """A tool material at a temperature, after the run's creep and for all its shots."""
        modulus, ratio, strength = (tool.curve(key).at(temperature, "hold").typical
                                    for key in ("modulus", "creep_ratio", "strength"))
        share = warm.fatigue_share(self.inputs["shots"], tool.band("fatigue_ratio").typical,
                                   FATIGUE_SHOTS)
        return Warm(modulus / self.creep(ratio), tool.band("poisson").typical, strength * share,
                    tool.band("density").typical)

    def creep(self, ratio):
        """Strain after the run over elastic strain, for a creep modulus ratio."""
        return 1.0 + (1.0 / ratio - 1.0) * self.creep_sum

    @cached_property
    def limits(self) -> Limits:
        v = self.inputs
        return Limits(v["tolerance"] * v["share"], v["factor"], v["buckling_factor"],
                      v["sides_form"])

    @property
    def temperature_limit(self) -> float:
        """What the wall's mean may reach: the usable limit less the margin. [K]"""
        return self.tool.band("usable_limit").typical - self.inputs["margin"]

    def _sheet_layer(self) -> Layer:
        """The sheet with its heat between forming and set temperature as one heat capacity."""
        cold = self.sheet.band("set_temperature").typical
        content = self.sheet.curve("enthalpy")
        given = (content.at(self.sheet_temperature, "hold").typical
                 - content.at(cold, "hold").typical)
        k = self.sheet.curve("conductivity").at((self.sheet_temperature + cold) / 2, "hold")
        capacity = self.sheet.band("density").typical * given / (self.sheet_temperature - cold)
        return Layer(self.gauge, k.typical, capacity, SHEET_CELLS)


def run_of(setting: Setting, shots: int) -> Heat:
    """A run of shots from a cold tool."""
    cycle = Cycle(setting)
    return Heat(cycle, cycle.walls(setting.ambient, shots))


def solid_layer(material: Material, thickness: float, cells: int) -> Layer:
    """A layer of a tool material at typical values."""
    k, rho, c = (material.band(key).typical for key in ("conductivity", "density",
                                                        "specific_heat"))
    return Layer(thickness, k, rho * c, cells)


def air_film(kind: str) -> float:
    """Typical film coefficient of a way of cooling by air. [W/(m2 K)]"""
    case = {"still": "still air", "fan": "fan", "mist": "water mist"}[kind]
    return rule("cooling", f"film coefficient, {case}").band.typical


def other(setting: Setting, **changes) -> Setting:
    """The same run with something changed."""
    return replace(setting, **changes)
