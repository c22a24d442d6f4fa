"""Level 3: large-strain membrane of revolution formed over any tool profile.

The sheet lies in the clamp plane at height 0; the tool is below it, its profile given from the
axis outward. A run is a chain of equilibria: the enclosed volume or a travel is the control, so
that a blown sheet passes its pressure maximum, and the pressure is found. A node that would cross
a profile is taken back to where its path crossed and held there; with Coulomb friction it slides
when the tool's grip is not enough. The gauge is the inverse of the area ratio.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy.linalg.lapack import dgbsv

from thermoforming.guard import Refused, finite, within
from thermoforming.physics.thinning import ring_elements as ring
from thermoforming.physics.thinning.hyperelastic import nominal_stress, shear_modulus

STICKS = np.inf
NOBODY, TOOL, PLUG = -1, 0, 1


@dataclass(frozen=True)
class Sheet:
    """Flat round sheet held in its clamp.

    Parameters
    ----------
    radius : float
        Radius of the clamp's opening, > 0. [m]
    gauge : float
        Starting gauge, > 0. [m]
    terms : array, shape (n, 2)
        Law of the hot sheet, see `hyperelastic`: moduli [Pa] and exponents.
    elements : int
        Number of elements from the axis to the clamp, 8 to 5000. [1]
    stiffness : array or None
        Relative stiffness of each element (a temperature map), > 0; None for 1. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """

    radius: float
    gauge: float
    terms: np.ndarray
    elements: int = 200
    stiffness: np.ndarray | None = None

    def __post_init__(self):
        within("sheet radius", self.radius, 0.0, unit="m", above=True)
        within("starting gauge", self.gauge, 0.0, unit="m", above=True)
        within("number of elements", self.elements, 8, 5000)
        finite("law of the sheet", self.terms)
        if self.stiffness is not None:
            within("relative stiffness", self.stiffness, 0.0, above=True)
            if np.shape(self.stiffness) != (self.elements,):
                raise Refused("relative stiffness", "relative stiffness needs one value for each "
                                                    f"of the {self.elements} elements.")

    @property
    def rest(self) -> np.ndarray:
        """Radii of the nodes in the flat sheet. [m]"""
        return np.linspace(0.0, self.radius, self.elements + 1)


@dataclass(frozen=True)
class Plug:
    """Plug that comes from above and stays while the vacuum draws the sheet.

    Parameters
    ----------
    profile : array, shape (n, 2)
        Across and up, from the axis outward, its nose at height 0. [m]
    travel : float
        How far below the clamp plane the nose goes, > 0. [m]
    friction : float
        Coulomb friction of the sheet on it, >= 0; infinite sticks. [1]
    chill : float
        Stiffness of the sheet it touched, over that of the sheet it did not, >= 1. [1]
    """

    profile: np.ndarray
    travel: float
    friction: float = STICKS
    chill: float = 1.0

    def __post_init__(self):
        within("plug travel", self.travel, 0.0, unit="m", above=True)
        if np.isnan(self.friction) or self.friction < 0.0:
            raise Refused("plug friction", f"plug friction is {self.friction}, but it must be "
                                           "at least 0 (infinite: it sticks).")
        within("plug chill", self.chill, 1.0)


@dataclass(frozen=True)
class Forming:
    """A finished run.

    Attributes
    ----------
    rest : array, shape (n,)
        Radii of the nodes in the flat sheet. [m]
    position : array, shape (n, 2)
        Where they ended: across, up. [m]
    gauge : array, shape (n - 1,)
        Gauge of each element over its starting gauge. [1]
    frames : array, shape (k, n, 2)
        Positions through forming. [m]
    volumes, pressures : array, shape (k,)
        Volume between clamp plane and sheet, and pressure across it, for each frame. [m3, Pa]
    touched_at : array, shape (n,)
        Volume at which each node met the tool; NaN where it did not. [m3]
    held : array of bool, shape (n,)
        Nodes on the tool at the end.
    pressure : float
        Pressure across the sheet at the end. [Pa]
    free_radius : float
        Least radius that this pressure forms with the free sheet left; 0 if none is free. [m]
    push : float
        Largest compressive hoop stress times gauge met, over shear modulus times gauge. [1]
    complete : bool
        True if the stated pressure was reached (or the stated height, for a blown sheet).
    """

    rest: np.ndarray
    position: np.ndarray
    gauge: np.ndarray
    frames: np.ndarray
    volumes: np.ndarray
    pressures: np.ndarray
    touched_at: np.ndarray
    held: np.ndarray
    pressure: float
    free_radius: float
    push: float
    complete: bool

    @property
    def middle(self) -> np.ndarray:
        """Middles of the formed elements. [m]"""
        return 0.5 * (self.position[1:] + self.position[:-1])

    @property
    def along(self) -> np.ndarray:
        """Distance of the elements' middles along the sheet from the clamp. [m]"""
        length = np.hypot(*np.diff(self.position, axis=0).T)
        return (np.cumsum(length[::-1]) - 0.5 * length[::-1])[::-1]

    def volume_ratio(self) -> float:
        """Plastic after forming over before, from the formed surface: 1 but for bugs. [1]"""
        length = np.hypot(*np.diff(self.position, axis=0).T)
        formed = np.sum(2.0 * np.pi * self.middle[:, 0] * length * self.gauge)
        return float(formed / (np.pi * self.rest[-1] ** 2))


