"""Checks on the choice: requirements, rank, window, contact, basis, and what others must be asked.
"""

from __future__ import annotations

from thermoforming.bands import Band
from thermoforming.reference import Material, cautions
from thermoforming.steps import compare, earlier
from thermoforming.steps.base import CAUTION, PASS, STOP, Check
from thermoforming.steps.material import findings as finding
from thermoforming.steps.material import tool
from thermoforming.steps.material.side import WORD, Side
from thermoforming.steps.upstream import Upstream
from thermoforming.units import with_unit


def standing_checks(side: Side) -> list[Check]:
    name, state = side.short[side.chosen], side.states[side.chosen]
    source = "requirements above; bands of the material tables"
    verdict = {finding.MEETS: PASS, finding.DOUBTFUL: CAUTION, finding.REFUSED: STOP}[state]
    said = side.why[side.chosen] if state != finding.MEETS else \
        "Meets every hard requirement with its whole band."
    checks = [Check(f"{side.kind}_requirements", f"{name}: hard requirements", verdict, said,
                    source=source, advice="" if verdict == PASS else
                    "Change what is asked, or choose another " + WORD[side.kind] + ".")]
    if side.comparison is None:
        checks.append(Check(f"{side.kind}_any", f"Any {WORD[side.kind]} left", STOP,
                            "Every candidate is refused; see the table for what would help.",
                            source=source))
    elif side.chosen in side.comparison.keys:
        checks.append(_rank_check(side))
    return checks


def _rank_check(side: Side) -> Check:
    c = side.comparison
    here, leader = c.keys.index(side.chosen), c.order()[0]
    beaten = float(c.beats[leader, here]) if leader != here else 0.0
    verdict = CAUTION if beaten >= compare.TELLABLE else PASS
    name, best = side.short[side.chosen], side.short[c.keys[leader]]
    said = (f"{name} comes first most often." if leader == here else
            f"{best} is better on these weights in {beaten:.0%} of the samples"
            + ("." if verdict == CAUTION else ": not enough to tell them apart."))
    return Check(f"{side.kind}_rank", f"{name} against the others", verdict, said,
                 value=beaten, limit=compare.TELLABLE, shown="%",
                 source="weights above; bands sampled",
                 advice="" if verdict == PASS else f"Say in the reason what speaks for {name}.")


def window_check(material: Material, hot: float) -> Check:
    low, high = (material.band(key) for key in ("forming_low", "forming_high"))
    inside = low.typical <= hot <= high.typical
    surely = low.high <= hot <= high.low
    return Check("window", "Sheet temperature in the forming window",
                 PASS if surely else CAUTION if inside else STOP,
                 f"The window runs from {with_unit(low.typical, '°C')} to "
                 f"{with_unit(high.typical, '°C')}, {high.typical - low.typical:.0f} K wide.",
                 value=hot, limit=Band(low.typical, (low.typical + high.typical) / 2,
                                       high.typical), shown="°C",
                 source=material.source("forming_low").citation,
                 advice="" if surely else "Form nearer the middle of the window; core and surface "
                                          "must both lie inside.")


def pair_checks(of_sheet: Side, of_tool: Side, run: tool.Running) -> list[Check]:
    material, made = of_sheet.material, of_tool.material
    checks = [_touch_check(made, run), _basis_check(material, made)]
    if material.text("structure") == "semi-crystalline" and \
            made.band("roughness").typical < 2e-6:
        checks.append(Check("polyolefin_face", "Air under a hot polyolefin", CAUTION,
                            "Hot polyolefin seals on a smooth face and traps air.",
                            value=made.band("roughness"), shown="µm",
                            source="common practice",
                            advice="Blast a male face with grit 60 to 120, and add vents."))
    if material.key.startswith("pvc") and made.key.startswith("aluminium"):
        checks.append(Check("pvc_metal", "PVC fume and metal", CAUTION,
                            "Overheated PVC gives off hydrogen chloride, which corrodes the tool.",
                            source="common practice",
                            advice="Extract over the oven and clean the tool."))
    if made.flag("porous"):
        checks.append(Check("porous", "Pores of the tool", CAUTION,
                            "The tool lets air through unless its face is sealed.",
                            source=made.source("porous").citation,
                            advice="Seal it, or count on the pores and their mark."))
    return checks


def duty_checks(material: Material, made: Material, inputs, upstream: Upstream) -> list[Check]:
    """What must be asked of somebody else: food contact, chemicals."""
    checks = []
    if inputs["food_contact"]:
        for one in (material, made):
            checks += [Check(f"food_{one.base or one.key}", f"Food contact: {one.text('short')}",
                             CAUTION, caution.text, source=caution.source.citation,
                             advice="Keep the answer with the record, and who gave it.")
                       for caution in cautions("food contact")
                       if (one.base or one.key) in caution.materials]
    named = earlier.found(upstream, "brief", "chemicals")
    if named:
        checks.append(Check("chemicals", "Chemicals the part meets", CAUTION,
                            f"The brief names: {named}. {material.text('chemicals')}",
                            source=material.source("chemicals").citation,
                            advice="Test the formed, stressed sheet in the very fluid."))
    return checks


def _touch_check(made: Material, run: tool.Running) -> Check:
    limit = made.band("hdt_low_load") if "hdt_low_load" in made else made.band("usable_limit")
    verdict = PASS if run.contact <= limit.low else CAUTION
    return Check("contact", "Face of the tool at the touch of the sheet", verdict,
                 f"At first touch the faces meet at about {with_unit(run.contact, '°C')}, for "
                 f"seconds; the tool deflects under light load from "
                 f"{with_unit(limit.low, '°C')} on.",
                 value=run.contact, limit=limit.low, shown="°C",
                 source="contact of two thick bodies; heat deflection temperature",
                 advice="" if verdict == PASS else
                 "Expect edges to round and the finish to dull; keep sharp detail out of it.")


def _basis_check(*materials: Material) -> Check:
    values = [v for m in materials for found in m.values.values() for v in found if v.band]
    weak = sum(v.basis == "from memory" for v in values) / len(values)
    return Check("basis", "What the numbers stand on", CAUTION if weak > 0.5 else PASS,
                 f"{weak:.0%} of the {len(values)} values of the two materials are recalled, not "
                 f"read in a source.", value=weak, limit=0.5, shown="%",
                 source="column “basis” of the material tables",
                 advice="Type the supplier's data sheet into the table of own materials before "
                        "anything is cut.")
