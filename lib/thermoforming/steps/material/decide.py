"""The choice itself: what is refused, how the rest compare, what the chosen ones bring along."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from thermoforming.bands import Band
from thermoforming.guard import Refused, within
from thermoforming.reference import Material, cautions_for, properties, sheets, tool_materials
from thermoforming.steps import compare
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
)
from thermoforming.steps.material import findings as finding
from thermoforming.steps.material import sheet, tool
from thermoforming.steps.material.fields import FIELDS, OWN
from thermoforming.steps.material.own import own_materials
from thermoforming.steps.material.reason import reason
from thermoforming.steps.upstream import Upstream
from thermoforming.units import digits, to_shown, with_unit


@dataclass(frozen=True)
class Side:
    """One of the two choices (sheet, tool material) worked through."""

    kind: str
    materials: Mapping[str, Material]
    chosen: str
    findings: Mapping[str, list[finding.Finding]]
    criteria: tuple[compare.Criterion, ...]
    weights: Mapping[str, float]
    typical: Mapping[str, Mapping[str, float]]
    comparison: compare.Comparison | None

    @property
    def short(self) -> dict[str, str]:
        return {key: material.text("short") for key, material in self.materials.items()}

    @property
    def states(self) -> dict[str, str]:
        return {key: finding.worst(found) for key, found in self.findings.items()}

    @property
    def why(self) -> dict[str, str]:
        return {key: finding.reasons(found, finding.worst(found))
                for key, found in self.findings.items()}

    @property
    def reason(self) -> str:
        labels = {c.key: c.label for c in self.criteria}
        return reason(self.chosen, self.short, self.comparison, self.states, self.why,
                      self.weights, labels)


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """Both choices, the checks on them, and the properties that later pages stand on."""
    own = own_materials(inputs["own"])
    all_sheets, all_tools = sheets() | own["sheet"], tool_materials() | own["tool"]
    chosen = _chosen(inputs, "sheet", "own_sheet", all_sheets)
    chosen_tool_key = _chosen(inputs, "tool_material", "own_tool", all_tools)
    of_sheet = _sheet_side(inputs, all_sheets, chosen)
    inputs = inputs | {"sheet_temperature": _sheet_temperature(inputs, all_sheets[chosen])}
    runs = {key: tool.running(material, all_sheets[chosen], inputs)
            for key, material in all_tools.items()}
    of_tool = _tool_side(inputs, all_tools, chosen_tool_key, all_sheets[chosen], runs)
    run = runs[chosen_tool_key]
    return Outcome(
        results=_results(of_sheet, of_tool, run, inputs["sheet_temperature"]),
        checks=(*_standing_checks(of_sheet), *_standing_checks(of_tool),
                _window_check(all_sheets[chosen], inputs["sheet_temperature"]),
                *_pair_checks(of_sheet, of_tool, run)),
        worked=_worked(of_sheet, of_tool, run, inputs),
        tables=(_candidates(of_sheet, _SHEET_COLUMNS), _alike(of_sheet),
                _candidates(of_tool, _TOOL_COLUMNS, runs), _alike(of_tool),
                _brought("sheet_properties", "The chosen sheet", all_sheets[chosen]),
                _brought("tool_properties", "The chosen tool material",
                         all_tools[chosen_tool_key])),
        arrays={"sheet": of_sheet, "tool": of_tool, "runs": runs},
    )


def chosen_sheet(upstream: Upstream) -> Material:
    """The sheet of the saved choice, also where it is the project's own.

    Raises
    ------
    NotDecided
        If the choice has not been saved.
    """
    return _saved(upstream, "sheet", "own_sheet", "sheet", sheets())


def chosen_tool(upstream: Upstream) -> Material:
    """The tool material of the saved choice, also where it is the project's own.

    Raises
    ------
    NotDecided
        If the choice has not been saved.
    """
    return _saved(upstream, "tool_material", "own_tool", "tool", tool_materials())


def _saved(upstream: Upstream, key: str, own_key: str, kind: str, shared) -> Material:
    inputs = upstream.decision("material").inputs
    materials = shared | own_materials(inputs["own"])[kind]
    return materials[_chosen(inputs, key, own_key, materials)]


def _chosen(inputs: Mapping[str, Any], key: str, own_key: str, materials) -> str:
    if inputs[key] != OWN:
        return inputs[key]
    name = inputs[own_key].strip()
    if name not in materials:
        raise Refused(own_key, f"There is no own material named {name!r}; type its values into "
                               f"the table of own materials, or choose another.")
    return name


def _sheet_temperature(inputs: Mapping[str, Any], material: Material) -> float:
    """What the engineer typed, else the sheet's normal forming temperature; set below it."""
    typed = inputs["sheet_temperature"]
    coolest = max(material.band(key).typical for key in ("set_temperature", "tool_temperature"))
    hot = material.band("forming_normal").typical if typed is None else typed
    return within("Sheet when formed", hot, coolest, unit="K", above=True)