class _Stuck(Exception):
    """No equilibrium was found for this increment."""


@dataclass
class _Body:
    points: np.ndarray
    side: float
    friction: float
    shift: float = 0.0


@dataclass
class _State:
    """What an increment changes, and what is put back when it fails."""

    x: np.ndarray
    pressure: float
    volume: float
    holder: np.ndarray
    slide: np.ndarray
    anchor: np.ndarray
    touched_at: np.ndarray
    shifts: tuple

    def copy(self):
        return _State(self.x.copy(), self.pressure, self.volume, self.holder.copy(),
                      self.slide.copy(), self.anchor.copy(), self.touched_at.copy(), self.shifts)


@dataclass
class _Run:
    sheet: Sheet
    bodies: list
    tell: Callable[[float], bool] | None = None
    frames: list = field(default_factory=list)

    def __post_init__(self):
        rest = self.rest = self.sheet.rest
        count = len(rest)
        even = np.ones(count - 1) if self.sheet.stiffness is None else self.sheet.stiffness
        self.weight = self.sheet.gauge * np.asarray(even, float)
        self.set_stress = np.zeros((count - 1, 2))
        self.terms = np.ascontiguousarray(self.sheet.terms, float)
        stiff = shear_modulus(self.terms) * self.sheet.gauge
        self.scale = 2.0 * np.pi * stiff
        self.softness = shear_modulus(self.terms)
        self.tiny = 1e-9 * self.sheet.radius
        x = np.stack([rest, np.zeros(count)], 1)
        self.now = _State(x, 0.0, 0.0, np.full(count, NOBODY), np.zeros(count), x.copy(),
                          np.full(count, np.nan), tuple(b.shift for b in self.bodies))
        self.push = 0.0

    def _assemble(self):
        return ring.assemble(self.now.x, self.rest, self.weight, self.set_stress, self.terms,
                             self.now.pressure)

    def chill(self, nodes, factor):
        """Stiffen the elements between these nodes; the stress they bear now does not jump.

        Stress after = stress now + factor (law's stress - law's stress now).
        """
        cold = nodes[1:] & nodes[:-1]
        l1, l2 = self._stretches()
        now = np.array([nominal_stress(a, b, self.terms) for a, b in zip(l1[cold], l2[cold])])
        if cold.any():
            self.weight[cold] *= factor
            self.set_stress[cold] = now * (1.0 - 1.0 / factor)

    # One equilibrium ---------------------------------------------------------------------

    def _codes(self):
        state = self.now
        code = np.where(state.holder == NOBODY, ring.FREE, ring.FIXED)
        code[(state.slide != 0.0) & (state.holder != NOBODY)] = ring.SLIDES
        code[0] = ring.ON_AXIS if code[0] == ring.FREE else ring.FIXED
        code[-1] = ring.FIXED
        return code

    def _drift(self, code):
        """How far held nodes are from where they are held, and the normals of sliding ones."""
        state, count = self.now, len(self.rest)
        drift, normal, lean = np.zeros((count, 2)), np.zeros((count, 2)), np.zeros(count)
        target = state.anchor.copy()
        for b, body in enumerate(self.bodies):
            mine = state.holder == b
            target[mine, 1] += state.shifts[b]
            sliding = mine & (code == ring.SLIDES)
            if sliding.any():
                gap, _, n = ring.measure_gaps(state.x[sliding], body.points, body.side,
                                              state.shifts[b])
                drift[sliding, 0], normal[sliding] = -gap, n
                lean[sliding] = body.friction * state.slide[sliding]
        fixed = code == ring.FIXED
        drift[fixed] = target[fixed] - state.x[fixed]
        drift[-1] = (self.rest[-1], 0.0) - state.x[-1]
        return drift, normal, lean

    def _balance(self, volume=None, pressure=None):
        """Equilibrium at a given volume or pressure: Newton's method, damped if that fails."""
        if pressure is not None:
            self.now.pressure = pressure
        start, began = self.now.x.copy(), self.now.pressure
        for damping in (0.0, 1e-4, 1e-2):
            if self._newton(volume, damping * self.scale, 30 if damping == 0.0 else 80):
                return
            self.now.x, self.now.pressure = start.copy(), began
        raise _Stuck

    def _newton(self, volume, damping, most):
        state, code = self.now, self._codes()
        limit = 0.1 * self.sheet.radius
        for _ in range(most):
            force, band, gradient, current = self._assemble()
            band[2 * ring.BAND] += damping
            right = np.asfortranarray(np.stack([-force, gradient], 1))
            ring.constrain(band, right, code, *self._drift(code), self.scale)
            _, _, solution, info = dgbsv(ring.BAND, ring.BAND, band, right)
            step, yields = solution[:, 0], gradient @ solution[:, 1]
            rise = 0.0
            if volume is not None:
                if yields <= 0.0 and not np.any(code == ring.FREE):
                    return False
                rise = (volume - current - gradient @ step) / yields
                step = step + rise * solution[:, 1]
            size = np.abs(step).max()
            if info != 0 or not np.isfinite(size):
                return False
            part = min(1.0, limit / size) if size > 0.0 else 1.0
            state.x += part * step.reshape(-1, 2)
            state.pressure += part * rise
            if state.x[:, 0].min() < -0.05 * self.sheet.radius:
                return False
            if size < self.tiny:
                state.volume = current
                return not self._pushed(code)
        return False

    def _pushed(self, code):
        """Whether free sheet bears compression along the meridian, which no membrane can.

        A sheet that snaps off a plug passes through such places; there it is let be.
        """
        if len(self.bodies) > 1:
            return False
        l1, l2 = self._stretches()
        free = (code[1:] == ring.FREE) | (code[:-1] == ring.FREE)
        slack = free & (l1 < 0.999)
        return any(nominal_stress(a, max(b, 1e-6), self.terms)[0] < -0.02 * self.softness
                   for a, b in zip(l1[slack], l2[slack]))

    # Contact -----------------------------------------------------------------------------

    def _catch(self, before):
        """Hold the nodes whose path crossed a profile first; True if there was one."""
        state = self.now
        earliest, found = 1.0, []
        for b, body in enumerate(self.bodies):
            gap, _, _ = ring.measure_gaps(state.x, body.points, body.side, state.shifts[b])
            loose = (state.holder == NOBODY) & (gap < -self.tiny)
            loose[-1] = False
            if loose.any():
                was, _, _ = ring.measure_gaps(before.x[loose], body.points, body.side,
                                              before.shifts[b])
                was = np.maximum(was, 0.0)
                fraction = was / (was - gap[loose])
                earliest = min(earliest, fraction.min())
                found.append((b, np.flatnonzero(loose), fraction))
        for b, nodes, fraction in found:
            self._hold(b, nodes[fraction <= earliest + 0.05], fraction[fraction <= earliest + 0.05],
                       before)
        return bool(found)

    def _hold(self, b, nodes, fraction, before):
        state, body = self.now, self.bodies[b]
        start = before.x[nodes] - (0.0, before.shifts[b])
        end = state.x[nodes] - (0.0, state.shifts[b])
        place = start + fraction[:, None] * (end - start)
        _, foot, _ = ring.measure_gaps(place, body.points, body.side, 0.0)
        foot[nodes == 0, 0] = 0.0
        state.holder[nodes], state.anchor[nodes], state.slide[nodes] = b, foot, 0.0
        if b == TOOL:
            at = before.volume + fraction * (state.volume - before.volume)
            state.touched_at[nodes] = at

    def _grip(self, before, freed, switched):
        """Let go, slide or stop nodes as the forces on them ask; True if any changed.

        What sticks to the tool stays there. A node is let go once an increment (`freed`) and
        changes between sliding and still four times at most (`switched`), so that this ends.
        """
        state = self.now
        force, _, _, _ = self._assemble()
        force = force.reshape(-1, 2)
        noise = 1e-7 * self.scale * self.sheet.radius
        tack = 2e-5 * self.scale * self.sheet.radius  # keeps an almost slack sheet from chattering
        changed = False
        for b, body in enumerate(self.bodies):
            nodes = np.flatnonzero(state.holder == b)
            nodes = nodes[nodes < len(self.rest) - 1]
            if nodes.size == 0:
                continue
            _, _, normal = ring.measure_gaps(state.x[nodes], body.points, body.side,
                                             state.shifts[b])
            press = np.sum(force[nodes] * normal, 1)
            along = force[nodes, 0] * normal[:, 1] - force[nodes, 1] * normal[:, 0]
            leaves = (press < -noise) & ~freed[nodes]
            if b == TOOL and np.isinf(body.friction):
                leaves[:] = False
            if leaves.any():
                state.holder[nodes[leaves]], state.slide[nodes[leaves]] = NOBODY, 0.0
                freed[nodes[leaves]] = changed = True
            if np.isinf(body.friction):
                continue
            held = ~leaves & (nodes > 0)
            held &= switched[nodes] < 4
            still = held & (state.slide[nodes] == 0.0)
            slips = still & (np.abs(along) > body.friction * np.maximum(press, 0.0) + tack)
            state.slide[nodes[slips]] = -np.sign(along[slips])
            way = (state.x[nodes] - before.x[nodes]
                   - (0.0, state.shifts[b] - before.shifts[b]))
            way = way[:, 0] * normal[:, 1] - way[:, 1] * normal[:, 0]
            moving = held & (state.slide[nodes] != 0.0) & ~slips
            stops = moving & (way * state.slide[nodes] < -1e3 * self.tiny)
            for n in nodes[stops]:
                state.slide[n] = 0.0
                state.anchor[n] = before.x[n] - (0.0, before.shifts[b])
            switched[nodes[slips | stops]] += 1
            changed = changed or bool(slips.any() or stops.any())
        return changed

    def _stop_sliding(self, before):
        """Hold what slides for one increment; False if nothing did."""
        state = self.now
        sliding = state.slide != 0.0
        if not sliding.any():
            return False
        state.slide[sliding] = 0.0
        state.anchor[sliding] = before.anchor[sliding]
        new = sliding & (before.holder != state.holder)
        state.anchor[new] = state.x[new]
        for b in range(len(self.bodies)):
            state.anchor[new & (state.holder == b), 1] -= state.shifts[b]
        return True

    def _settle_anchors(self):
        """Sliding nodes start the next increment held where they are."""
        state = self.now
        for b in range(len(self.bodies)):
            mine = (state.holder == b) & (state.slide != 0.0)
            state.anchor[mine] = state.x[mine] - (0.0, state.shifts[b])

    # Increments --------------------------------------------------------------------------

    def _increment(self, control):
        """One equilibrium with contact; the number of nodes that touched."""
        before = self.now.copy()
        loose = np.count_nonzero(self.now.holder == NOBODY)
        freed, switched = np.zeros(len(self.rest), bool), np.zeros(len(self.rest), int)
        control, rounds = dict(control), 0
        self._turn_over(control)
        self.now.shifts = control.pop("shifts", self.now.shifts)
        for _ in range(60):
            try:
                self._balance(**control)
            except _Stuck:
                if not self._stop_sliding(before):
                    raise
                switched[:] = 4
                continue
            if self._catch(before):
                continue
            rounds += 1
            if rounds > 8 or not self._grip(before, freed, switched):
                break
        else:
            raise _Stuck
        self._settle_anchors()
        return loose - np.count_nonzero(self.now.holder == NOBODY)

    def _turn_over(self, control):
        """First guess where the sheet passes through its flat place: its own mirror image."""
        state, wanted = self.now, control.get("volume", self.now.volume)
        if state.volume * wanted < 0.0 and not np.any(state.holder == PLUG):
            ratio = wanted / state.volume
            state.x[state.holder == NOBODY, 1] *= ratio
            state.pressure *= ratio**3

    def _note(self):
        state = self.now
        self.frames.append((state.x.copy(), state.volume, state.pressure))
        l1, l2 = self._stretches()
        hoop = [nominal_stress(a, max(b, 1e-6), self.terms)[1] / a for a, b in zip(l1, l2)]
        self.push = max(self.push, -min(hoop) / self.softness)

    def _stretches(self):
        length = np.hypot(*np.diff(self.now.x, axis=0).T) / np.diff(self.rest)
        hoop = (self.now.x[1:, 0] + self.now.x[:-1, 0]) / (self.rest[1:] + self.rest[:-1])
        return length, hoop

    def _advance(self, control, until=None, share=(0.0, 1.0), first=0.02, least=1e-6):
        """Follow a path from 0 to 1 with a step that suits the contact; False if it gave out."""
        done, step = 0.0, first
        while done < 1.0 - 1e-12:
            saved = self.now.copy()
            goal = min(1.0, done + step)
            try:
                touched = self._increment(control(goal))
            except _Stuck:
                touched = None
            if until is not None and touched is not None and until(self.now):
                self.now = saved
                return True
            if touched is None or (touched > 2 and step > 4e-4):
                self.now, step = saved, 0.5 * step
                if step < least:
                    return False
                continue
            done = goal
            self._note()
            if self.tell and self.tell(share[0] + done * (share[1] - share[0])):
                raise InterruptedError("The run was cancelled.")
            step = min(first, step * (1.3 if touched <= 1 else 0.8))
        return True

    def _touch_start(self):
        """Nodes that lie on the tool before anything moves (a flange under the sheet)."""
        state, body = self.now, self.bodies[TOOL]
        gap, foot, _ = ring.measure_gaps(state.x, body.points, body.side, state.shifts[TOOL])
        on = np.abs(gap) < self.tiny
        state.holder[on], state.anchor[on] = TOOL, foot[on] - (0.0, state.shifts[TOOL])
        state.touched_at[on] = 0.0

    def _start(self, height):
        """First shallow bubble of the free sheet; downward if `height` is above zero."""
        state = self.now
        free = np.flatnonzero(state.holder == NOBODY)
        reach = self.rest[min(free[-1] + 1, len(self.rest) - 1)]
        before = state.copy()
        state.x[free, 1] -= height * (1.0 - (self.rest[free] / reach) ** 2)
        volume = 0.5 * np.pi * reach**2 * height
        for _ in range(60):
            self._balance(volume=volume)
            if not self._catch(before):
                break
        self._note()

    def _finish(self, complete) -> Forming:
        state = self.now
        l1, l2 = self._stretches()
        free = state.holder[:-1] == NOBODY
        free |= state.holder[1:] == NOBODY
        radius = 0.0
        if free.any() and state.pressure > 0.0:
            pull = np.array([nominal_stress(a, max(b, 1e-6), self.terms)[0]
                             for a, b in zip(l1[free], l2[free])]) - self.set_stress[free, 0]
            tension = pull * self.weight[free] / l2[free]
            radius = float(max(tension.min(), 0.0) / state.pressure)
        picked = np.unique(np.linspace(0, len(self.frames) - 1, 80).astype(int))
        frames = [self.frames[i] for i in picked]
        return Forming(
            rest=self.rest, position=state.x.copy(), gauge=1.0 / (l1 * l2),
            frames=np.array([f[0] for f in frames]), volumes=np.array([f[1] for f in frames]),
            pressures=np.array([f[2] for f in frames]), touched_at=state.touched_at.copy(),
            held=state.holder == TOOL, pressure=float(state.pressure), free_radius=radius,
            push=float(self.push), complete=bool(complete))


