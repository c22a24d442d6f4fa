"""The decision: enough air out, soon enough, through holes that leave no mark."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.physics import gasflow
from thermoforming.physics.bulge import bulge_height, largest_bore
from thermoforming.physics.conduction import Layer, conduct
from thermoforming.physics.evacuation import (Evacuation, evacuate, pump_down_time,
                                              settled_pressure, tank_pressure_after)
from thermoforming.physics.venting import drain_time
from thermoforming.reference import Material, rule, tool_materials
from thermoforming.steps.base import (CAUTION, PASS, STOP, Check, Column, Grid, Outcome, Result,
                                      Step, Worked, graded)
from thermoforming.steps.earlier import found
from thermoforming.steps.material import chosen_sheet, chosen_tool
from thermoforming.steps.thermal import open_air, solid_of
from thermoforming.steps.upstream import Upstream
from thermoforming.steps.vents.air import LEAK_SPREAD, Plan, plan
from thermoforming.steps.vents.fields import FIELDS, ROUND, starting_gauge, usual_bore
from thermoforming.steps.vents.landing import Landing, landing_of
from thermoforming.units import with_unit

LONGEST = 30.0  # s, how long an evacuation is followed at most
ROUGH = 5.0  # sand roughness over Ra; from memory
FINE, COARSE = 2e-3, 1e-2  # step errors: of the run shown, and of those that give a band


@dataclass(frozen=True, eq=False)
class Found:
    """All that the checks, results and figures are made from."""

    inputs: Mapping[str, Any]
    sheet: Material
    tool: Material
    hot: float
    modulus: Band
    landing: Landing
    plan: Plan
    first: Evacuation
    second: Evacuation
    needed: float
    time: Band
    tank_before_second: float
    gauge: float
    bulge: Band
    bulge_bore: float
    cooling: tuple[np.ndarray, np.ndarray]
    by_count: tuple[np.ndarray, np.ndarray]

    @property
    def available(self) -> float:
        """Time left for the air once the valve opens. [s]"""
        return self.inputs["formable"] - self.inputs["transfer"]

    @property
    def opening(self) -> float:
        """What the sheet spans: bore, or gap of a slot. [m]"""
        return self.inputs["bore"] if self.inputs["kind"] == ROUND else self.inputs["gap"]


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """Vents in place, evacuation, bulge, tank, and what they mean."""
    it = _find(inputs, upstream)
    return Outcome(results=_results(it), checks=tuple(_checks(it, upstream)), worked=_worked(it),
                   tables=(_vent_list(it), _pocket_list(it), _process_list(it)), arrays=_arrays(it))


def _find(inputs, upstream: Upstream) -> Found:
    sheet, tool = chosen_sheet(upstream), chosen_tool(upstream)
    hot = float(found(upstream, "material", "sheet_temperature"))
    modulus = sheet.curve("hot_modulus").at(hot, outside="hold")
    landing = landing_of(upstream)
    made = plan(inputs, landing, modulus.typical, starting_gauge(upstream),
                ROUGH * tool.band("roughness").typical)
    until = min(max(1.5 * inputs["formable"], 6.0), LONGEST)
    first = evacuate(made.pockets, made.vents, made.machine, until, FINE)
    needed = inputs["share"] * first.final_pull
    resting = max(inputs["cycle"] - until, 0.0)
    tank = tank_pressure_after(inputs["tank_volume"], float(first.tank[-1]), resting,
                               made.machine.pump)
    second = evacuate(made.pockets, made.vents, replace(made.machine, tank_pressure=tank), until,
                      COARSE)
    opening = inputs["bore"] if inputs["kind"] == ROUND else inputs["gap"]
    span = opening if inputs["kind"] == ROUND else 1.5 * opening
    gauge = _thinnest(inputs, landing, made)
    return Found(inputs, sheet, tool, hot, modulus, landing, made, first, second, needed,
                 _time_band(made, first, needed, until), tank,
                 gauge, _bulge(span, gauge, modulus, needed),
                 largest_bore(inputs["mark"], gauge, modulus.typical, max(needed, 1e3)),
                 _cooling(sheet, inputs, upstream, hot, until + inputs["transfer"]),
                 _by_count(made, first.time_to_pull(needed), needed, until))


def _thinnest(inputs, landing: Landing, made: Plan) -> float:
    """Least gauge over a vent: of the formed sheet where there is one, else as typed. [m]"""
    if landing.gauge is None or not made.sites:
        return inputs["gauge"]
    return float(landing.gauge[[s.point for s in made.sites]].min())


def _bulge(span, gauge: float, modulus: Band, pull: float) -> Band:
    soft, usual, stiff = (min(bulge_height(span, gauge, e, pull), span)
                          for e in (modulus.low, modulus.typical, modulus.high))
    return Band(stiff, usual, soft)


def _by_count(made: Plan, whole: float, needed: float, until: float):
    """Time to the needed pull over the number of vents used, the first of the list first."""
    times = [evacuate(made.pockets, vents, made.machine, until, COARSE).time_to_pull(needed)
             for vents in made.fewer.values()]
    return np.array([*made.fewer, len(made.sites)]), np.array([*times, whole])


def _time_band(made: Plan, first: Evacuation, needed: float, until: float) -> Band | None:
    """Time with the typical leak, without one, and with a large one."""
    usual = first.time_to_pull(needed)
    if math.isinf(usual):
        return None
    ends = []
    for factor in (0.0, LEAK_SPREAD):
        leaking = replace(made.machine, leak=factor * made.machine.leak)
        time = evacuate(made.pockets, made.vents, leaking, until, COARSE).time_to_pull(needed)
        ends.append(until if math.isinf(time) else time)
    return Band(min(ends[0], usual), usual, max(ends[1], usual))


def _enough(it: Found) -> int | None:
    """Fewest vents, of those tried, that leave three tenths of the time to spare."""
    counts, times = it.by_count
    good = counts[times <= 0.7 * it.available]
    return int(good[0]) if len(good) else None


def _cooling(sheet: Material, inputs, upstream, hot: float, until: float):
    """Mean temperature of the sheet in air from the end of heating, where nothing touches it."""
    air = float(found(upstream, "material", "ambient") or 296.15)
    side = open_air(air, rule("heating", "film coefficient, oven air").band.typical,
                    sheet.band("emissivity").typical)
    history = conduct([Layer(solid_of(sheet), starting_gauge(upstream))], hot, side, side, until,
                      steps=60)
    return history.time, history.of(0).min(axis=1)


def _results(it: Found) -> tuple[Result, ...]:
    end = it.first
    area = len(it.plan.sites) * float(it.plan.passage[0])
    return (
        Result("vents", "Vents", len(it.plan.sites), "-", "n"),
        Result("enough", "Enough for the time there is", _enough(it), "-", "",
               help="Fewest of the list, one a space at least; the rest is for sharp detail"),
        Result("time", "Vacuum below the sheet in", it.time, "s", "τ",
               help="Time to the share of the final vacuum, band from the leak"),
        Result("available", "Time there is", it.available, "s",
               help="Formable time less the transfer"),
        Result("final_pull", "Vacuum reached", end.final_pull, "kPa", "Δp"),
        Result("bulge", "Bulge into a vent", it.bulge, "mm", "w"),
        Result("gauge", "Thinnest sheet over a vent", it.gauge, "mm", "t"),
        Result("largest_bore", "Largest bore without a mark", it.bulge_bore, "mm", "d_max"),
        Result("open_area", "Open area", area, "mm²"),
        Result("bore", "Bore or gap", it.opening, "mm", "d"),
        Result("tank_after", "Tank after the shot", float(end.tank[-1]), "kPa"),
        Result("tank_second", "Tank before the next", it.tank_before_second, "kPa"),
        Result("second_time", "Second shot in", _finite(it.second.time_to_pull(it.needed)), "s"),
        Result("pockets", "Pockets the sheet closes", len(it.landing.pockets) - 1, "-"),
        Result("basis", "Contact taken from",
               "the formed sheet" if it.landing.from_sheet else "the shape alone"),
    )


def _finite(value: float):
    return None if math.isinf(value) else float(value)


def _checks(it: Found, upstream: Upstream):
    yield _time_check(it, upstream)
    yield _vacuum_check(it)
    yield _pocket_check(it)
    yield _bulge_check(it)
    yield _practice_check(it, upstream)
    yield _printable_check(it)
    yield _length_check(it)
    yield _second_check(it)
    yield _basis_check(it)
    if it.inputs["hollow"]:
        yield _drain_check(it)


def _time_check(it: Found, upstream: Upstream) -> Check:
    source = _formable_source(it, upstream)
    if it.time is None:
        return Check("time", "Air out before the sheet stiffens", STOP,
                     f"{it.inputs['share']:.0%} of the vacuum is not reached below the whole "
                     f"sheet.", limit=it.available, shown="s", source=source,
                     advice="A pocket is unserved or its vents are covered too early: add or "
                            "move vents; or the leak is too large.")
    verdict = graded(it.time.typical, 0.7 * it.available, it.available)
    if verdict == PASS and it.time.high > it.available:
        verdict = CAUTION
    return Check("time", "Air out before the sheet stiffens", verdict,
                 f"{it.inputs['share']:.0%} of the vacuum after "
                 f"{with_unit(it.time.typical, 's')}; the sheet stays formable for "
                 f"{with_unit(max(it.available, 0.0), 's')} after the valve opens.",
                 value=it.time, limit=it.available, shown="s", source=source,
                 advice="" if verdict == PASS else
                 "More or larger vents, relief from behind, a wider line, a shorter transfer.")


def _vacuum_check(it: Found) -> Check:
    usual = rule("vacuum", "gauge vacuum in the tank before forming")
    pull, low = it.first.final_pull, usual.band.low
    return Check("vacuum", "Vacuum enough to form detail", graded(pull, low, 0.5 * low),
                 f"{with_unit(pull, 'kPa')} below the atmosphere; usual are "
                 f"{with_unit(low, 'kPa')} to {with_unit(usual.band.high, 'kPa')}.",
                 value=pull, limit=low, shown="kPa",
                 source=f"{usual.source.citation} ({usual.basis})",
                 advice="" if pull >= low else "Stronger vacuum in the tank, a larger tank, a "
                                               "smaller space between vents and valve, no leak.")


def _formable_source(it: Found, upstream: Upstream) -> str:
    known = found(upstream, "heating", "formable_air")
    if known is None:
        return "formable time as typed: an assumption until heating is saved"
    if abs(float(known) - it.inputs["formable"]) <= 0.02 * float(known):
        return "formable time from the heating page"
    return f"formable time as typed; the heating page found {with_unit(float(known), 's')}"


def _pocket_check(it: Found) -> Check:
    count = len(it.plan.unserved)
    none = not it.plan.sites
    return Check("pockets", "Every pocket has a vent", STOP if count or none else PASS,
                 "There is no vent at all." if none else
                 f"{count} of {len(it.landing.pockets)} spaces that the sheet closes have no vent."
                 if count else f"All {len(it.landing.pockets)} spaces that the sheet closes are "
                 f"served.", value=count, limit=0, source="order of contact on this page",
                 advice="" if not (count or none) else
                 "Trapped air holds the sheet off the tool: add a vent at the pocket's last "
                 "place, see the table of pockets.")


def _bulge_check(it: Found) -> Check:
    limit = it.inputs["mark"]
    verdict = STOP if it.bulge.typical > 2 * limit else \
        CAUTION if it.bulge.high > limit else PASS
    return Check("bulge", "No mark over the vents", verdict,
                 f"The hot sheet bulges {with_unit(it.bulge.typical, 'mm', 2)} into the hole at "
                 f"{with_unit(it.needed, 'kPa')}; up to {with_unit(it.bulge_bore, 'mm', 2)} of "
                 f"bore stays below the mark.", value=it.bulge, limit=limit, shown="mm",
                 source="bulge of a rubbery sheet over a hole; hot modulus from the table "
                        "(order of magnitude)",
                 advice="" if verdict == PASS else
                 "Smaller bores and more of them, or a cooler sheet; try one on a trial tool.")


def _practice_check(it: Found, upstream: Upstream) -> Check:
    usual = usual_bore(upstream)
    verdict = PASS if it.opening <= usual.band.high else CAUTION
    return Check("practice", "Bore against common practice", verdict,
                 f"{with_unit(it.opening, 'mm', 2)}; usual for this sheet are "
                 f"{with_unit(usual.band.low, 'mm', 2)} to {with_unit(usual.band.high, 'mm', 2)}.",
                 value=it.opening, limit=usual.band.high, shown="mm",
                 source=f"{usual.source.citation} ({usual.basis})",
                 advice="" if verdict == PASS else "Expect nipples on the part.")


def _printable_check(it: Found) -> Check:
    least = it.tool.band("smallest_bore")
    verdict = PASS if it.opening >= least.typical else CAUTION
    return Check("printable", "Bore that the build process clears", verdict,
                 f"{it.tool.text('short')} clears holes from {with_unit(least.typical, 'mm', 2)} "
                 f"({with_unit(least.low, 'mm', 2)} to {with_unit(least.high, 'mm', 2)}).",
                 value=it.opening, limit=least.typical, shown="mm",
                 source=it.tool.source("smallest_bore").citation,
                 advice="" if verdict == PASS else
                 "Print a pilot in the relief and drill the last millimetres through.")


def _length_check(it: Found) -> Check:
    usual = rule("vent", "small bore left, times its diameter").band
    ratio = it.inputs["bore_length"] / it.opening
    wide = it.inputs["relief"] >= 2.0 * it.opening
    verdict = PASS if ratio <= usual.high and wide else CAUTION
    return Check("length", "Small bore left after relief", verdict,
                 f"{ratio:.1f} times the bore; its flow is "
                 f"{_coefficient(it):.0%} of a lossless hole's."
                 + ("" if wide else " The relief is less than twice the bore and slows the air."),
                 value=ratio, limit=usual.high, source="common practice; friction in the bore",
                 advice="" if verdict == PASS else "Relieve more of the wall from behind.")


def _coefficient(it: Found) -> float:
    back = max(it.inputs["tank_pressure"], 2e3)
    return gasflow.bore_discharge_coefficient(it.plan.passage, it.inputs["ambient"], back,
                                              it.inputs["air_temperature"])


def _second_check(it: Found) -> Check:
    time, limit = it.second.time_to_pull(it.needed), it.available
    before = it.inputs["tank_pressure"]
    behind = it.tank_before_second > 1.02 * before
    verdict = STOP if time > limit else CAUTION if behind else PASS
    recover = pump_down_time(it.inputs["tank_volume"], max(float(it.first.tank[-1]), before),
                             before, it.plan.machine.pump)
    text = "never" if math.isinf(recover) else with_unit(recover, "s")
    return Check("second", "Two shots in a row", verdict,
                 f"The tank stands at {with_unit(float(it.first.tank[-1]), 'kPa')} after the shot "
                 f"and at {with_unit(it.tank_before_second, 'kPa')} before the next; back to "
                 f"{with_unit(before, 'kPa')} it needs {text}.",
                 value=None if math.isinf(time) else time, limit=limit, shown="s",
                 source="mass balance of tank and pump",
                 advice="" if verdict == PASS else "A larger tank or pump, or a longer cycle.")


def _basis_check(it: Found) -> Check:
    if it.landing.from_sheet:
        return Check("basis", "Where the sheet lands last", PASS,
                     "Taken from the formed sheet of the thinning page.", source="thinning")
    return Check("basis", "Where the sheet lands last", CAUTION,
                 "Judged from the shape alone: the tightest recesses last.",
                 source="largest ball of air that touches each place",
                 advice="Form the sheet on the thinning page and save it; the vents then follow "
                        "the real order of contact.")


def _drain_check(it: Found) -> Check:
    i = it.inputs
    time = drain_time(i["hollow_volume"], i["drain"], 5e-3, 0.05, i["resin_viscosity"],
                      it.tool.band("density").typical, 2)
    verdict = graded(time, 600.0, 3600.0)
    return Check("drain", "Resin runs out of the hollow", CAUTION if verdict == STOP else verdict,
                 f"Through two drains of {with_unit(i['drain'], 'mm', 2)} about "
                 f"{with_unit(time, 'min')}, with a hole above that lets air in.", value=time,
                 limit=600.0, shown="min", source="laminar flow under a falling head",
                 advice="" if verdict == PASS else "Larger drains, or warm resin; a closed hollow "
                                                   "keeps liquid resin that can burst the print.")


def _vent_list(it: Found) -> Grid:
    depth = it.inputs["bore_length"]
    seats = it.landing.seats([s.point for s in it.plan.sites])
    rows = tuple({"number": k, "x": float(p[0]), "y": float(p[1]), "z": float(p[2]),
                  "bore": it.opening, "depth": depth, "relief": it.inputs["relief"],
                  "reason": s.reason, "pocket": s.pocket, "order": s.order,
                  "gauge": float(it.inputs["gauge"] if it.landing.gauge is None
                                 else it.landing.gauge[s.point])}
                 for k, s, p in zip(it.plan.numbers, it.plan.sites, seats, strict=True))
    return Grid("vent_list", "Vent list, tool coordinates", (
        Column("number", "No."), Column("x", "x", "mm"), Column("y", "y", "mm"),
        Column("z", "z", "mm"), Column("bore", "Bore or gap", "mm"),
        Column("depth", "Narrow for", "mm"), Column("relief", "Relief", "mm"),
        Column("reason", "Why there"), Column("pocket", "Space"),
        Column("order", "Sheet lands at", "%"), Column("gauge", "Sheet there", "mm")), rows)


def _pocket_list(it: Found) -> Grid:
    rows = []
    for k, each in enumerate(it.landing.pockets):
        last = each.points[np.argmax(it.landing.order[each.points])]
        x, y, z = it.landing.seats([last])[0]
        time = it.first.time_to_pull(it.needed, k)
        rows.append({"number": k, "volume": float(it.plan.pockets[k].volume[0]),
                     "closes": each.closes, "vents": sum(s.pocket == k for s in it.plan.sites),
                     "x": float(x), "y": float(y), "z": float(z), "time": _finite(time)})
    return Grid("pockets", "Spaces that the sheet closes, and their last place", (
        Column("number", "Space"), Column("volume", "Air", "cm³"),
        Column("closes", "Closed at", "%"), Column("vents", "Vents"), Column("x", "x", "mm"),
        Column("y", "y", "mm"), Column("z", "z", "mm"), Column("time", "Empty in", "s")),
        tuple(rows))


def _process_list(it: Found) -> Grid:
    """The smallest hole that each way of making a tool leaves clear."""
    rows = []
    for made in tool_materials().values():
        least = made.band("smallest_bore")
        rows.append({"tool": made.text("short"), "low": least.low, "typical": least.typical,
                     "high": least.high, "clear": "yes" if it.opening >= least.high else
                     "likely" if it.opening >= least.typical else "drill it"})
    rows.sort(key=lambda row: row["typical"])
    return Grid("processes", "Smallest through hole by tool material and process", (
        Column("tool", "Tool"), Column("low", "At best", "mm"), Column("typical", "Usual", "mm"),
        Column("high", "At worst", "mm"), Column("clear", "This bore clear as made")), tuple(rows))


def _worked(it: Found) -> tuple[Worked, ...]:
    i, m = it.inputs, it.plan.machine
    cd = _coefficient(it)
    flux = float(gasflow.nozzle_mass_flux(i["ambient"], 0.0, i["air_temperature"]))
    one = cd * it.plan.passage[0] * flux
    count = max(len(it.plan.sites), 1)
    end = i["ambient"] - it.needed
    rate = cd * it.plan.passage[0] * count * gasflow.critical_flow_factor() * math.sqrt(
        gasflow.GAS_CONSTANT * i["air_temperature"])
    simple = i["volume"] / rate * math.log(i["ambient"] / end)
    settled = settled_pressure(i["volume"] + i["plenum"], i["ambient"], i["tank_volume"],
                               i["tank_pressure"])
    return (
        Worked("Flow through one vent while it is choked",
               r"\dot m = C_d A\,p\,\frac{C^*}{\sqrt{RT}}",
               rf"{cd:.3f}\cdot {it.plan.passage[0] * 1e6:.3f}\,\mathrm{{mm^2}}\cdot "
               rf"{i['ambient'] / 1e3:.1f}\,\mathrm{{kPa}}\cdot\frac{{0.6847}}"
               rf"{{\sqrt{{287.05\cdot {i['air_temperature']:.1f}}}}}",
               with_unit(one, "g/s"), "ISO 9300 (ideal gas); friction in the bore by Fanno flow"),
        Worked("The same air through all vents, never covered, as a first estimate",
               r"\tau = \frac{V}{n C_d A\,C^*\sqrt{RT}}\ln\frac{p_0}{p}",
               rf"\frac{{{i['volume'] * 1e3:.3f}\,\mathrm{{L}}}}{{{rate * 1e3:.3f}\,"
               rf"\mathrm{{L/s}}}}\ln\frac{{{i['ambient'] / 1e3:.1f}}}{{{end / 1e3:.1f}}}",
               f"{with_unit(simple, 's')} (the balance with covering, line and tank: "
               f"{'not reached' if it.time is None else with_unit(it.time.typical, 's')})",
               "ideal gas, choked, one temperature"),
        Worked("Pressure at which space, hollow and tank settle",
               r"p = \frac{V_c p_c + V_t p_t}{V_c+V_t}",
               rf"\frac{{{(i['volume'] + i['plenum']) * 1e3:.2f}\cdot {i['ambient'] / 1e3:.1f}+"
               rf"{i['tank_volume'] * 1e3:.0f}\cdot {i['tank_pressure'] / 1e3:.1f}}}"
               rf"{{{(i['volume'] + i['plenum'] + i['tank_volume']) * 1e3:.1f}}}",
               f"{with_unit(settled, 'kPa')}, pump left out", "ideal-gas mixing"),
        Worked("Bulge into the hole",
               r"\frac{pa}{Et} = \frac{h}{\frac{9}{64}\frac{a^2}{t^2}+0.45\frac at}+m(h),\quad "
               r"w = ah+0.955\frac{pa}{E}",
               rf"p={it.needed / 1e3:.0f}\,\mathrm{{kPa}},\ a={it.opening * 500:.2f}\,"
               rf"\mathrm{{mm}},\ t={it.gauge * 1e3:.2f}\,\mathrm{{mm}},\ "
               rf"E={it.modulus.typical / 1e6:.2f}\,\mathrm{{MPa}}",
               with_unit(it.bulge.typical, "mm"),
               "plate, Hencky membrane and penny crack (from memory), checked by finite elements"),
        Worked("Line and valve together", r"\frac1{C^3}=\sum\frac1{C_i^3}",
               rf"C={m.line[0] * 1e8:.2f}\,\mathrm{{L/(s\,bar)}},\ b={m.line[1]:.2f}",
               f"{with_unit(m.line[0] * 1e5, 'L/min')} of free air at 1 bar", "ISO 6358-3 (from "
               "memory)"),
    )


def _arrays(it: Found) -> dict[str, Any]:
    return {"time": it.first.time, "pockets": it.first.pockets, "plenum": it.first.plenum,
            "tank": it.first.tank, "second": (it.second.time, it.second.pockets.max(axis=0)),
            "cooling": it.cooling, "landing": it.landing, "sites": it.plan.sites,
            "needed": it.needed, "ambient": it.inputs["ambient"], "available": it.available,
            "forming_low": it.sheet.band("forming_low").typical,
            "bulge_over": _bulge_curve(it), "by_count": it.by_count}


def _bulge_curve(it: Found):
    """Bulge over bore at the local gauge, for the three moduli."""
    bores = np.linspace(0.1e-3, max(3e-3, 1.5 * it.opening), 25)
    rows = [[min(bulge_height(b, it.gauge, e, it.needed), b) for b in bores]
            for e in (it.modulus.low, it.modulus.typical, it.modulus.high)]
    return bores, np.array(rows)


STEP = Step(
    key="vents", number=6, title="Vents",
    question="Where does the air leave, through how many holes of what size, and soon enough?",
    fields=FIELDS, compute=compute, needs=("brief", "material"), uses=("thinning", "heating"),
    cautions=("machine", "hot surfaces", "resin"),
)
