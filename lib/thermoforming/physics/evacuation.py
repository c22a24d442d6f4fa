"""Emptying the air below the sheet: pockets, vents, plenum, line, tank and pump in one balance.

Every space is a mass of air at one temperature. The space below the sheet shrinks as the sheet is
drawn in, so its volume is a curve over the pull, the pressure difference across the sheet. A vent
carries air until the sheet lies on it; a pocket that the sheet cuts off empties through its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from scipy.optimize import brentq

from thermoforming.guard import Refused, finite, within
from thermoforming.physics.gasflow import (GAS_CONSTANT, STANDARD_PRESSURE, _bore_flow,
                                           _valve_flow)

LEAK_RATIO = 0.5  # critical pressure ratio taken for a leak at the clamp; common practice
_GAMMA = 1.0 + 1.0 / math.sqrt(2.0)  # L-stable, and its stages do not overshoot
_SURELY_CHOKED = 0.2  # pressure ratio; only the step length depends on it
MOST_STEPS = 20000
_GRID = 160  # points added to the volume curve so that pressure and mass convert smoothly


@dataclass(frozen=True)
class Pump:
    """Suction speed of a pump over its inlet pressure, straight lines between the points.

    Parameters
    ----------
    pressures : array
        Absolute inlet pressures, increasing, > 0; no suction below the first. [Pa]
    speeds : array
        Volume flow at the inlet pressure, >= 0. [m3/s]
    """

    pressures: np.ndarray
    speeds: np.ndarray

    def __post_init__(self):
        for name in ("pressures", "speeds"):
            object.__setattr__(self, name, np.atleast_1d(np.asarray(getattr(self, name), float)))
        within("pump pressures", self.pressures, 0.0, unit="Pa", above=True)
        within("pump speeds", self.speeds, 0.0, unit="m3/s")
        if self.pressures.shape != self.speeds.shape or np.any(np.diff(self.pressures) <= 0.0):
            raise Refused("pump", "The pump curve needs one speed for each pressure, with "
                                  "pressures increasing.")

    def speed(self, pressure):
        """Suction speed at an inlet pressure. [m3/s]"""
        return np.interp(pressure, self.pressures, self.speeds, left=0.0)


@dataclass(frozen=True)
class Pocket:
    """One space below the sheet and how its volume falls with the pull.

    Parameters
    ----------
    pull : array
        Pressure difference across the sheet, increasing from 0. [Pa]
    volume : array
        Air left at each pull, > 0, never rising. [m3]
    closes_at : float
        Pull at which the sheet cuts this pocket off from its parent, >= 0. [Pa]
    parent : int
        Pocket that it is part of until then; an earlier one of the list.
    """

    pull: np.ndarray
    volume: np.ndarray
    closes_at: float = 0.0
    parent: int = 0

    def __post_init__(self):
        for name in ("pull", "volume"):
            object.__setattr__(self, name, np.atleast_1d(np.asarray(getattr(self, name), float)))
        within("pull", self.pull, 0.0, unit="Pa")
        within("pocket volume", self.volume, 0.0, unit="m3", above=True)
        within("closes_at", self.closes_at, 0.0, unit="Pa")
        if self.pull.shape != self.volume.shape or np.any(np.diff(self.pull) <= 0.0):
            raise Refused("pull", "The pulls of a volume curve must increase, one for each volume.")
        if np.any(np.diff(self.volume) > 1e-9 * self.volume[0]):
            raise Refused("pocket volume", "The air left below the sheet cannot grow with the "
                                           "pull, but the volume curve rises.")


@dataclass(frozen=True)
class Vents:
    """Vents of one kind that serve one pocket.

    Parameters
    ----------
    pocket : int
        Which pocket, 0 for the first.
    passage : array
        From `gasflow.bore` or `gasflow.slot`. [m2]
    covered_at : array
        For each vent the pull at which the sheet has closed it, > 0. [Pa]
    covering : float
        The pull over which a vent closes, > 0. [Pa]
    """

    pocket: int
    passage: np.ndarray
    covered_at: np.ndarray
    covering: float = 500.0

    def __post_init__(self):
        covered = np.atleast_1d(np.asarray(self.covered_at, dtype=float))
        within("covered_at", np.minimum(covered, 1e9), 0.0, unit="Pa", above=True)
        object.__setattr__(self, "covered_at", np.minimum(covered, 1e9))
        object.__setattr__(self, "passage", np.asarray(finite("passage", self.passage), float))
        within("covering", self.covering, 0.0, unit="Pa", above=True)


@dataclass(frozen=True)
class Machine:
    """What the vents empty into.

    Parameters
    ----------
    plenum_volume : float
        Space between the vents and the line, > 0. [m3]
    line : tuple of float
        Sonic conductance, > 0, and critical ratio of line and valve. [m3/(s Pa), 1]
    tank_volume : float
        Volume of the vacuum tank, > 0. [m3]
    tank_pressure : float
        Absolute pressure of the tank when the valve opens, > 0. [Pa]
    pump : Pump
        Pump on the tank.
    ambient_pressure : float
        Absolute pressure above the sheet, > 0. [Pa]
    temperature : float
        Temperature of the air below the sheet, > 0. [K]
    leak : float
        Sonic conductance of the leak at the clamp, >= 0; the sheet seals it as it lands, in
        proportion to the air gone from the main space. [m3/(s Pa)]
    """

    plenum_volume: float
    line: tuple[float, float]
    tank_volume: float
    tank_pressure: float
    pump: Pump
    ambient_pressure: float = STANDARD_PRESSURE
    temperature: float = 293.15
    leak: float = 0.0

    def __post_init__(self):
        within("plenum_volume", self.plenum_volume, 0.0, unit="m3", above=True)
        within("tank_volume", self.tank_volume, 0.0, unit="m3", above=True)
        within("ambient_pressure", self.ambient_pressure, 0.0, unit="Pa", above=True)
        within("tank_pressure", self.tank_pressure, 0.0, self.ambient_pressure, "Pa", above=True)
        within("temperature", self.temperature, 0.0, unit="K", above=True)
        within("leak", self.leak, 0.0, unit="m3/(s Pa)")
        within("line conductance", self.line[0], 0.0, unit="m3/(s Pa)", above=True)
        within("line critical ratio", self.line[1], 0.0, 1.0, below=True)


@dataclass(frozen=True)
class Evacuation:
    """Pressures in time.

    Parameters
    ----------
    time : array
        Time since the valve opened. [s]
    pockets : array
        Absolute pressure of each pocket, one row a pocket. [Pa]
    plenum, tank : array
        Absolute pressures. [Pa]
    mass : array
        Air in all pockets, plenum and tank together. [kg]
    ambient_pressure : float
        Absolute pressure above the sheet. [Pa]
    """

    time: np.ndarray
    pockets: np.ndarray
    plenum: np.ndarray
    tank: np.ndarray
    mass: np.ndarray
    ambient_pressure: float

    def time_to_pull(self, pull: float, pocket: int | None = None) -> float:
        """Time at which a pocket (the slowest when None) reaches a pull; inf if it never does. [s]
        """
        rows = self.pockets if pocket is None else self.pockets[[pocket]]
        reached = self.ambient_pressure - rows.max(axis=0)
        if reached[-1] < pull:
            return math.inf
        first = int(np.argmax(reached >= pull))
        if first == 0:
            return float(self.time[0])
        share = (pull - reached[first - 1]) / (reached[first] - reached[first - 1])
        return float(self.time[first - 1] + share * (self.time[first] - self.time[first - 1]))

    @property
    def final_pull(self) -> float:
        """The strongest pull that the plenum offers in the time followed. [Pa]"""
        return float(self.ambient_pressure - self.plenum.min())

    def at(self, times):
        """Pressures of the pockets at given times, one row a pocket. [Pa]"""
        return np.array([np.interp(times, self.time, row) for row in self.pockets])


def evacuate(pockets: list[Pocket], vents: list[Vents], machine: Machine, duration: float,
             tolerance: float = 5e-4) -> Evacuation:
    r"""Follow the pressures below the sheet after the valve opens.

    .. math:: \frac{dm_j}{dt} = -\sum_{i\in j,\ open}\dot m_i(p_j, p_{plenum}),\qquad
        p_j V_j(p_{amb}-p_j) = m_j R T

    In words: each pocket loses what its open vents carry; the plenum gains that and loses what
    the line takes to the tank; the tank loses what the pump takes.

    Parameters
    ----------
    pockets : list of Pocket
        The first is the main space; the others are part of it until they close.
    vents : list of Vents
        What empties them; may be empty.
    machine : Machine
        Plenum, line, tank, pump, leak.
    duration : float
        Time to follow, > 0. [s]
    tolerance : float
        Error of a time step as a share of the ambient pressure, 1e-6 to 0.01. [1]

    Returns
    -------
    Evacuation
        Pressures in time. [Pa]

    Raises
    ------
    Refused
        If a value is out of range or a vent names a pocket that does not exist.

    Notes
    -----
    One air temperature for all spaces; the sheet follows its volume curve without inertia. A
    pocket that empties keeps its own volume curve from the moment it is cut off.

    References
    ----------
    Second-order L-stable Rosenbrock method with step control (Verwer and others, from memory).
    """
    within("duration", duration, 0.0, unit="s", above=True)
    within("tolerance", tolerance, 1e-6, 1e-2)
    if not pockets:
        raise Refused("pockets", "There must be at least one pocket of air below the sheet.")
    for group in vents:
        within("pocket of a vent", group.pocket, 0, len(pockets) - 1)
    for i, pocket in enumerate(pockets[1:], start=1):
        within("parent of a pocket", pocket.parent, 0, i - 1)
    pressure, masses = _mass_tables(pockets, machine)
    rows = _march(pressure, masses, np.array([p.closes_at for p in pockets]),
                  np.array([p.parent for p in pockets]), *_arrays(vents),
                  np.array([machine.plenum_volume, machine.tank_volume, machine.tank_pressure,
                            machine.line[0], machine.line[1], machine.ambient_pressure,
                            machine.temperature, machine.leak,
                            sum(float(p.volume[0]) for p in pockets)]),
                  machine.pump.pressures, machine.pump.speeds, float(duration), float(tolerance))
    if rows[-1, 0] < 0.999 * duration:
        raise Refused("tolerance", f"The evacuation could not be followed to {duration:g} s in "
                                   f"{MOST_STEPS} steps; allow a larger error of a step.")
    count = len(pockets)
    return Evacuation(rows[:, 0], rows[:, 1:1 + count].T, rows[:, -3], rows[:, -2], rows[:, -1],
                      machine.ambient_pressure)


def _mass_tables(pockets: list[Pocket], machine: Machine):
    """Mass of each pocket on one grid of increasing pressure that holds every curve's points."""
    ambient = machine.ambient_pressure
    knots = [ambient - p.pull[p.pull < 0.999 * ambient] for p in pockets]
    grid = np.linspace(1e-3 * ambient, 1.2 * ambient, _GRID)
    pressure = np.unique(np.concatenate([grid, *knots]))
    pressure = pressure[np.concatenate([[True], np.diff(pressure) > 1e-6 * ambient])]
    masses = np.array([pressure * np.interp(ambient - pressure, p.pull, p.volume)
                       for p in pockets]) / (GAS_CONSTANT * machine.temperature)
    return pressure, masses


