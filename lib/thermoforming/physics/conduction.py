"""Heat through a stack of layers in time: enthalpy method, radiation, convection, contact.

One solver for the sheet in the heater, in air and on the tool. Each layer carries the enthalpy
and conductivity of its material over temperature, so melting needs nothing special.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit

from thermoforming.guard import Refused, within
from thermoforming.physics.radiation import STEFAN_BOLTZMANN

_COLDEST, _HOTTEST, _STEP = 200.0, 900.0, 1.0  # range and step of the property tables, K
_GAMMA = 1.0 - 1.0 / math.sqrt(2.0)  # L-stable singly diagonally implicit method of order 2
PERFECT_CONTACT = 1e-8  # m2 K/W, stands for none: a micrometre of sheet has a thousand times that


@dataclass(frozen=True, eq=False)
class Solid:
    """Heat content and conductivity of a material on a fine grid of temperatures.

    Parameters
    ----------
    enthalpy : array
        Heat content by volume at 200 to 900 K in steps of 1 K, increasing. [J/m3]
    conductivity : array
        Conductivity at the same temperatures, > 0. [W/(m K)]
    """

    enthalpy: np.ndarray
    conductivity: np.ndarray

    def __post_init__(self):
        within("conductivity", self.conductivity, 0.0, unit="W/(m K)", above=True)
        within("rise of the enthalpy", np.diff(self.enthalpy), 0.0, unit="J/m3", above=True)

    @classmethod
    def constant(cls, density: float, specific_heat: float, conductivity: float) -> Solid:
        """A material whose density [kg/m3], specific heat [J/(kg K)] and conductivity [W/(m K)]
        do not change with temperature."""
        within("density", density, 0.0, unit="kg/m3", above=True)
        within("specific_heat", specific_heat, 0.0, unit="J/(kg K)", above=True)
        grid = _grid()
        return cls(density * specific_heat * (grid - _COLDEST), np.full_like(grid, conductivity))

    @classmethod
    def curves(cls, density: float, temperature, enthalpy, conductivity_temperature,
               conductivity) -> Solid:
        """From density [kg/m3] and tables of enthalpy [J/kg] and conductivity [W/(m K)] over
        absolute temperature [K]; the enthalpy goes on with its end slopes, the conductivity
        with its end values."""
        within("density", density, 0.0, unit="kg/m3", above=True)
        grid = _grid()
        t, h = np.asarray(temperature, float), np.asarray(enthalpy, float)
        if len(t) < 2 or np.any(np.diff(t) <= 0.0) or np.any(np.diff(h) <= 0.0):
            raise Refused("enthalpy", "An enthalpy curve needs two points or more and must rise.")
        heat = np.interp(grid, t, h)
        first, last = (h[1] - h[0]) / (t[1] - t[0]), (h[-1] - h[-2]) / (t[-1] - t[-2])
        heat += np.minimum(grid - t[0], 0.0) * first + np.maximum(grid - t[-1], 0.0) * last
        return cls(density * heat, np.interp(grid, conductivity_temperature, conductivity))

    def content(self, temperature):
        """Heat content by volume at absolute temperatures. [J/m3]"""
        return np.interp(temperature, _grid(), self.enthalpy)

    def temperature(self, content):
        """Absolute temperature for a heat content by volume. [K]"""
        return np.interp(content, self.enthalpy, _grid())


@dataclass(frozen=True, eq=False)
class Layer:
    """A layer of one material.

    Parameters
    ----------
    solid : Solid
        What it is made of.
    thickness : float
        Thickness, > 0. [m]
    cells : int
        Number of cells, finer towards both faces, 2 to 400.
    """

    solid: Solid
    thickness: float
    cells: int = 24

    def __post_init__(self):
        within("thickness", self.thickness, 0.0, unit="m", above=True)
        within("cells", self.cells, 2, 400)

    def depths(self) -> np.ndarray:
        """Depth of the nodes from the first face. [m]"""
        return 0.5 * self.thickness * (1.0 - np.cos(np.pi * np.arange(self.cells + 1)
                                                    / self.cells))


@dataclass(frozen=True)
class Side:
    """What an outer face sees.

    Parameters
    ----------
    air : float
        Absolute temperature of the air, > 0. [K]
    film : float
        Film coefficient to the air, >= 0. [W/(m2 K)]
    heater : float
        Absolute temperature of the heater, >= 0. [K]
    from_heater : float
        Exchange factor with the heater, 0 to 1. [1]
    around : float
        Absolute temperature of the surroundings, >= 0. [K]
    from_around : float
        Exchange factor with the surroundings, 0 to 1. [1]
    absorption_depth : float
        Depth over which radiation falls to 1/e; 0 if all stays at the face. [m]
    """

    air: float
    film: float = 0.0
    heater: float = 0.0
    from_heater: float = 0.0
    around: float = 0.0
    from_around: float = 0.0
    absorption_depth: float = 0.0

    def __post_init__(self):
        within("air temperature", self.air, 0.0, unit="K", above=True)
        within("film coefficient", self.film, 0.0, unit="W/(m2 K)")
        within("temperature", (self.heater, self.around), 0.0, unit="K")
        within("exchange factor", (self.from_heater, self.from_around), 0.0, 1.0)
        within("absorption_depth", self.absorption_depth, 0.0, unit="m")


@dataclass(frozen=True, eq=False)
class History:
    """Temperatures in time and depth.

    Parameters
    ----------
    time : array, shape (n,)
        Instants, from 0. [s]
    depth : array, shape (k,)
        Nodes from the first face through all layers; faces in contact appear twice. [m]
    temperature : array, shape (n, k)
        Absolute temperature. [K]
    heat : array, shape (n,)
        Heat taken in through both outer faces since the start. [J/m2]
    width : array, shape (k,)
        Depth that each node stands for. [m]
    layer : array of int, shape (k,)
        Layer of each node.
    """

    time: np.ndarray
    depth: np.ndarray
    temperature: np.ndarray
    heat: np.ndarray
    width: np.ndarray
    layer: np.ndarray

    def of(self, layer: int) -> np.ndarray:
        """Temperatures of the nodes of one layer. [K]"""
        return self.temperature[:, self.layer == layer]

    def mean(self, layer: int = 0) -> np.ndarray:
        """Mean temperature of one layer in time. [K]"""
        width = self.width[self.layer == layer]
        return self.of(layer) @ width / width.sum()

    def when(self, values, limit: float, rising: bool) -> float:
        """First instant at which a course over time reaches a limit; inf if it never does. [s]"""
        return crossing(self.time, values, limit, rising)


def crossing(time: np.ndarray, values: np.ndarray, limit: float, rising: bool) -> float:
    """First instant at which a course reaches a limit, on straight lines between its points.

    Parameters
    ----------
    time : array
        Instants, increasing. [s]
    values : array
        Course at these instants. [any]
    limit : float
        Limit. [any]
    rising : bool
        Reached from below, else from above.

    Returns
    -------
    float
        Instant, infinite if the limit is not reached. [s]
    """
    sign = 1.0 if rising else -1.0
    beyond = sign * (np.asarray(values) - limit)
    reached = np.flatnonzero(beyond >= 0.0)
    if reached.size == 0:
        return math.inf
    i = int(reached[0])
    if i == 0:
        return float(time[0])
    share = -beyond[i - 1] / (beyond[i] - beyond[i - 1])
    return float(time[i - 1] + share * (time[i] - time[i - 1]))


def absorption_shares(depths: np.ndarray, absorption_depth: float) -> np.ndarray:
    r"""Share of the incoming radiation that each node of a layer keeps.

    .. math:: g_i = e^{-x_{i-1/2}/d}-e^{-x_{i+1/2}/d}

    Parameters
    ----------
    depths : array
        Nodes from the face that is lit, increasing from 0. [m]
    absorption_depth : float
        Depth over which radiation falls to 1/e; 0 if all stays at the face. [m]

    Returns
    -------
    array
        Shares; the rest goes through. [1]

    Raises
    ------
    Refused
        If the depth is negative or not finite.

    References
    ----------
    Beer-Lambert law for one mean wavelength, straight through, no reflection at the far face.
    """
    within("absorption_depth", absorption_depth, 0.0, unit="m")
    if absorption_depth == 0.0:
        return np.eye(1, len(depths)).ravel()
    edges = np.concatenate([[depths[0]], 0.5 * (depths[1:] + depths[:-1]), [depths[-1]]])
    return -np.diff(np.exp(-edges / absorption_depth))


def conduct(layers: list[Layer], start, first: Side, last: Side, duration: float, *,
            contact: float = 0.0, steps: int = 160, even: bool = False) -> History:
    r"""Follow the temperatures of a stack of one or two layers.

    .. math:: \frac{\partial h(T)}{\partial t} = \frac{\partial}{\partial x}
        \left(k(T)\frac{\partial T}{\partial x}\right) + \dot q

    In words: what a cell takes in changes its heat content; its temperature follows from that.

    Parameters
    ----------
    layers : list of Layer
        One layer, or two in contact.
    start : float or array
        Absolute temperature at first: one number, one a layer, or one a node. [K]
    first, last : Side
        What the outer face of the first and of the last layer sees.
    duration : float
        Time to follow, > 0. [s]
    contact : float
        Contact resistance between two layers, >= 0. [m2 K/W]
    steps : int
        Number of time steps, short at first, 4 to 5000.
    even : bool
        Steps of one length.

    Returns
    -------
    History
        Temperatures in time and depth. [K]

    Raises
    ------
    Refused
        If a value is out of range or not finite.

    Notes
    -----
    Second order in time and depth; heat is conserved to rounding. Steep starts need the short
    first steps. Property tables reach from 200 to 900 K.

    References
    ----------
    Finite volumes with the enthalpy as unknown and Newton's method; Alexander's L-stable
    two-stage method, SIAM J. Numer. Anal. 14 (1977) 1006 (from memory).
    """
    within("number of layers", len(layers), 1, 2)
    within("duration", duration, 0.0, unit="s", above=True)
    within("contact", contact, 0.0, unit="m2 K/W")
    within("steps", steps, 4, 5000)
    depth, width, number = _nodes(layers)
    initial = within("start", _initial(start, number), _COLDEST, _HOTTEST, "K")
    time = duration * np.linspace(0.0, 1.0, steps + 1) ** (1 if even else 2)
    gains = np.array([_gain(first, layers[0], number, 0),
                      _gain(last, layers[-1], number, -1)])
    air = np.array([[first.film, first.air], [last.film, last.air]])
    radiant = np.array([[s.from_heater, s.heater**4, s.from_around, s.around**4]
                        for s in (first, last)])
    temperature, heat = _march(time, initial, depth, width, number,
                               np.array([x.solid.enthalpy for x in layers]),
                               np.array([x.solid.conductivity for x in layers]),
                               max(contact, PERFECT_CONTACT), air, radiant, gains)
    return History(time, depth, temperature, heat, width, number)


def _grid() -> np.ndarray:
    return np.arange(_COLDEST, _HOTTEST + 0.5 * _STEP, _STEP)


def _nodes(layers: list[Layer]):
    """Depth of the nodes, the depth each stands for, and its layer."""
    depth, width, number, offset = [], [], [], 0.0
    for i, layer in enumerate(layers):
        x = layer.depths()
        edges = np.concatenate([[0.0], 0.5 * (x[1:] + x[:-1]), [layer.thickness]])
        depth.append(offset + x)
        width.append(np.diff(edges))
        number.append(np.full(len(x), i))
        offset += layer.thickness
    return np.concatenate(depth), np.concatenate(width), np.concatenate(number)


def _initial(start, number: np.ndarray) -> np.ndarray:
    start = np.atleast_1d(np.asarray(start, dtype=float))
    if len(start) == len(number):
        return start.copy()
    if len(start) == 1:
        return np.full(len(number), start[0])
    if len(start) == number[-1] + 1:
        return start[number]
    raise Refused("start", "The start needs one temperature, one a layer, or one a node.")


def _gain(side: Side, layer: Layer, number: np.ndarray, end: int) -> np.ndarray:
    """Share of a side's radiation that each node of the stack keeps."""
    shares = absorption_shares(layer.depths(), side.absorption_depth)
    gains = np.zeros(len(number))
    gains[number == number[end]] = shares if end == 0 else shares[::-1]
    return gains


