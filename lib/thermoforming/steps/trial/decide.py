"""First articles: how they compare, what they teach, and what to change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.physics import learning, measuring, toollife
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
)
from thermoforming.steps.experience import RUNNING
from thermoforming.steps.trial import defects, measured, responses
from thermoforming.steps.trial.dimensions import SHRINKAGES, Model, model
from thermoforming.steps.trial.fields import FIELDS
from thermoforming.steps.trial.working import worked
from thermoforming.steps.upstream import Upstream
from thermoforming.units import with_unit

CONFIDENCE = 0.90  # of the limits on the share of good parts
LABELS = {"shrinkage along": "Shrinkage along", "shrinkage across": "Shrinkage across",
          "shrinkage held": "Shrinkage, raised forms"}
FINE = 5  # digits of a dimension
ENOUGH = 0.95  # share of parts in tolerance that passes; judgement
POOR = 0.60
FLOOR = 1e-3  # a share of good parts so small that no batch would be made of it
PARTS = (1, 2, 3, 5, 8, 12, 20, 30, 50)  # another trial that the figure looks at


@dataclass(frozen=True)
class Learned:
    """Everything a trial says, before it is put into words."""

    shots: measured.Shots
    gauges: measured.Compared | None
    times: tuple[measured.Timed, ...]
    model: Model | None
    responses: tuple[responses.Response, ...]
    causes: tuple[tuple[Mapping, tuple[defects.Cause, ...]], ...]
    now: float | None  # share of parts in tolerance, tool as it is
    corrected: float | None  # from a corrected tool
    later: float | None  # from a tool corrected after another trial
    worth: float | None
    worths: tuple[tuple[int, float], ...]  # parts of another trial, and what it is worth

    @property
    def data(self) -> int:
        """Dimensions measured."""
        return sum(d.values.size for d in self.model.dimensions) if self.model else 0


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """Compare, learn, and say what to change.

    Raises
    ------
    NotDecided
        If brief or material have not been saved.
    """
    for step in STEP.needs:
        upstream.decision(step)
    it = learned(inputs, upstream)
    return Outcome(
        results=_results(inputs, it),
        checks=_checks(inputs, upstream, it),
        worked=worked(inputs, it.model, it.now, it.corrected, it.later, it.worth),
        tables=_tables(inputs, it),
        arrays={"learned": it, "map": measured.thinning_map(upstream)},
    )


def learned(inputs: Mapping[str, Any], upstream: Upstream) -> Learned:
    """All that a trial says."""
    shots, gauges = measured.shots(inputs), measured.gauges(inputs, upstream)
    warm = float(shots.tool.mean()) if shots.tool.size else inputs["tool_at"]
    found_model = model(inputs, upstream, warm)
    facts = defects.Facts(inputs, upstream, shots, gauges, found_model)
    causes = tuple((row, defects.causes(row["defect"], facts)) for row in inputs["defects"])
    chances = _chances(inputs, found_model)
    return Learned(shots, gauges, measured.times(inputs, upstream), found_model,
                   responses.learned(inputs, upstream), causes, *chances)


def _chances(inputs, found_model) -> tuple:
    if found_model is None:
        return None, None, None, None, ()
    now, corrected = found_model.all_within(False), found_model.all_within(True)
    wanted = int(inputs["more_parts"])
    found_worths = {parts: _worth(inputs, found_model, corrected, parts)
                    for parts in sorted({*PARTS, wanted})}
    later, worth = found_worths[wanted]
    return now, corrected, later, worth, tuple((n, w) for n, (_, w) in found_worths.items())


def _worth(inputs, found_model, corrected: float, parts: int) -> tuple[float, float]:
    """Share in tolerance after so many more parts, and the money that knowing is worth."""
    later = max(found_model.all_within(True, found_model.after_more(parts)), corrected)
    return later, learning.worth_of_trial(
        max(corrected, FLOOR), max(later, FLOOR), inputs["remaining"], inputs["part_cost"],
        inputs["trial_cost"] + parts * inputs["part_cost"])


# ---------------------------------------------------------------------------- results

def _results(inputs, it: Learned) -> tuple[Result, ...]:
    return (
        Result("good", "Shots with a good part", _good(it), "%",
               help="Limits hold at 90 % confidence (Clopper and Pearson)"),
        Result("in_tolerance", "In tolerance, tool as it is", it.now, "%",
               help="Share of parts with every dimension in tolerance, as believed now"),
        Result("in_tolerance_corrected", "After correction", it.corrected, "%"),
        Result("worth", "Another trial is worth", it.worth, "money",
               help="Rejects it is expected to save, less what it costs"),
        *_shrinkages(it),
        *_agreements(it),
        *_responses(it),
        Result("scatter", "Parts scatter by ±", it.model.scatter if it.model else None, "mm", "s"),
        Result("in_tolerance_later", "Corrected after another trial", it.later, "%"),
        Result("outliers", "Outliers named", ", ".join(_outliers(it)) or "none"),
        Result("tool_shots", "Shots on all tools", int(sum(r["shots"] for r in
                                                           inputs["tools_run"])), "shots"),
        Result("reason", "Proposed reason", _reason(inputs, it)),
    )


def _good(it) -> Band | None:
    if not it.shots.judged:
        return None
    low, high = toollife.failure_limits(it.shots.judged, it.shots.rejected, CONFIDENCE)
    return Band(1 - high, it.shots.good / it.shots.judged, 1 - low)


def _shrinkages(it) -> tuple[Result, ...]:
    if it.model is None:
        return ()
    return tuple(Result(name.replace(" ", "_"), f"{LABELS[name]}, learned",
                        it.model.band(i), "%", "S") for i, name in enumerate(SHRINKAGES))


def _responses(it) -> tuple[Result, ...]:
    known = {r.key: r for r in it.responses}
    return tuple(Result(f"{key}_learned", f"{label}, learned",
                        known[key].after if key in known else None, shown,
                        help="Found by the run beside the figures")
                 for key, label, shown in (("heater", "Heat given against set", "%"),
                                           ("contact", "Contact conductance", "W/(m²·K)"),
                                           ("friction", "Friction on the tool", "-")))


def _agreements(it) -> tuple[Result, ...]:
    found_gauge = it.gauges.agreement if it.gauges else None
    bias = Band(found_gauge.low, found_gauge.bias, found_gauge.high) if found_gauge else None
    return (Result("gauge_bias", "Gauge, measured less predicted", bias, "mm",
                   help="Mean difference with its 95 % limits"),
            Result("gauge_scatter", "Gauge scatters around the map by",
                   found_gauge.scatter if found_gauge else None, "mm"))


def _outliers(it) -> list[str]:
    named = list(it.gauges.outliers) if it.gauges else []
    if it.model:
        named += [f"{name}, shot {shot}" for name, shot, _ in it.model.outliers]
    return named


def _reason(inputs, it: Learned) -> str:
    parts = []
    if it.shots.judged:
        parts.append(f"{it.shots.good} of {it.shots.judged} shots gave a good part.")
    if it.model and it.data:
        parts.append(f"{it.data} dimensions measured. As the tool is, {_percent(it.now)} of parts "
                     f"are expected in tolerance; corrected, {_percent(it.corrected)}.")
        parts.append(_advice(inputs, it))
    for row, causes in it.causes[:2]:
        parts.append(f"{causes[0].label.capitalize()}: likeliest {causes[0].cause}; try: "
                     f"{causes[0].remedy}.")
    return " ".join(parts) or "Nothing was measured yet."


def _advice(inputs, it) -> str:
    if it.now >= it.corrected - 0.02:
        return ("Keep the tool as it is." if it.now >= ENOUGH else
                "Keep the tool: what is left is scatter from part to part, which a steadier run "
                "lessens and a correction does not.")
    if it.worth is not None and it.worth > 0:
        return (f"Measure {inputs['more_parts']:.0f} more parts before the tool is corrected: that "
                f"is worth about {it.worth:.0f} in rejects not made.")
    return "Correct the tool now; another trial would cost more than it saves."


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


# ---------------------------------------------------------------------------- checks

def _checks(inputs, upstream, it: Learned) -> tuple[Check, ...]:
    checks = [_check_tolerance(inputs, it), _check_gauge(it), *_check_times(it),
              _check_shrinkage(it), _check_outliers(inputs, it), _check_far(inputs, upstream),
              _check_tools(inputs),
              _check_defects(it)]
    return tuple(check for check in checks if check is not None)


def _check_tolerance(inputs, it) -> Check:
    title = "Parts in tolerance"
    if it.model is None:
        return Check("tolerance", title, CAUTION, "The brief names no dimension that a tool could "
                     "be corrected for.", advice="Add the critical dimensions to the brief.")
    if not it.data:
        return Check("tolerance", title, CAUTION, "No dimension was measured; the share is what "
                     "the shrinkage page expects.", it.now, ENOUGH, "%", "prior bands")
    verdict = PASS if it.now >= ENOUGH else CAUTION if it.now >= POOR else STOP
    return Check("tolerance", title, verdict,
                 f"{_percent(it.now)} of parts with the tool as it is, {_percent(it.corrected)} "
                 "once corrected.", it.now, ENOUGH, "%", "belief after the trial",
                 "" if verdict == PASS else _advice(inputs, it))


def _check_gauge(it) -> Check | None:
    found_gauge = it.gauges.agreement if it.gauges else None
    if found_gauge is None:
        return None
    mean = float(it.gauges.predicted.mean())
    share = found_gauge.bias / mean
    verdict = PASS if not found_gauge.biased or abs(share) < 0.05 else CAUTION
    more = "more" if share > 0 else "less"
    return Check("gauge", "Gauge against the map", verdict,
                 f"{found_gauge.count} points measure {abs(100 * share):.1f} % {more} than "
                 f"predicted on average and scatter by {with_unit(found_gauge.scatter, 'mm')}.",
                 Band(found_gauge.low, found_gauge.bias, found_gauge.high), 0.05 * mean, "mm",
                 "mean difference with its 95 % limits (Student)",
                 "" if verdict == PASS else "A bias over the whole part points to the sheet's "
                 "gauge; one that changes sign from rim to floor points to friction or heating.")


def _check_times(it) -> list[Check]:
    checks = []
    for timed in it.times:
        if timed.inside is None:
            continue
        verdict = PASS if timed.inside else CAUTION
        checks.append(Check(f"time_{timed.name.lower().replace(' ', '_')}", timed.name, verdict,
                            "Mean of the good shots against the page that predicts it.",
                            float(timed.values.mean()), timed.predicted, "s", "the page's band",
                            "" if timed.inside else "Find out which assumption was wrong before "
                            "the next project uses it."))
    return checks


def _check_shrinkage(it) -> Check | None:
    if it.model is None or not it.data:
        return None
    shifts = [learning.moved(it.model.prior.mean[i], max(it.model.prior.deviation[i], 1e-9),
                             it.model.posterior.mean[i], it.model.posterior.deviation[i])[0]
              for i in range(len(SHRINKAGES))]
    most = int(np.argmax(np.abs(shifts)))
    verdict = PASS if abs(shifts[most]) < 2 else CAUTION
    return Check("shrinkage", "Shrinkage as assumed", verdict,
                 f"{LABELS[SHRINKAGES[most]]} moved by {shifts[most]:+.1f} of its uncertainty.",
                 float(abs(shifts[most])), 2.0, "-", "belief before and after",
                 "" if verdict == PASS else "The assumed band did not hold: check tool "
                 "temperature, time after forming, and the tool itself.")


def _check_outliers(inputs, it) -> Check | None:
    named = _outliers(it)
    if not named:
        return None
    kept = "left out of learning" if inputs["leave_out"] else "kept in"
    return Check("outliers", "Outliers", CAUTION, f"{', '.join(named)}: far from the others; "
                 f"{kept}.", len(named), 0, "-", "modified z above 3.5; Iglewicz and Hoaglin 1993 "
                 "(from memory)", "Measure again; a slip of the pen is the usual cause.")


def _check_far(inputs, upstream) -> Check | None:
    points = measured.far_points(inputs, upstream)
    if not points:
        return None
    return Check("far", "Points on the part", CAUTION, f"{', '.join(points)} lie nowhere near the "
                 "predicted part and are not compared.", len(points), 0,
                 advice="Check coordinates and their unit; pick the points on the map.")


def _check_tools(inputs) -> Check | None:
    ended = [run for run in inputs["tools_run"] if run["ended"] != RUNNING]
    if not ended:
        return None
    text = "; ".join(f"{run['tool']} after {run['shots']:.0f} shots: {run['ended']}"
                     for run in ended)
    return Check("tools", "Tools that ended", CAUTION, text, len(ended), 0,
                 advice="Put the run into the route page's experience; look at wall and cooling.")


def _check_defects(it) -> Check | None:
    if not it.causes:
        return None
    text = "; ".join(f"{causes[0].label} ({causes[0].cause})" for _, causes in it.causes)
    return Check("defects", "Defects seen", CAUTION, text, len(it.causes), 0,
                 source="common practice, ordered by this project's numbers",
                 advice="One change at a time, the likeliest cause first.")


# ---------------------------------------------------------------------------- tables

def _tables(inputs, it: Learned) -> tuple[Grid, ...]:
    tables = [_learned_table(it), _response_table(it), _correction_table(it), _time_table(it),
              _gauge_table(it), _cause_table(it)]
    return tuple(table for table in tables if table is not None and table.rows)


def _learned_table(it) -> Grid | None:
    if it.model is None:
        return None
    rows = []
    for i, name in enumerate(SHRINKAGES):
        shift, left = learning.moved(it.model.prior.mean[i], max(it.model.prior.deviation[i], 1e-9),
                                     it.model.posterior.mean[i], it.model.posterior.deviation[i])
        rows.append({"name": LABELS[name], "before": it.model.band(i, False),
                     "after": it.model.band(i), "moved": float(shift), "left": float(left)})
    return Grid("learned", "What the data taught", (
        Column("name", "Quantity"), Column("before", "Before", "%"), Column("after", "Now", "%"),
        Column("moved", "Moved by, in its uncertainty"),
        Column("left", "Uncertainty left", "%")), tuple(rows))


def _response_table(it) -> Grid:
    rows = []
    for r in it.responses:
        before, after = learning.band_moments(r.before), r.after
        shift, left = learning.moved(*before, after.typical, (after.high - after.low) / 3.29)
        rows.append({"name": r.label, "before": _words(r.before, r.shown),
                     "after": _words(after, r.shown), "moved": float(shift), "left": float(left),
                     "count": r.count})
    return Grid("responses", "What the earlier models, run again, say", (
        Column("name", "Quantity"), Column("before", "Before"), Column("after", "Now"),
        Column("moved", "Moved by, in its uncertainty"), Column("left", "Uncertainty left", "%"),
        Column("count", "Measured")), tuple(rows))


def _words(band: Band, shown: str) -> str:
    low, high = (with_unit(value, shown).removesuffix(f" {shown}") for value in (band.low,
                                                                                 band.high))
    return f"{with_unit(band.typical, shown)} ({low} to {high})"


def _correction_table(it) -> Grid | None:
    if it.model is None:
        return None
    rows = []
    for d in it.model.dimensions:
        mean, deviation = it.model.of(d)
        expected = Band.around(d.part(mean), 1.645 * float(np.hypot(d.hot * deviation,
                                                                    it.model.scatter)))
        tool = it.model.corrected_tool(d)
        rows.append({
            "name": d.name, "low": d.low, "high": d.high, "count": int(d.values.size),
            "measured": float(d.values.mean()) if d.values.size else None, "expected": expected,
            "index": _index(d), "now": it.model.chance(d), "tool": d.tool, "corrected": tool,
            "change": tool - d.tool, "then": it.model.corrected_chance(d)})
    return Grid("corrections", "Dimensions, and the tool that would put them right", (
        Column("name", "Name"), Column("low", "From", "mm", FINE), Column("high", "to", "mm", FINE),
        Column("count", "Parts"), Column("measured", "Mean", "mm", FINE),
        Column("expected", "Nine of ten parts", "mm", FINE), Column("index", "Ppk, at least"),
        Column("now", "In tolerance", "%"), Column("tool", "Tool, cold", "mm", FINE),
        Column("corrected", "Tool corrected", "mm", FINE), Column("change", "Change", "mm", 2),
        Column("then", "In tolerance then", "%")), tuple(rows))


def _index(d) -> float | None:
    """Lower 95 % bound of the performance index; None for too few or equal parts."""
    if d.values.size < 5 or np.ptp(d.values) == 0:
        return None
    found_index = measuring.performance_index(float(d.values.mean()), float(d.values.std(ddof=1)),
                                              d.low, d.high)
    return measuring.performance_bound(found_index, d.values.size)


def _time_table(it) -> Grid:
    rows = tuple({"name": t.name, "predicted": t.predicted, "measured": float(t.values.mean()),
                  "count": int(t.values.size),
                  "scatter": float(t.values.std(ddof=1)) if t.values.size > 1 else None}
                 for t in it.times)
    return Grid("times", "Times", (Column("name", "Time"), Column("predicted", "Predicted", "s"),
                                   Column("measured", "Mean measured", "s"),
                                   Column("scatter", "Scatter", "s"),
                                   Column("count", "Shots")), rows)


def _gauge_table(it) -> Grid | None:
    if it.gauges is None:
        return None
    rows = tuple({"name": name, "x": place[0], "y": place[1], "z": place[2],
                  "measured": float(y), "predicted": float(p), "difference": float(y - p),
                  "outlier": "outlier" if abs(z) > measuring.OUTLYING else ""}
                 for name, place, y, p, z in zip(
                     it.gauges.names, it.gauges.places.tolist(), it.gauges.measured,
                     it.gauges.predicted, it.gauges.z, strict=True))
    return Grid("gauge", "Gauge, point by point", (
        Column("name", "Point"), Column("x", "x", "mm"), Column("y", "y", "mm"),
        Column("z", "z", "mm"), Column("measured", "Measured", "mm"),
        Column("predicted", "Predicted", "mm"), Column("difference", "Difference", "mm"),
        Column("outlier", "")), rows)


def _cause_table(it) -> Grid:
    rows = tuple({"defect": cause.label if i == 0 else "", "where": row["where"] if i == 0 else "",
                  "cause": cause.cause, "share": cause.share, "clue": cause.clue.words,
                  "speaks": {1: "for", -1: "against", 0: "–"}[cause.clue.speaks],
                  "remedy": cause.remedy}
                 for row, causes in it.causes for i, cause in enumerate(causes))
    return Grid("causes", "Defects: usual causes, the likeliest here first", (
        Column("defect", "Defect"), Column("where", "Where"), Column("cause", "Cause"),
        Column("share", "Likelihood", "%"), Column("clue", "This project's numbers"),
        Column("speaks", "Speak"), Column("remedy", "Try")), rows)


STEP = Step(
    key="trial", number=10, title="Trial and correction",
    question="What did the first shots give, what do they teach, and what should be changed?",
    fields=FIELDS, compute=compute, needs=("brief", "material"), simulate=responses.simulate,
    simulated_by=("shots", "gauges", "sheet_gauge", "set_emissivity", "emissivity", "reflected"),
    uses=("shrinkage", "thinning", "heating", "vents", "wall", "tool", "route"),
    cautions=("hot surfaces", "fume"),
)
