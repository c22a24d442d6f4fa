"""Verdicts on tolerance, scale, draft, undercut, radii, layer steps and release."""

from __future__ import annotations

from thermoforming.reference import rule
from thermoforming.steps.base import CAUTION, PASS, STOP, Check, graded
from thermoforming.units import with_unit

SAMPLE = "sampled bands of this page"
RADIUS_RULE = "least, times gauge"
MESH_ERROR = 0.03  # radii are read from facets and are good to about 3 %


def checks(found) -> tuple[Check, ...]:
    """All checks of the page."""
    return (*_tolerance(found), *_scale(found), _pull(found), _draft(found), *_radius(found),
            *_steps(found), *_flats(found), *_release(found))


def _tolerance(found) -> list[Check]:
    wanted, ledger = found.inputs["yield_wanted"], found.ledger
    if not ledger.lines:
        return [Check("joint", "Dimensions in tolerance", CAUTION, "The brief names none.",
                      source="the brief", advice="Put in what the part must keep to.")]
    weak = [line for line in ledger.lines if line.probability < wanted]
    found_all = ledger.joint >= wanted
    names = ", ".join(f"{line.row['name']} ({line.probability:.0%}, mostly {line.largest})"
                      for line in sorted(weak, key=lambda line: line.probability))
    message = ("Every critical dimension is in tolerance often enough." if found_all else
               f"Weak: {names}." if weak else "Each is, but not all together.")
    return [Check("joint", "All dimensions in tolerance",
                  PASS if found_all else CAUTION if ledger.joint >= wanted / 2 else STOP, message,
                  ledger.joint, wanted, "%", SAMPLE,
                  "" if found_all else _help(weak or ledger.lines))]


def _help(lines) -> str:
    """What to do about the contributions that dominate."""
    cures = {"shrinkage": "form trial shots and measure the shrinkage of this sheet",
             "build": "measure and correct the tool before the first shot",
             "gauge": "measure on the tool side, or thin more evenly",
             "tool temperature": "control the tool's temperature",
             "trimming": "trim in a fixture", "post-cure": "measure before and after curing",
             "measuring": "measure in a tempered room"}
    wanted = dict.fromkeys(line.largest for line in lines)
    first = [cures[name] for name in wanted if name in cures]
    text = "; ".join(first) or "widen the tolerance"
    return f"{text[0].upper()}{text[1:]}; or ask for the tolerance that is realistic (table)."


def _scale(found) -> list[Check]:
    allowed = rule("tolerance", "share that one common scale may use up")
    ledger = found.ledger
    used = {line.row["name"]: abs(ledger.errors[line.row["name"]]) / max(line.half, 1e-9)
            for line in ledger.lines if line.row["name"] in ledger.errors}
    if not used:
        return []
    worst = max(used, key=used.get)
    verdict = graded(used[worst], allowed.band.typical, allowed.band.high)
    mixed = len({line.row["restraint"] for line in ledger.lines if line.scale}) > 1
    why = (" Raised forms hold the part while it cools and cavities do not: they need different "
           "scales." if mixed else "")
    return [Check("scale", "One scale along each axis", verdict,
                  f"{worst} loses the largest share of its tolerance to the common scale."
                  + (why if verdict != PASS else ""), used[worst], allowed.band, "%",
                  f"{allowed.source.citation} ({allowed.basis})",
                  "" if verdict == PASS else "Draw the dimensions of the ledger one by one "
                  "instead of scaling the whole part.")]


def _pull(found) -> Check:
    trapped, area = found.walls.undercuts, found.walls.found.area
    if not trapped:
        return Check("undercut", "Undercut", PASS, "Nothing holds the part along the pull.", area,
                     shown="cm²", source="rays along the pull, four by triangle")
    deepest = max(trapped, key=lambda region: region.depth)
    way = "enclosed" if deepest.depth == float("inf") else with_unit(deepest.depth, "mm")
    return Check("undercut", "Undercut", STOP,
                 f"{len(trapped)} regions ({', '.join(r.name for r in trapped[:6])}); the "
                 f"deepest is {deepest.name}: {way}.", area, shown="cm²",
                 source="rays along the pull, four by triangle",
                 advice="Try the pull with the least undercut; else a loose piece, a split tool, "
                        "or a change of the part. Small undercuts of soft sheet may snap off.")