@njit(cache=True)
def _property(t, table):
    """Value and slope of a property table at a temperature."""
    i = min(max(int((t - _COLDEST) / _STEP), 0), len(table) - 2)
    slope = (table[i + 1] - table[i]) / _STEP
    return table[i] + slope * (t - _COLDEST - i * _STEP), slope


@njit(cache=True)
def _sources(t, air, radiant, gains, q, dq):
    """Heat taken up by each node through the outer faces, and its fall with temperature."""
    n = len(t)
    q[:] = 0.0
    dq[:] = 0.0
    for side in range(2):
        end = 0 if side == 0 else n - 1
        q[end] += air[side, 0] * (air[side, 1] - t[end])
        dq[end] += air[side, 0]
        both = radiant[side, 0] + radiant[side, 2]
        if both > 0.0:
            for i in range(n):
                if gains[side, i] > 0.0:
                    share = STEFAN_BOLTZMANN * gains[side, i]
                    q[i] += share * (radiant[side, 0] * radiant[side, 1]
                                     + radiant[side, 2] * radiant[side, 3] - both * t[i] ** 4)
                    dq[i] += 4.0 * share * both * t[i] ** 3


@njit(cache=True)
def _conductances(t, depth, layer, conductivity, contact, g):
    """Conductance between neighbouring nodes."""
    for i in range(len(t) - 1):
        if layer[i] != layer[i + 1]:
            g[i] = 1.0 / contact
        else:
            k, _ = _property(0.5 * (t[i] + t[i + 1]), conductivity[layer[i]])
            g[i] = k / (depth[i + 1] - depth[i])


