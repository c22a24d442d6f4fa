"""Rectangles in rectangles: blanks in a stock sheet, a tool in a build volume."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from math import ceil

from thermoforming.guard import within


@dataclass(frozen=True)
class Nest:
    """Blanks laid out in a stock sheet.

    Parameters
    ----------
    places : tuple of tuple
        Lower left corner and size along x and y of each blank. [m]
    used : float
        Share of the stock sheet that the blanks take. [-]
    """

    places: tuple[tuple[float, float, float, float], ...]
    used: float

    @property
    def count(self) -> int:
        """Blanks in one stock sheet."""
        return len(self.places)


def blanks_in_sheet(stock, blank, kerf: float = 0.0, turn: bool = True) -> Nest:
    """Most blanks by straight cuts: one block of blanks, and a second one, turned, in the rest.

    Parameters
    ----------
    stock, blank : tuple of float
        Size along x (the extrusion) and y, > 0. [m]
    kerf : float
        Width of a cut, >= 0. [m]
    turn : bool
        Whether blanks may lie across the extrusion.

    Returns
    -------
    Nest
        The best of all splits of this kind; no places when nothing fits. [m]

    Raises
    ------
    Refused
        If a size is not positive and finite.
    """
    for name, pair in (("stock", stock), ("blank", blank)):
        within(f"{name} size", pair, 0.0, unit="m", above=True)
    within("kerf", kerf, 0.0, unit="m")
    layouts = []
    for first in _ways(blank, turn):
        for along in (0, 1):
            for count in range(_fit(stock[along], first[along], kerf) + 1):
                layouts.append(_two_blocks(stock, first, along, count, kerf,
                                           _ways(blank, turn)))
    best = max(layouts, key=len)
    return Nest(tuple(best), len(best) * blank[0] * blank[1] / (stock[0] * stock[1]))


def pieces_to_build(size, build) -> tuple[int, tuple[int, int, int]]:
    """Fewest pieces into which a box is cut to fit a build volume, turned in any way.

    Parameters
    ----------
    size, build : tuple of float
        Box and build volume along x, y, z, > 0. [m]

    Returns
    -------
    count : int
        Pieces. [-]
    axes : tuple of int
        Which axis of the box lies along x, y and z of the machine; the box's own way is kept
        where it is as good as another.
    """
    within("size", size, 0.0, unit="m", above=True)
    within("build volume", build, 0.0, unit="m", above=True)

    def pieces(axes):
        counts = [ceil(size[axis] / room - 1e-9) for axis, room in zip(axes, build, strict=True)]
        return counts[0] * counts[1] * counts[2]

    axes = min(permutations(range(3)), key=pieces)
    return pieces(axes), axes


def _ways(blank, turn: bool):
    square = abs(blank[0] - blank[1]) < 1e-12
    return (tuple(blank),) if square or not turn else (tuple(blank), (blank[1], blank[0]))


def _fit(room: float, size: float, kerf: float) -> int:
    return int((room + kerf + 1e-9) // (size + kerf)) if room > 0.0 else 0


def _two_blocks(stock, first, along: int, count: int, kerf: float, ways):
    """`count` rows of the first way along an axis, and the rest filled the better way."""
    across = 1 - along
    taken = count * (first[along] + kerf)
    block = _block((0.0, 0.0), first, along, count, _fit(stock[across], first[across], kerf), kerf)
    origin = (taken, 0.0) if along == 0 else (0.0, taken)
    rest = []
    for way in ways:
        rows = _fit(stock[along] - taken, way[along], kerf)
        filled = _block(origin, way, along, rows, _fit(stock[across], way[across], kerf), kerf)
        rest = max(rest, filled, key=len)
    return block + rest


def _block(origin, size, along: int, rows: int, columns: int, kerf: float):
    counts = (rows, columns) if along == 0 else (columns, rows)
    return [(origin[0] + i * (size[0] + kerf), origin[1] + j * (size[1] + kerf), *size)
            for i in range(counts[0]) for j in range(counts[1])]
