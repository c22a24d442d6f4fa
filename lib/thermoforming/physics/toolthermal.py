"""The tool's temperature shot by shot: hot sheet, wall and air as one conduction problem.

Sheet and wall are layers of cells. While the sheet lies on the wall and while the wall stands open
the equations are linear with constant coefficients, so each phase is solved exactly in time by its
eigenvalues, and a whole cycle is one matrix: hundreds of shots cost as many products with it, and
the steady cycle one linear system.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from thermoforming.guard import Refused, within

SAMPLES = 16  # instants looked at while the sheet lies on the wall
GROWTH = 1.12  # of the cells away from the contact, where the temperature is steepest
LONGEST_REST = 86400.0  # rests beyond a day are not looked for [s]


@dataclass(frozen=True)
class Layer:
    """A layer of sheet or wall: thickness [m], conductivity [W/(m K)], density times specific
    heat [J/(m3 K)], and into how many cells it is cut."""

    thickness: float
    conductivity: float
    heat_capacity: float
    cells: int = 16

    def __post_init__(self):
        within("layer thickness", self.thickness, 0.0, unit="m", above=True)
        within("conductivity", self.conductivity, 0.0, unit="W/(m K)", above=True)
        within("heat capacity", self.heat_capacity, 0.0, unit="J/(m3 K)", above=True)
        within("cells", self.cells, 2, 200)


@dataclass(frozen=True)
class Sink:
    """Coolant in channels: depth of their middles below the forming face [m], conductance from
    that plane to the coolant per area of wall [W/(m2 K)], coolant temperature [K]."""

    depth: float
    conductance: float
    temperature: float

    def __post_init__(self):
        within("channel depth", self.depth, 0.0, unit="m", above=True)
        within("channel conductance", self.conductance, 0.0, unit="W/(m2 K)")
        within("coolant temperature", self.temperature, 0.0, unit="K", above=True)


@dataclass(frozen=True)
class Setting:
    """How a tool is run. Temperatures absolute [K], films and contact [W/(m2 K)], times [s].

    `sheet_film` cools the sheet's free side, `open_film` the forming face between shots,
    `back_film` the hollow's side always.
    """

    sheet: Layer
    sheet_temperature: float
    contact: float
    wall: tuple[Layer, ...]
    ambient: float
    sheet_film: float
    open_film: float
    back_film: float
    contact_time: float
    open_time: float
    sink: Sink | None = None

    def __post_init__(self):
        if not self.wall:
            raise Refused("wall", "The wall needs at least one layer.")
        for name in ("sheet_temperature", "ambient"):
            within(name.replace("_", " "), getattr(self, name), 0.0, unit="K", above=True)
        for name in ("contact", "back_film"):
            within(name.replace("_", " "), getattr(self, name), 0.0, unit="W/(m2 K)", above=True)
        for name in ("sheet_film", "open_film"):
            within(name.replace("_", " "), getattr(self, name), 0.0, unit="W/(m2 K)")
        for name in ("contact_time", "open_time"):
            within(name.replace("_", " "), getattr(self, name), 0.0, unit="s", above=True)

    @property
    def cycle(self) -> float:
        """Time from shot to shot. [s]"""
        return self.contact_time + self.open_time


@dataclass(frozen=True)
class Shots:
    """One number a shot, absolute temperatures. [K]

    `peak` of the forming face; `face` and `mean` of the wall just before the sheet comes;
    `mean_peak`, the highest mean; `back` face and the `part`'s hottest point when it is taken off.
    """

    peak: np.ndarray
    face: np.ndarray
    mean: np.ndarray
    mean_peak: np.ndarray
    back: np.ndarray
    part: np.ndarray

    def __len__(self) -> int:
        return len(self.peak)


class Cycle:
    """One cycle as linear maps of the wall's cell temperatures before the shot."""

    def __init__(self, setting: Setting):
        sheet, wall = _Cells.of((setting.sheet,), finest=-1), _Cells.of(setting.wall, finest=0)
        self.setting, self.wall, self._cut = setting, wall, sheet.size.size
        self.depth = np.cumsum(wall.size) - wall.size / 2.0
        self._share = wall.capacity / wall.capacity.sum()
        self._open = _Phase(wall, setting, setting.open_film)
        self._closed = _Phase(sheet.beside(wall, setting.contact), setting, setting.sheet_film,
                              self._cut)
        self._touch = sheet.half(-1) + 1.0 / setting.contact
        hot = np.full(self._cut, setting.sheet_temperature)
        entering = np.vstack([np.zeros((self._cut, wall.size.size)), np.eye(wall.size.size)])
        start = np.concatenate([hot, np.zeros(wall.size.size)])
        times = setting.contact_time * np.linspace(0.0, 1.0, SAMPLES + 1)[1:] ** 2
        self._instants = [self._closed.after(t, entering, start) for t in times]
        self._taken = tuple(part[self._cut:] for part in self._instants[-1])
        self._map, self._offset = self._open.after(setting.open_time, *self._taken)

    def steady(self) -> np.ndarray:
        """Wall before a shot once every cycle is like the last, by cell. [K]"""
        return np.linalg.solve(np.eye(self._offset.size) - self._map, self._offset)

    def walls(self, start, shots: int) -> np.ndarray:
        """Wall before each shot, one row a shot; `start` is a temperature or one a cell. [K]"""
        within("shots", shots, 1, 100_000)
        within("starting temperature", start, 0.0, unit="K", above=True)
        rows = np.empty((int(shots), self._offset.size))
        rows[0] = start
        for i in range(1, len(rows)):
            rows[i] = self._map @ rows[i - 1] + self._offset
        return rows

    def shots(self, walls) -> Shots:
        """What happens in the shots that begin with these walls, one a row."""
        walls = np.atleast_2d(walls)
        faces, means = [self._open_face(walls)], [walls @ self._share]
        for a, b in self._instants:
            now = walls @ a.T + b
            wall = now[:, self._cut:]
            faces.append(_between(now[:, self._cut - 1], self._touch, wall[:, 0],
                                  self.wall.half(0)))
            means.append(wall @ self._share)
        back = _between(wall[:, -1], self.wall.half(-1), self.setting.ambient,
                        1.0 / self.setting.back_film)
        return Shots(np.max(faces, axis=0), faces[0], means[0], np.max(means, axis=0), back,
                     now[:, : self._cut].max(axis=1))

    def taken(self, wall) -> np.ndarray:
        """Wall when the part is taken off, by cell, for a shot begun with this wall. [K]"""
        return self._taken[0] @ wall + self._taken[1]

    def heat(self, wall) -> float:
        """Heat that the wall has gained over the contact of a shot, coolant's share left out.
        [J/m2]"""
        return float(self.wall.capacity @ (self.taken(wall) - wall))

    def rest(self, wall, mean: float) -> float:
        """Time that an open wall needs until its mean is down to this; infinite if a day does
        not do. [s]"""
        still, none = np.eye(self._offset.size), np.zeros(self._offset.size)

        def above(time):
            a, b = self._open.after(time, still, none)
            return float(self._share @ (a @ wall + b)) - mean

        if above(0.0) <= 0.0:
            return 0.0
        return brentq(above, 0.0, LONGEST_REST, xtol=0.1) if above(LONGEST_REST) < 0.0 else np.inf

    def _open_face(self, walls):
        film = self.setting.open_film
        if film == 0.0:
            return walls[:, 0]
        return _between(walls[:, 0], self.wall.half(0), self.setting.ambient, 1.0 / film)


