"""What the choice shows and saves: results, tables, the worked calculation."""

from __future__ import annotations

from thermoforming.bands import Band
from thermoforming.reference import Material, cautions_for, properties
from thermoforming.steps import compare
from thermoforming.steps.base import Column, Grid, Result, Worked
from thermoforming.steps.material import tool
from thermoforming.steps.material.side import WORD, Side
from thermoforming.units import digits, to_shown, with_unit


def results(of_sheet: Side, of_tool: Side, run: tool.Running, hot: float) -> tuple[Result, ...]:
    material, made = of_sheet.material, of_tool.material
    bands = ("forming_low", "forming_normal", "forming_high", "set_temperature",
             "tool_temperature")
    return (
        Result("sheet_name", "Sheet", material.text("short"), help=material.name),
        Result("tool_name", "Tool material", made.text("short"), help=made.name),
        Result("sheet_first", "Sheet comes first in", of_sheet.first, "%",
               help="Share of the samples of the bands"),
        Result("tool_first", "Tool material comes first in", of_tool.first, "%",
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
        Result("window_width", "Width of the forming window",
               material.band("forming_high").typical - material.band("forming_low").typical, "K"),
        Result("drying", "Drying", material.text("drying")),
        Result("chemicals", "Chemical resistance", material.text("chemicals")),
        Result("release", "Finish and release of the tool", made.text("release")),
        Result("care", "Care of the tool", made.text("care")),
        Result("reason", "Proposed reason", f"{of_sheet.reason} {of_tool.reason}"),
        Result("cautions", "Cautions of these materials", _cautions(material, made)),
    )


def _cautions(*materials: Material) -> str:
    found = [c.text for m in materials for c in cautions_for(m.base or m.key)]
    return " ".join(dict.fromkeys(found))


SHEET_COLUMNS = (
    Column("window_low", "From", "°C"), Column("window_high", "To", "°C"),
    Column("set", "Set", "°C"), Column("draw", "Area draw"),
    Column("shrinkage", "Shrinkage", "%"), Column("price", "Price", "money/kg"))
TOOL_COLUMNS = (
    Column("running", "Runs at", "°C"), Column("limit", "Usable to", "°C"),
    Column("shots", "Shots", "shots"), Column("lead", "Ready in", "d"),
    Column("cost", "Relative cost"), Column("roughness", "Roughness", "µm"))


def candidates(side: Side, columns: tuple[Column, ...], runs=None) -> Grid:
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
    return Grid(f"{side.kind}_candidates", f"Every {WORD[side.kind]}",
                (*head, *columns, Column("why", "Why, and what would help")), tuple(rows))


def alike(side: Side) -> Grid:
    """Pairs of candidates that cannot be told apart, the leading ones first."""
    c, short = side.comparison, side.short
    place = {i: rank for rank, i in enumerate(c.order())} if c else {}
    pairs = sorted(sorted(pair, key=place.get) for pair in c.alike()) if c else []
    rows = [{"one": short[c.keys[i]], "other": short[c.keys[j]], "better": float(c.beats[i, j])}
            for i, j in sorted(pairs, key=lambda pair: (place[pair[0]], place[pair[1]]))]
    return Grid(f"{side.kind}_alike", f"Pairs of {WORD[side.kind]}s that cannot be told apart",
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


def brought(key: str, title: str, material: Material) -> Grid:
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


def worked(of_sheet: Side, of_tool: Side, run: tool.Running, inputs) -> tuple[Worked, ...]:
    material, made = of_sheet.material, of_tool.material
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
               with_unit(stress, "MPa"),
               "k: greatest moment of a square plate by p a²; see the wall page"),
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
