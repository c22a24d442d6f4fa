"""The calculation of the page with the project's own numbers."""

from __future__ import annotations

from math import degrees

from thermoforming.physics.draft import step_roughness
from thermoforming.physics.release import held_strain
from thermoforming.reference import rule
from thermoforming.steps.base import Worked
from thermoforming.steps.shrinkage.ledger import EXPANSION, RUNNING, shares
from thermoforming.steps.shrinkage.walls import TEXTURE_RULE, TEXTURE_STEP
from thermoforming.units import with_unit


def worked(found) -> tuple[Worked, ...]:
    """Formula, numbers put in, result and source, line by line."""
    made = [line for line in found.ledger.lines if line.scale]
    lines = []
    if made:
        lines += [_drawn(found, made[0]), _stack(made[0])]
    lines.append(_draft(found))
    if found.inputs["layer_height"] > 0.0:
        lines.append(_steps(found))
    if found.release.holds:
        lines += _grip(found)
    return tuple(lines)


def _drawn(found, line) -> Worked:
    bands = found.ledger.bands
    share = shares(line.row["direction"], line.row["restraint"], found.inputs["extrusion"])
    s = sum(weight * bands[name].typical for name, weight in share.items())
    alpha, rise = bands[EXPANSION].typical, bands[RUNNING].typical
    tool = line.target / ((1.0 - s) * (1.0 + alpha * rise))
    return Worked(
        f"Tool dimension of {line.row['name']}, cold, touching side, before the build's own scale",
        r"L_{tool} = \frac{L_{part}}{(1 - S)\,(1 + \alpha\,\Delta T)}",
        rf"\frac{{{line.target * 1e3:.3f}}}{{(1 - {s:.5f})\,(1 + {alpha * 1e6:.1f}\cdot 10^{{-6}}"
        rf"\cdot {rise:.1f})}}", with_unit(tool, "mm", 6),
        f"{found.sheet.source('shrinkage_free_along').citation} "
        f"({found.sheet.basis('shrinkage_free_along')})")


def _stack(line) -> Worked:
    parts = [half * 1e3 for half in line.grouped().values() if half > 0.0]
    squares = " + ".join(f"{half:.3f}^2" for half in parts)
    total = sum(half**2 for half in parts) ** 0.5
    return Worked(f"Root sum square of {line.row['name']}", r"\Delta = \sqrt{\sum \Delta_i^2}",
                  rf"\sqrt{{{squares}}}", f"± {total:.3f} mm",
                  "independent, centred contributions: " + ", ".join(
                      name for name, half in line.grouped().items() if half > 0.0))


def _draft(found) -> Worked:
    base = found.sheet.band("draft_female").typical
    texture = found.brief["texture_depth"]
    rate = rule("draft", TEXTURE_RULE)
    layer = 0.0 if found.inputs["smoothed"] else found.inputs["layer_height"]
    slope = degrees(rate.band.typical) / (TEXTURE_STEP * 1e3)
    need = found.walls.required_free
    return Worked(
        "Draft wanted of a wall that the part leaves",
        r"\theta = \theta_0 + k\,(d + h\,\sin\theta)",
        rf"{degrees(base):.2f} + {slope:.0f}\,({texture * 1e3:.3f} + {layer * 1e3:.3f}\,"
        rf"\sin {degrees(need):.2f})", with_unit(need, "°"),
        f"{found.sheet.source('draft_female').citation}; texture: {rate.source.citation}")


def _steps(found) -> Worked:
    layer, draft = found.inputs["layer_height"], found.walls.required_free
    return Worked(
        "Ra of the layer steps on a wall with just that draft", r"R_a = \frac{h\,\sin\theta}{4}",
        rf"\frac{{{layer * 1e6:.0f}\,\sin {degrees(draft):.2f}}}{{4}}",
        with_unit(float(step_roughness(layer, draft)), "µm"),
        "sawtooth of square steps; Reeves and Cobb, Rapid Prototyping Journal 3 (1997) 20-31 "
        "(from memory)")


def _grip(found) -> list[Worked]:
    hold = found.release.holds[0]
    strip = found.inputs["strip_temperature"]
    modulus = found.sheet.curve("solid_modulus").at(strip, "hold").typical
    expansion = found.sheet.band("expansion").typical
    set_at = found.sheet.band("set_temperature").typical
    strain = float(held_strain(expansion, set_at, strip))
    gauge, friction = found.inputs["assumed_gauge"], found.sheet.band("friction_release").typical
    normal = float(hold.normal(modulus, strain, gauge))
    formula, factor = ((r"N = 2\pi\,E\,\varepsilon\,t\,h", r"2\pi\cdot ") if hold.round else
                       (r"N = E\,\varepsilon\,t\,l", ""))
    return [
        Worked("Strain held back when the part is stripped",
               r"\varepsilon = \alpha\,(T_{set} - T)",
               rf"{expansion * 1e6:.0f}\cdot 10^{{-6}}\,({set_at - 273.15:.0f} - "
               rf"{strip - 273.15:.0f})", f"{strain * 100:.3f} %",
               "contraction of the part on a rigid tool"),
        Worked(f"Normal force on {hold.name}", formula,
               rf"{factor}{modulus / 1e6:.0f}\cdot {strain:.5f}\cdot {gauge * 1e3:.2f}\cdot "
               rf"{hold.size * 1e3:.1f}", with_unit(normal, "N"),
               "membrane tension; an upper estimate"),
        Worked(f"Pull that frees {hold.name}", r"F = N\,(\mu\,\cos\theta - \sin\theta)",
               rf"{normal:.0f}\,({friction:.2f}\,\cos {degrees(hold.draft):.2f} - "
               rf"\sin {degrees(hold.draft):.2f})",
               with_unit(float(hold.force(modulus, strain, gauge, friction)), "N"),
               "equilibrium of a sliding wall; summed over the drafts of its facets"),
    ]