def _arrays(vents: list[Vents]):
    """The vents as flat arrays for the compiled balance."""
    pocket = np.array([v.pocket for v in vents], dtype=np.int64)
    passage = np.array([v.passage for v in vents]).reshape(len(vents), 6)
    covering = np.array([v.covering for v in vents])
    widest = max((len(v.covered_at) for v in vents), default=0)
    covered = np.full((len(vents), widest), -1e9)
    for row, v in zip(covered, vents, strict=True):
        row[:len(v.covered_at)] = v.covered_at
    return pocket, passage, covered, covering


@njit(cache=True)
def _lookup(x, xs, ys):
    """Straight-line lookup, continued with the slope of the end; value and slope."""
    i = min(max(np.searchsorted(xs, x) - 1, 0), len(xs) - 2)
    slope = (ys[i + 1] - ys[i]) / (xs[i + 1] - xs[i])
    return ys[i] + slope * (x - xs[i]), slope


@njit(cache=True)
def _pump_flow(p, pressures, speeds, temperature):
    if p <= pressures[0] and len(pressures) > 1:
        return 0.0
    return p * np.interp(p, pressures, speeds) / (GAS_CONSTANT * temperature)


@njit(cache=True)
def _pressures(y, root, pressure, group, box, out):
    """Pressure of every pocket, plenum and tank, and how it changes with the mass there."""
    count = len(root)
    gas = GAS_CONSTANT * box[6]
    for r in range(count):
        if root[r] == r:
            out[0, r], out[1, r] = _lookup(y[r], group[r], pressure)
            out[0, r] = max(out[0, r], 1.0)
    for r in range(count):
        out[0, r], out[1, r] = out[0, root[r]], out[1, root[r]]
    for k in range(2):
        out[1, count + k] = gas / box[k]
        out[0, count + k] = max(y[count + k] * gas / box[k], 1.0)


