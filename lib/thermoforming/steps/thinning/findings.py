"""Checks of the thinning page: pass, caution or stop, with value, limit, source and advice."""

from __future__ import annotations

import numpy as np

from thermoforming.bands import Band
from thermoforming.physics.thinning.area import depth_to_width
from thermoforming.reference import rule
from thermoforming.steps.base import CAUTION, PASS, STOP, Check, graded
from thermoforming.steps.thinning.fields import BUBBLE, PLUG, PRESSURE
from thermoforming.steps.thinning.reading import LEAST_SHARE
from thermoforming.units import with_unit

BY_RUN = "the run on the tool's mesh"
OPTIMISTIC = 0.15  # elements off the best level by more than this are called out; judgement
REACHED = 0.97  # share of the stated pressure that counts as reached


def checks(found, inputs, upstream) -> tuple[Check, ...]:
    """All checks, the run's own judgement first."""
    return (*_run_checks(found, inputs), _least_check(found, inputs),
            _starting_check(found, inputs), _levels_check(found, inputs), *_fill_checks(found, inputs),
            *_method_checks(found, inputs), *_search_checks(found, inputs),
            *_shape_checks(found), *_rule_checks(found, inputs))


def _run_checks(found, inputs) -> list[Check]:
    reading = found.reading
    if reading is None:
        return [Check("run", "Run on the tool's mesh", CAUTION,
                      "The sheet has not been formed on the tool's mesh yet; the least gauge is "
                      "that of a round form of the same size.", source="levels 1 to 3",
                      advice="Press “Form the sheet”; it takes some seconds.")]
    arrays = reading.arrays
    listed = [Check(f"run_{name}", f"The run's own check: {name}", PASS if passed else STOP,
                    *_in_mm(str(text), float(value), float(limit)), BY_RUN,
                    "" if passed else "Do not use this map. Try smaller triangles, or a lower "
                                      "pressure first.")
              for name, value, limit, passed, text in zip(
                  arrays["check_name"], arrays["check_value"], arrays["check_limit"],
                  arrays["check_passed"], arrays["check_text"], strict=True)]
    return [_verified_check(reading, inputs), *listed]


def _in_mm(text: str, value: float, limit: float) -> tuple[str, float, float, str]:
    """Text, value, limit and unit of a run's own check; its text ends in [m] for a length."""
    plain = text.removesuffix(" [m]")
    return plain, value, limit, "-" if plain == text else "mm"


def _verified_check(reading, inputs) -> Check:
    title = "Half the loading rate gives the same gauge"
    advice = "Do not use this map; form the sheet again with smaller triangles."
    if not reading.fine:
        return Check("verified", title, STOP, "This is the coarse sheet, not verified; the fine "
                     "run is still on its way or was cancelled.", source=BY_RUN,
                     advice="Wait for the fine run before the decision is saved.")
    if reading.verified is None:
        return Check("verified", title, STOP if inputs["verify"] else CAUTION,
                     "Not verified: the run at half the rate has not ended." if inputs["verify"]
                     else "Not verified: the run at half the rate was left out.", source=BY_RUN,
                     advice="Wait for it before the decision is saved.")
    return Check("verified", title, PASS if reading.verified else STOP,
                 "Root of the mean square difference of gauge over the sheet.",
                 float(reading.arrays["difference"]),
                 float(reading.arrays["most_difference"]), "%", BY_RUN,
                 "" if reading.verified else advice)


def _least_check(found, inputs) -> Check:
    wanted = inputs["minimum_wall"]
    if found.least is None:
        return Check("least", "Least gauge", STOP, "No level gave a least gauge: "
                     f"{found.levels.membrane_note}", source="levels 3 and 4",
                     advice="Change the form for levels 2 and 3 until it can be computed.")
    least = found.least
    verdict = PASS if least.low >= wanted else CAUTION if least.typical >= wanted else STOP
    where = ""
    if found.reading is not None:
        x, y, z = (with_unit(value, "mm") for value in found.reading.least_at)
        where = f" It is at x {x}, y {y}, z {z}."
    return Check("least", "Least gauge", verdict, "Band of the least gauge against the least wall "
                 f"asked for.{where}", least, wanted, "mm", "the brief",
                 "" if verdict == PASS else "Start thicker, round the corner there, use a plug or "
                                            "bubble, or ask whether the part needs this wall.")


def _starting_check(found, inputs) -> Check:
    if found.needed is None:
        return Check("starting", "Starting gauge", CAUTION, "It cannot be worked out yet.")
    gauge = inputs["gauge"]
    verdict = graded(gauge, found.needed.high, found.needed.typical)
    return Check("starting", "Starting gauge", verdict,
                 "The sheet's nominal gauge against the gauge that keeps the least wall.", gauge,
                 found.needed, "mm", "volume of the plastic",
                 "" if verdict == PASS else "Take the next gauge above the high end.")


def _levels_check(found, inputs) -> Check:
    best = found.ratio.typical if found.ratio else None
    by_elements = found.levels.elements_least
    if best is None:
        return Check("levels", "Levels compared", CAUTION, found.levels.membrane_note)
    apart = by_elements / best - 1.0
    verdict = PASS if abs(apart) <= OPTIMISTIC else CAUTION
    word = "optimistic" if apart > 0 else "pessimistic"
    return Check("levels", "Geometric elements against the best level", verdict,
                 f"The hand formula's least gauge is {abs(apart):.0%} {word}.", apart, OPTIMISTIC,
                 "%", "the levels on this page",
                 "" if verdict == PASS else "Use the membrane's value: the formula takes the free "
                                            "sheet as even and the form as a box.")


