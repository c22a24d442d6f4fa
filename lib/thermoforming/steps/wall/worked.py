"""The calculation of the wall page, line by line with the project's numbers."""

from __future__ import annotations

from thermoforming.physics.toolwall import plates, ribs
from thermoforming.steps.base import Worked
from thermoforming.steps.wall.findings import Found
from thermoforming.units import with_unit

BOOK = "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed."


def worked(found: Found) -> tuple[Worked, ...]:
    """Load, material when warm, panels, ribs, buckling, heat."""
    return (*_material(found), *_panels(found), *_ribs(found), *_heat(found))


def _material(found: Found) -> list[Worked]:
    here, v = found.here, found.here.inputs
    at = here.heat.warmest
    modulus = here.tool.curve("modulus").at(at, "hold").typical
    ratio = here.tool.curve("creep_ratio").at(at, "hold").typical
    strength = here.tool.curve("strength").at(at, "hold").typical
    return [
        Worked("Load on the wall", r"p = p_a + p_f - p_v",
               rf"{v['ambient_pressure'] / 1e3:.1f} + {v['forming_pressure'] / 1e3:.1f} - "
               rf"{v['plenum'] / 1e3:.1f}", with_unit(here.load.pressure, "kPa"),
               f"{here.load.name}: {here.load.why}")
        if v["hollow"] == "vacuum" else
        Worked(f"Load on the wall, {here.load.name}", r"p = -(p_a - p_v) \quad or \quad p_f",
               rf"-({v['ambient_pressure'] / 1e3:.1f} - {v['plenum'] / 1e3:.1f}) \quad or \quad "
               rf"{v['forming_pressure'] / 1e3:.1f}", with_unit(here.load.pressure, "kPa"),
               here.load.why),
        Worked("Creep over the run", r"c = 1 + (1/R - 1)\, S_N",
               rf"1 + (1/{ratio:.3f} - 1) \cdot {here.creep_sum:.3f}",
               f"{here.creep(ratio):.3f}",
               "power law in time, loads and rests by Boltzmann's superposition"),
        Worked("Modulus of the warm wall after the run", r"E = E(T) / c",
               rf"{modulus / 1e6:.0f} / {here.creep(ratio):.3f}",
               with_unit(here.warm.modulus, "MPa"),
               f"{here.tool.source('modulus').citation}; at {with_unit(at, '°C')}"),
        Worked("Strength for all shots", r"\sigma_N = \sigma(T)\, f^{\,\log N / 4}",
               rf"{strength / 1e6:.1f} \cdot {here.tool.band('fatigue_ratio').typical:.2f}"
               rf"^{{\log {v['shots']:.0f} / 4}}", with_unit(here.warm.strength, "MPa"),
               "Basquin's line through the ratio at 10 000 loads"),
    ]


def _panels(found: Found) -> list[Worked]:
    here, v = found.here, found.here.inputs
    short, long = (float(side) for side in here.wall.panel)
    q, t, nu = abs(here.load.pressure), v["skin"], here.warm.poisson
    d = plates.rigidity(here.warm.modulus, t, nu)
    lines = [Worked("Bending stiffness of the wall", r"D = \frac{E t^3}{12 (1 - \nu^2)}",
                    rf"\frac{{{here.warm.modulus / 1e6:.0f} \cdot {t * 1e3:.2f}^3}}"
                    rf"{{12 (1 - {nu:.2f}^2)}}", f"{d * 1e3:.0f} N mm", BOOK)]
    for edge in ("clamped", "supported"):
        c = plates.coefficients(long / short, edge)
        bent = float(c["deflection"]) * q * short**4 / d
        shear = float(found.by_edge[edge].panel_deflection) - bent
        lines.append(Worked(
            f"Panel between ribs, {edge} edges", r"w = \alpha \frac{q a^4}{D} + w_{shear}",
            rf"{float(c['deflection']):.5f} \frac{{{q / 1e6:.4f} \cdot {short * 1e3:.1f}^4}}"
            rf"{{{d * 1e3:.0f}}} + {shear * 1e3:.4f}", with_unit(bent + shear, "mm"),
            f"{BOOK}, sides {long / short:.2f} : 1"))
    m = plates.moments(long / short, nu, "clamped")
    lines.append(Worked(
        "Stress at the ribs, clamped panel", r"\sigma = 6 \beta q (a / t)^2",
        rf"6 \cdot {-float(m['edge_long']):.4f} \cdot {q / 1e6:.4f} ({short * 1e3:.1f} / "
        rf"{t * 1e3:.2f})^2", with_unit(float(found.by_edge["clamped"].panel_stress), "MPa"), BOOK))
    return lines