@njit(cache=True)
def _open(pull, covered, covering):
    """How many vents of a kind are still open at a pull."""
    total = 0.0
    for limit in covered:
        total += min(max((limit - pull) / covering, 0.0), 1.0)
    return total


@njit(cache=True)
def _balance(y, root, pressure, group, vent_pocket, passage, covered, covering, box, pump_p,
             pump_s, p, f, jacobian, slopes):
    """Rates of mass f, and with `slopes` the arrow-shaped Jacobian (diagonal, to, from plenum)."""
    count = len(root)
    plenum, tank = count, count + 1
    ambient, temperature = box[5], box[6]
    _pressures(y, root, pressure, group, box, p)
    f[:] = 0.0
    if slopes:
        jacobian[:] = 0.0
    for g in range(len(vent_pocket)):
        r = root[vent_pocket[g]]
        number = _open(ambient - p[0, r], covered[g], covering[g])
        if number == 0.0:
            continue
        flow = number * _bore_flow(passage[g], p[0, r], p[0, plenum], temperature)
        f[r] -= flow
        f[plenum] += flow
        if slopes:
            up, down = flow / p[0, r], 0.0  # slopes while it is choked
            if p[0, plenum] > _SURELY_CHOKED * p[0, r]:
                d = _nudge(p[0, r], p[0, plenum])
                up = (number * _bore_flow(passage[g], p[0, r] + d, p[0, plenum], temperature)
                      - flow) / d
                down = (number * _bore_flow(passage[g], p[0, r], p[0, plenum] + d, temperature)
                        - flow) / d
            _couple(jacobian, r, plenum, up * p[1, r], down * p[1, plenum])
    flow = _valve_flow(box[3], box[4], p[0, plenum], p[0, tank], temperature)
    f[plenum] -= flow
    f[tank] += flow
    pumped = _pump_flow(p[0, tank], pump_p, pump_s, temperature)
    f[tank] -= pumped
    if box[7] > 0.0:
        unsealed = min(y[0] * GAS_CONSTANT * temperature / p[0, 0] / box[8], 1.0)
        leak = unsealed * _valve_flow(box[7], LEAK_RATIO, ambient, p[0, 0], temperature)
        f[0] += leak
        if slopes:
            d = _nudge(ambient, p[0, 0])
            more = unsealed * _valve_flow(box[7], LEAK_RATIO, ambient, p[0, 0] + d, temperature)
            jacobian[0, 0] += (more - leak) / d * p[1, 0]
    if slopes:
        d = _nudge(p[0, plenum], p[0, tank])
        up = _valve_flow(box[3], box[4], p[0, plenum] + d, p[0, tank], temperature)
        down = _valve_flow(box[3], box[4], p[0, plenum], p[0, tank] + d, temperature)
        _couple(jacobian, tank, plenum, -(down - flow) / d * p[1, tank],
                -(up - flow) / d * p[1, plenum])
        d = 1e-4 * p[0, tank]
        more = _pump_flow(p[0, tank] + d, pump_p, pump_s, temperature)
        jacobian[0, tank] -= (more - pumped) / d * p[1, tank]