def shots_before(values, limit: float) -> int | None:
    """Shots that may be made in a row before a value passes its limit.

    .. math:: n = \\max \\{n : T_1 \\dots T_n \\le T_{limit}\\}

    Parameters
    ----------
    values : array
        One value a shot, from `Shots`. [K]
    limit : float
        What it may reach, > 0. [K]

    Returns
    -------
    int or None
        Number of shots, None if none of them passes the limit.

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("limit", limit, 0.0, unit="K", above=True)
    over = np.flatnonzero(np.asarray(within("temperatures", values, 0.0, unit="K")) > limit)
    return int(over[0]) if over.size else None


# -- cells and phases -----------------------------------------------------------------------------

@dataclass(frozen=True)
class _Cells:
    """A chain of cells: size [m], conductivity [W/(m K)], heat capacity [J/(m2 K)] of each, and
    the resistances [m2 K/W] of the joints between them."""

    size: np.ndarray
    conductivity: np.ndarray
    capacity: np.ndarray
    joint: np.ndarray

    @classmethod
    def of(cls, layers, finest: int) -> _Cells:
        """Layers in order; the cells of the first (0) or last (-1) shrink toward that end."""
        sizes = [np.full(layer.cells, layer.thickness / layer.cells) for layer in layers]
        growth = GROWTH ** np.arange(layers[finest].cells)
        growth = growth / growth.sum() * layers[finest].thickness
        sizes[finest] = growth if finest == 0 else growth[::-1]
        size = np.concatenate(sizes)
        k, c = (np.repeat([getattr(layer, name) for layer in layers],
                          [layer.cells for layer in layers])
                for name in ("conductivity", "heat_capacity"))
        half = size / k / 2.0
        return cls(size, k, c * size, half[1:] + half[:-1])

    def beside(self, other: _Cells, contact: float) -> _Cells:
        """This chain, a contact conductance, then another chain."""
        touch = self.half(-1) + 1.0 / contact + other.half(0)
        pairs = ((getattr(self, n), getattr(other, n)) for n in ("size", "conductivity",
                                                                 "capacity"))
        return _Cells(*map(np.concatenate, pairs),
                      np.concatenate([self.joint, [touch], other.joint]))

    def half(self, cell: int) -> float:
        """Resistance from a cell's middle to its face. [m2 K/W]"""
        return self.size[cell] / self.conductivity[cell] / 2.0


