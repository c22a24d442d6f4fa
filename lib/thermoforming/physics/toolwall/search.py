"""The lightest or quickest wall that holds: every candidate is worked out, none is guessed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from thermoforming.guard import Refused, within
from thermoforming.physics.toolwall.wall import Wall, Warm, brackets, volume, worse

GOVERNS = ("deflection", "stress", "buckling")


@dataclass(frozen=True)
class Limits:
    """What a wall must keep: deflection [m], safety factor on strength and on buckling [1], and
    whether the side walls form the part, so that their deflection counts too."""

    deflection: float
    strength_factor: float
    buckling_factor: float
    sides_form: bool = False

    def __post_init__(self):
        within("permitted deflection", self.deflection, 0.0, unit="m", above=True)
        within("safety factor on strength", self.strength_factor, 1.0)
        within("safety factor on buckling", self.buckling_factor, 1.0)


@dataclass(frozen=True)
class Found:
    """The best wall, its volume [m3], what it uses of each limit, what governs, how many were
    tried and how many passed."""

    wall: Wall
    volume: float
    use: dict[str, float]
    governs: str
    tried: int
    passed: int


def use(wall: Wall, pressure, warm: Warm, limits: Limits) -> dict[str, np.ndarray]:
    """Share of each limit that a wall uses, on the less favourable kind of edge.

    .. math:: u = w / w_{max}, \\quad u = \\sigma n / \\sigma_s, \\quad u = n_b / n

    Parameters
    ----------
    wall : Wall
        One wall or many.
    pressure : float or array
        Net pressure, positive inward. [Pa]
    warm : Warm
        Its material as it is under the load.
    limits : Limits
        What it must keep.

    Returns
    -------
    dict of str to float or array
        By deflection, stress and buckling; one is just enough. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    by_edge = brackets(wall, pressure, warm)
    deflection = worse(by_edge, "deflection")
    if limits.sides_form:
        deflection = np.maximum(deflection, worse(by_edge, "side_deflection"))
    stress = np.maximum(worse(by_edge, "stress"), worse(by_edge, "side_stress"))
    return {"deflection": deflection / limits.deflection,
            "stress": stress * limits.strength_factor / warm.strength,
            "buckling": limits.buckling_factor / worse(by_edge, "buckling")}


def candidates(like: Wall, skins: Sequence[float], rib_shares: Sequence[float],
               rib_heights: Sequence[float], most_ribs: int, least_gap: float,
               least_rib: float) -> Wall:
    """Every combination of skin, rib and number of ribs as one wall of arrays.

    .. math:: n = n_{skin} \\, n_{share} \\, n_{height} \\, n_{ribs}

    The bays are kept as square as the sides allow: ribs along follow from ribs across.

    Parameters
    ----------
    like : Wall
        Gives the sides, depth, side walls and whether ribs stand on the base.
    skins : sequence of float
        Wall thicknesses to try, > 0. [m]
    rib_shares : sequence of float
        Rib thickness over wall thickness to try, > 0. [1]
    rib_heights : sequence of float
        Heights to try, >= 0; ignored where ribs stand on the base. [m]
    most_ribs : int
        Most ribs across the length, 0 to 60. [1]
    least_gap : float
        Clear distance that must stay between ribs (drill, drain, resin), >= 0. [m]
    least_rib : float
        Thinnest rib that can be made, > 0. [m]

    Returns
    -------
    Wall
        Its fields are arrays of one length.

    Raises
    ------
    Refused
        If a value is out of range or nothing is left to try.
    """
    within("most ribs", most_ribs, 0, 60)
    within("least gap between ribs", least_gap, 0.0, unit="m")
    within("thinnest rib", least_rib, 0.0, unit="m", above=True)
    heights = [like.depth] if like.on_base else [h for h in rib_heights if h <= like.depth]
    counts = sorted({(_square(like, n), n) for n in range(int(most_ribs) + 1)})
    rows = np.array([(*sizes, *pair) for *sizes, pair in product(
        skins, rib_shares, heights, counts)], dtype=float).reshape(-1, 5)
    skin, share, high, along, across = rows.T
    walls = replace(like, skin=skin, rib_thickness=np.maximum(share * skin, least_rib),
                    rib_height=high, ribs_along=along, ribs_across=across) if len(rows) else like
    kept = walls.panel[0] >= least_gap if len(rows) else np.zeros(1, dtype=bool)
    if not np.any(kept):
        raise Refused("search", "No wall is left to try: allow more skins, ribs or a smaller gap.")
    return replace(walls, **{name: getattr(walls, name)[kept] for name in (
        "skin", "rib_thickness", "rib_height", "ribs_along", "ribs_across")})


def best(walls: Wall, pressure: float, warm: Warm, limits: Limits,
         side_follows: bool = True) -> Found | None:
    """The wall of least volume, and so of least mass and build time, that keeps every limit.

    .. math:: \\min V, \\quad u \\le 1

    Parameters
    ----------
    walls : Wall
        Candidates, from `candidates`.
    pressure : float
        Net pressure, positive inward. [Pa]
    warm : Warm
        Material as it is under the load.
    limits : Limits
        What the wall must keep.
    side_follows : bool
        Side walls as thick as the skin that is tried.

    Returns
    -------
    Found or None
        None where no candidate holds.

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Build time is the volume by the rate at which the process makes solid. What the height alone
    decides (layers to be laid or exposed) is alike for all walls of one depth and left out.
    """
    if side_follows:
        walls = replace(walls, side=walls.skin)
    used = use(walls, pressure, warm, limits)
    total = volume(walls)
    worst = np.maximum.reduce([used[name] for name in GOVERNS])
    holds = worst <= 1.0
    if not holds.any():
        return None
    i = int(np.flatnonzero(holds)[np.argmin(total[holds])])
    shares = {name: float(used[name][i]) for name in GOVERNS}
    return Found(pick(walls, i), float(total[i]), shares,
                 max(shares, key=shares.get), total.size, int(holds.sum()))


def pick(walls: Wall, index: int) -> Wall:
    """One wall out of many.

    .. math:: W_i

    Parameters
    ----------
    walls : Wall
        Fields are floats or arrays.
    index : int
        Which. [1]

    Returns
    -------
    Wall
        Fields are floats.
    """
    names = ("length", "width", "skin", "rib_thickness", "rib_height", "ribs_along",
             "ribs_across", "depth", "side")
    return replace(walls, **{n: float(np.ravel(getattr(walls, n))[index if np.ndim(
        getattr(walls, n)) else 0]) for n in names})


def _square(like: Wall, across: int) -> int:
    """Ribs along that make the bays nearest to square."""
    return max(0, round((across + 1) * like.width / like.length) - 1)