@njit(cache=True)
def _nudge(p1, p2):
    """Change of pressure for a slope: small beside the difference, which may be tiny."""
    return 0.02 * abs(p1 - p2) + 1e-4


@njit(cache=True)
def _couple(jacobian, i, plenum, own, other):
    """Enter a flow from space i to the plenum: rows diagonal, d f_plenum/d i, d f_i/d plenum."""
    jacobian[0, i] -= own
    jacobian[1, i] += own
    jacobian[2, i] -= other
    jacobian[0, plenum] += other


@njit(cache=True)
def _solve(jacobian, scale, plenum, rhs, x):
    """Solve (1 - scale J) x = rhs for the arrow shape."""
    pivot, right = 1.0 - scale * jacobian[0, plenum], rhs[plenum]
    for i in range(len(rhs)):
        if i != plenum:
            ratio = scale * jacobian[1, i] / (1.0 - scale * jacobian[0, i])
            pivot -= ratio * scale * jacobian[2, i]
            right += ratio * rhs[i]
    x[plenum] = right / pivot
    for i in range(len(rhs)):
        if i != plenum:
            x[i] = (rhs[i] + scale * jacobian[2, i] * x[plenum]) / (1.0 - scale * jacobian[0, i])


@njit(cache=True)
def _split(y, root, parent, group, masses, pressure, p, closes, ambient):
    """Cut off each pocket whose closing pull has been passed, with what is still part of it."""
    changed = False
    for r in range(1, len(root)):
        if root[r] != r and ambient - p[0, r] >= closes[r]:
            old = root[r]
            group[r, :] = 0.0
            for q in range(r, len(root)):
                if root[q] == old and (q == r or root[parent[q]] == r):
                    root[q] = r
                    group[r] += masses[q]
            y[r], _ = _lookup(p[0, r], pressure, group[r])
            y[old] -= y[r]
            group[old] -= group[r]
            changed = True
    return changed