def _profile(field_name, points):
    points = np.ascontiguousarray(finite(field_name, points), float)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 2:
        raise Refused(field_name, f"{field_name} needs two points or more, each across and up.")
    if np.any(np.hypot(*np.diff(points, axis=0).T) <= 0.0) or points[:, 0].min() < -1e-12:
        raise Refused(field_name, f"{field_name} must not repeat a point or cross the axis.")
    return points


def inflate(sheet: Sheet, height: float) -> Forming:
    """Blow a clamped round sheet freely to a height of its pole.

    Equilibrium of the membrane by finite elements of revolution, controlled by volume:

    .. math:: \\delta \\int W(\\lambda_1, \\lambda_2)\\, t_0\\, dA = p\\, \\delta V

    Parameters
    ----------
    sheet : Sheet
        Sheet in its clamp.
    height : float
        Rise of the pole (downward in the result), > 0 to 5 clamp radii. [m]

    Returns
    -------
    Forming
        With the pressure that holds this height.

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Isothermal, without bending stiffness. Error falls with the square of the element size.

    References
    ----------
    Adkins and Rivlin, Phil. Trans. R. Soc. A 244 (1952) 505-531 (from memory).
    """
    within("height", height, 0.0, 5.0 * sheet.radius, unit="m", above=True)
    run = _Run(sheet, [])
    start = min(0.05 * sheet.radius, 0.5 * height)
    try:
        run._start(start)
    except _Stuck:
        raise Refused("height", f"No equilibrium was found at a height of {start:.6g} m.") from None
    far = np.pi * height * (3.0 * sheet.radius**2 + height**2) / 3.0
    begin = run.now.volume
    done = run._advance(lambda f: {"volume": begin + f * (far - begin)},
                        until=lambda state: -state.x[0, 1] > height)
    if not done or -run.now.x[0, 1] > height:
        raise Refused("height", f"No equilibrium was found up to a height of {height:.6g} m.")
    _reach_height(run, height)
    return run._finish(True)