def _draft(found) -> Check:
    walls = found.walls
    if not walls.short:
        most = walls.required_held if walls.grips.any() else walls.required_free
        return Check("draft", "Draft", PASS, "Every wall has the draft it needs.", limit=most,
                     shown="°", source=_draft_source(found))
    worst = min(walls.short, key=lambda region: region.mean)
    least = rule("draft", "least that any wall needs").band.typical
    held = walls.grips[worst.faces].mean() > 0.5
    verdict = STOP if worst.mean < least and held else CAUTION
    names = ", ".join(region.name for region in walls.short[:6])
    return Check("draft", "Draft", verdict,
                 f"{len(walls.short)} regions short of draft ({names}); least is {worst.name}"
                 f"{', which the part grips' if held else ''}.", worst.mean,
                 walls.required_held if held else walls.required_free, "°", _draft_source(found),
                 f"Add draft to {worst.name}, tilt the pull, or smooth the wall and plan to blow "
                 "the part off while it is warm.")


def _draft_source(found) -> str:
    return (f"{found.sheet.source('draft_female').citation} "
            f"({found.sheet.basis('draft_female')}); texture and layer steps added")


def _radius(found) -> list[Check]:
    need = rule("radius", RADIUS_RULE)
    least = min(found.details.external, found.details.internal)
    result = []
    if least < float("inf"):
        ratio = least / found.gauge
        verdict = graded(ratio * (1 + MESH_ERROR), need.band.typical, need.band.low)
        result.append(Check("radius", "Smallest radius by gauge", verdict,
                            f"{with_unit(least, 'mm')} on {with_unit(found.gauge, 'mm')} of sheet, "
                            "read from the facets to about 3 %.",
                            ratio, need.band, "-", f"{need.source.citation} ({need.basis})",
                            "" if verdict == PASS else "Round the regions listed as E and I."))
    if found.details.sharp_external > 0.0:
        result.append(Check("sharp", "Sharp edges towards the sheet", CAUTION,
                            "Edges without a fillet cut into or tear the hot sheet.",
                            found.details.sharp_external, shown="mm", source="common practice",
                            advice="Round every edge that the sheet is drawn over."))
    return result


def _steps(found) -> list[Check]:
    layer = found.inputs["layer_height"]
    if layer == 0.0:
        return []
    made = found.tool.band("roughness")
    ra = 0.0 if found.inputs["smoothed"] else found.steps["z"][0]
    best = min(found.steps, key=lambda axis: found.steps[axis][0])
    verdict = graded(ra, made.typical, made.high)
    turned = (f"Turned so that it builds along {best}, the walls would have "
              f"{with_unit(found.steps[best][0], 'µm')}; " if best != "z" else "")
    return [Check("steps", "Layer steps of the walls", verdict,
                  "Ra of the steps against the roughness of the process itself.", ra, made, "µm",
                  f"{found.tool.source('roughness').citation} ({found.tool.basis('roughness')})",
                  "" if verdict == PASS else f"{turned}thinner layers, smoothing, or more draft "
                  "than the steps ask for.")]


def _flats(found) -> list[Check]:
    if not found.details.flats:
        return []
    rough = rule("surface", "roughness of male tool for polyolefins")
    made = found.tool.band("roughness").typical
    smooth = found.inputs["smoothed"] or made < rough.band.low
    largest = found.details.flats[0]
    return [Check("flats", "Flats that can hold air", CAUTION if smooth else PASS,
                  f"{largest.name} is the largest of {len(found.details.flats)} flats, "
                  f"{with_unit(largest.area, 'cm²')}; the tool is "
                  f"{'smooth' if smooth else 'rough enough for air to leave'}.", made, rough.band,
                  "µm", f"{rough.source.citation} ({rough.basis})",
                  "Blast or sand the flats, or vent them." if smooth else "")]


def _release(found) -> list[Check]:
    allowed = rule("release", "share of a wall's strength that release may use")
    release = found.release
    verdict = graded(release.use, allowed.band.typical, allowed.band.high)
    cold = (f" Cold, the grip is {with_unit(release.cold(), 'N')}: strip it warm."
            if release.cold() > 2.0 * max(release.total.typical, 1e-9) else "")
    where = f" {release.used_by} is the most loaded." if release.used_by else ""
    return [Check("release", "Strength used to free the part", verdict,
                  f"Thinnest wall allowed, carrying the typical release force.{where}{cold}",
                  release.use, allowed.band, "%", f"{allowed.source.citation} ({allowed.basis})",
                  "" if verdict == PASS else "Strip warmer, add draft, polish and use a release "
                  "agent, blow air under the part, lift it evenly."),
            Check("suction", "Air under the part", CAUTION if release.suction >
                  release.total.typical else PASS,
                  "Suction of a part lifted flat, against the grip of its walls.",
                  release.suction, release.total, "N", "Bernoulli through vents and gaps",
                  "Blow air under it before lifting, lift one end first, or lift slowly."
                  if release.suction > release.total.typical else "")]