@njit(cache=True)
def _beyond(root, closes, ambient, p):
    """Whether a step has run well past the closing of a pocket."""
    for r in range(1, len(root)):
        if root[r] != r and ambient - p[0, r] > closes[r] + 2e-3 * ambient:
            return True
    return False


@njit(cache=True)
def _row(rows, n, time, p, y, count):
    rows[n, 0] = time
    rows[n, 1:3 + count] = p[0]
    rows[n, 3 + count] = y.sum()


@njit(cache=True)
def _start(pressure, group, box, count):
    """Masses when the valve opens: ambient below the sheet and in the plenum."""
    gas = GAS_CONSTANT * box[6]
    y = np.zeros(count + 2)
    y[0], _ = _lookup(box[5], pressure, group[0])
    y[count], y[count + 1] = box[5] * box[0] / gas, box[2] * box[1] / gas
    return y


@njit(cache=True, nogil=True)
def _march(pressure, masses, closes, parent, vent_pocket, passage, covered, covering, box, pump_p,
           pump_s, duration, tolerance):
    """Step through time; rows of time, pressures and total mass."""
    count = len(closes)
    plenum, size = count, count + 2
    root = np.zeros(count, np.int64)
    group = masses.copy()
    for r in range(1, count):
        group[0] += masses[r]
    y = _start(pressure, group, box, count)
    p, jacobian = np.zeros((2, size)), np.zeros((3, size))
    f, k1, k2, off = np.zeros(size), np.zeros(size), np.zeros(size), np.zeros(size)
    rows = np.zeros((MOST_STEPS, count + 4))
    _pressures(y, root, pressure, group, box, p)
    _split(y, root, parent, group, masses, pressure, p, closes, box[5])
    _row(rows, 0, 0.0, p, y, count)
    n, time, step = 0, 0.0, 1e-8
    while time < duration * (1.0 - 1e-9) and n < MOST_STEPS - 1:
        step = min(step, duration - time)
        _balance(y, root, pressure, group, vent_pocket, passage, covered, covering, box, pump_p,
                 pump_s, p, f, jacobian, True)
        slope = p[1].copy()
        _solve(jacobian, step * _GAMMA, plenum, f, k1)
        _balance(y + step * k1, root, pressure, group, vent_pocket, passage, covered, covering,
                 box, pump_p, pump_s, p, f, jacobian, False)
        _solve(jacobian, step * _GAMMA, plenum, f - 2.0 * k1, k2)
        _solve(jacobian, step * _GAMMA, plenum, 0.5 * step * (k1 + k2), off)
        trial = y + step * (1.5 * k1 + 0.5 * k2)
        _pressures(trial, root, pressure, group, box, p)
        error = np.max(np.abs(off) * np.maximum(slope, p[1])) / box[5]
        if step > 1e-9 and (error > tolerance or trial.min() < 0.0):
            step *= max(0.2, min(0.5, 0.8 * math.sqrt(tolerance / max(error, 1e-12))))
            continue
        if step > 1e-5 and _beyond(root, closes, box[5], p):
            step *= 0.5
            continue
        y, time, n = trial, time + step, n + 1
        step *= min(4.0, 0.8 * math.sqrt(tolerance / max(error, 1e-12)))
        if _split(y, root, parent, group, masses, pressure, p, closes, box[5]):
            _pressures(y, root, pressure, group, box, p)
            step = min(step, 1e-4)
        _row(rows, n, time, p, y, count)
    return rows[:n + 1]