def _reach_height(run, height):
    """Secant on the volume until the pole stands at the height."""
    volumes, heights = [run.now.volume], [-run.now.x[0, 1]]
    slope = np.pi * run.sheet.radius**2 / 2.0
    for _ in range(30):
        if abs(heights[-1] - height) < 1e-10 * run.sheet.radius:
            break
        if len(volumes) > 1:
            slope = (volumes[-1] - volumes[-2]) / (heights[-1] - heights[-2])
        run._balance(volume=volumes[-1] + slope * (height - heights[-1]))
        volumes.append(run.now.volume)
        heights.append(-run.now.x[0, 1])
    run._note()


def form(sheet: Sheet, tool, end_pressure: float, *, friction: float = STICKS, rise: float = 0.0,
         bubble: float = 0.0, plug: Plug | None = None,
         tell: Callable[[float], bool] | None = None) -> Forming:
    """Form a round sheet over a tool profile up to a pressure.

    In order: a bubble away from the tool, the tool's rise (a drape) or the plug's travel, then the
    vacuum (or pressure) on the tool's side until `end_pressure` acts across the sheet. Each
    equilibrium as in `inflate`; contact sticks, or slides by Coulomb's law:

    .. math:: |T| \\le \\mu N

    Parameters
    ----------
    sheet : Sheet
        Sheet in its clamp.
    tool : array, shape (n, 2)
        Profile across and up from the axis outward, where it stands at the end. [m]
    end_pressure : float
        Pressure across the sheet at the end, > 0. [Pa]
    friction : float
        Friction of the sheet on the tool, >= 0; infinite sticks. [1]
    rise : float
        How far the tool rises to where it stands (drape), >= 0. [m]
    bubble : float
        Height of the bubble blown first, >= 0. [m]
    plug : Plug or None
        Plug that comes from above before the vacuum.
    tell : callable or None
        Called with the fraction done; True stops the run.

    Returns
    -------
    Forming
        `complete` is False where no equilibrium was found up to the pressure.

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the tool stands above the sheet at the start.
    InterruptedError
        If `tell` asked to stop.

    Notes
    -----
    A sheet without memory forgets a bubble that meets nothing: it only matters with a drape or a
    plug. Compressive hoop stress is let go (the sheet folds). Sharp corners never fill.

    References
    ----------
    Williams, J. Strain Anal. 5 (1970) 49 for inflation into tools (from memory).
    """
    points = _profile("tool profile", tool)
    within("end pressure", end_pressure, 0.0, unit="Pa", above=True)
    within("rise", rise, 0.0, unit="m")
    within("bubble height", bubble, 0.0, unit="m")
    if np.isnan(friction) or friction < 0.0:
        raise Refused("friction", f"friction is {friction}, but it must be at least 0 "
                                  "(infinite: it sticks).")
    bodies = [_Body(points, 1.0, friction, -rise)]
    if plug is not None:
        lift = max(bubble, 0.04 * sheet.radius) + 0.005 * sheet.radius
        bodies.append(_Body(_profile("plug profile", plug.profile), -1.0, plug.friction, lift))
    run = _Run(sheet, bodies, tell)
    flat = np.stack([sheet.rest, np.zeros_like(sheet.rest)], 1)
    if ring.measure_gaps(flat, points, 1.0, -rise)[0].min() < -run.tiny:
        raise Refused("tool profile", "The tool stands above the clamp plane before the sheet is "
                                      "formed; give it a rise of at least its height.")
    try:
        return _run_stages(run, end_pressure, rise, bubble, plug)
    except _Stuck:
        raise Refused("tool profile", "No equilibrium was found at the start; try more or fewer "
                                      "elements, or larger radii at the rim.") from None


