"""What the page finds by hand calculation, before it is put into words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from thermoforming.bands import Band, carry
from thermoforming.physics import channels
from thermoforming.physics.toolthermal import Cycle
from thermoforming.physics.toolwall import distortion, loads, plates, search
from thermoforming.physics.toolwall.wall import Hand, brackets, volume, worse
from thermoforming.reference import rule, tool_materials
from thermoforming.steps.wall.situation import Situation


@dataclass(frozen=True, eq=False)
class Found:
    """Results of the hand calculation of one situation, and of the simulation if there is one."""

    here: Situation
    simulation: dict | None

    @cached_property
    def by_edge(self) -> dict[str, Hand]:
        return brackets(self.here.wall, self.here.load.pressure, self.here.warm)

    @cached_property
    def use(self) -> dict[str, float]:
        """Share of each limit used: on the less favourable edges, but the deflection as the
        solid model has it where it was run."""
        here = self.here
        shares = {name: float(share) for name, share in search.use(
            here.wall, here.load.pressure, here.warm, here.limits).items()}
        if self.solid is not None:
            shares["deflection"] = self.solid / here.limits.deflection
        return shares

    @property
    def edges(self) -> tuple[float, float]:
        """Deflection of what forms the part, with clamped and with supported edges. [m]"""
        sides = 1.0 if self.here.limits.sides_form else 0.0
        return tuple(float(max(self.by_edge[edge].deflection,
                               sides * self.by_edge[edge].side_deflection))
                     for edge in ("clamped", "supported"))

    @property
    def solid(self) -> float | None:
        """Deflection by finite elements, extrapolated. [m]"""
        return None if self.simulation is None else float(self.simulation["limit"])

    @cached_property
    def deflection(self) -> Band:
        """With the bands of modulus and creep, and of the edges unless the solid model knows."""
        here, warm = self.here, self.here.warm
        clamped, supported = self.edges
        edge = Band(clamped, (clamped + supported) / 2.0, supported) if self.solid is None \
            else Band.exact(self.solid)

        def deflect(modulus, ratio, edge):
            return edge * warm.modulus * here.creep(ratio) / modulus

        at = here.heat.warmest
        return carry(deflect, {"modulus": here.tool.curve("modulus").at(at, "hold"),
                               "ratio": here.tool.curve("creep_ratio").at(at, "hold"),
                               "edge": edge})

    @property
    def stress(self) -> float:
        """Greatest bending stress on the less favourable edges. [Pa]"""
        return float(max(worse(self.by_edge, "stress"), worse(self.by_edge, "side_stress")))

    @property
    def allowed(self) -> float:
        """Strength when warm and repeated, over its factor. [Pa]"""
        return float(self.here.warm.strength / self.here.limits.strength_factor)

    @property
    def at_fillets(self) -> float:
        """Stress at the ribs' roots with the rise in their fillets. [Pa]"""
        v = self.here.inputs
        return float(self.by_edge["clamped"].panel_stress
                     * loads.fillet_factor(v["fillet"], v["skin"]))

    @property
    def buckling(self) -> float:
        return float(worse(self.by_edge, "buckling"))

    @property
    def volume(self) -> float:
        return float(volume(self.here.wall))

    @property
    def mass(self) -> Band:
        return self.here.tool.band("density").scaled(self.volume)

    @property
    def build_time(self) -> Band | None:
        """By the process's rate; None for cast materials. [s]"""
        if "build_rate" not in self.here.tool:
            return None
        rate = self.here.tool.band("build_rate")
        return Band(*(self.volume / speed for speed in (rate.high, rate.typical, rate.low)))

    @cached_property
    def running(self) -> Band:
        """Mean of the wall when the run's last part is taken off, with the band of contact. [K]"""
        here = self.here
        known = rule("contact", "conductance, sheet on tool, vacuum").band
        factors = (known.low / known.typical, known.high / known.typical)
        ends = [self._mean_off(replace(here.setting, contact=here.inputs["contact"] * factor))
                for factor in factors]
        middle = float(here.heat.part_off @ _weights(here.heat.cycle))
        return Band(min(*ends, middle), middle, max(*ends, middle))

    def _mean_off(self, setting) -> float:
        cycle = Cycle(setting)
        last = cycle.walls(setting.ambient, self.here.inputs["run"])[-1]
        return float(cycle.taken(last) @ _weights(cycle))

    @cached_property
    def boss(self) -> dict[str, tuple[float, float]]:
        """Deflection and stress of the largest round flat by edge; empty without one."""
        v, warm = self.here.inputs, self.here.warm
        if v["boss_radius"] == 0.0:
            return {}
        p = abs(self.here.load.pressure)
        return {edge: (float(plates.circular_deflection(p, v["boss_radius"], v["skin"],
                                                        warm.modulus, warm.poisson, edge)),
                       float(plates.circular_stress(p, v["boss_radius"], v["skin"], warm.poisson,
                                                    edge))) for edge in plates.EDGES}

    @cached_property
    def base_deflection(self) -> float:
        """Of the base where it spans over the machine, edges supported. [m]"""
        v = self.here.inputs
        if v["base_span"] == 0.0:
            return 0.0
        base = tool_materials()[v["base"]]
        modulus = base.curve("modulus").at(v["base_temperature"], "hold").typical
        return float(plates.panel_deflection(
            abs(self.here.load.pressure), v["base_span"], max(v["base_span"], v["length"]),
            v["base_thickness"], modulus, base.band("poisson").typical, "supported"))

    # -- distortion ------------------------------------------------------------------------------

    @cached_property
    def growth(self) -> float:
        """Growth of the tool beyond its base from the fixed point to the end. [m]"""
        v = self.here.inputs
        reach = v["length"] if v["held"] == "ends" else v["length"] / 2.0
        base = tool_materials()[v["base"]].band("expansion").typical
        return float(distortion.mismatch(reach, self.here.tool.band("expansion").typical,
                                         self.running.typical, base, v["base_temperature"],
                                         v["ambient"]))

    @cached_property
    def bow(self) -> float:
        """Bow by the uneven temperature. [m]

        Of the whole wall from middle to corner where only its middle is held; else of what is
        held down around it: a panel between standing ribs, the shorter span of hanging ones.
        """
        v, wall = self.here.inputs, self.here.wall
        free = v["held"] == "middle"
        along, across = self._curvatures(ribbed=free or not wall.on_base)
        if free:
            return abs(float(distortion.bow_of_curvature(along, v["length"])
                             + distortion.bow_of_curvature(across, v["width"])))
        span = float(wall.panel[0]) if wall.on_base else min(v["length"], v["width"])
        return abs(float(distortion.bow_of_curvature(max(along, across, key=abs), span)))

    def _curvatures(self, ribbed: bool) -> tuple[float, float]:
        v, heat, wall = self.here.inputs, self.here.heat, self.here.wall
        skin = heat.cycle.depth < v["skin"]
        strain = self.here.tool.band("expansion").typical * (heat.part_off[skin] - v["ambient"])
        runs = [1.0 / float(pitch) if number and ribbed else 0.0 for number, pitch in (
            (v["ribs_along"], wall.pitch_along), (v["ribs_across"], wall.pitch_across))]
        return distortion.thermal_curvatures(
            heat.cycle.depth[skin], strain, float(strain[-1]), v["skin"], v["rib_thickness"],
            float(wall.height), *runs, self.here.warm.poisson)

    @cached_property
    def base_bow(self) -> float:
        """Bow of tool and base together where growth is prevented at the ends. [m]"""
        v = self.here.inputs
        if v["held"] != "ends":
            return 0.0
        wall = self.here.wall
        base = tool_materials()[v["base"]]
        thick = self.volume / ((v["length"] + 2 * v["side"]) * (v["width"] + 2 * v["side"]))
        k = distortion.bimetal_curvature(self.growth / v["length"], thick, v["base_thickness"],
                                         self.here.warm.modulus, base.curve("modulus").at(
                                             v["base_temperature"], "hold").typical)
        return abs(float(distortion.bow_of_curvature(k, float(wall.length))))

    @property
    def distortion(self) -> float:
        return self.bow + self.base_bow

    @cached_property
    def thermal_stress(self) -> float:
        """Of the wall held flat against its own temperature difference. [Pa]"""
        v, heat = self.here.inputs, self.here.heat
        warm = heat.part_off[heat.cycle.depth < v["skin"]]
        return float(distortion.restrained_stress(
            self.here.warm.modulus, self.here.warm.poisson,
            self.here.tool.band("expansion").typical, float(warm[0] - warm[-1])))

    # -- fixing, clamp, channels -----------------------------------------------------------------

    @property
    def outward(self) -> float:
        """Force that would lift the tool off its base. [N]"""
        v = self.here.inputs
        push = -min(0.0, *(m.pressure for m in self.here.moments))
        return push * v["length"] * v["width"]

    @property
    def hold(self) -> float:
        """Force that the fixings bear, with their factor. [N]"""
        v = self.here.inputs
        share = rule("wall", "shear strength by flexural strength").band.typical
        factor = rule("wall", "safety factor on inserts and threads").band.typical
        strength = self.here.tool.curve("strength").at(v["base_temperature"], "hold").typical
        return float(v["fixings"] * loads.pull_out(share * strength, v["insert"], v["engagement"])
                     / factor)

    @property
    def clamp(self) -> float:
        """Force that must hold the pressure box shut. [N]"""
        v = self.here.inputs
        factor = rule("wall", "safety factor on clamp force").band.typical
        return float(loads.clamp_force(v["forming_pressure"], v["sealed_x"] * v["sealed_y"],
                                       factor))

    @cached_property
    def cooling(self) -> dict[str, float]:
        """The channels' numbers; empty without channels."""
        v, here = self.here.inputs, self.here
        if not v["channels"]:
            return {}
        count = max(1.0, np.floor(v["width"] / v["pitch"]))
        flux = self.heat_flux
        rough = rule("cooling", "roughness of a printed bore").band.typical
        turn = rule("cooling", "loss factor of a sharp turn").band.typical
        drop = channels.pressure_drop(v["flow"], v["bore"], v["length"],
                                      min(rough, 0.05 * v["bore"]), v["turns"], turn,
                                      here.coolant)
        heat = flux * v["length"] * v["width"]
        return {"count": count, "film": here.film,
                "reynolds": float(channels.reynolds(v["flow"], v["bore"], here.coolant)),
                "drop": float(drop), "heat": float(heat),
                "pump": float(channels.pump_power(count * v["flow"], drop, 0.5)),
                "warming": float(channels.warming(heat, count * v["flow"], here.coolant)),
                "ripple": float(channels.ripple(flux, here.tool.band("conductivity").typical,
                                                v["bore"], v["channel_depth"], v["pitch"]))}

    @property
    def heat_flux(self) -> float:
        """Heat that the wall takes from the sheet, mean over the steady cycle. [W/m2]"""
        cycle = self.here.heat.cycle
        return max(0.0, cycle.heat(cycle.steady()) / self.here.setting.cycle)


def _weights(cycle: Cycle) -> np.ndarray:
    return cycle.wall.capacity / cycle.wall.capacity.sum()
