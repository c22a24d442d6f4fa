"""How many equal blanks come out of a stock sheet when it is cut by saw or guillotine.

Every cut runs from edge to edge, as a saw and a guillotine shear cut. Where blanks are few enough
the layout is the best there is of that kind; where they are many, the best of two levels of cuts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermoforming.guard import within

FINE = 60  # cut positions along a side up to which every layout is looked at
SLACK = 1e-9


@dataclass(frozen=True)
class Layout:
    """Placed blanks as rows (x, y, length, width) in metres, and whether no layout holds more."""

    blanks: np.ndarray
    best: bool

    @property
    def count(self) -> int:
        return len(self.blanks)


def nest(stock_length: float, stock_width: float, blank_length: float, blank_width: float,
         kerf: float = 0.0, edge: float = 0.0, turn: bool = True) -> Layout:
    """Equal rectangular blanks in a stock sheet, cut edge to edge.

    Parameters
    ----------
    stock_length, stock_width : float
        Stock sheet, > 0. [m]
    blank_length, blank_width : float
        Blank, > 0; its length lies along the stock's length unless turned. [m]
    kerf : float
        Width lost to a cut, >= 0. [m]
    edge : float
        Margin trimmed off all round the stock, >= 0. [m]
    turn : bool
        Whether blanks may lie across; then extrusion runs along their other side.

    Returns
    -------
    Layout
        Blanks placed; empty if none fits.

    Raises
    ------
    Refused
        If a size is not above zero, or kerf or edge is negative.

    Notes
    -----
    Best among layouts of edge-to-edge cuts; a layout that cannot be sawn may hold one more.

    References
    ----------
    Gilmore and Gomory, Oper. Res. 13 (1965) 94-120 (from memory); cuts are looked for only at
    sums of blank sides (Christofides and Whitlock 1977, from memory).
    """
    for name, size in (("stock length", stock_length), ("stock width", stock_width),
                       ("blank length", blank_length), ("blank width", blank_width)):
        within(name, size, 0.0, unit="m", above=True)
    within("kerf", kerf, 0.0, unit="m")
    within("edge", edge, 0.0, unit="m")
    length, width = stock_length - 2 * edge + kerf, stock_width - 2 * edge + kerf
    cutter = _Cutter(blank_length + kerf, blank_width + kerf, turn, length, width)
    placed = cutter.place(length, width)
    rows = np.array(placed, float).reshape(-1, 4)
    return Layout(rows + [edge, edge, -kerf, -kerf] if len(rows) else rows, cutter.exact)


class _Cutter:
    """Divides rectangles for one blank; remembers what it has divided."""

    def __init__(self, a: float, b: float, turn: bool, length: float, width: float):
        square = abs(a - b) < SLACK
        self.shapes = [(a, b)] if square or not turn else [(a, b), (b, a)]
        self.x = _sums([s[0] for s in self.shapes], length)
        self.y = _sums([s[1] for s in self.shapes], width)
        self.exact = len(self.x) <= FINE and len(self.y) <= FINE
        self.known: dict[tuple[int, int], tuple[int, tuple | None]] = {}

    def place(self, length: float, width: float, x: float = 0.0, y: float = 0.0) -> list[tuple]:
        """Blanks as (x, y, length, width), the kerf included."""
        _, cut = self._divided(length, width) if self.exact else self._two_levels(length, width)
        if cut is None:
            return _rows(*self._plain(length, width)[1], x, y)
        if cut[0] == "x":
            return (self.place(cut[1], width, x, y)
                    + self.place(length - cut[1], width, x + cut[1], y))
        return self.place(length, cut[1], x, y) + self.place(length, width - cut[1], x, y + cut[1])

    def _plain(self, length, width):
        """Most blanks in straight rows of one direction, and which."""
        counts = [(int((length + SLACK) / a), int((width + SLACK) / b), a, b)
                  for a, b in self.shapes]
        best = max(counts, key=lambda c: c[0] * c[1])
        return best[0] * best[1], best

    def _divided(self, length, width):
        """Most blanks with any number of cuts, and the first cut (None: straight rows)."""
        key = (int(np.searchsorted(self.x, length + SLACK)),
               int(np.searchsorted(self.y, width + SLACK)))
        if key in self.known:
            return self.known[key]
        best = (self._plain(length, width)[0], None)
        limit = max((length + SLACK) * (width + SLACK) // (self.shapes[0][0] * self.shapes[0][1]),
                    0)
        for cut in self._cuts(length, width):
            if best[0] >= limit:
                break
            first, second = _halves(cut, length, width)
            count = self._divided(*first)[0] + self._divided(*second)[0]
            if count > best[0]:
                best = (count, cut)
        self.known[key] = best
        return best

    def _two_levels(self, length, width):
        best = (self._plain(length, width)[0], None)
        for cut in self._cuts(length, width):
            first, second = _halves(cut, length, width)
            count = self._plain(*first)[0] + self._plain(*second)[0]
            if count > best[0]:
                best = (count, cut)
        return best

    def _cuts(self, length, width):
        """Cuts at sums of blank sides, up to the middle: the other half mirrors them."""
        yield from (("x", c) for c in self.x[1:] if c <= length / 2 + SLACK)
        yield from (("y", c) for c in self.y[1:] if c <= width / 2 + SLACK)


def _halves(cut, length, width):
    axis, at = cut
    return (((at, width), (length - at, width)) if axis == "x"
            else ((length, at), (length, width - at)))


def _rows(across, along, a, b, x, y):
    return [(x + i * a, y + j * b, a, b) for i in range(across) for j in range(along)]


def _sums(sides, limit: float) -> np.ndarray:
    """All sums of whole multiples of the sides that do not exceed the limit, from 0 up."""
    sums = np.array([0.0])
    for side in sides:
        steps = side * np.arange(int(limit / side + SLACK) + 1)
        sums = (sums[:, None] + steps).ravel()
    sums = np.sort(sums[sums <= limit + SLACK])
    return sums[np.concatenate([[True], np.diff(sums) > SLACK])]
