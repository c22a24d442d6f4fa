"""What one good part costs, item by item, and how many blanks a stock sheet gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.physics import cost
from thermoforming.physics.nest import Layout, nest
from thermoforming.reference import Material, rule
from thermoforming.steps.route.making import Draw, around


@dataclass(frozen=True)
class Part:
    """Cost of a part by item; arrays are typical first, then the sample."""

    items: Mapping[str, np.ndarray]  # for each part made; regrind is negative
    total: np.ndarray  # for each good part
    per_day: np.ndarray  # good parts in a time


@lru_cache(maxsize=64)
def layout(stock_x, stock_y, blank_x, blank_y, kerf, edge, turn) -> Layout:
    """The nest, kept while other inputs change."""
    return nest(stock_x, stock_y, blank_x, blank_y, kerf, edge, turn)


def blanks(inputs: Mapping[str, Any]) -> Layout:
    """Blanks in the stock sheet; refuses where none fits."""
    names = ("stock_x", "stock_y", "blank_x", "blank_y", "kerf", "edge", "turn")
    found = layout(*(inputs[name] for name in names))
    if not found.count:
        raise Refused("blank_x", "The blank does not fit on the stock sheet; choose a larger "
                                 "sheet, or let blanks lie across.")
    return found


def part_bands(inputs: Mapping[str, Any], sheet: Material, gauge: Band) -> dict[str, Band]:
    """What is uncertain about a part's cost."""
    typed = inputs["sheet_price"]
    return {
        "sheet.price": sheet.band("price") if typed is None else around(typed, inputs["spread"]),
        "sheet.density": sheet.band("density"),
        "gauge": gauge,
        "trim.pace": rule("trim pace", inputs["trim"]).band,
        "trim.handling": rule("trim handling", inputs["trim"]).band,
    }


def part(inputs: Mapping[str, Any], cycle: float, count: int, draw: Draw) -> Part:
    """Cost of a part at a cycle, with `count` blanks in a stock sheet."""
    forms = inputs["forms"]
    stock = inputs["stock_x"] * inputs["stock_y"]
    sheet = cost.sheet_cost(stock, draw["gauge"], draw["sheet.density"], draw["sheet.price"],
                            count, forms)
    shot = cycle / forms
    trim = draw["trim.handling"] + draw["trim.pace"] * inputs["trim_length"]
    items = {
        "sheet": sheet,
        "forming machine": np.full_like(sheet, shot * inputs["forming_rate"]),
        "operator": np.full_like(sheet, shot * inputs["attendance"] * inputs["labour_rate"]),
        "trimming": trim * (inputs["labour_rate"] + inputs["trim_rate"]),
        "offcuts sold": -_offcuts(inputs, sheet, draw),
    }
    forming = items["forming machine"] + items["operator"]
    total = cost.part_cost(items["sheet"], forming, items["trimming"], inputs["scrap"],
                           -items["offcuts sold"])
    good = (1 - inputs["scrap"]) / shot * inputs["work_day"] / 86400.0
    return Part(items, total, np.full_like(sheet, good))


def _offcuts(inputs, sheet, draw) -> np.ndarray:
    """Value of what is bought and not sold as part: skeleton, trim, rejects."""
    bought = sheet / draw["sheet.price"]
    finished = inputs["part_area"] * draw["gauge"] * draw["sheet.density"]
    lost = np.maximum(bought - finished * (1 - inputs["scrap"]), 0.0)
    return np.minimum(lost * inputs["regrind"], sheet)
