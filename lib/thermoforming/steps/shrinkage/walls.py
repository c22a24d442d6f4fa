"""Draft, undercut, radii and layer steps of the part's walls for a pull."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.geometry.curvature import radius_by_face, smallest_radius, tight_regions
from thermoforming.geometry.draft import (
    BANDS,
    Trapped,
    Undercut,
    area_by_band,
    best_pull,
    pull_direction,
    undercut,
    undercut_regions,
)
from thermoforming.geometry.forms import FormFound, flats
from thermoforming.geometry.regions import Region, regions
from thermoforming.geometry.surface import Surface
from thermoforming.physics.draft import required_draft, step_roughness
from thermoforming.reference import Material, rule
from thermoforming.steps.brief.part import bends_of, forms_of, gaps_of, kept

TEXTURE_RULE = "added per 0.025 mm of texture depth"
TEXTURE_STEP = 0.025e-3  # m, the depth that the rule is stated for
LEAST_NAMED = 5e-6  # m2, smaller regions are counted but not named
STEEP = np.pi / 4  # walls are steeper than this
FACING = 0.7  # cosine: a wall that looks within 45 degrees of straight away from the neighbour


@dataclass(frozen=True, eq=False)
class Walls:
    """What the mesh says about draft.

    Parameters
    ----------
    found : Undercut
        Draft and hidden share by triangle.
    grips : array of bool
        Triangles that the part shrinks onto.
    required : array
        Draft wanted of each triangle. [rad]
    required_free, required_held : float
        Draft wanted of walls that the part shrinks away from, and onto. [rad]
    short : list of Region
        Walls with less draft than required (W1, ...).
    undercuts : list of Trapped
        U1, ...
    bands : array
        Area by band of draft. [m2]
    """

    found: Undercut
    grips: np.ndarray
    required: np.ndarray
    required_free: float
    required_held: float
    short: list[Region]
    undercuts: list[Trapped]
    bands: np.ndarray

    @property
    def surface(self) -> Surface:
        return self.found.surface

    @property
    def walls(self) -> np.ndarray:
        return np.abs(self.found.drafts) < STEEP

    @property
    def is_short(self) -> np.ndarray:
        """Triangles that are free but have less draft than required."""
        return self.found.below(self.required)

    @property
    def short_area(self) -> float:
        """Area of all of them, also of those too small to be named. [m2]"""
        return float(self.surface.areas[self.is_short].sum())


def walls_of(surface: Surface, inputs: Mapping[str, Any], sheet: Material,
             texture_depth: float) -> Walls:
    """Measure a part for the pull chosen."""
    rate = rule("draft", TEXTURE_RULE).band.typical / TEXTURE_STEP
    layer = 0.0 if inputs["smoothed"] else inputs["layer_height"]
    free, held = (required_draft(sheet.band(key).typical, texture_depth, rate, layer)
                  for key in ("draft_female", "draft_male"))
    pull = pull_of(surface, inputs, free)
    key = tuple(np.round(pull, 9))
    found = kept("undercut", surface, lambda: undercut(surface, pull), key)
    grips = kept("grips", surface, lambda: gripping(surface))
    required = np.where(grips, held, free)
    short = kept("short", surface, lambda: regions(surface, found.below(required), "W",
                                                   found.drafts, LEAST_NAMED), key, free, held)
    trapped = kept("trapped", surface, lambda: undercut_regions(found, least_area=LEAST_NAMED), key)
    return Walls(found, grips, required, free, held, short, trapped,
                 area_by_band(surface, found.drafts, BANDS))


def pull_of(surface: Surface, inputs, required: float) -> np.ndarray:
    """The pull that the inputs ask for."""
    if inputs["pull_from"] == "up":
        return np.array([0.0, 0.0, 1.0])
    if inputs["pull_from"] == "own":
        return pull_direction(inputs["tilt_x"], inputs["tilt_y"])
    return kept("best pull", surface, lambda: best_pull(surface, min(required, 0.5)), required)


def gripping(surface: Surface) -> np.ndarray:
    """Triangles that the part shrinks onto: raised forms, and the walls of webs between cavities.

    Elsewhere a part in a cavity shrinks away from the wall.
    """
    grips = np.zeros(len(surface.faces), dtype=bool)
    listed = {form.name: form for form in forms_of(surface)}
    for form in listed.values():
        if form.name.startswith("B"):
            grips[form.faces] = True
    for gap in gaps_of(surface):
        one, other = (listed[name] for name in gap.between)
        if one.name[0] == other.name[0] == "C":
            grips[facing(surface, one, other)] = True
            grips[facing(surface, other, one)] = True
    return grips


def facing(surface: Surface, one: FormFound, other: FormFound) -> np.ndarray:
    """Triangles of a cavity on the web towards a neighbour: they look away from it."""
    beyond, before = np.subtract(other.box[0], one.box[1]), np.subtract(one.box[0], other.box[1])
    axis = int(np.argmax(np.maximum(beyond, before)))
    sign = 1.0 if beyond[axis] > before[axis] else -1.0
    normal = surface.normals[one.faces][:, :2]
    flat = np.linalg.norm(normal, axis=1)
    return one.faces[(sign * normal[:, axis] < -FACING * flat) & (flat > 1e-6)]


@dataclass(frozen=True, eq=False)
class Details:
    """Radii, sharp edges and flats of the part; `radii` is the smallest radius by triangle."""

    radii: np.ndarray
    external: float
    internal: float
    sharp_external: float
    tight: list[Region]
    flats: list[Region]


def details_of(surface: Surface, least_radius: float) -> Details:
    """Smallest radii, length of sharp edges towards the sheet, regions below a radius, flats."""
    found = bends_of(surface)

    def measure():
        sharp = found.sharp & (found.turn > 0)
        tight = [region for external in (True, False)
                 for region in tight_regions(surface, found, external, least_radius)]
        radii = np.minimum(*(radius_by_face(surface, found, side) for side in (True, False)))
        return Details(radii, smallest_radius(found, True), smallest_radius(found, False),
                       float(found.length[sharp].sum()), tight, flats(surface))

    return kept("details", surface, measure, round(least_radius, 7))


def steps_by_build(walls: Walls, layer: float) -> dict[str, tuple[float, float]]:
    """Mean Ra of layer steps on the walls and on the whole part, by build direction. [m]

    Surfaces within a degree of a layer's plane have no steps.
    """
    surface = walls.surface
    found = {}
    for axis, name in enumerate("xyz"):
        lean = np.abs(surface.normals[:, axis])
        ra = step_roughness(layer, np.arcsin(np.clip(lean, 0.0, 1.0)))
        ra = np.where(lean > np.cos(np.radians(1.0)), 0.0, ra)
        on = walls.walls
        found[name] = (float(np.average(ra[on], weights=surface.areas[on])) if on.any() else 0.0,
                       float(np.average(ra, weights=surface.areas)))
    return found


def pull_words(pull) -> str:
    """A pull as its tilt in words."""
    x, y = (float(np.degrees(np.arctan2(pull[i], pull[2]))) for i in (0, 1))
    if abs(x) < 0.005 and abs(y) < 0.005:
        return "straight up"
    return f"tilted {x:.2f}° towards x and {y:.2f}° towards y"