def _run_stages(run, end_pressure, rise, bubble, plug):
    run._touch_start()
    sag = 0.04 * run.sheet.radius
    run._start(-sag if bubble or plug or rise else 2.0 * sag)
    done = True
    if bubble > sag:
        begin, goal = run.now.volume, -np.pi * bubble * (3 * run.sheet.radius**2 + bubble**2) / 6.0
        done = run._advance(lambda f: {"volume": begin + f * (goal - begin)}, share=(0.0, 0.2))
    if rise and done:
        done = run._advance(_travel(run, TOOL, 0.0), share=(0.2, 0.5))
    if plug is not None and done:
        done = run._advance(_travel(run, PLUG, -plug.travel), share=(0.2, 0.5))
        run.chill(run.now.holder == PLUG, plug.chill)
    return run._finish(done and _evacuate(run, end_pressure))


def _travel(run, b, goal):
    """Control that moves a body while the air below the sheet is free to follow."""
    begin = run.now.shifts[b]
    pressure = run.now.pressure

    def control(fraction):
        shifts = list(run.now.shifts)
        shifts[b] = begin + fraction * (goal - begin)
        return {"shifts": tuple(shifts), "pressure": pressure}

    return control


def _evacuate(run, end_pressure):
    """Draw the sheet on to the tool by volume until the pressure is reached; then by pressure."""
    begin = run.now.volume
    points = run.bodies[TOOL].points
    inside = points[points[:, 0] <= run.sheet.radius + run.tiny]
    edge = inside[-1]
    square = inside[1:, 0] ** 2 + inside[1:, 0] * inside[:-1, 0] + inside[:-1, 0] ** 2
    goal = np.sum(square * np.diff(inside[:, 1])) * np.pi / 3.0 - np.pi * edge[0] ** 2 * edge[1]
    span = max(goal - begin, 1e-3 * run.sheet.radius**3)
    found = run._advance(lambda f: {"volume": begin + f * span}, share=(0.5, 0.95),
                         until=lambda state: state.pressure > end_pressure,
                         first=max(0.005, 0.5 / run.sheet.elements), least=1e-9)
    if found and run.now.pressure >= end_pressure:
        return True
    last = run.now.pressure
    if np.all(run.now.holder[:-1] != NOBODY):  # nothing is left that a pressure could move
        run.now.pressure = end_pressure
        return True
    return run._advance(lambda f: {"pressure": last + f * (end_pressure - last)},
                        share=(0.95, 1.0), first=0.25, least=1e-4)


