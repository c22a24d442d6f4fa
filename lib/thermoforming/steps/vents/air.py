"""The vents in place, and the evacuation through them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from thermoforming.guard import Refused
from thermoforming.physics.bulge import membrane_pressure
from thermoforming.physics.evacuation import Machine, Pocket, Pump, Vents
from thermoforming.physics.gasflow import bore, in_series, passage_conductance, slot
from thermoforming.physics.venting import Site, place_vents, pocket_volumes
from thermoforming.steps.vents.fields import ADD, OMIT, PROPOSED, ROUND
from thermoforming.steps.vents.landing import Landing

BY_HAND = "placed by hand"
STEEPEST = 0.3  # of the normal along the pull; steeper places cannot be drilled along it
COVERING = 0.02  # share of the air over which the sheet rolls over a vent
LEAK_SPREAD = 3.0  # times the typical leak: the high end of its band; common practice
DRAWN = 0.9  # share of the air gone once a sheet without a forming result lies in the tool


@dataclass(frozen=True, eq=False)
class Plan:
    """Vents with their places, and the balance to run; `fewer` has the first so many only."""

    sites: tuple[Site, ...]
    numbers: tuple[int, ...]
    passage: np.ndarray
    pockets: tuple[Pocket, ...]
    vents: tuple[Vents, ...]
    machine: Machine
    unserved: tuple[int, ...]
    fewer: Mapping[int, tuple[Vents, ...]]


def plan(inputs: Mapping[str, Any], landing: Landing, modulus: float, gauge: float,
         roughness: float) -> Plan:
    """Place the vents and set up the balance.

    `modulus` is that of the hot sheet and `gauge` its starting gauge: they give the pull that
    draws it where no sheet has been formed.
    """
    numbered = _sites(inputs, landing)
    sites = [site for _, site in numbered]
    passage = _passage(inputs, roughness)
    gone, pull = landing.curve or _stated_curve(inputs, landing, modulus, gauge)
    pockets = _pockets(inputs, landing, gone, pull)
    vents, unserved = _groups(sites, landing, passage, gone, pull)
    fewer = {n: tuple(_groups(sites[:n], landing, passage, gone, pull)[0])
             for n in _counts(len(landing.pockets), len(sites))}
    return Plan(tuple(sites), tuple(n for n, _ in numbered), passage, tuple(pockets),
                tuple(vents), _machine(inputs), unserved, fewer)


def _counts(least: int, whole: int) -> list[int]:
    """A few numbers of vents between one a pocket and all."""
    if whole <= least:
        return []
    between = np.geomspace(least, whole, 4)[:-1]
    return sorted({int(round(n)) for n in between})


def _sites(inputs, landing: Landing) -> list[tuple[int, Site]]:
    """Vents with their numbers in the list."""
    if inputs["placing"] == PROPOSED:
        proposed = _proposed(landing, inputs["spacing"], inputs["last"], int(inputs["most"]))
        return _changed(dict(enumerate(proposed, start=1)), inputs["changes"], landing)
    places = [(row["x"], row["y"]) for row in inputs["listed"]]
    words = [row["why"] or BY_HAND for row in inputs["listed"]]
    return list(enumerate(_nearest(landing, places, words), start=1))


def _changed(sites: dict[int, Site], changes, landing: Landing) -> list[tuple[int, Site]]:
    """Proposed vents with the engineer's changes; numbers of the others stay as they were."""
    new = max(sites, default=0)
    for row in changes:
        number = int(row["number"])
        if row["what"] == ADD:
            new += 1
            number = new
        elif number not in sites:
            raise Refused("changes", f"There is no vent number {number} to change; the list ends "
                                     f"at {max(sites, default=0)}.")
        if row["what"] == OMIT:
            del sites[number]
        else:
            sites[number] = _nearest(landing, [(row["x"], row["y"])], [row["why"] or BY_HAND])[0]
    return sorted(sites.items())


def _nearest(landing: Landing, places, words) -> list[Site]:
    """Vents at the places of the tool face nearest in plan."""
    if not places:
        return []
    pocket, allowed = _where(landing)
    open_to = np.flatnonzero(allowed)
    _, nearest = cKDTree(landing.points[open_to, :2]).query(np.array(places))
    return [Site(int(i), why, int(pocket[i]), float(landing.order[i]))
            for i, why in zip(open_to[nearest], words, strict=True)]


