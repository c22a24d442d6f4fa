"""Every route worked through over the same sample: cost and days against quantity."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band, spread
from thermoforming.physics import cost
from thermoforming.physics.nest import Layout
from thermoforming.steps.base import as_band
from thermoforming.steps.earlier import found
from thermoforming.steps.material import chosen_sheet
from thermoforming.steps.route import life, making, parts
from thermoforming.steps.upstream import Upstream

HUNDREDTH = 100  # the part whose day is always given


@dataclass(frozen=True)
class Route:
    """One route; arrays over (typical and sample) by quantity, or over typical and sample."""

    number: int
    name: str
    way: str
    material: str
    tool: making.Tool
    part: parts.Part
    life: life.Life
    tools: np.ndarray
    money: np.ndarray
    days: np.ndarray
    fixed: np.ndarray
    enough: np.ndarray  # by quantity: whether any number of tools suffices


@dataclass(frozen=True)
class Routes:
    """All routes on one grid of quantities."""

    all: tuple[Route, ...]
    chosen: int
    quantities: np.ndarray
    place: int  # index of the quantity wanted
    nest: Layout

    @property
    def route(self) -> Route:
        return self.all[self.chosen]

    def at(self, array: np.ndarray, quantity: float | None = None) -> np.ndarray:
        """Column of an array at the wanted, or another, quantity of the grid."""
        index = self.place if quantity is None else int(
            np.searchsorted(self.quantities, quantity))
        return array[:, index]

    def cheapest_share(self) -> np.ndarray:
        """Share of the sample in which each route is the cheapest at the quantity wanted."""
        money = np.array([self.at(route.money)[1:] for route in self.all])
        return np.bincount(np.argmin(money, axis=0), minlength=len(self.all)) / money.shape[1]


def middle(values: np.ndarray) -> Band:
    """Band of a sampled result whose first element is the typical one."""
    return spread(values[1:], float(values[0]))


def worked_through(inputs: Mapping[str, Any], upstream: Upstream) -> Routes:
    """All routes over one sample of everything that is uncertain.

    Raises
    ------
    NotDecided
        If brief or material have not been saved.
    """
    upstream.decision("brief")
    sheet, gauge = chosen_sheet(upstream), as_band(found(upstream, "material", "gauge"))
    nest = parts.blanks(inputs)
    draw = making.Draw(making.rate_bands(inputs) | parts.part_bands(inputs, sheet, gauge))
    quantities = _quantities(inputs["quantity"])
    routes = tuple(_route(i, inputs, upstream, nest.count, quantities, draw)
                   for i in range(len(inputs["routes"])))
    chosen = next((i for i, row in enumerate(inputs["routes"]) if row["chosen"]), 0)
    return Routes(routes, chosen, quantities, int(np.searchsorted(quantities, inputs["quantity"])),
                  nest)


def _quantities(wanted: int) -> np.ndarray:
    """Whole quantities, evenly on a logarithm, the wanted one and the hundredth among them."""
    grid = np.round(np.geomspace(1, max(20 * wanted, 1000), 44))
    return np.unique(np.concatenate([grid, [wanted, HUNDREDTH]]))


def _route(i, inputs, upstream, blanks, quantities, draw) -> Route:
    row = inputs["routes"][i]
    cycle = inputs["cycle"] if row["cycle"] is None else row["cycle"]
    tool = making.make_tool(i, inputs, draw)
    part = parts.part(inputs, cycle, blanks, draw)
    most = float(life.shots_of_a_place(quantities[-1], inputs))
    belief = life.life(inputs, upstream, row["material"], cycle, most)
    ordered = life.tools_ordered(quantities, inputs, belief)
    used = life.tools_used_up(quantities, inputs, belief)
    enough = np.isfinite(ordered)
    if inputs["spares_first"]:
        paid = np.broadcast_to(np.where(enough, ordered, used.max(axis=0)), used.shape)
    else:
        paid = used
    fixed = _fixed(inputs, part)
    money = cost.batch_cost(quantities, paid, tool.cost[:, None], part.total[:, None],
                            fixed[:, None])
    sets = np.maximum(used / inputs["forms"], 1)
    wait = 0.0 if inputs["spares_first"] else (tool.next_ready * inputs["forms"])[:, None]
    first = tool.ready + (inputs["forms"] - 1) * tool.next_ready
    days = cost.days_to_part(quantities, first[:, None], part.per_day[:, None], sets, wait)
    return Route(i, row["name"] or f"route {i + 1}", row["way"], row["material"], tool, part,
                 belief, paid, money, days, fixed, enough)


def _fixed(inputs, part) -> np.ndarray:
    """Paid once or once a batch: fixture, set-up, start-up shots."""
    shot = sum(part.items[name] for name in ("sheet", "forming machine", "operator"))
    batch = (inputs["setup_batch"] * (inputs["labour_rate"] + inputs["forming_rate"])
             + inputs["startup"] * inputs["forms"] * shot)
    return inputs["fixture"] + inputs["batches"] * batch


@dataclass(frozen=True)
class BreakEven:
    """From which quantity which of two routes stays the cheaper."""

    cheaper: str  # at large numbers
    dearer: str
    quantity: Band | None  # None where fewer than half of the samples cross
    share: float  # of the sample in which it happens within the grid


def break_evens(routes: Routes) -> tuple[BreakEven, ...]:
    """The chosen route against every other one."""
    return tuple(_break_even(routes, other) for other in routes.all if other is not routes.route)


def _break_even(routes: Routes, other: Route) -> BreakEven:
    mine = routes.route
    first, second = ((mine, other) if other.money[0, -1] < mine.money[0, -1] else (other, mine))
    crossing = cost.last_crossing(routes.quantities, first.money, second.money)
    inside = crossing[1:][np.isfinite(crossing[1:])]
    share = inside.size / (crossing.size - 1)
    if share < 0.5:
        return BreakEven(second.name, first.name, None, share)
    low, high = np.percentile(inside, [5, 95])
    typical = crossing[0] if np.isfinite(crossing[0]) else np.median(inside)
    return BreakEven(second.name, first.name,
                     Band(min(low, typical), float(typical), max(high, typical)), share)