def fillet(points, radii, facet: float = np.radians(3.0)) -> np.ndarray:
    """Round the corners of a profile.

    Parameters
    ----------
    points : array, shape (n, 2)
        Corners of the profile. [m]
    radii : sequence of float
        Radius at each of the n - 2 inner corners, 0 leaves it sharp. [m]
    facet : float
        Angle each facet of an arc turns through, > 0. [rad]

    Returns
    -------
    array, shape (m, 2)
        Profile with arcs. [m]

    Raises
    ------
    Refused
        If an arc does not fit its sides, naming the radius.
    """
    points = np.asarray(finite("profile", points), float)
    out, room = [points[0]], 0.0
    for i, radius in enumerate(radii, start=1):
        a, b, c = points[i - 1], points[i], points[i + 1]
        back, on = (a - b) / np.hypot(*(a - b)), (c - b) / np.hypot(*(c - b))
        turn = np.pi - np.arccos(np.clip(back @ on, -1.0, 1.0))
        reach = within("radius", radius, 0.0, unit="m") * np.tan(0.5 * turn)
        if reach + room > np.hypot(*(a - b)) + 1e-12 or reach > np.hypot(*(c - b)) + 1e-12:
            raise Refused("radius", f"A radius of {radius:.6g} m does not fit between its sides.")
        room = reach
        if radius == 0.0 or turn < 1e-9:
            out.append(b)
            continue
        centre = b + (back + on) / np.hypot(*(back + on)) * np.hypot(reach, radius)
        start, end = b + reach * back - centre, b + reach * on - centre
        count = max(2, int(np.ceil(turn / facet)) + 1)
        for f in np.linspace(0.0, 1.0, count):
            out.append(centre + (np.sin((1 - f) * turn) * start + np.sin(f * turn) * end)
                       / np.sin(turn))
    out.append(points[-1])
    keep = [out[0]] + [q for p, q in zip(out, out[1:]) if np.hypot(*(q - p)) > 1e-12]
    return np.array(keep)