def _fill_checks(found, inputs) -> list[Check]:
    listed = []
    end = found.reading.arrays["end_pressure"] if found.reading else (
        found.levels.membrane.pressure if found.levels.membrane else None)
    if end is not None:
        reached = float(end) / inputs["pressure"]
        listed.append(Check("pressure", "Pressure reached", PASS if reached >= REACHED else STOP,
                            "Pressure at which the run ended against the one asked for.",
                            float(end), inputs["pressure"], "kPa", BY_RUN,
                            "" if reached >= REACHED else "The run stopped early: do not use it."))
    radius, smallest = found.formed_radius, found.smallest
    if not np.isfinite(smallest) or radius == 0.0:
        return listed
    verdict = PASS if radius <= smallest else CAUTION
    listed.append(Check("fill", "The smallest internal radius fills", verdict,
                        "Radius that the end pressure forms with this hot sheet against the "
                        "smallest internal radius on the tool.", radius, smallest, "mm",
                        "tension over pressure (Laplace's law, from memory)",
                        "" if verdict == PASS else _fill_advice(found, inputs)))
    return listed


def _fill_advice(found, inputs) -> str:
    if found.smallest <= 0.0:
        return ("No pressure fills a sharp edge: the part will have about "
                f"{with_unit(found.formed_radius, 'mm')} there. Accept it, or round the edge.")
    end = inputs["pressure"] * found.formed_radius / found.smallest
    other = "more forming pressure" if inputs["method"] == PRESSURE else "pressure forming"
    return (f"The part will have about {with_unit(found.formed_radius, 'mm')} there: accept it, "
            f"form hotter, or {other}: about {with_unit(end, 'kPa')} across the sheet fills it.")


def _method_checks(found, inputs) -> list[Check]:
    male = found.levels.form.male
    if inputs["method"] == BUBBLE and not male:
        return [Check("bubble", "Bubble over a cavity", CAUTION, "A sheet without memory forgets "
                      "a bubble that meets nothing before the vacuum turns it round.",
                      source="elastic membrane, measured on both levels",
                      advice="Use a plug that goes into the bubble, or a male form.")]
    if inputs["method"] == PLUG and male:
        return [Check("plug", "Plug over a male form", CAUTION,
                      "A plug from above meets no cavity here; level 3 leaves it out.",
                      source="the forming method", advice="Choose drape or a bubble.")]
    return []


def _search_checks(found, inputs) -> list[Check]:
    arrays = found.reading.arrays if found.reading else {}
    if "best_setting" not in arrays or inputs["method"] not in (PLUG, BUBBLE):
        return []
    key, shown = ("plug_share", "%") if inputs["method"] == PLUG else ("bubble", "mm")
    best = float(arrays["best_setting"])
    near = abs(inputs[key] / best - 1.0) <= 0.05
    return [Check("search", "Height with the most even wall", PASS if near else CAUTION,
                  f"The search found a least gauge of {float(arrays['best_ratio']):.3f} t0 there "
                  "(round form, level 3).", inputs[key], best, shown, "search on level 3",
                  "" if near else "Set this height and form the sheet again.")]


def _shape_checks(found) -> list[Check]:
    reading = found.reading
    if reading is None:
        return []
    area = reading.surface.area
    return [
        _region_check("folds", "Folds", reading.folds, area, "pressed together across",
                      "Webs form there: more room between forms, rounder corners, less sag.", "%"),
        _region_check("bridges", "Bridges", reading.bridges, area, "clear of the tool by",
                      "The sheet spans there: more pressure, a wider gap, a larger radius, or a "
                      "vent where a pocket holds air.", "mm"),
        _pocket_check(reading)]


def _pocket_check(reading) -> Check:
    count = len(reading.pockets)
    alone = count <= 1
    return Check("pockets", "Spaces of air", PASS if alone else CAUTION,
                 "The air leaves as one space." if alone else
                 f"The sheet cuts the air into {count} spaces on its way.", count, 1, "-", BY_RUN,
                 "" if alone else "Each needs its own vent where it ends; the vent page takes "
                                  "them from here.")


def _region_check(key, title, regions, area, words, advice, shown) -> Check:
    if not regions:
        return Check(key, title, PASS, f"None larger than {LEAST_SHARE:.1%} of the sheet.",
                     source=BY_RUN)
    x, y, z = (with_unit(value, "mm") for value in regions[0].centre)
    share = sum(region.area for region in regions) / area
    return Check(key, title, CAUTION, f"{len(regions)} places, {share:.1%} of the sheet; the "
                 f"largest at x {x}, y {y}, z {z}, {words} at most as shown.",
                 max(region.size for region in regions), None, shown, BY_RUN, advice)


def _rule_checks(found, inputs) -> list[Check]:
    """The shop's rule of thumb for the mean, interpolated between its two depths."""
    shallow = rule("thinning", "mean reduction at depth to width 0.5")
    deep = rule("thinning", "mean reduction at depth to width 1.5")
    ratio = depth_to_width(inputs["width"], inputs["depth"])
    if not 0.5 <= ratio <= 1.5:
        return []
    band = Band(*(float(np.interp(ratio, [0.5, 1.5], [getattr(shallow.band, name),
                                                     getattr(deep.band, name)]))
                  for name in ("low", "typical", "high")))
    reduction = 1.0 - found.mean / inputs["gauge"]
    inside = band.low <= reduction <= band.high
    return [Check("rule", "Mean thinning against the shop's rule", PASS if inside else CAUTION,
                  "Mean reduction of gauge in the frame against a rule of thumb for this depth to "
                  "width.", reduction, band, "%", f"{shallow.source.citation} ({shallow.basis})",
                  "" if inside else "The rule knows nothing of flange and spacing; believe the "
                                    "area, but ask why they differ.")]