def _sheet_side(inputs, materials, chosen) -> Side:
    found = {key: sheet.findings(material, inputs) for key, material in materials.items()}
    worth = {key: sheet.values(material) for key, material in materials.items()}
    return _side("sheet", materials, chosen, found, sheet.CRITERIA, inputs, worth)


def _tool_side(inputs, materials, chosen, of_sheet, runs) -> Side:
    size = max(inputs["tool_length"], inputs["tool_width"], inputs["tool_height"])
    found = {key: tool.findings(material, of_sheet, runs[key], inputs)
             for key, material in materials.items()}
    worth = {key: tool.values(material, runs[key], size) for key, material in materials.items()}
    return _side("tool", materials, chosen, found, tool.CRITERIA, inputs, worth)


def _side(kind, materials, chosen, found, criteria, inputs, worth) -> Side:
    weights = {c.key: float(inputs[f"{kind}_{c.key}"]) for c in criteria}
    samples = {key: drawn for key, (drawn, _) in worth.items()}
    typical = {key: centre for key, (_, centre) in worth.items()}
    scales = {c.key: compare.scale_of(c, [values[c.key] for values in typical.values()])
              for c in criteria}
    left = [key for key in materials if finding.worst(found[key]) != finding.REFUSED]
    comparison = compare.compared(left, criteria, weights, samples, typical, scales) if left \
        else None
    return Side(kind, materials, chosen, found, criteria, weights, typical, comparison)


_WORD = {"sheet": "sheet", "tool": "tool material"}


