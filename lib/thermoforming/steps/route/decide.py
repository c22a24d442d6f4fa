"""Which tool to make: cost, days and tool life at the quantity wanted, and against it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.physics import toollife
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
    typical,
)
from thermoforming.steps.earlier import found
from thermoforming.steps.route import life
from thermoforming.steps.route.compare import (
    HUNDREDTH,
    BreakEven,
    Routes,
    break_evens,
    middle,
    worked_through,
)
from thermoforming.steps.route.fields import BOUGHT, DATUMS, FIELDS, PRINTED
from thermoforming.steps.route.making import own_rates
from thermoforming.steps.route.working import worked
from thermoforming.steps.upstream import Upstream
from thermoforming.units import digits, with_unit

PROVEN = (0.80, 0.90, 0.95, 0.98, 0.99)
RISKS = (0.20, 0.10, 0.05, 0.02, 0.01)
CLEAN = 50.0  # shots of the run that the table of promises takes where none is known
FURTHER = (0.1, 0.25, 0.5, 1.0, 2.0)  # of the run
LITTLE_SHEET = 0.6  # share of the stock used below which another blank or sheet is worth a look
SAMPLING = "sampling of the rates on this page"


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """All routes over one sample, the chosen one in detail, and what it stands on."""
    routes = worked_through(inputs, upstream)
    evens = break_evens(routes)
    bounds = life.pooled_bounds(routes.route.life, inputs)
    return Outcome(
        results=_results(inputs, routes, bounds, evens),
        checks=_checks(inputs, upstream, routes, bounds),
        worked=worked(inputs, routes, bounds),
        tables=_tables(inputs, routes, evens),
        arrays={"routes": routes, "break_evens": evens, "bounds": bounds},
    )


def trim_tolerance(inputs: Mapping[str, Any]) -> Band:
    """Plus and minus of an edge cut by the chosen method. [m]"""
    return rule("trim tolerance", inputs["trim"]).band


def _results(inputs, routes: Routes, bounds, evens) -> tuple[Result, ...]:
    mine, at = routes.route, routes.at
    batch = middle(at(mine.money))
    return (
        Result("route", "Chosen route", mine.name),
        Result("batch_cost", "All parts and tools", batch, "money", "C"),
        Result("cost_each", "For each part", batch.scaled(1 / inputs["quantity"]), "money"),
        Result("part_cost", "A part without its tool", middle(mine.part.total), "money", "c"),
        Result("tool_cost", "A tool", middle(mine.tool.cost), "money", "F"),
        Result("tools", "Tools to order", _tools(mine, routes, inputs), "-", "n",
               help="So that the risk of running out is the accepted one"),
        Result("life", "Characteristic life", mine.life.characteristic, "shots", "η",
               help="Shots by which 63 % of such tools have ended, as believed now"),
        Result("reliability", "One shot, proven", bounds["reliability"], "%", "R",
               help="Lower bound on the chance that a shot does not end the tool"),
        Result("days_first", "First part after", middle(mine.days[:, 0]), "d"),
        Result("days_hundredth", "Hundredth part after", middle(at(mine.days, HUNDREDTH)), "d"),
        Result("days_last", "Last part after", middle(at(mine.days)), "d"),
        Result("machine_time", "Machine for one tool", middle(mine.tool.machine_time), "h"),
        Result("hand_time", "Hands for one tool", middle(mine.tool.hand_time), "h"),
        Result("blanks", "Blanks in a stock sheet", routes.nest.count),
        Result("sheets", "Stock sheets to buy", _sheets(inputs, routes)),
        Result("sheet_use", "Stock that becomes blanks", _sheet_use(inputs, routes), "%"),
        Result("trim_method", "Trimmed by", inputs["trim"]),
        Result("trim_datums", "Located by", inputs["datums"] or DATUMS[inputs["trim"]]),
        Result("trim_tolerance", "Edge is good to ±", trim_tolerance(inputs), "mm"),
        Result("reason", "Proposed reason", _reason(inputs, routes, evens)),
    )


def _tools(route, routes, inputs) -> int | None:
    if not route.enough[routes.place]:
        return None
    return int(life.tools_ordered([inputs["quantity"]], inputs, route.life)[0])


def _sheets(inputs, routes) -> int:
    shots = float(life.shots_of_a_place(inputs["quantity"], inputs))
    return int(np.ceil(shots / routes.nest.count))


def _sheet_use(inputs, routes) -> float:
    stock = inputs["stock_x"] * inputs["stock_y"]
    return routes.nest.count * inputs["blank_x"] * inputs["blank_y"] / stock


def _reason(inputs, routes: Routes, evens: tuple[BreakEven, ...]) -> str:
    mine, shares = routes.route, routes.cheapest_share()
    batch = middle(routes.at(mine.money))
    tools = _tools(mine, routes, inputs)
    text = (f"“{mine.name}”: {inputs['quantity']:.0f} parts for {digits(batch.typical)} "
            f"({digits(batch.low)} to {digits(batch.high)}) {inputs['currency']} with "
            f"{'too many tools' if tools is None else f'{tools} tool' + 's' * (tools > 1)}, "
            f"the last after {with_unit(typical(middle(routes.at(mine.days))), 'd')}. ")
    best = int(np.argmax(shares))
    if best == routes.chosen:
        text += f"It is the cheapest in {100 * shares[best]:.0f} % of the samples."
    else:
        gap = middle(routes.at(mine.money) - routes.at(routes.all[best].money)).typical
        text += (f"“{routes.all[best].name}” costs about {digits(gap, 2)} less and is ready after "
                 f"{with_unit(float(routes.all[best].tool.ready[0]), 'd')}, against "
                 f"{with_unit(float(mine.tool.ready[0]), 'd')}: say what speaks for the choice.")
    later = [e for e in evens if e.dearer == mine.name and e.quantity is not None
             and e.quantity.typical > inputs["quantity"]]
    if later:
        soonest = min(later, key=lambda e: e.quantity.typical)
        text += (f" “{soonest.cheaper}” is cheaper from about "
                 f"{digits(soonest.quantity.typical, 2)} parts "
                 f"({digits(soonest.quantity.low, 2)} to {digits(soonest.quantity.high, 2)}).")
    return text


# ---------------------------------------------------------------------------- checks

def _checks(inputs, upstream, routes, bounds) -> tuple[Check, ...]:
    found_checks = [_check_cheapest(routes), _check_tools(inputs, routes),
                    _check_evidence(inputs, routes, bounds), _check_rates(inputs, routes),
                    _check_chosen(inputs), _check_sheet(inputs, routes), _check_turned(routes),
                    _check_first(upstream, routes), _check_due(inputs, routes),
                    _check_printer(upstream, routes),
                    _check_trim(inputs, upstream)]
    return tuple(check for check in found_checks if check is not None)


def _check_cheapest(routes: Routes) -> Check:
    shares = routes.cheapest_share()
    best, share = int(np.argmax(shares)), float(shares[routes.chosen])
    if share >= 0.5:
        return Check("cheapest", "Cheapest route", PASS,
                     f"The chosen route is the cheapest in {100 * share:.0f} % of the samples.",
                     share, 0.5, "%", SAMPLING)
    return Check("cheapest", "Cheapest route", CAUTION,
                 f"“{routes.all[best].name}” is the cheapest in {100 * shares[best]:.0f} % of the "
                 f"samples, the chosen route in {100 * share:.0f} %.", share, 0.5, "%", SAMPLING,
                 "Say in the reason what speaks for the chosen route: days, surface, a risk.")


def _check_tools(inputs, routes) -> Check:
    tools, mine = _tools(routes.route, routes, inputs), routes.route
    title, source = "Tools for the batch", "belief about the life on this page"
    if tools is None:
        return Check("tools", title, STOP, f"More than {toollife.MOST_TOOLS} tools may be used up: "
                     "this route does not carry the quantity.", None, None, "-", source,
                     "Choose a tool material that lasts longer.")
    chance = _running_out(inputs, mine, tools)
    return Check("tools", title, PASS if tools <= 10 * inputs["forms"] else CAUTION,
                 f"{tools} tool{'s' * (tools > 1)} carry the batch with a {100 * chance:.1f} % "
                 "chance of running out.", float(chance), inputs["risk"], "%", source,
                 "" if tools <= 10 * inputs["forms"] else "So many tools vary among themselves: "
                 "compare with a route that lasts longer.")


def _running_out(inputs, route, tools) -> float:
    shots = float(life.shots_of_a_place(inputs["quantity"], inputs))
    used = toollife.tools_used(shots, route.life.lives)
    return float(1 - np.mean(used <= tools / inputs["forms"]) ** inputs["forms"])


def _check_evidence(inputs, routes, bounds) -> Check:
    runs, mine = routes.route.life.evidence, routes.route
    wanted = float(life.shots_of_a_place(inputs["quantity"], inputs))
    if not runs:
        return Check("evidence", "Evidence of tool life", CAUTION,
                     f"No run of such a tool is known; the life is the trade's range, "
                     f"{digits(mine.life.trade.low)} to {digits(mine.life.trade.high)} shots.",
                     0, wanted, "shots", "common practice",
                     "Take experience from other projects, or count the shots of the first tool.")
    longest = max(run.shots for run in runs)
    reach = (f"{len(runs)} run{'s' * (len(runs) > 1)} of {mine.life.shots} shots with "
             f"{mine.life.failures} ended; one shot is proven to "
             f"{100 * bounds['reliability']:.1f} %.")
    if longest >= min(wanted, mine.life.characteristic.typical):
        return Check("evidence", "Evidence of tool life", PASS, reach, longest, wanted, "shots",
                     "Clopper and Pearson 1934")
    return Check("evidence", "Evidence of tool life", CAUTION,
                 f"{reach} The longest has {longest:.0f} shots: beyond that the assumed shape "
                 "speaks, not experience.", longest, wanted, "shots", "Clopper and Pearson 1934",
                 "Plan a spare, and keep counting.")


def _check_rates(inputs, routes) -> Check | None:
    from_table = [r.name for r in routes.all
                  if r.way != BOUGHT and not own_rates(inputs, r.material)]
    guessed = [r.name for r in routes.all if r.tool.guessed]
    if not from_table and not guessed:
        return Check("rates", "Rates", PASS, "Every route stands on your own rates and offers.")
    parts = []
    if from_table:
        parts.append(f"Made here at rates from memory, not yours: {'; '.join(from_table)}.")
    if guessed:
        parts.append(f"No offer, the price is guessed: {'; '.join(guessed)}.")
    return Check("rates", "Rates", CAUTION, " ".join(parts), source="reference tables, from memory",
                 advice="Type your own rates and ask for offers before you rely on the comparison.")


def _check_chosen(inputs) -> Check | None:
    ticked = sum(row["chosen"] for row in inputs["routes"])
    if ticked == 1:
        return None
    return Check("chosen", "One route is chosen", CAUTION,
                 f"{ticked or 'No'} routes are ticked; the first {'ticked one ' * (ticked > 1)}is "
                 "taken.", ticked, 1, advice="Tick exactly one.")


def _check_sheet(inputs, routes) -> Check:
    use = _sheet_use(inputs, routes)
    verdict = PASS if use >= LITTLE_SHEET else CAUTION
    return Check("sheet_use", "Use of the stock sheet", verdict,
                 f"{routes.nest.count} blanks use {100 * use:.0f} % of the sheet"
                 + ("." if routes.nest.best else "; with so many small blanks a better layout may "
                    "exist."), use, LITTLE_SHEET, "%", "judgement",
                 "" if verdict == PASS else "Try another stock size, a smaller clamp margin, or "
                 "two parts in a blank.")


def _check_turned(routes) -> Check | None:
    sides = routes.nest.blanks[:, 2]
    if np.ptp(sides) < 1e-9:
        return None
    return Check("turned", "Extrusion direction", CAUTION,
                 "Some blanks lie across the others: their parts shrink differently along x and "
                 "y.", source="shrinkage along and across extrusion differs",
                 advice="Mark the blanks, or cut all in one direction.")


def _check_first(upstream, routes) -> Check | None:
    due = found(upstream, "brief", "days")
    return None if due is None else _check_days(
        "first", "First parts in time", routes.route.days[:, 0], due)


def _check_due(inputs, routes) -> Check | None:
    return None if inputs["due"] is None else _check_days(
        "due", "Last part in time", routes.at(routes.route.days), inputs["due"])


def _check_days(key, title, days, due) -> Check:
    found_days = middle(days)
    verdict = (PASS if found_days.high <= due else CAUTION if found_days.typical <= due else STOP)
    return Check(key, title, verdict, "Queue, tool and forming against the date asked for.",
                 found_days, due, "d", SAMPLING,
                 "" if verdict == PASS else "Choose a faster route, or agree on a part delivery.")


def _check_printer(upstream, routes) -> Check | None:
    limits = [found(upstream, "brief", f"build_{axis}") for axis in "xyz"]
    sizes = [found(upstream, "brief", key) for key in ("footprint_x", "footprint_y", "draw_depth")]
    if routes.route.way != PRINTED or None in limits or None in sizes:
        return None
    limits, sizes = (sorted(map(typical, values)) for values in (limits, sizes))
    fits = all(size <= limit for size, limit in zip(sizes, limits, strict=True))
    return Check("printer", "Fits the printer", PASS if fits else CAUTION,
                 "The footprint and depth fit the build volume." if fits else
                 "The tool is larger than the build volume.", sizes[-1], limits[-1], "mm",
                 "the brief", "" if fits else "Split the tool, or have it printed elsewhere.")


def _check_trim(inputs, upstream) -> Check | None:
    rows = found(upstream, "brief", "dimensions") or []
    allowed = [min(row["minus"], row["plus"]) for row in rows if row["restraint"] == "trim"]
    if not allowed:
        return None
    tolerance, least = trim_tolerance(inputs), min(allowed)
    verdict = (PASS if tolerance.typical <= least else CAUTION if tolerance.low <= least else STOP)
    cited = rule("trim tolerance", inputs["trim"])
    return Check("trim", "Trimmed edge in tolerance", verdict,
                 "What the method holds, against the tightest trimmed dimension.", tolerance,
                 least, "mm", f"{cited.source.citation} ({cited.basis})",
                 "" if verdict == PASS else "Trim by a method that holds more, or ask for a wider "
                 "tolerance.")


# ---------------------------------------------------------------------------- tables

def _tables(inputs, routes: Routes, evens) -> tuple[Grid, ...]:
    tables = (_route_table(inputs, routes), _even_table(evens), _part_table(inputs, routes),
              _order_table(inputs, routes), _proof_table(inputs), _promise_table(inputs, routes),
              _run_table(routes))
    return tuple(table for table in tables if table.rows)


def _route_table(inputs, routes) -> Grid:
    shares = routes.cheapest_share()
    rows = []
    for route, share in zip(routes.all, shares, strict=True):
        tools = _tools(route, routes, inputs)
        rows.append({"name": route.name, "tool": middle(route.tool.cost), "tools": tools,
                     "life": route.life.characteristic, "part": middle(route.part.total),
                     "batch": middle(routes.at(route.money)), "share": float(share),
                     "first": middle(route.days[:, 0]),
                     "hundredth": middle(routes.at(route.days, HUNDREDTH)),
                     "last": middle(routes.at(route.days))})
    return Grid("routes", f"Routes for {inputs['quantity']:.0f} parts",
                (Column("name", "Route"), Column("tool", "A tool", "money"),
                 Column("tools", "Tools"), Column("life", "Characteristic life", "shots"),
                 Column("part", "A part", "money"), Column("batch", "All", "money"),
                 Column("share", "Cheapest in", "%"), Column("first", "First part", "d"),
                 Column("hundredth", "Hundredth", "d"), Column("last", "Last", "d")), tuple(rows))


def _even_table(evens) -> Grid:
    return Grid("break_evens", "Where the chosen route and another cost the same",
                (Column("cheaper", "Cheaper at large numbers"), Column("dearer", "than"),
                 Column("quantity", "from", "parts"), Column("share", "in", "%")),
                tuple({"cheaper": e.cheaper, "dearer": e.dearer, "quantity": e.quantity,
                       "share": e.share} for e in evens))


def _part_table(inputs, routes) -> Grid:
    part = routes.route.part
    rows = [{"item": name, "money": middle(values)} for name, values in part.items.items()]
    made = sum(values for values in part.items.values())
    rows.append({"item": f"rejects ({100 * inputs['scrap']:.0f} %)",
                 "money": middle(part.total - made)})
    rows.append({"item": "a good part", "money": middle(part.total)})
    return Grid("part", "A part by item", (Column("item", "Item"),
                                           Column("money", "Cost", "money")), tuple(rows))


def _proof_table(inputs) -> Grid:
    confidence = inputs["confidence"]
    rows = tuple({"reliability": r, "clean": toollife.shots_needed(r, confidence),
                  "one": toollife.shots_needed(r, confidence, 1)} for r in PROVEN)
    return Grid("proof", f"Shots that prove a chance, at {100 * confidence:.0f} % confidence",
                (Column("reliability", "A shot does not end the tool", "%"),
                 Column("clean", "Without failure", "shots"),
                 Column("one", "With one failure", "shots")), rows)


def _promise_table(inputs, routes) -> Grid:
    """What the longest clean run says of further shots; fifty where none is known."""
    clean = [run.shots for run in routes.route.life.evidence if not run.ended]
    done = max(clean, default=CLEAN)
    bounds = [{"further": done * share, **{key: toollife.further_run_bound(
        done, done * share, shape, inputs["confidence"])
        for key, shape in (("chance", 1.0), ("wear", inputs["shape"]))}} for share in FURTHER]
    return Grid("promise", f"What {done:.0f} clean shots promise of more on the same tool, at "
                f"{100 * inputs['confidence']:.0f} % confidence",
                (Column("further", "Further shots", "shots"),
                 Column("chance", "At least, if chance ends tools", "%"),
                 Column("wear", f"At least, if they wear (shape {inputs['shape']:g})", "%")),
                tuple(bounds))


def _order_table(inputs, routes) -> Grid:
    rows = []
    for risk in RISKS:
        tools = life.tools_ordered([inputs["quantity"]], dict(inputs) | {"risk": risk},
                                   routes.route.life)[0]
        rows.append({"risk": risk, "tools": int(tools) if np.isfinite(tools) else None})
    return Grid("order", "Tools to order by accepted risk", (Column("risk", "Risk", "%"),
                                                             Column("tools", "Tools")), tuple(rows))


def _run_table(routes) -> Grid:
    rows = tuple({"origin": j.run["origin"], "shots": j.run["shots"], "ended": j.run["ended"],
                  "counts": "yes" if j.counts else "no",
                  "differences": "; ".join(j.differences) or "none noted"}
                 for j in routes.route.life.runs)
    return Grid("runs", "Runs of tools, and how they differ from this project",
                (Column("origin", "Origin"), Column("shots", "Shots", "shots"),
                 Column("ended", "Ended by"), Column("counts", "Counts"),
                 Column("differences", "Differs by")), rows)


STEP = Step(
    key="route", number=9, title="Route and cost",
    question="Which tool do we make or buy, what does it cost, when do the parts come, and how "
             "long does it last?",
    fields=FIELDS, compute=compute, needs=("brief", "material"),
    uses=("thinning", "heating", "vents", "wall", "tool"),
)
