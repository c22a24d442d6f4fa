"""The calculation of a trial with this project's numbers put in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermoforming.steps.base import Worked
from thermoforming.steps.trial.dimensions import Model
from thermoforming.units import digits, to_shown, with_unit


def worked(inputs: Mapping[str, Any], found: Model | None, now, corrected, later, worth
           ) -> tuple[Worked, ...]:
    """One dimension followed from the caliper to the corrected tool, then the trial's worth."""
    if found is None:
        return ()
    measured = [d for d in found.dimensions if d.values.size]
    lines = []
    if measured:
        d = max(measured, key=lambda d: abs(found.corrected_tool(d) - d.tool))
        lines += [_hot(found, d), _shown(found, d), _learned(found, d), _correct(found, d)]
    lines.append(_worth(inputs, corrected, later, worth))
    return tuple(lines)


def _mm(value, significant: int = 6) -> str:
    return digits(float(to_shown(float(value), "mm")), significant)


def _pc(value, significant: int = 3) -> str:
    return digits(100.0 * float(value), significant)


def _hot(found, d) -> Worked:
    return Worked(f"{d.name}: the hot tool", r"L_h = L\,(1 + \alpha\,\Delta T)",
                  rf"{_mm(d.tool)} \cdot {digits(found.growth, 6)}",
                  f"{_mm(d.hot)} mm", "definition of linear expansion")


def _shown(found, d) -> Worked:
    values = d.shrinkage(d.values)
    return Worked(f"{d.name}: the shrinkage that {d.values.size} parts show",
                  r"S = 1 - \frac{\bar y + n_t t}{L_h}",
                  rf"1 - \frac{{{_mm(d.values.mean())} + {_mm(d.taken, 3)}}}{{{_mm(d.hot)}}}",
                  f"{_pc(values.mean())} %", "definition of shrinkage on the hot tool")


def _learned(found, d) -> Worked:
    before, wide = found.of(d, after=False)
    after, narrow = found.of(d)
    noise = found.scatter / d.hot / np.sqrt(d.values.size)
    return Worked(f"{d.name}: belief before, parts, belief after",
                  r"(\mu, \sigma),\ \left(\bar S, \frac{s}{L_h \sqrt{n}}\right)"
                  r"\ \rightarrow\ (\mu', \sigma')",
                  rf"({_pc(before)},\ {_pc(wide, 2)}),\ ({_pc(d.shrinkage(d.values).mean())},\ "
                  rf"{_pc(noise, 2)})\,\%",
                  f"({_pc(after)}, {_pc(narrow, 2)}) %",
                  "joint normal update; other dimensions of the same direction speak too "
                  "(Gelman et al. 2013, from memory)")


def _correct(found, d) -> Worked:
    mean, _ = found.of(d)
    tool = found.corrected_tool(d)
    return Worked(f"{d.name}: corrected tool, cold",
                  r"L' = \frac{L_{part} + n_t t}{(1 - S)(1 + \alpha\,\Delta T)}",
                  rf"\frac{{{_mm(d.target)} + {_mm(d.taken, 3)}}}"
                  rf"{{(1 - {digits(mean, 4)}) \cdot {digits(found.growth, 6)}}}",
                  f"{_mm(tool)} mm, a change of {with_unit(tool - d.tool, 'mm', 2)}",
                  "middle of the tolerance as the target")


def _worth(inputs, corrected, later, worth) -> Worked:
    cost = inputs["trial_cost"] + inputs["more_parts"] * inputs["part_cost"]
    first, then = max(corrected, 1e-3), max(later, 1e-3)
    return Worked("What another trial is worth",
                  r"G = N c \left(\frac{1}{P_0} - \frac{1}{P_n}\right) - c_{trial}",
                  rf"{inputs['remaining']:.0f} \cdot {digits(inputs['part_cost'])} \left("
                  rf"\frac{{1}}{{{digits(first)}}} - \frac{{1}}{{{digits(then)}}}\right) - "
                  rf"{digits(cost)}", f"{digits(worth)} money",
                  "rejects not made, less the cost of the trial")
