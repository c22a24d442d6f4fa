"""The choice itself: what is refused, how the rest compare, what the chosen ones bring along."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from thermoforming.guard import Refused, within
from thermoforming.reference import Material, sheets, tool_materials
from thermoforming.steps import compare
from thermoforming.steps.base import Outcome, Step
from thermoforming.steps.material import checks, sheet, shown, tool
from thermoforming.steps.material import findings as finding
from thermoforming.steps.material.fields import FIELDS, OWN
from thermoforming.steps.material.own import own_materials
from thermoforming.steps.material.side import Side
from thermoforming.steps.upstream import Upstream


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """Both choices, the checks on them, and the properties that later pages stand on."""
    own = own_materials(inputs["own"])
    all_sheets, all_tools = sheets() | own["sheet"], tool_materials() | own["tool"]
    of_sheet = _sheet_side(inputs, all_sheets, _chosen(inputs, "sheet", "own_sheet", all_sheets))
    material = of_sheet.material
    inputs = inputs | {"sheet_temperature": _sheet_temperature(inputs, material)}
    runs = {key: tool.running(made, material, inputs) for key, made in all_tools.items()}
    of_tool = _tool_side(inputs, all_tools, _chosen(inputs, "tool_material", "own_tool", all_tools),
                         material, runs)
    made, run = of_tool.material, runs[of_tool.chosen]
    return Outcome(
        results=shown.results(of_sheet, of_tool, run, inputs["sheet_temperature"]),
        checks=(*checks.standing_checks(of_sheet), *checks.standing_checks(of_tool),
                checks.window_check(material, inputs["sheet_temperature"]),
                *checks.pair_checks(of_sheet, of_tool, run),
                *checks.duty_checks(material, made, inputs, upstream)),
        worked=shown.worked(of_sheet, of_tool, run, inputs),
        tables=(shown.candidates(of_sheet, shown.SHEET_COLUMNS), shown.alike(of_sheet),
                shown.candidates(of_tool, shown.TOOL_COLUMNS, runs), shown.alike(of_tool),
                shown.brought("sheet_properties", "The chosen sheet", material),
                shown.brought("tool_properties", "The chosen tool material", made)),
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


STEP = Step(
    key="material", number=2, title="Sheet and tool material",
    question="Which sheet, and a tool of what, made how?",
    fields=FIELDS, compute=compute, uses=("brief",),
    cautions=("fume", "resin", "dust", "food contact"),
)