class _Phase:
    """Conduction in a chain with air at both ends and, below, a coolant; exact in time."""

    def __init__(self, cells: _Cells, setting: Setting, first_film: float, before: int = 0):
        n = cells.size.size
        lost, gained = np.zeros(n), np.zeros(n)  # conductance to the surroundings, and times T
        for cell, film in ((0, first_film), (n - 1, setting.back_film)):
            if film > 0.0:
                lost[cell] += 1.0 / (1.0 / film + cells.half(cell))
                gained[cell] += lost[cell] * setting.ambient
        if setting.sink is not None:
            depth = np.cumsum(cells.size[before:]) - cells.size[before:] / 2.0
            cell = before + int(np.argmin(np.abs(depth - setting.sink.depth)))
            lost[cell] += setting.sink.conductance
            gained[cell] += setting.sink.conductance * setting.sink.temperature
        flow = 1.0 / cells.joint
        matrix = np.diag(lost)
        for i, g in enumerate(flow):
            matrix[i:i + 2, i:i + 2] += g * np.array([[1.0, -1.0], [-1.0, 1.0]])
        self._rest = np.linalg.solve(matrix, gained)
        self._root = np.sqrt(cells.capacity)
        self._rates, self._modes = np.linalg.eigh(matrix / np.outer(self._root, self._root))

    def after(self, time: float, matrix, offset):
        """The map x -> matrix x + offset, followed by this phase for a time."""
        modes = self._modes * np.exp(-self._rates * time) @ self._modes.T
        step = modes * (1.0 / self._root[:, None]) * self._root
        return step @ matrix, step @ (offset - self._rest) + self._rest


def _between(first, first_resistance, second, second_resistance):
    """Temperature of a face between two points, by their resistances to it."""
    total = first_resistance + second_resistance
    return (first * second_resistance + second * first_resistance) / total
