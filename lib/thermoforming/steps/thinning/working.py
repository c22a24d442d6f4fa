"""The calculation of the thinning page worked with this project's numbers."""

from __future__ import annotations

import numpy as np

from thermoforming.steps.base import Worked
from thermoforming.steps.thinning.hot_sheet import MOONEY, OGDEN
from thermoforming.steps.thinning.levels import corner_formed, formed_area, frame_area
from thermoforming.units import digits, with_unit

VOLUME = "volume of the plastic is kept"
BOX = "bubble of one gauge, volume balance (after Rosenzweig, Narkis, Tadmor 1979, from memory)"


def worked(found, inputs, upstream) -> tuple[Worked, ...]:
    """Every level in order, then the answers."""
    lines = [*_areas(found, inputs, upstream), *_elements(found, inputs), _law(inputs),
             *_membrane(found, inputs), *_answers(found, inputs)]
    return tuple(lines)


def _mm(value: float) -> str:
    return digits(value * 1e3, 4)


def _areas(found, inputs, upstream) -> list[Worked]:
    formed, flat = formed_area(inputs, upstream), frame_area(inputs)
    ratio = found.levels.area_ratio
    return [
        Worked("Level 1: area draw ratio in the frame", r"R_A = \frac{A_{formed}}{A_{flat}}",
               rf"\frac{{{digits(formed * 1e4, 4)}}}{{{digits(flat * 1e4, 4)}}}",
               f"{ratio:.3f}", "sum over the tool's triangles and the flat sheet around it"),
        Worked("Level 1: mean gauge", r"\bar t = t_0 / R_A",
               rf"\frac{{{_mm(inputs['gauge'])}}}{{{ratio:.3f}}}",
               with_unit(found.mean, "mm"), VOLUME)]


def _elements(found, inputs) -> list[Worked]:
    if found.levels.form.male:
        return _tent(found, inputs)
    long, short = max(inputs["length"], inputs["width"]), min(inputs["length"], inputs["width"])
    area = 0.5 * np.pi * short * (long - short) + 2.0 * short**2
    depth, parts = inputs["depth"], found.levels.elements
    lines = [Worked("Level 2: area of the bubble over the opening",
                    r"A = \tfrac{\pi}{2} W (L - W) + 2 W^2",
                    rf"\tfrac{{\pi}}{{2}}\, {_mm(short)}\, ({_mm(long)} - {_mm(short)}) "
                    rf"+ 2\cdot {_mm(short)}^2", with_unit(area, "cm²"), BOX)]
    if depth >= 0.5 * short:
        lines.append(Worked(
            "Level 2: floor", r"\frac{t}{t_0} = \frac{L W}{A}\, e^{-2 (L + W)(h - W/2)/A}",
            rf"\frac{{{_mm(long)}\cdot {_mm(short)}}}{{{digits(area * 1e6, 4)}}}\, "
            rf"e^{{-2\cdot {_mm(long + short)}\,({_mm(depth)} - {_mm(short / 2)})"
            rf"/{digits(area * 1e6, 4)}}}", f"{parts['floor']:.3f}", BOX))
    else:
        lines.append(Worked(
            "Level 2: floor, met by the bubble before it lies on the walls",
            r"\frac{t}{t_0} = \frac{L W}{A_h}, \quad A_h \text{ of the shallow vault of rise } h",
            rf"\frac{{{digits(long * short * 1e4, 4)}}}"
            rf"{{{digits(long * short * 1e4 / parts['floor'], 4)}}}", f"{parts['floor']:.3f}",
            BOX))
    run = found.levels.membrane
    corner = corner_formed(inputs, run.free_radius if run and run.complete else 0.0)
    start = min(0.5 * short, depth)
    lines.append(Worked(
        "Level 2: edge of the floor, as far as the pressure fills it, over the gauge when its "
        "fillet became free",
        r"(r / r_i)^{4/\pi - 1}", rf"({_mm(corner)} / {_mm(start)})^{{0.273}}",
        f"{(corner / start) ** (4 / np.pi - 1):.3f}", BOX))
    return lines