def _standing_checks(side: Side) -> list[Check]:
    name, state = side.short[side.chosen], side.states[side.chosen]
    source = "requirements above; bands of the material tables"
    verdict = {finding.MEETS: PASS, finding.DOUBTFUL: CAUTION, finding.REFUSED: STOP}[state]
    said = side.why[side.chosen] if state != finding.MEETS else \
        "Meets every hard requirement with its whole band."
    checks = [Check(f"{side.kind}_requirements", f"{name}: hard requirements", verdict, said,
                    source=source, advice="" if verdict == PASS else
                    "Change what is asked, or choose another " + _WORD[side.kind] + ".")]
    if side.comparison is None:
        checks.append(Check(f"{side.kind}_any", f"Any {_WORD[side.kind]} left", STOP,
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


def _window_check(material: Material, hot: float) -> Check:
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


def _pair_checks(of_sheet: Side, of_tool: Side, run: tool.Running) -> list[Check]:
    material, made = of_sheet.materials[of_sheet.chosen], of_tool.materials[of_tool.chosen]
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


def _results(of_sheet: Side, of_tool: Side, run: tool.Running, hot: float) -> tuple[Result, ...]:
    material, made = of_sheet.materials[of_sheet.chosen], of_tool.materials[of_tool.chosen]
    bands = ("forming_low", "forming_normal", "forming_high", "set_temperature",
             "tool_temperature")
    return (
        Result("sheet_name", "Sheet", material.text("short"), help=material.name),
        Result("tool_name", "Tool material", made.text("short"), help=made.name),
        Result("sheet_first", "Sheet comes first in", _share(of_sheet), "%",
               help="Share of the samples of the bands"),
        Result("tool_first", "Tool material comes first in", _share(of_tool), "%",
               help="Share of the samples of the bands"),
        Result("sheet_temperature", "Sheet when formed", hot, "°C", "T_s",
               help="Temperature of the sheet when it touches the tool"),
        Result("running_temperature", "Tool runs at", run.band, "°C", "T",
               help="Mean of the wall after the shots in a row"),
        Result("process", "Build process", made.text("process")),
        *(Result(key, properties()[key].label.capitalize(), material.band(key), "°C",
                 help=properties()[key].meaning) for key in bands),
        Result("contact_temperature", "Faces meet at", run.contact, "°C",
               help="Just after the hot sheet touches the tool"),
        Result("usable_limit", "Tool usable to", made.band("usable_limit"), "°C"),
        Result("drying", "Drying", material.text("drying")),
        Result("reason", "Proposed reason", f"{of_sheet.reason} {of_tool.reason}"),
        Result("cautions", "Cautions of these materials", _cautions(material, made)),
    )


def _cautions(*materials: Material) -> str:
    found = [c.text for m in materials for c in cautions_for(m.base or m.key)]
    return " ".join(dict.fromkeys(found))


def _share(side: Side) -> float:
    c = side.comparison
    return float(c.first[c.keys.index(side.chosen)]) if c and side.chosen in c.keys else 0.0


_SHEET_COLUMNS = (
    Column("window_low", "From", "°C"), Column("window_high", "To", "°C"),
    Column("set", "Set", "°C"), Column("draw", "Area draw"),
    Column("shrinkage", "Shrinkage", "%"), Column("price", "Price", "money/kg"))
_TOOL_COLUMNS = (
    Column("running", "Runs at", "°C"), Column("limit", "Usable to", "°C"),
    Column("shots", "Shots", "shots"), Column("lead", "Ready in", "d"),
    Column("cost", "Relative cost"), Column("roughness", "Roughness", "µm"))


def _candidates(side: Side, columns: tuple[Column, ...], runs=None) -> Grid:
    c = side.comparison
    place = {key: i for i, key in enumerate(c.keys)} if c else {}
    order = [c.keys[i] for i in c.order()] if c else []
    rows = []
    for key in [*order, *(k for k in side.materials if k not in place)]:
        material = side.materials[key]
        row = {"name": side.short[key] + (" (own)" if material.user else ""),
               "state": side.states[key],
               "first": float(c.first[place[key]]) if key in place else None,
               "score": c.bands[place[key]] if key in place else None,
               "why": side.why[key]}
        rows.append(row | (_sheet_cells(material) if side.kind == "sheet" else
                           _tool_cells(material, runs[key])))
    head = (Column("name", "Candidate"), Column("state", "Requirements"),
            Column("first", "First in", "%"), Column("score", "Score"))
    return Grid(f"{side.kind}_candidates", f"Every {_WORD[side.kind]}",
                (*head, *columns, Column("why", "Why, and what would help")), tuple(rows))


def _alike(side: Side) -> Grid:
    """Pairs of candidates that cannot be told apart, the leading ones first."""
    c, short = side.comparison, side.short
    place = {i: rank for rank, i in enumerate(c.order())} if c else {}
    pairs = sorted(sorted(pair, key=place.get) for pair in c.alike()) if c else []
    rows = [{"one": short[c.keys[i]], "other": short[c.keys[j]], "better": float(c.beats[i, j])}
            for i, j in sorted(pairs, key=lambda pair: (place[pair[0]], place[pair[1]]))]
    return Grid(f"{side.kind}_alike", f"Pairs of {_WORD[side.kind]}s that cannot be told apart",
                (Column("one", "This one"), Column("other", "and this one"),
                 Column("better", "The first is better in", "%")),
                tuple(rows))


def _sheet_cells(material: Material) -> dict[str, float]:
    keys = dict(window_low="forming_low", window_high="forming_high", set="set_temperature",
                draw="areal_draw_limit", shrinkage="shrinkage_free_along", price="price")
    return {cell: material.band(key).typical for cell, key in keys.items()}


def _tool_cells(material: Material, run: tool.Running) -> dict[str, float]:
    keys = dict(limit="usable_limit", shots="shots", lead="lead_time", cost="relative_cost",
                roughness="roughness")
    return {"running": run.typical} | {cell: material.band(key).typical
                                       for cell, key in keys.items()}


def _brought(key: str, title: str, material: Material) -> Grid:
    """Every value of a chosen material, so that the record holds it whatever the tables become."""
    known, rows = properties(), []
    for name, values in material.values.items():
        for value in values:
            band = value.band
            number = (lambda x, p=known[name]: None if band is None else
                      digits(x if p.kind == "flag" else float(to_shown(x, p.shown)), 4))
            rows.append({
                "property": known[name].label,
                "at": "" if value.temperature is None else
                      with_unit(value.temperature, "°C", 3),
                "low": number(band and band.low), "typical": number(band and band.typical),
                "high": number(band and band.high), "text": value.text,
                "unit": "" if known[name].kind != "value" else known[name].shown,
                "source": value.source.citation if value.source.id != "user" else
                          f"user's own: {value.source.citation}",
                "basis": value.basis, "note": value.note,
                "key": name, "kelvin": value.temperature, "value": band,
                "si": known[name].unit})
    labels = dict(property="Property", at="At", low="Low", typical="Typical", high="High",
                  text="In words", unit="Unit", basis="Basis", source="Source", note="Note")
    return Grid(key, f"{title}: {material.name}",
                tuple(Column(k, label) for k, label in labels.items()), tuple(rows))


def _worked(of_sheet: Side, of_tool: Side, run: tool.Running, inputs) -> tuple[Worked, ...]:
    material, made = of_sheet.materials[of_sheet.chosen], of_tool.materials[of_tool.chosen]
    heat = _heat_line(material, inputs)
    stress = tool.wall_stress(inputs, made.band("poisson").typical)
    moment = stress / (6.0 * inputs["pressure"] * (inputs["span"] / inputs["wall"]) ** 2)
    lines = [
        *heat,
        Worked("Running temperature of the tool",
               r"T = T_a + (T_\infty - T_a)\,\left(1 - e^{-n t_c/\tau}\right)",
               rf"{_c(inputs['ambient'])} + ({_c(run.steady)} - {_c(inputs['ambient'])})\,"
               rf"(1 - e^{{-{inputs['run_shots']:g}\cdot {inputs['cycle']:g}/"
               rf"{run.time_constant:.0f}}})",
               with_unit(run.typical, "°C"), "heat balance of one lump of wall"),
        Worked("Stress of a wall panel between ribs, edges clamped",
               r"\sigma = 6 k\,p\,(a/L)^2",
               rf"6 \cdot {moment:.4f} \cdot {inputs['pressure'] / 1e6:.3g}\,"
               rf"({inputs['span'] * 1e3:.3g}/{inputs['wall'] * 1e3:.3g})^2",
               with_unit(stress, "MPa"), "k: greatest moment of a square plate by p a²; see the wall page"),
    ]
    for side in (of_sheet, of_tool):
        lines += _score_line(side)
    return tuple(lines)


def _heat_line(material: Material, inputs) -> list[Worked]:
    enthalpy = material.curve("enthalpy")
    hot, cold = (enthalpy.at(kelvin, "hold").typical for kelvin in (
        inputs["sheet_temperature"], material.band("set_temperature").typical))
    heat = material.band("density").typical * inputs["gauge"] * (hot - cold)
    return [Worked("Heat a shot gives off until the part is set, by area",
                   r"q = \rho\, t_0\, \left(h(T_s) - h(T_{set})\right)",
                   rf"{material.band('density').typical:.0f}\cdot {inputs['gauge']:.4g}\cdot "
                   rf"({hot / 1e3:.0f} - {cold / 1e3:.0f})\cdot 10^3",
                   f"{heat / 1e3:.0f} kJ/m²", material.source("enthalpy").citation)]


def _score_line(side: Side) -> list[Worked]:
    c = side.comparison
    if c is None or side.chosen not in c.keys:
        return []
    typical = side.typical[side.chosen]
    scales = {k.key: compare.scale_of(k, [v[k.key] for v in side.typical.values()])
              for k in side.criteria}
    total = sum(side.weights.values()) or 1.0
    used = [k for k in side.criteria if side.weights[k.key] > 0]
    terms = " + ".join(
        rf"{side.weights[k.key]:g}\cdot "
        rf"{float(compare.utility(k, typical[k.key], scales[k.key])):.2f}" for k in used) or "0"
    band: Band = c.bands[c.keys.index(side.chosen)]
    return [Worked(f"Score of {side.short[side.chosen]}",
                   r"s = \frac{\sum w_i\, u_i}{\sum w_i}", rf"\frac{{{terms}}}{{{total:g}}}",
                   f"{band.typical:.2f} ({band.low:.2f} to {band.high:.2f})",
                   "u is 0 at the worst and 1 at the best typical value of all materials: "
                   + ", ".join(k.label.lower() for k in used))]


def _c(kelvin: float) -> str:
    return f"{kelvin - 273.15:.0f}"


STEP = Step(
    key="material", number=2, title="Sheet and tool material",
    question="Which sheet, and a tool of what, made how?",
    fields=FIELDS, compute=compute, uses=("brief",),
    cautions=("fume", "resin", "dust", "food contact"),
)