def cup_profile(rim_radius: float, depth: float, wall_angle: float, corner_radius: float,
                rim_fillet: float, clamp_radius: float) -> np.ndarray:
    """Profile of a round cavity with flange, from the axis outward.

    Parameters
    ----------
    rim_radius : float
        Radius where wall and flange would meet, > 0. [m]
    depth : float
        Depth of the floor, > 0. [m]
    wall_angle : float
        From the clamp plane, above 0 to a right angle. [rad]
    corner_radius, rim_fillet : float
        Radius between floor and wall, and between wall and flange, >= 0. [m]
    clamp_radius : float
        Radius of the clamp, above the rim radius. [m]

    Returns
    -------
    array, shape (n, 2)
        Across and up. [m]

    Raises
    ------
    Refused
        If a value is out of range or a radius does not fit.
    """
    within("clamp radius", clamp_radius, rim_radius, unit="m", above=True)
    base = rim_radius - depth / np.tan(wall_angle)
    within("radius of the floor", base, 0.0, unit="m")
    if base < 1e-9:
        return fillet([(0.0, -depth), (rim_radius, 0.0), (clamp_radius, 0.0)], [rim_fillet])
    return fillet([(0.0, -depth), (base, -depth), (rim_radius, 0.0), (clamp_radius, 0.0)],
                  [corner_radius, rim_fillet])


def punch_profile(top_radius: float, height: float, draft: float, top_fillet: float,
                  foot_fillet: float, clamp_radius: float) -> np.ndarray:
    """Profile of a round male form on its base, from the axis outward; the base at height 0.

    Parameters
    ----------
    top_radius : float
        Radius where top and wall would meet, > 0. [m]
    height : float
        Height of the top, > 0. [m]
    draft : float
        Of the wall from upright, 0 to below a right angle. [rad]
    top_fillet, foot_fillet : float
        Radius between top and wall, and between wall and base, >= 0. [m]
    clamp_radius : float
        Radius of the clamp, above that of the foot. [m]

    Returns
    -------
    array, shape (n, 2)
        Across and up. [m]

    Raises
    ------
    Refused
        If a value is out of range or a radius does not fit.
    """
    foot = top_radius + height * np.tan(within("draft", draft, 0.0, 0.5 * np.pi, below=True))
    within("clamp radius", clamp_radius, foot, unit="m", above=True)
    return fillet([(0.0, height), (top_radius, height), (foot, 0.0), (clamp_radius, 0.0)],
                  [top_fillet, foot_fillet])
