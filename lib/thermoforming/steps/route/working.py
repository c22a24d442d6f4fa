"""The cost and life calculation with this project's numbers put in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thermoforming.physics import toollife
from thermoforming.reference import tool_materials
from thermoforming.steps.base import Worked
from thermoforming.steps.route import life
from thermoforming.steps.route.compare import Routes, middle
from thermoforming.steps.route.fields import BOUGHT, MILLED, PRINTED
from thermoforming.units import digits, to_shown, with_unit


def worked(inputs: Mapping[str, Any], routes: Routes, bounds: Mapping[str, Any]
           ) -> tuple[Worked, ...]:
    """Machine time, tool, sheet, part, batch, then what the runs prove and the tools to order."""
    lines = [_machine(inputs, routes), _tool(inputs, routes), _sheet(inputs, routes),
             _part(inputs, routes), _batch(inputs, routes), *_life(inputs, routes, bounds)]
    return tuple(line for line in lines if line is not None)


def _n(value, shown: str, significant: int = 3) -> str:
    return digits(float(to_shown(float(value), shown)), significant)


def _machine(inputs, routes) -> Worked | None:
    route = routes.route
    hours = with_unit(float(route.tool.machine_time[0]), "h")
    if route.way == PRINTED:
        layer = tool_materials()[route.material].band("layer_height").typical
        layers = inputs["print_height"] / layer
        solid = route.tool.machine_time[0] - inputs["setup"] - layers * inputs["layer_time"]
        rate = inputs["solid_volume"] / solid
        return Worked("Printer for one tool", r"t = t_0 + \frac{V}{\dot V} + \frac{H}{h} t_h",
                      rf"{_n(inputs['setup'], 'h')}\,\mathrm{{h}} + "
                      rf"\frac{{{_n(inputs['solid_volume'], 'cm³')}}}{{{_n(rate, 'cm³/h')}}}"
                      rf"\,\mathrm{{h}} + \frac{{{_n(inputs['print_height'], 'mm')}}}"
                      rf"{{{_n(layer, 'mm')}}} \cdot {_n(inputs['layer_time'], 'h')}\,\mathrm{{h}}",
                      hours, "sum of set-up, solid and layers")
    if route.way == MILLED:
        lines = inputs["stepover"] * inputs["feed"]
        rough = route.tool.machine_time[0] - inputs["setup"] - inputs["finished_area"] / lines
        return Worked("Mill for one tool", r"t = t_0 + \frac{V_-}{Q} + \frac{A}{s\,v}",
                      rf"{_n(inputs['setup'], 'h')} + {_n(rough, 'h')} + "
                      rf"{_n(inputs['finished_area'] / lines, 'h')}\,\mathrm{{h}}", hours,
                      "sum of set-up, roughing and finishing")
    return None


def _tool(inputs, routes) -> Worked | None:
    tool = routes.route.tool
    if routes.route.way == BOUGHT:
        return None
    hands = float(tool.hand_time[0])
    material = float(tool.cost[0]) - tool.machine_cost[0] - hands * inputs["labour_rate"]
    return Worked("A tool", r"F = (m\,p + c_f) + t_m r_m + t_h r_h",
                  rf"{digits(material)} + {_n(tool.machine_time[0], 'h')} \cdot "
                  rf"{digits(float(tool.machine_cost[0] / tool.machine_time[0]) * 3600)} + "
                  rf"{_n(hands, 'h')} \cdot {_n(inputs['labour_rate'], 'money/h')}",
                  f"{digits(float(tool.cost[0]))} money",
                  "material and what is bought, machine, hands")


def _sheet(inputs, routes) -> Worked:
    sheet = float(routes.route.part.items["sheet"][0])
    made = routes.nest.count * inputs["forms"]
    return Worked("Sheet for one part", r"c_s = \frac{m\,p}{n_b\,n_f}",
                  rf"\frac{{{digits(sheet * made)}}}{{{routes.nest.count} \cdot "
                  rf"{inputs['forms']:.0f}}}", f"{digits(sheet)} money",
                  "price of a stock sheet by the parts in it")


def _part(inputs, routes) -> Worked:
    part = routes.route.part
    made = [float(values[0]) for values in part.items.values()]
    terms = " + ".join(digits(value) for value in made[:-1]) + f" - {digits(-made[-1])}"
    return Worked("A good part", r"c = \frac{c_s + c_f + c_o + c_t - g}{1 - q}",
                  rf"\frac{{{terms}}}{{1 - {digits(inputs['scrap'])}}}",
                  f"{digits(float(part.total[0]))} money", "rejects are carried by good parts")


def _batch(inputs, routes) -> Worked:
    route = routes.route
    tools = float(routes.at(route.tools)[0])
    total = middle(routes.at(route.money))
    return Worked("All parts and tools", r"C = C_0 + n F + N c",
                  rf"{digits(float(route.fixed[0]))} + {tools:.3g} \cdot "
                  rf"{digits(float(route.tool.cost[0]))} + {inputs['quantity']:.0f} \cdot "
                  rf"{digits(float(route.part.total[0]))}", f"{digits(total.typical)} money",
                  "C_0: fixture, set-up and start-up shots")


def _life(inputs, routes, bounds) -> list[Worked]:
    belief, confidence, shape = routes.route.life, inputs["confidence"], inputs["shape"]
    lines = []
    if belief.evidence and belief.failures == 0:
        lines.append(Worked("One shot, proven by a clean run", r"R = (1 - C)^{1/n}",
                            rf"(1 - {digits(confidence)})^{{1/{belief.shots}}}",
                            f"{100 * bounds['reliability']:.2f} %",
                            "success-run theorem; Clopper and Pearson 1934 (from memory)"))
    elif belief.evidence:
        lines.append(Worked("One shot, proven with failures",
                            r"R = B^{-1}(1 - C;\, n - f,\, f + 1)",
                            rf"B^{{-1}}({digits(1 - confidence)};\, "
                            rf"{belief.shots - belief.failures},\, {belief.failures + 1})",
                            f"{100 * bounds['reliability']:.2f} %",
                            "Clopper and Pearson 1934 (from memory)"))
    if belief.evidence:
        total = sum(run.shots**shape for run in belief.evidence)
        quantile = 2.0 * total / bounds["characteristic"] ** shape
        lines.append(Worked("Characteristic life, proven if lives follow the assumed shape",
                            r"\eta = \left(\frac{2 \sum t_i^\beta}{\chi^2_{C;\,2f+2}}"
                            r"\right)^{1/\beta}",
                            rf"\left(\frac{{2 \cdot {digits(total)}}}{{{digits(quantile)}}}"
                            rf"\right)^{{1/{shape:g}}}",
                            with_unit(bounds["characteristic"], "shots"),
                            "Weibayes; Abernethy, The New Weibull Handbook (from memory)"))
        lines += _promise(belief, inputs)
    shots = float(life.shots_of_a_place(inputs["quantity"], inputs))
    lines.append(Worked("Shots that the batch takes of each forming place",
                        r"\frac{N}{(1 - q)\,n_f} + b\,n_0",
                        rf"\frac{{{inputs['quantity']:.0f}}}{{(1 - {digits(inputs['scrap'])}) "
                        rf"\cdot {inputs['forms']:.0f}}} + {inputs['batches']:.0f} \cdot "
                        rf"{inputs['startup']:.0f}", with_unit(shots, "shots"),
                        "rejects and start-up wear the tool too"))
    return lines


def _promise(belief, inputs) -> list[Worked]:
    """What the longest clean run says of as many shots again."""
    clean = [run.shots for run in belief.evidence if not run.ended]
    if not clean:
        return []
    done = max(clean)
    again = toollife.further_run_bound(done, done, inputs["shape"], inputs["confidence"])
    n, shape = f"{done:.0f}", f"{inputs['shape']:g}"
    return [Worked("What the longest clean run promises of as many shots again",
                   r"R = (1 - C)^{((n+m)^\beta - n^\beta)/n^\beta}",
                   rf"(1 - {digits(inputs['confidence'])})^{{(({n}+{n})^{{{shape}}}"
                   rf" - {n}^{{{shape}}})/{n}^{{{shape}}}}}",
                   f"{100 * again:.2g} % at least" + (": nearly nothing" if again < 0.05 else ""),
                   "Weibull with the assumed shape, one tool, no failure")]