def pump_down_time(volume: float, start: float, end: float, pump: Pump,
                   gas_load: float = 0.0) -> float:
    r"""Time for a pump to bring a tank from one pressure to a lower one.

    .. math:: t = V\int_{p_1}^{p_0}\frac{dp}{p\,S(p)-q}

    Parameters
    ----------
    volume : float
        Volume pumped, > 0. [m3]
    start : float
        Absolute pressure at first, > 0. [Pa]
    end : float
        Absolute pressure wanted, above 0 to start. [Pa]
    pump : Pump
        Suction speed over inlet pressure.
    gas_load : float
        Leak into the tank as pressure times volume flow, >= 0. [Pa m3/s]

    Returns
    -------
    float
        Time; infinite if the pump cannot hold the pressure. [s]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Pump-down relation, handbooks of vacuum technology.
    """
    within("volume", volume, 0.0, unit="m3", above=True)
    within("start", start, 0.0, unit="Pa", above=True)
    within("end", end, 0.0, start, "Pa", above=True)
    within("gas_load", gas_load, 0.0, unit="Pa m3/s")
    inside = pump.pressures[(pump.pressures > end) & (pump.pressures < start)]
    knots = np.concatenate([[end], inside, [start]])
    points, weights = np.polynomial.legendre.leggauss(16)
    total = 0.0
    for low, high in zip(np.log(knots[:-1]), np.log(knots[1:]), strict=True):
        p = np.exp(0.5 * (high + low) + 0.5 * (high - low) * points)
        net = p * pump.speed(p) - gas_load
        if np.any(net <= 0.0):
            return math.inf
        total += 0.5 * (high - low) * float(np.sum(weights * p / net))
    return volume * total


