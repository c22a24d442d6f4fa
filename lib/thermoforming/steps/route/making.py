"""What one tool costs and when it is ready, by each route, over a sample of the rates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band, sample
from thermoforming.guard import Refused
from thermoforming.physics import cost
from thermoforming.reference import Material, tool_materials
from thermoforming.steps.route.fields import BOUGHT, CAST, MILLED, PRINTED

SAMPLES = 400
PER_MATERIAL = ("price", "machine_rate", "build_rate", "hand_work", "layer_height", "density")
DAY = 86400.0


class Draw:
    """Arrays whose first element is typical and whose others are one Latin hypercube sample."""

    def __init__(self, bands: Mapping[str, Band]):
        drawn = sample(bands, SAMPLES)
        self._arrays = {name: np.concatenate([[band.typical], drawn[name]])
                        for name, band in bands.items()}

    def __getitem__(self, name: str) -> np.ndarray:
        return self._arrays[name]

    def __contains__(self, name: str) -> bool:
        return name in self._arrays


@dataclass(frozen=True)
class Tool:
    """One tool by one route; arrays are typical first, then the sample."""

    cost: np.ndarray
    ready: np.ndarray
    next_ready: np.ndarray
    machine_time: np.ndarray
    machine_cost: np.ndarray
    hand_time: np.ndarray
    guessed: bool = False  # its price is no offer but a guess from the table


def around(value: float, share: float) -> Band:
    """A typed rate with the spread that its user gives it."""
    return Band(value * (1 - share), value, value * (1 + share))


def rate_bands(inputs: Mapping[str, Any]) -> dict[str, Band]:
    """Every uncertain rate of every route: the user's own where typed, else the table's."""
    bands, typed = {}, {row["material"]: row for row in inputs["rates"]}
    for route in inputs["routes"]:
        key = route["material"]
        material = tool_materials()[key]
        for name in PER_MATERIAL:
            own = typed.get(key, {}).get(name)
            if own is not None:
                bands[f"{key}.{name}"] = around(own, inputs["spread"])
            elif name in material:
                bands[f"{key}.{name}"] = material.band(name)
    for i, route in enumerate(inputs["routes"]):
        for what, shown in (("price", "money"), ("days", "d")):
            low, high = route[f"{what}_low"], route[f"{what}_high"]
            if low is not None or high is not None:
                bands[f"{i}.{what}"] = _from_to(route, what, low, high)
        if f"{i}.days" not in bands:
            bands[f"{i}.days"] = tool_materials()[route["material"]].band("lead_time")
        bands[f"{i}.relative"] = tool_materials()[route["material"]].band("relative_cost")
    return bands


def own_rates(inputs: Mapping[str, Any], material: str) -> bool:
    """Whether the user typed rates for a material."""
    return any(row["material"] == material for row in inputs["rates"])


def make_tool(i: int, inputs: Mapping[str, Any], draw: Draw) -> Tool:
    """Cost and time of a tool by route number i."""
    route = inputs["routes"][i]
    key, material = route["material"], tool_materials()[route["material"]]
    hand = draw[f"{key}.hand_work"]
    bought = draw[f"{i}.price"] if f"{i}.price" in draw else np.zeros(SAMPLES + 1)
    if route["way"] == BOUGHT:
        return _bought(i, inputs, draw, bought)
    machine = _machine_time(route, material, inputs, draw)
    mass = _mass(route, inputs, draw)
    money = cost.tool_cost(mass, draw[f"{key}.price"], machine, draw[f"{key}.machine_rate"], hand,
                           inputs["labour_rate"], inputs["finishing"] + bought)
    typed_days = route["days_low"] is not None or route["days_high"] is not None
    cast = route["way"] == CAST
    work = (draw[f"{i}.days"] if typed_days or cast
            else (machine / inputs["machine_day"] + hand / inputs["work_day"]) * DAY)
    more = work if typed_days or cast else (machine / inputs["machine_day"]) * DAY
    return Tool(money, inputs["queue"] + work, more, machine,
                machine * draw[f"{key}.machine_rate"], hand)


def _bought(i, inputs, draw, price) -> Tool:
    zero = np.zeros(SAMPLES + 1)
    guessed = f"{i}.price" not in draw
    if guessed:
        price = _guess(i, inputs, draw)
    return Tool(price + inputs["finishing"], draw[f"{i}.days"], draw[f"{i}.days"], zero, zero,
                zero, guessed)


def _guess(i, inputs, draw) -> np.ndarray:
    """A bought tool's price from the table's relative cost, scaled by the first tool made here."""
    for j, route in enumerate(inputs["routes"]):
        if route["way"] != BOUGHT:
            made = make_tool(j, inputs, draw).cost
            return made * draw[f"{i}.relative"] / draw[f"{j}.relative"]
    raise Refused("routes", f"{inputs['routes'][i]['name']} is bought, but its price is blank, and "
                            "no route made here is there to guess it from: type a price.")


def _machine_time(route, material: Material, inputs, draw) -> np.ndarray:
    key = route["material"]
    if route["way"] == CAST:
        return np.full(SAMPLES + 1, inputs["setup"])
    if f"{key}.build_rate" not in draw:
        raise Refused("routes", f"{route['name']}: the table has no rate at which {material.name} "
                                f"is {route['way']}; type one under your own rates, or choose "
                                "another way.")
    rate = draw[f"{key}.build_rate"]
    if route["way"] == PRINTED:
        if f"{key}.layer_height" not in draw:
            raise Refused("routes", f"{route['name']}: {material.name} is not printed in layers; "
                                    "choose another way.")
        return cost.print_time(inputs["solid_volume"], inputs["print_height"], rate,
                               draw[f"{key}.layer_height"], inputs["layer_time"], inputs["setup"])
    return cost.milling_time(inputs["removed_volume"], rate, inputs["finished_area"],
                             inputs["stepover"], inputs["feed"], inputs["setup"])


def _mass(route, inputs, draw) -> np.ndarray:
    volume = {PRINTED: inputs["solid_volume"], MILLED: inputs["block_volume"]}.get(
        route["way"], inputs["block_volume"] - inputs["removed_volume"])
    return volume * draw[f"{route['material']}.density"] * (1 + inputs["waste"])


def _from_to(route, what: str, low, high) -> Band:
    low, high = (high if low is None else low), (low if high is None else high)
    if low > high:
        raise Refused("routes", f"{route['name']}: the {what} from is above the {what} to.")
    return Band(low, (low + high) / 2, high)