@njit(cache=True)
def _thomas(lower, diagonal, upper, right):
    """Solve a tridiagonal system in place; the solution is left in `right`."""
    n = len(right)
    for i in range(1, n):
        ratio = lower[i] / diagonal[i - 1]
        diagonal[i] -= ratio * upper[i - 1]
        right[i] -= ratio * right[i - 1]
    right[n - 1] /= diagonal[n - 1]
    for i in range(n - 2, -1, -1):
        right[i] = (right[i] - upper[i] * right[i + 1]) / diagonal[i]


@njit(cache=True)
def _stage(t, content, dt, depth, width, layer, enthalpy, conductivity, contact, air, radiant,
           gains, work):
    """Implicit stage: find t with heat content = `content` + dt * rate(t); heat taken in."""
    n = len(t)
    g, q, dq, lower, diagonal, upper, right = work
    for _ in range(40):
        _sources(t, air, radiant, gains, q, dq)
        _conductances(t, depth, layer, conductivity, contact, g)
        for i in range(n):
            h, slope = _property(t[i], enthalpy[layer[i]])
            rate, lose = q[i], dq[i]
            lower[i] = upper[i] = 0.0
            if i > 0:
                rate += g[i - 1] * (t[i - 1] - t[i])
                lose += g[i - 1]
                lower[i] = -dt * g[i - 1]
            if i < n - 1:
                rate += g[i] * (t[i + 1] - t[i])
                lose += g[i]
                upper[i] = -dt * g[i]
            right[i] = width[i] * (content[i] - h) + dt * rate
            diagonal[i] = width[i] * slope + dt * lose
        _thomas(lower, diagonal, upper, right)
        largest = 0.0
        for i in range(n):
            t[i] += min(max(right[i], -30.0), 30.0)
            largest = max(largest, abs(right[i]))
        if largest < 1e-7:
            break
    _sources(t, air, radiant, gains, q, dq)
    return q.sum()


@njit(cache=True, nogil=True)
def _march(time, start, depth, width, layer, enthalpy, conductivity, contact, air, radiant, gains):
    """Temperatures at all instants, and the heat taken in."""
    n, count = len(start), len(time)
    temperature, heat = np.empty((count, n)), np.zeros(count)
    work = np.zeros((7, n))
    t, h, first = start.copy(), np.empty(n), np.empty(n)
    temperature[0] = t
    for s in range(1, count):
        dt = time[s] - time[s - 1]
        for i in range(n):
            h[i], _ = _property(t[i], enthalpy[layer[i]])
        early = _stage(t, h, _GAMMA * dt, depth, width, layer, enthalpy, conductivity, contact,
                       air, radiant, gains, work)
        for i in range(n):
            now, _ = _property(t[i], enthalpy[layer[i]])
            first[i] = h[i] + (1.0 - _GAMMA) / _GAMMA * (now - h[i])
        late = _stage(t, first, _GAMMA * dt, depth, width, layer, enthalpy, conductivity, contact,
                      air, radiant, gains, work)
        heat[s] = heat[s - 1] + dt * ((1.0 - _GAMMA) * early + _GAMMA * late)
        temperature[s] = t
    return temperature, heat