@lru_cache(maxsize=16)
def _proposed(landing: Landing, spacing: float, last: float, most: int) -> list[Site]:
    pocket, allowed = _where(landing)
    return place_vents(landing.points, landing.normals, landing.order, spacing, last=last,
                       pocket=pocket, allowed=allowed, most=most)


def _where(landing: Landing):
    """Pocket of each point, and whether a hole can be made there along the pull."""
    pocket = np.zeros(len(landing.points), int)
    for i, each in enumerate(landing.pockets):
        pocket[each.points] = i
    return pocket, landing.normals[:, 2] > STEEPEST


def _passage(inputs, roughness: float) -> np.ndarray:
    if inputs["kind"] == ROUND:
        return bore(inputs["bore"], inputs["bore_length"], min(roughness, 0.1 * inputs["bore"]))
    if inputs["slot_width"] < inputs["gap"]:
        raise Refused("slot_width", "The slot must be at least as long as its gap is wide.")
    return slot(inputs["slot_width"], inputs["gap"], inputs["bore_length"],
                min(roughness, 0.1 * inputs["gap"]))


def _stated_curve(inputs, landing: Landing, modulus: float, gauge: float):
    """Share of the air gone over the pull, from the pull that blows a dome half as high as wide."""
    half = 0.5 * float(np.sort(np.ptp(landing.points, axis=0))[1])
    drawing = min(membrane_pressure(1.0) * modulus * gauge / half, 0.5 * inputs["ambient"])
    return (np.array([0.0, DRAWN, 0.97, 1.0]),
            np.array([0.0, drawing, drawing + 0.2 * inputs["ambient"], 0.95 * inputs["ambient"]]))


def _pockets(inputs, landing: Landing, gone, pull) -> list[Pocket]:
    """Volume curves of the pockets over the pull, on a grid fine in both."""
    shares = np.unique(np.concatenate([np.linspace(0.0, 1.0, 41), gone]))
    pulls = _pull_at(shares, gone, pull)
    rising = np.concatenate([[True], np.diff(pulls) > 1.0])
    shares, pulls = shares[rising], pulls[rising]
    volumes = pocket_volumes(landing.pockets, landing.order, landing.areas, inputs["volume"],
                             shares)
    return [Pocket(pulls, volumes[i], float(_pull_at(each.closes, gone, pull)), each.parent)
            for i, each in enumerate(landing.pockets)]


def _pull_at(share, gone, pull):
    return np.interp(share, gone, pull)


def _groups(sites, landing: Landing, passage, gone, pull):
    """Vents by pocket, each closed when the sheet has rolled over it; pockets without any."""
    groups, unserved = [], []
    for i, pocket in enumerate(landing.pockets):
        orders = np.array([s.order for s in sites if s.pocket == i])
        if len(orders) == 0:
            unserved.append(i)
            continue
        covered = _pull_at(orders, gone, pull)
        latest = orders >= landing.order[pocket.points].max() - COVERING
        covered[latest] = 1e9  # the last place to be covered: its air is gone by then
        width = float(np.median(_pull_at(orders, gone, pull)
                                - _pull_at(orders - COVERING, gone, pull)))
        groups.append(Vents(i, passage, np.maximum(covered, 1.0), max(width, 50.0)))
    return groups, tuple(unserved)


def _machine(inputs) -> Machine:
    line = passage_conductance(bore(inputs["line_bore"], inputs["line_length"], 2e-6,
                                    inputs["fittings"] + 0.5))
    valve = passage_conductance(bore(inputs["valve"], 2.0 * inputs["valve"], 2e-6))
    low = min(inputs["pump_end"], 0.9 * inputs["ambient"])
    points = np.array([1.0, 1.5, 3.0, 10.0]) * low
    points = np.append(points[points < 0.95 * inputs["ambient"]], inputs["ambient"])
    return Machine(inputs["plenum"], in_series(line, valve), inputs["tank_volume"],
                   min(inputs["tank_pressure"], inputs["ambient"]),
                   Pump(points, inputs["pump_speed"] * (1.0 - low / points)), inputs["ambient"],
                   inputs["air_temperature"], inputs["leak"] / inputs["ambient"])