def tank_pressure_after(volume: float, start: float, duration: float, pump: Pump) -> float:
    """Absolute pressure of a closed tank after the pump has worked on it for a while.

    Parameters
    ----------
    volume : float
        Volume of the tank, > 0. [m3]
    start : float
        Absolute pressure at first, > 0. [Pa]
    duration : float
        Time for recovery, >= 0. [s]
    pump : Pump
        Suction speed over inlet pressure.

    Returns
    -------
    float
        Absolute pressure. [Pa]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("duration", duration, 0.0, unit="s")
    lowest = max(float(pump.pressures[0]) if len(pump.pressures) > 1 else 0.0, 1.0) * 1.0001
    if start <= lowest or duration == 0.0:
        return start
    if pump_down_time(volume, start, lowest, pump) <= duration:
        return lowest
    return float(brentq(lambda p: pump_down_time(volume, start, p, pump) - duration,
                        lowest, start, xtol=1e-3))


def settled_pressure(cavity_volume: float, cavity_pressure: float, tank_volume: float,
                     tank_pressure: float) -> float:
    r"""Pressure at which a space and a tank settle once they are joined, pump left out.

    .. math:: p = \frac{V_c p_c + V_t p_t}{V_c + V_t}

    Parameters
    ----------
    cavity_volume : float
        Volume of the space, plenum included, > 0. [m3]
    cavity_pressure : float
        Absolute pressure in it at first, > 0. [Pa]
    tank_volume : float
        Volume of the tank, > 0. [m3]
    tank_pressure : float
        Absolute pressure in the tank at first, > 0. [Pa]

    Returns
    -------
    float
        Absolute pressure. [Pa]

    Raises
    ------
    Refused
        If a value is not finite or not above zero.
    """
    for name, value in (("cavity_volume", cavity_volume), ("cavity_pressure", cavity_pressure),
                        ("tank_volume", tank_volume), ("tank_pressure", tank_pressure)):
        within(name, value, 0.0, above=True)
    return ((cavity_volume * cavity_pressure + tank_volume * tank_pressure)
            / (cavity_volume + tank_volume))


def tank_volume_for(cavity_volume: float, cavity_pressure: float, final_pressure: float,
                    tank_pressure: float) -> float:
    r"""Least tank volume that takes the air of one shot and stays below a pressure.

    .. math:: V_t = V_c\,\frac{p_c-p_f}{p_f-p_t}

    Parameters
    ----------
    cavity_volume : float
        Volume emptied, plenum included, > 0. [m3]
    cavity_pressure : float
        Absolute pressure in it at first, > 0. [Pa]
    final_pressure : float
        Absolute pressure wanted, above tank_pressure to cavity_pressure. [Pa]
    tank_pressure : float
        Absolute pressure of the tank at first, > 0. [Pa]

    Returns
    -------
    float
        Volume of the tank. [m3]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("cavity_volume", cavity_volume, 0.0, unit="m3", above=True)
    within("tank_pressure", tank_pressure, 0.0, unit="Pa", above=True)
    within("final_pressure", final_pressure, tank_pressure, cavity_pressure, "Pa", above=True)
    return cavity_volume * (cavity_pressure - final_pressure) / (final_pressure - tank_pressure)


def stated_volume(volume: float, remaining: float, drawing_pull: float,
                  final_pull: float) -> Pocket:
    """A volume curve from a stated volume, until a drawn shape gives a better one.

    Parameters
    ----------
    volume : float
        Air below the sheet at first, > 0. [m3]
    remaining : float
        Share still below the sheet once it lies in the tool, above 0 to 1. [1]
    drawing_pull : float
        Pull that draws the sheet into the tool, > 0. [Pa]
    final_pull : float
        Pull at which half of the rest has gone too, above drawing_pull. [Pa]

    Returns
    -------
    Pocket
        Falls in a straight line to `remaining`, then to half of it.

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("volume", volume, 0.0, unit="m3", above=True)
    within("remaining", remaining, 0.0, 1.0, above=True)
    within("drawing_pull", drawing_pull, 0.0, unit="Pa", above=True)
    within("final_pull", final_pull, drawing_pull, unit="Pa", above=True)
    return Pocket([0.0, drawing_pull, final_pull],
                  [volume, volume * remaining, volume * remaining / 2.0])
