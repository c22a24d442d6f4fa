"""Sheets against the brief: hard requirements, and the criteria on which the rest are compared."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermoforming.reference import Material, rule
from thermoforming.steps.compare import Criterion, sampled
from thermoforming.steps.material.findings import Finding, at_least, at_most, must

CRITERIA = (
    Criterion("price", "Cheap sheet", False, True, "Price of the sheet by volume."),
    Criterion("window", "Wide window", True, False, "Highest less lowest forming temperature."),
    Criterion("draw", "Deep draw", True, False, "Practical area draw ratio."),
    Criterion("shrinkage", "Low shrinkage", False, False, "Free shrinkage along extrusion."),
    Criterion("toughness", "Toughness", True, True, "Notched impact strength."),
    Criterion("stiffness", "Stiffness", True, True, "Flexural modulus."),
    Criterion("heat", "Quick to heat", False, False,
              "Heat to the forming temperature, by volume."),
    Criterion("warmth", "Warm service", True, False, "Highest service temperature."),
)
_SAMPLED = ("price", "density", "forming_low", "forming_high", "areal_draw_limit",
            "shrinkage_free_along", "impact_strength", "flexural_modulus", "enthalpy_to_forming",
            "service_temperature")


def values(material: Material) -> tuple[dict[str, np.ndarray], dict[str, float]]:
    """Samples and typical values of the criteria for one sheet."""
    bands = {key: material.band(key) for key in _SAMPLED}
    return (_criteria(sampled(material.key, bands)),
            _criteria({key: band.typical for key, band in bands.items()}))


def findings(material: Material, need: Mapping[str, Any]) -> list[Finding]:
    """Every hard requirement against one sheet."""
    assisted = need["assisted"]
    depth = "depth_ratio_assisted" if assisted else "depth_ratio_straight"
    deeper = "" if assisted else "A plug or a pre-stretched bubble draws deeper."
    found = [
        *_flags(material, need),
        at_least("service temperature", material.band("service_temperature"),
                 need["service_high"], "°C"),
        at_most("cold limit", material.band("cold_limit"), need["service_low"], "°C"),
        at_most("thinnest usual gauge", material.band("gauge_least"), need["gauge"], "mm"),
        at_least("thickest usual gauge", material.band("gauge_most"), need["gauge"], "mm"),
        at_least("depth to width", material.band(depth), need["depth_ratio"], "-", deeper),
        at_least("area draw ratio", material.band("areal_draw_limit"), need["area_ratio"], "-",
                 "A shallower part, larger radii or two forms would stretch it less."),
        at_most("normal forming temperature", material.band("forming_normal"),
                need["oven_limit"], "°C", "A stronger or double-sided heater would reach it."),
    ]
    if need["impact"] is not None:
        found.append(at_least("impact strength", material.band("impact_strength"),
                              need["impact"], "kJ/m²"))
    if need["flame"]:
        limit = rule("flame", "oxygen index of a sheet that does not keep burning in air")
        found.append(at_least("oxygen index", material.band("oxygen_index"), limit.band.typical,
                              "%", "A flame-retarded grade, entered as an own material, may."))
    return found


def _flags(material: Material, need: Mapping[str, Any]) -> list[Finding]:
    grade = "A special grade can be entered as an own material."
    found = [must(label, not need[key] or material.flag(key), text, grade) for key, label, text in (
        ("clear", "clear", "No usual clear grade."),
        ("outdoor", "outdoor", "Does not stand outdoor use without cap or paint."),
        ("food_contact", "food contact", "No usual food-contact grade."))]
    found.append(must("drying", need["oven"] or not material.flag("needs_drying"),
                      "Needs drying, and there is no drying oven.",
                      "Sheet kept wrapped until the hour it is formed may do."))
    return found


def _criteria(v: Mapping[str, Any]) -> dict[str, Any]:
    return {"price": v["price"] * v["density"], "window": v["forming_high"] - v["forming_low"],
            "draw": v["areal_draw_limit"], "shrinkage": v["shrinkage_free_along"],
            "toughness": v["impact_strength"], "stiffness": v["flexural_modulus"],
            "heat": v["enthalpy_to_forming"] * v["density"], "warmth": v["service_temperature"]}