def _tent(found, inputs) -> list[Worked]:
    form = found.levels.form
    top = form.radius - form.depth / np.tan(form.wall_angle)
    return [Worked("Level 2: tent before the vacuum",
                   r"\frac{t}{t_0} = \cos\arctan\frac{h}{R_c - R_t}",
                   rf"\cos\arctan\frac{{{_mm(form.depth)}}}{{{_mm(form.clamp)} - {_mm(top)}}}",
                   f"{found.levels.elements['tent before the vacuum']:.3f}", VOLUME)]


def _law(inputs) -> Worked:
    shear = digits(inputs["shear"] * 1e-6, 3)
    if inputs["law"] == OGDEN:
        alpha = digits(inputs["exponent"], 3)
        return Worked("Law of the hot sheet", r"W = \frac{2\mu}{\alpha^2} \left(\lambda_1^\alpha "
                      r"+ \lambda_2^\alpha + \lambda_3^\alpha - 3\right)",
                      rf"\mu = {shear},\ \alpha = {alpha}", f"μ {shear} MPa", "the sheet table")
    if inputs["law"] == MOONEY:
        share = inputs["share"]
        first, second = 0.5 * inputs["shear"] * (1 - share), 0.5 * inputs["shear"] * share
        return Worked("Law of the hot sheet", r"W = C_1 (I_1 - 3) + C_2 (I_2 - 3),\ "
                      r"\mu = 2 (C_1 + C_2)", rf"C_1 = {digits(first * 1e-6, 3)},\ "
                      rf"C_2 = {digits(second * 1e-6, 3)}", f"μ {shear} MPa", "the sheet table")
    return Worked("Law of the hot sheet", r"W = \tfrac{\mu}{2} (I_1 - 3)", rf"\mu = {shear}",
                  f"μ {shear} MPa", "the sheet table")


def _membrane(found, inputs) -> list[Worked]:
    run = found.levels.membrane
    if run is None:
        return []
    form = found.levels.form
    lines = [Worked("Level 3: round form of the same area over perimeter",
                    r"R = \frac{L W}{L + W}",
                    rf"\frac{{{_mm(inputs['length'])}\cdot {_mm(inputs['width'])}}}"
                    rf"{{{_mm(inputs['length'] + inputs['width'])}}}",
                    with_unit(form.radius, "mm"), "area over half the perimeter"),
             Worked("Level 3: least gauge of the round membrane", r"t = t_0\, \rho_3",
                    rf"{_mm(inputs['gauge'])}\cdot {found.levels.membrane_least:.3f}",
                    with_unit(found.levels.membrane_least * inputs["gauge"], "mm"),
                    f"{len(run.gauge)} finite elements of revolution")]
    if found.reading is not None:
        lines.append(Worked("Level 4: least gauge on the tool's mesh", r"t = t_0\, \rho_4",
                            rf"{_mm(inputs['gauge'])}\cdot "
                            rf"{found.reading.least / inputs['gauge']:.3f}",
                            with_unit(found.reading.least, "mm"),
                            f"{len(found.reading.surface.faces)} membrane triangles"))
    return lines


def _answers(found, inputs) -> list[Worked]:
    if found.ratio is None:
        return []
    lines = [Worked("Starting gauge that keeps the least wall",
                    r"t_0 = \frac{t_{min}}{\rho\,(1 - \tau)}",
                    rf"\frac{{{_mm(inputs['minimum_wall'])}}}{{{found.ratio.typical:.3f}\,(1 - "
                    rf"{found.tolerance.typical:.3f})}}", with_unit(found.needed.typical, "mm"),
                    VOLUME)]
    if found.formed_radius > 0.0:
        lines.append(Worked("Radius that the end pressure forms", r"\rho = \frac{\sigma t}{p}",
                            rf"\frac{{{digits(found.formed_radius * inputs['pressure'] * 1e-3, 3)}"
                            rf"}}{{{digits(inputs['pressure'] * 1e-6, 3)}}}",
                            with_unit(found.formed_radius, "mm"),
                            "tension in N/mm of the last free sheet over pressure in MPa "
                            "(Laplace's law, from memory)"))
    return lines