def _ribs(found: Found) -> list[Worked]:
    v = found.here.inputs
    if v["ribs_along"] + v["ribs_across"] == 0:
        return []
    return _standing(found) if found.here.wall.on_base else _hanging(found)


def _standing(found: Found) -> list[Worked]:
    here, wall, q = found.here, found.here.wall, abs(found.here.load.pressure)
    pitch, thick = float(min(wall.pitch_along, wall.pitch_across)), wall.rib_thickness
    hand = found.by_edge["clamped"]
    return [
        Worked("Stress in a standing rib", r"\sigma = q\, s / b",
               rf"{q / 1e6:.4f} \cdot {pitch * 1e3:.1f} / {thick * 1e3:.2f}",
               with_unit(float(hand.rib_stress), "MPa"), "statics"),
        Worked("Buckling of a standing rib",
               r"n = \frac{\pi^2 E}{12 (1 - \nu^2)} \frac{(b/H)^2}{\sigma}",
               rf"\frac{{\pi^2 \cdot {here.warm.modulus / 1e6:.0f}}}"
               rf"{{12 (1 - {here.warm.poisson:.2f}^2)}} "
               rf"\frac{{({thick * 1e3:.2f} / {float(wall.height) * 1e3:.1f})^2}}"
               rf"{{{float(hand.rib_stress) / 1e6:.3f}}}",
               f"{float(hand.rib_buckling):.1f}", "Euler, wide column pinned at both ends")]


def _hanging(found: Found) -> list[Worked]:
    wall, v = found.here.wall, found.here.inputs
    pitch, span = ((wall.pitch_across, wall.width) if v["ribs_across"] else
                   (wall.pitch_along, wall.length))
    share = float(ribs.effective_width(pitch, span, found.here.warm.poisson))
    section = ribs.t_section(share * float(pitch), v["skin"], v["rib_thickness"],
                             float(wall.height))
    return [
        Worked("Skin that works with a rib", r"b_e = \lambda\, s",
               rf"{share:.3f} \cdot {float(pitch) * 1e3:.1f}",
               with_unit(share * float(pitch), "mm"), "shear lag: Timoshenko and Goodier"),
        Worked("Second moment of a rib with its skin",
               r"I = \sum \frac{b h^3}{12} + A (y-\bar y)^2",
               rf"centroid \; {float(section.centroid) * 1e3:.2f} \; mm \; from \; the \; tip",
               f"{float(section.second_moment) * 1e12:.0f} mm⁴", "parallel axes"),
        *(Worked(f"Ribs across the whole wall, {edge} edges",
                 r"D_x w_{xxxx} + 2 H w_{xxyy} + D_y w_{yyyy} = q",
                 r"ribbed \; skin \; as \; an \; orthotropic \; plate",
                 with_unit(float(found.by_edge[edge].grid_deflection), "mm"), BOOK)
          for edge in ("clamped", "supported"))]


def _heat(found: Found) -> list[Worked]:
    here = found.here
    s, steady = here.setting, here.heat.cycle.steady()
    q = here.heat.cycle.heat(steady)
    return [
        Worked("Heat of one shot, steady cycle", r"q = \int \rho c\, (T_{off} - T_{on})\, dx",
               rf"{q / 1e3:.1f} \; kJ/m^2 \; in \; {s.contact_time:.0f} \; s",
               with_unit(found.heat_flux, "kW/m²") + " over the cycle",
               "conduction through sheet, contact and wall, solved exactly in time"),
        Worked("Wall after the run, from cold", r"T_{n+1} = A\, T_n + b",
               rf"{len(here.heat.walls)} \; shots \; of \; {s.cycle:.0f} \; s",
               with_unit(here.heat.warmest, "°C"), "one cycle as a linear map"),
        Worked("Bowing by uneven temperature", r"w = (\kappa_x L^2 + \kappa_y W^2) / 8,\quad "
               r"D \kappa = M_T - B A^{-1} N_T",
               r"from \; the \; temperatures \; through \; the \; wall",
               with_unit(found.bow, "mm"), "Boley and Weiner (from memory)"),
    ]
