"""What the part grips when it has shrunk, and the force that frees it, by form and in all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band, sample, spread
from thermoforming.geometry.surface import Surface
from thermoforming.physics.release import (
    grip_of_form,
    grip_of_web,
    held_strain,
    release_force,
    vacuum_hold,
    wall_use,
)
from thermoforming.reference import Material
from thermoforming.reference.material import ROOM
from thermoforming.steps.brief.part import forms_of, gaps_of
from thermoforming.steps.shrinkage.walls import Walls, facing

SAMPLES, BINS = 512, 48


@dataclass(frozen=True, eq=False)
class Hold:
    """A form or a side of a web that the part grips.

    Parameters
    ----------
    name : str
        The form, or the cavity and its neighbour.
    round : bool
        Gripped all round, or along one wall.
    size : float
        Height of a form, length of a web. [m]
    perimeter : float
        Length of the wall that carries the pull. [m]
    area : float
        Area of the wall that is pressed. [m2]
    drafts, shares : arrays
        Drafts of its walls [rad] and the share of its area at each. [-]
    """

    name: str
    round: bool
    size: float
    perimeter: float
    area: float
    drafts: np.ndarray
    shares: np.ndarray

    @property
    def draft(self) -> float:
        """Mean draft. [rad]"""
        return float(self.drafts @ self.shares)

    @property
    def length(self) -> float:
        """Length of a straight wall that would be pressed as much. [m]"""
        return 2.0 * np.pi * self.size if self.round else self.size

    def normal(self, modulus, strain, gauge):
        """Normal force. [N]"""
        make = grip_of_form if self.round else grip_of_web
        return make(modulus, strain, gauge, self.size)

    def pull(self, friction):
        """Pull by normal force, over all its drafts. [-]"""
        return release_force(1.0, np.asarray(friction)[..., None], self.drafts) @ self.shares

    def force(self, modulus, strain, gauge, friction):
        """Pull that frees it. [N]"""
        return self.normal(modulus, strain, gauge) * self.pull(friction)


@dataclass(frozen=True, eq=False)
class Release:
    """Forces that hold the part on the tool.

    Parameters
    ----------
    holds : list of Hold
        What is gripped.
    forces : list of Band
        Pull that frees each. [N]
    normals : list of float
        Typical normal force on each. [N]
    total : Band
        All together. [N]
    suction : float
        Of the air that must follow a part lifted flat. [N]
    use : float
        Largest share of a wall's strength. [-]
    temperatures : array
        Part temperatures of the curve. [K]
    curve : tuple of array
        Low, typical and high grip along them. [N]
    """

    holds: list[Hold]
    forces: list[Band]
    normals: list[float]
    total: Band
    suction: float
    use: float
    used_by: str
    temperatures: np.ndarray
    curve: tuple[np.ndarray, np.ndarray, np.ndarray]

    def cold(self) -> float:
        """Typical grip at room temperature. [N]"""
        return float(self.curve[1][0])


def release_of(surface: Surface, walls: Walls, inputs: Mapping[str, Any], sheet: Material,
               minimum_wall: float, plan_area: float) -> Release:
    """Forces at the temperature of stripping, and along the cooling of the part."""
    holds = holds_of(surface, walls)
    strip = inputs["strip_temperature"]
    forces, total = _forces(holds, strip, inputs, sheet)
    suction = float(vacuum_hold(plan_area, inputs["lift_speed"], inputs["open_area"]))
    hottest = max(sheet.band("set_temperature").typical, ROOM + 1.0)
    temperatures = np.linspace(ROOM, hottest, 24)
    use, name = _largest_use(holds, forces, strip, sheet, minimum_wall)
    bands = {name: band.typical for name, band in _bands(strip, inputs, sheet).items()}
    strain = held_strain(bands["expansion"], bands["set_at"], strip)
    normals = [float(hold.normal(bands["modulus"], strain, bands["gauge"])) for hold in holds]
    return Release(holds, forces, normals, total, suction, use, name,
                   temperatures, _along(holds, temperatures, inputs, sheet))


def holds_of(surface: Surface, walls: Walls) -> list[Hold]:
    """Raised forms, and both sides of every web between two cavities."""
    forms = {form.name: form for form in forms_of(surface)}
    holds = []
    for form in forms.values():
        if form.name.startswith("B"):
            faces = form.faces[walls.walls[form.faces]]
            round_it = np.pi / 2 * (form.width + form.length)
            holds += _hold(surface, walls, form.name, True, form.depth, round_it, faces)
    for gap in gaps_of(surface):
        a, b = (forms[name] for name in gap.between)
        if a.name[0] == b.name[0] == "C":
            for one, other in ((a, b), (b, a)):
                faces = facing(surface, one, other)
                faces = faces[walls.walls[faces]]
                holds += _hold(surface, walls, f"{one.name} against {other.name}", False,
                               gap.length, gap.length, faces)
    return holds


def _hold(surface, walls, name, all_round, size, perimeter, faces) -> list[Hold]:
    if len(faces) == 0:
        return []
    drafts, areas = walls.found.drafts[faces], surface.areas[faces]
    weights, edges = np.histogram(drafts, BINS, weights=areas)
    middles = np.histogram(drafts, edges, weights=areas * drafts)[0]
    some = weights > 0.0
    return [Hold(name, all_round, size, perimeter, float(areas.sum()),
                 middles[some] / weights[some],
                 weights[some] / weights.sum())]


def _bands(temperature: float, inputs, sheet: Material) -> dict[str, Band]:
    gauge = inputs["assumed_gauge"]
    return {"modulus": sheet.curve("solid_modulus").at(temperature, "hold"),
            "expansion": sheet.band("expansion"), "set_at": sheet.band("set_temperature"),
            "friction": sheet.band("friction_release"),
            "gauge": Band.around(gauge, gauge * inputs["gauge_spread"])}


def _forces(holds: list[Hold], temperature: float, inputs, sheet: Material):
    """Pull that frees each wall, and all together, on one common sample. [N]"""
    bands = _bands(temperature, inputs, sheet)

    def all_forces(modulus, expansion, set_at, friction, gauge):
        strain = held_strain(expansion, set_at, temperature)
        return np.array([hold.force(modulus, strain, gauge, friction) for hold in holds])

    if not holds:
        return [], Band.exact(0.0)
    typical = all_forces(**{name: band.typical for name, band in bands.items()})
    varied = all_forces(**sample(bands, SAMPLES))
    return ([spread(row, float(middle)) for row, middle in zip(varied, typical, strict=True)],
            spread(varied.sum(axis=0), float(typical.sum())))


def _along(holds: list[Hold], temperatures, inputs, sheet: Material):
    """Low, typical and high grip at each temperature.

    Friction and draft do not depend on the temperature, so that the pull of all walls is found
    once, as the length of a single wall without draft that would hold as much.
    """
    bands = _bands(ROOM, inputs, sheet)
    bands["quantile"] = Band(0.0, 0.5, 1.0)  # the same place in the band of stiffness throughout
    drawn = sample(bands, SAMPLES)
    middle = {name: np.array(band.typical) for name, band in bands.items()}
    length, at = ({key: sum((hold.length * hold.pull(v["friction"]) for hold in holds),
                            0.0 * v["gauge"])
                   for key, v in (("all", drawn), ("typical", middle))}, [])
    for temperature in temperatures:
        stiff = sheet.curve("solid_modulus").at(float(temperature), "hold")

        def grip(v, key, modulus):
            strain = held_strain(v["expansion"], v["set_at"], float(temperature))
            return grip_of_web(modulus, strain, v["gauge"], length[key])

        typical = float(grip(middle, "typical", stiff.typical))
        at.append(spread(grip(drawn, "all", stiff.quantile(drawn["quantile"])), typical))
    return tuple(np.array([getattr(g, end) for g in at]) for end in ("low", "typical", "high"))


def _largest_use(holds, forces, temperature, sheet: Material, gauge: float) -> tuple[float, str]:
    """Share of the strength of the thinnest wall; strength falls with temperature as stiffness."""
    if not holds:
        return 0.0, ""
    modulus = sheet.curve("solid_modulus")
    falls = modulus.at(temperature, "hold").typical / modulus.at(ROOM, "hold").typical
    strength = sheet.band("yield_strength").typical * falls
    uses = [float(wall_use(force.typical, hold.perimeter, gauge, strength))
            for hold, force in zip(holds, forces, strict=True)]
    worst = int(np.argmax(uses))
    return uses[worst], holds[worst].name
