"""What the hot sheet is: its law at forming temperature, its bands, its temperature map."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.physics.thinning import hyperelastic
from thermoforming.reference import Material
from thermoforming.steps.material import chosen_sheet
from thermoforming.steps.upstream import Upstream

NEO, MOONEY, OGDEN = "neo-Hookean", "Mooney-Rivlin", "Ogden"
LAWS = ((NEO, "neo-Hookean"), (MOONEY, "Mooney-Rivlin"), (OGDEN, "Ogden"))
STICKING = 5.0  # Coulomb friction that gives the same gauge as sticking, measured in the tests
TABLE = "sheet table of the chosen material"


def shear_band(material: Material, temperature: float) -> Band:
    """Shear modulus at forming temperature; the table's end value beyond it. [Pa]"""
    return material.curve("neo_hookean_shear").at(temperature, outside="hold")


def shape_band(material: Material, law: str) -> Band:
    """The law's second constant: share of C2, or Ogden's exponent; none for neo-Hookean. [1]"""
    if law == OGDEN:
        return material.band("ogden_alpha")
    if law == NEO:
        return Band.exact(0.0)
    first, second = material.band("mooney_rivlin_c1"), material.band("mooney_rivlin_c2")
    return Band(second.low / (second.low + first.high), second.typical
                / (second.typical + first.typical), second.high / (second.high + first.low))


def terms(law: str, shear: float, shape: float) -> np.ndarray:
    """The law as rows of modulus [Pa] and exponent."""
    if law == OGDEN:
        return hyperelastic.ogden([2.0 * shear / shape], [shape])
    if law == MOONEY:
        return hyperelastic.mooney_rivlin(shear, shape)
    return hyperelastic.neo_hookean(shear)


def sheet_bands(inputs: Mapping[str, Any], upstream: Upstream) -> dict[str, Band]:
    """What is uncertain about the sheet: shear modulus, law, friction on the tool."""
    material = chosen_sheet(upstream)
    friction = material.band("friction_tool")
    typical = STICKING if inputs["sticks"] else inputs["friction"]
    shear = shear_band(material, inputs["sheet_temperature"])
    scale = inputs["shear"] / shear.typical
    return {"shear": shear.scaled(scale),
            "shape": _around(shape_band(material, inputs["law"]), inputs),
            "friction": Band(min(friction.low, typical), typical, max(friction.high, typical))}


def _around(band: Band, inputs) -> Band:
    typed = inputs["share"] if inputs["law"] == MOONEY else inputs["exponent"]
    return band if inputs["law"] == NEO else Band(min(band.low, typed), typed,
                                                  max(band.high, typed))


def law_of(inputs: Mapping[str, Any]) -> np.ndarray:
    """The law at the typed constants."""
    shape = inputs["share"] if inputs["law"] == MOONEY else inputs["exponent"]
    return terms(inputs["law"], inputs["shear"], shape)


def tolerance_band(upstream: Upstream) -> Band:
    """Minus tolerance of the sheet's gauge as a share. [1]"""
    return chosen_sheet(upstream).band("gauge_tolerance")


def stiffness_map(inputs: Mapping[str, Any], upstream: Upstream, half: tuple[float, float]):
    """Stiffness over the sheet, relative to its middle, when its edge is cooler.

    The temperature falls from the middle to the edge with the square of the distance; `half` are
    the half sizes of the frame. None where the sheet is even.
    """
    drop = inputs["edge_cooler"]
    if drop == 0.0:
        return None
    curve = chosen_sheet(upstream).curve("neo_hookean_shear")
    hot = inputs["sheet_temperature"]
    middle = float(curve(hot, "hold")[1])

    def relative(places):
        places = np.atleast_2d(places)
        out = np.clip(np.max(np.abs(places) / np.asarray(half), axis=1), 0.0, 1.0)
        return np.asarray(curve(hot - drop * out**2, "hold")[1]) / middle

    return relative
