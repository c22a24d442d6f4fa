"""What follows from the brief at once: draw, forming method, blank, fit to the machine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.geometry.curvature import smallest_radius
from thermoforming.geometry.forms import FormFound, plan_area
from thermoforming.geometry.nest import pieces_to_build
from thermoforming.geometry.section import section
from thermoforming.geometry.soundness import Finding
from thermoforming.geometry.surface import Surface
from thermoforming.physics.nest import Layout, nest
from thermoforming.reference import rule
from thermoforming.steps.base import (
    CAUTION,
    PASS,
    STOP,
    Check,
    Column,
    Grid,
    Outcome,
    Result,
    Step,
    Worked,
    graded,
)
from thermoforming.steps.brief.fields import FIELDS
from thermoforming.steps.brief.method import ASSISTED, PLUG, PRESSURE, depth_limits, proposal
from thermoforming.steps.brief.picked import picked_checks, picked_table
from thermoforming.steps.brief.part import bends_of, forms_of, gaps_of, kept, surface_of
from thermoforming.steps.upstream import Upstream
from thermoforming.units import with_unit


@dataclass(frozen=True, eq=False)
class Found:
    """Everything measured, before it is put into words."""

    surface: Surface
    findings: list[Finding]
    forms: list[FormFound]
    deepest: FormFound | None
    area: float
    plan: float
    radius: float
    blank: tuple[float, float]
    nest: Layout
    tool: tuple[float, float, float]
    pieces: int
    volume: float
    method: str
    reason: str

    def stock_used(self, inputs) -> float:
        """Share of the stock sheet that the blanks take."""
        area = self.blank[0] * self.blank[1] / (inputs["stock_x"] * inputs["stock_y"])
        return self.nest.count * area

    @property
    def depth_ratio(self) -> float:
        return self.deepest.draw if self.deepest else 0.0

    @property
    def area_ratio(self) -> float:
        return self.area / self.plan


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """Draw ratios, forming method, blank, nest and checks of a brief."""
    found = _found(inputs, upstream)
    return Outcome(_results(found, inputs), _checks(found, inputs), _worked(found, inputs),
                   tuple(grid for grid in (_forms_table(found), _gaps_table(found),
                                           picked_table(found.surface, inputs["dimensions"]))
                         if grid.rows), _arrays(found, inputs))


def _found(inputs, upstream: Upstream) -> Found:
    surface, findings = surface_of(inputs, upstream)
    listed = forms_of(surface)
    letter = "C" if inputs["side"] == "female" else "B"
    outer = [form for form in listed if form.name[0] == letter and not form.inside]
    deepest = max(outer or listed, key=lambda form: form.draw, default=None)
    radius = kept("internal radius", surface,
                  lambda: smallest_radius(bends_of(surface), external=False))
    proposed = proposal(inputs["side"], deepest.draw if deepest else 0.0, radius,
                        inputs["minimum_wall"], inputs["texture_depth"],
                        inputs["plug_available"], inputs["forming_pressure_available"])
    own = inputs["method"] != "proposed"
    blank = _blank(surface, inputs)
    tool = _tool_size(surface, inputs)
    return Found(surface, findings, listed, deepest, surface.area, plan_area(surface), radius,
                 blank, nest(inputs["stock_x"], inputs["stock_y"], *blank, kerf=inputs["kerf"],
                             turn=inputs["turn_blanks"]),
                 tool, pieces_to_build(tool, _build(inputs))[0], _volume(surface, inputs),
                 inputs["method"] if own else proposed.method,
                 f"chosen; proposed is {proposed.method}: {proposed.reason}" if own
                 else proposed.reason)


def _blank(surface: Surface, inputs) -> tuple[float, float]:
    edge = 2 * (inputs["trim_margin"] + inputs["clamp_margin"])
    gap = inputs["spacing"]
    return tuple(float(n * size + (n - 1) * gap + edge) for n, size in
                 zip((inputs["forms_x"], inputs["forms_y"]), surface.size[:2], strict=True))


def _tool_size(surface: Surface, inputs) -> tuple[float, float, float]:
    x, y, z = (float(edge) for edge in surface.size)
    return (x + 2 * inputs["tool_rim"], y + 2 * inputs["tool_rim"], z + inputs["tool_base"])


def _build(inputs) -> tuple[float, float, float]:
    return tuple(inputs[f"build_{axis}"] for axis in "xyz")


def _volume(surface: Surface, inputs) -> float:
    """Between the tool and the clamp plane (female) or the plane of its top (male)."""
    level = inputs["clamp_height"] if inputs["side"] == "female" else surface.bounds[1, 2]
    gap = np.clip(level - surface.centres[:, 2], 0.0, None)
    return max(0.0, float(np.sum(surface.areas * surface.normals[:, 2] * gap)))


def _results(found: Found, inputs) -> tuple[Result, ...]:
    size = found.surface.size
    depth = max((form.depth for form in found.forms if not form.inside), default=0.0)
    forms = inputs["forms_x"] * inputs["forms_y"]
    return (
        Result("forming_method", "Forming method", found.method, help=found.reason),
        Result("draw_ratio_depth", "Depth to width", found.depth_ratio, "-", "H/W"),
        Result("draw_ratio_area", "Area draw ratio", found.area_ratio, "-", "R_A",
               "Area of the tool side by its plan area, rim included."),
        Result("draw_depth", "Depth of draw", depth, "mm", "H"),
        Result("gauge_floor", "No gauge below", inputs["minimum_wall"] * found.area_ratio, "mm",
               "t_0", "Least wall times area draw ratio: even a perfectly even part needs it."),
        Result("parts_per_stock", "Parts from a stock sheet", found.nest.count * int(forms)),
        Result("footprint_x", "Part, x", float(size[0]), "mm"),
        Result("footprint_y", "Part, y", float(size[1]), "mm"),
        Result("blank_x", "Blank, x", found.blank[0], "mm"),
        Result("blank_y", "Blank, y", found.blank[1], "mm"),
        Result("stock_used", "Stock in the blanks", found.stock_used(inputs), "%"),
        Result("cavity_volume", "Air below the sheet", found.volume, "L", "V",
               "Between the tool and the clamp plane."),
        Result("smallest_internal", "Smallest internal radius", _finite(found.radius), "mm"),
        Result("assisted", "Plug or pre-stretch", found.method in ASSISTED),
        Result("tool_x", "Tool, x", found.tool[0], "mm"),
        Result("tool_y", "Tool, y", found.tool[1], "mm"),
        Result("tool_z", "Tool, z", found.tool[2], "mm"),
    )


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _checks(found: Found, inputs) -> tuple[Check, ...]:
    return (*_mesh_checks(found.findings), _depth_check(found), *_side_checks(found, inputs),
            *_method_checks(found, inputs),
            _frame_check(found, inputs), _machine_depth_check(found, inputs),
            _stock_check(found, inputs), _build_check(found, inputs), *_gap_checks(found, inputs),
            *_tolerance_checks(inputs), *picked_checks(found.surface, inputs["dimensions"]),
            *_show_checks(inputs))


def _mesh_checks(findings) -> list[Check]:
    checks = [Check(f"mesh_{i}", "The mesh", f.verdict, f.text, source="the file itself",
                    advice=f.advice) for i, f in enumerate(findings, start=1)
              if f.verdict != PASS]
    passed = " ".join(f.text for f in findings if f.verdict == PASS)
    return checks + ([Check("mesh", "The mesh", PASS, passed, source="the file itself")]
                     if passed else [])


def _depth_check(found: Found) -> Check:
    if found.deepest is None:
        return Check("depth", "Depth to width", STOP, "No form was found: nothing lies above or "
                     "below the rim.", 0.0, shown="-", source="the mesh",
                     advice="Look at the picture; check along which way the part leaves the tool "
                            "and what the mesh is.")
    limit, name = depth_limits(found.method), found.deepest.name
    verdict = graded(found.depth_ratio, limit.band.typical, limit.band.high)
    return Check("depth", "Depth to width", verdict,
                 f"{name} is the form with the most depth to width; {found.method}: "
                 f"{found.reason}.", found.depth_ratio, limit.band, "-",
                 f"{limit.source.citation} ({limit.basis})",
                 "" if verdict == PASS else
                 "Widen the form, make it shallower, or use a plug or a bubble.")


def _side_checks(found: Found, inputs) -> list[Check]:
    """The mesh itself is a male or a female tool; the chosen side must agree with it."""
    letter = "C" if inputs["side"] == "female" else "B"
    outer = {form.name[0] for form in found.forms if not form.inside}
    if not outer or letter in outer:
        return []
    lies, other = (("above", "male"), ("below", "female"))[letter == "B"]
    return [Check("side", "Side of the tool", STOP,
                  f"The tool is {inputs['side']}, but every form on the mesh lies {lies} the rim.",
                  source="the mesh", advice=f"Choose {other}, or turn the way along which the "
                                            "part leaves the tool.")]


def _method_checks(found: Found, inputs) -> list[Check]:
    missing = ((PLUG, not inputs["plug_available"], "a plug"),
               (PRESSURE, inputs["forming_pressure_available"] <= 0.0, "forming pressure"))
    return [Check("method", "The machine for the method", STOP,
                  f"{found.method} was chosen, but the machine has no {what.split()[-1]}.",
                  source="the brief", advice=f"Put in {what}, or choose another method.")
            for method, lacks, what in missing if found.method == method and lacks]


def _frame_check(found: Found, inputs) -> Check:
    room = (inputs["forming_x"] + 2 * inputs["clamp_margin"],
            inputs["forming_y"] + 2 * inputs["clamp_margin"])
    inside = sorted(found.blank)[0] <= sorted(room)[0] and sorted(found.blank)[1] <= sorted(room)[1]
    return Check("frame", "The blank in the frame", PASS if inside else STOP,
                 f"The blank is {_mm(found.blank)}; the frame takes {_mm(room)}, clamped edge "
                 "included.", source="the brief",
                 advice="" if inside else "Fewer forms, less margin, or a larger machine.")


def _machine_depth_check(found: Found, inputs) -> Check:
    need = float(found.surface.size[2])
    return Check("machine_depth", "Depth in the machine",
                 PASS if need <= inputs["forming_depth"] else STOP,
                 "Height of the part against the travel of the machine.", need,
                 inputs["forming_depth"], "mm", "the brief",
                 "" if need <= inputs["forming_depth"] else "A machine with more travel.")


def _stock_check(found: Found, inputs) -> Check:
    fits = found.nest.count > 0
    return Check("stock", "Blanks from stock", PASS if fits else STOP,
                 f"{found.nest.count} blanks of {_mm(found.blank)} from a stock sheet.",
                 found.stock_used(inputs), shown="%",
                 source="best of all layouts of edge-to-edge cuts",
                 advice="" if fits else "Larger stock or a smaller blank.")


def _build_check(found: Found, inputs) -> Check:
    whole = found.pieces == 1
    return Check("build", "The tool in the build volume", PASS if whole else CAUTION,
                 f"A tool of {_mm(found.tool)} in {_mm(_build(inputs))}: "
                 + ("one piece." if whole else f"{found.pieces} pieces."),
                 found.pieces, 1, "-", "the brief",
                 "" if whole else "Split it with registered joints away from the show side, or "
                                  "use a larger machine or another route.")


def _gap_checks(found: Found, inputs) -> list[Check]:
    need = rule("spacing", "clear gap of male forms by height")
    gaps = [gap for gap in gaps_of(found.surface)
            if all(name.startswith("B") for name in gap.between)]
    ratios = {f"{a} and {b}": gap.width / gap.height
              for gap in gaps for a, b in [gap.between]}
    several = inputs["forms_x"] * inputs["forms_y"] > 1
    if several and inputs["side"] == "male" and found.deepest:
        ratios["forms in the frame"] = inputs["spacing"] / found.deepest.depth
    return [Check(f"gap_{i}", "Clear gap by height", graded(ratio, need.band.typical,
                                                            need.band.low),
                  f"Between {who}.", ratio, need.band, "-",
                  f"{need.source.citation} ({need.basis})",
                  "" if ratio >= need.band.typical else "Closer forms web: move them apart, "
                  "round vertical corners, add draft.")
            for i, (who, ratio) in enumerate(ratios.items(), start=1)]


def _tolerance_checks(inputs) -> list[Check]:
    usual = rule("tolerance", "formed and trimmed, to 300 mm")
    tight = [row for row in inputs["dimensions"]
             if (row["plus"] + row["minus"]) / 2 < usual.band.typical]
    if not inputs["dimensions"]:
        return [Check("tolerance", "Critical dimensions", CAUTION, "None is given.",
                      source="the brief", advice="Without them no tolerance can be checked.")]
    if not tight:
        return [Check("tolerance", "Tolerances", PASS, "None is tighter than usual practice.",
                      None, usual.band, "mm", f"{usual.source.citation} ({usual.basis})")]
    least = min((row["plus"] + row["minus"]) / 2 for row in tight)
    return [Check("tolerance", "Tolerances", CAUTION,
                  "Tighter than usual practice: " + ", ".join(row["name"] for row in tight) + ".",
                  least, usual.band, "mm", f"{usual.source.citation} ({usual.basis})",
                  "Ask whether the part needs it; the shrinkage page says what is realistic.")]


def _show_checks(inputs) -> list[Check]:
    if inputs["show_side"] != "tool":
        return []
    return [Check("show", "Show side against the tool", CAUTION,
                  "Vent marks, layer steps and chill marks of the tool will show.",
                  source="common practice",
                  advice="Finish and texture the tool, or turn the part round.")]


def _worked(found: Found, inputs) -> tuple[Worked, ...]:
    lines = []
    if found.deepest:
        form = found.deepest
        lines.append(Worked(f"Depth to width of {form.name}", r"\frac{H}{W}",
                            rf"\frac{{{form.depth * 1e3:.1f}}}{{{form.width * 1e3:.1f}}}",
                            f"{form.draw:.3f}", "smaller side of the rectangle round its opening"))
    lines += [
        Worked("Area draw ratio", r"R_A = \frac{A}{A_{plan}}",
               rf"\frac{{{found.area * 1e4:.1f}}}{{{found.plan * 1e4:.1f}}}",
               f"{found.area_ratio:.3f}", "sum over the triangles of the mesh"),
        Worked("Gauge below which no part can keep the least wall", r"t_0 \geq t_{min}\, R_A",
               rf"{inputs['minimum_wall'] * 1e3:.2f}\cdot {found.area_ratio:.3f}",
               with_unit(inputs["minimum_wall"] * found.area_ratio, "mm"),
               "volume of the sheet is kept"),
        _worked_blank(found, inputs, 0), _worked_blank(found, inputs, 1),
        Worked("Stock that ends in blanks", r"\frac{n\, a\, b}{A\, B}",
               rf"\frac{{{found.nest.count}\cdot {found.blank[0] * 1e3:.0f}\cdot "
               rf"{found.blank[1] * 1e3:.0f}}}{{{inputs['stock_x'] * 1e3:.0f}\cdot "
               rf"{inputs['stock_y'] * 1e3:.0f}}}", with_unit(found.stock_used(inputs), "%"),
               "best of all layouts of two blocks by straight cuts"),
    ]
    return tuple(lines)


def _worked_blank(found: Found, inputs, axis: int) -> Worked:
    name = "xy"[axis]
    count = int(inputs[f"forms_{name}"])
    return Worked(f"Blank along {name}", r"n\, L + (n - 1)\, g + 2\,(m_{trim} + m_{clamp})",
                  rf"{count}\cdot {found.surface.size[axis] * 1e3:.1f} + {count - 1}\cdot "
                  rf"{inputs['spacing'] * 1e3:.0f} + 2\,({inputs['trim_margin'] * 1e3:.0f} + "
                  rf"{inputs['clamp_margin'] * 1e3:.0f})", with_unit(found.blank[axis], "mm"),
                  "layout of the frame")


def _forms_table(found: Found) -> Grid:
    rows = tuple({"name": form.name, "inside": form.inside or "rim", "x": round(form.centre[0], 4),
                  "y": round(form.centre[1], 4), "depth": form.depth, "width": form.width,
                  "length": form.length, "draw": form.draw, "area": form.areal_draw}
                 for form in found.forms)
    return Grid("forms", "Forms found on the part", (
        Column("name", "Form"), Column("inside", "In"), Column("x", "Centre x", "mm"),
        Column("y", "y", "mm"), Column("depth", "Depth or height", "mm"),
        Column("width", "Width", "mm"), Column("length", "Length", "mm"),
        Column("draw", "Depth to width"), Column("area", "Area draw ratio")), rows)


def _gaps_table(found: Found) -> Grid:
    rows = tuple({"between": " and ".join(gap.between), "width": gap.width, "height": gap.height,
                  "slenderness": gap.slenderness, "length": gap.length}
                 for gap in gaps_of(found.surface))
    return Grid("gaps", "Webs and channels between forms", (
        Column("between", "Between"), Column("width", "Width", "mm"),
        Column("height", "Height", "mm"), Column("slenderness", "Height to width"),
        Column("length", "Length", "mm")), rows)


def _arrays(found: Found, inputs) -> dict[str, Any]:
    through = found.deepest.centre if found.deepest else (0.0, 0.0)
    lines = kept("section", found.surface,
                 lambda: section(found.surface, (*through, 0.0), (0.0, 1.0, 0.0)), through)
    return {"surface": found.surface, "forms": found.forms, "section": lines,
            "section_y": through[1], "clamp_height": inputs["clamp_height"],
            "nest": found.nest.blanks, "stock": (inputs["stock_x"], inputs["stock_y"]),
            "blank": found.blank, "part_size": tuple(found.surface.size[:2]),
            "layout": (int(inputs["forms_x"]), int(inputs["forms_y"]), inputs["spacing"],
                       inputs["trim_margin"] + inputs["clamp_margin"])}


def _mm(sizes) -> str:
    return " x ".join(f"{size * 1e3:.0f}" for size in sizes) + " mm"


STEP = Step(
    key="brief", number=1, title="Brief",
    question="What is to be made, how many, on which machine, and how is it to be formed?",
    fields=FIELDS, compute=compute, cautions=("machine", "hot surfaces", "food contact"),
)
