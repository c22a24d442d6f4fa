"""Membrane of revolution against independent shooting, closed forms and its own refinement."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, fsolve

from thermoforming.guard import Refused
from thermoforming.physics.thinning import axisymmetric as ax
from thermoforming.physics.thinning import elements, hyperelastic
from thermoforming.physics.thinning.ring_elements import measure_gaps

CLAMP, GAUGE = 0.05, 2e-3
SOFT = hyperelastic.neo_hookean(0.2e6)
MOONEY = hyperelastic.mooney_rivlin(0.2e6, 0.15)
OGDEN = hyperelastic.ogden([0.25e6, -0.02e6], [1.4, -2.5])
CUP = ax.cup_profile(0.045, 0.03, np.radians(80), 0.006, 0.002, CLAMP)


def sheet(count=200, law=SOFT, radius=CLAMP):
    return ax.Sheet(radius, GAUGE, law, count)


def nominal(l1, l2, law):
    across = 1.0 / (l1 * l2)
    return tuple(sum(m * (l**a - across**a) for m, a in law) / l for l in (l1, l2))


def shoot(pole, load, rest, law, **more):
    """Cap of revolution by the ordinary differential equations of equilibrium.

    Adkins and Rivlin, Phil. Trans. R. Soc. A 244 (1952) (form of the equations from memory, derived
    again): vertical balance gives the slope, sin(phi) = load r l2 / (2 P1), and along the meridian
    d(P1 R)/dR = P2 cos(phi); `load` is pressure over gauge.
    """
    def slope(r0, y):
        l1, r, _ = y
        l2 = r / r0
        p1, p2 = nominal(l1, l2, law)
        sin = min(load * r * l2 / (2.0 * p1), 1.0)
        cos = np.sqrt(1.0 - sin**2)
        h = 1e-6
        by1 = (nominal(l1 + h, l2, law)[0] - nominal(l1 - h, l2, law)[0]) / (2 * h)
        by2 = (nominal(l1, l2 + h, law)[0] - nominal(l1, l2 - h, law)[0]) / (2 * h)
        return [((p2 * cos - p1) / r0 - by2 * (l1 * cos - l2) / r0) / by1, l1 * cos, l1 * sin]

    first = 1e-6 * rest
    return solve_ivp(slope, (first, rest), [pole, pole * first, 0.0], method="DOP853",
                     rtol=1e-9, atol=1e-12, **more)


def blown(height, law):
    """Independent solution for a sheet blown to a height below the hemisphere."""
    def miss(u):
        end = shoot(u[0], u[1] * 1e6, CLAMP, law).y[:, -1]
        return [end[1] / CLAMP - 1.0, end[2] / height - 1.0]

    pole, load = fsolve(miss, [1.25, 10.0 * hyperelastic.shear_modulus(law) / 1e6], xtol=1e-12)
    return shoot(pole, load * 1e6, CLAMP, law, dense_output=True), load * 1e6 * GAUGE


@pytest.mark.parametrize("law", [SOFT, MOONEY, OGDEN], ids=["neo-Hookean", "Mooney", "Ogden"])
def test_free_inflation_against_shooting(law):
    exact, pressure = blown(0.03, law)
    found = ax.inflate(sheet(200, law), 0.03)
    middle = 0.5 * (found.rest[1:] + found.rest[:-1])
    l1, r, _ = exact.sol(middle)
    assert np.max(np.abs(found.gauge * l1 * r / middle - 1.0)) < 1e-4
    assert found.pressure == pytest.approx(pressure, rel=1e-4)


def test_free_inflation_converges_at_second_order():
    exact, _ = blown(0.03, SOFT)
    errors = []
    for count in (50, 100, 200, 400):
        found = ax.inflate(sheet(count), 0.03)
        middle = 0.5 * (found.rest[1:] + found.rest[:-1])
        l1, r, _ = exact.sol(middle)
        errors.append(np.sqrt(np.mean((found.gauge * l1 * r / middle - 1.0) ** 2)))
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(orders > 1.75) and errors[-1] < 1e-5


def cone_by_shooting(rim, angle, reach, law, count=6):
    """Gauge where a sticking sheet meets a cone, by shooting each free cap and marching down.

    The cap ends tangent to the wall; a strip ds of wall takes a strip ds / l1 of flat sheet.
    """
    shear = hyperelastic.shear_modulus(law)
    small = np.radians(10.0)  # a shallow cap: strain about slope squared / 4, Laplace's pressure
    guess = np.log([small**2 / 4.0, 12.0 * small**3 / 5.0 / rim])

    def cap(at, rest, slope):
        nonlocal guess

        def miss(u):
            pole, load = 1.0 + np.exp(u[0]), np.exp(u[1]) * shear
            l1, r, _ = shoot(pole, load, rest, law).y[:, -1]
            l2 = r / rest
            return [r / at - 1.0, load * r * l2 / (2.0 * nominal(l1, l2, law)[0]) - np.sin(slope)]

        guess = fsolve(miss, guess, xtol=1e-9)
        return shoot(1.0 + np.exp(guess[0]), np.exp(guess[1]) * shear, rest, law).y[0, -1]

    for slope in np.arange(small, angle, np.radians(10.0)):
        cap(rim, rim, slope)

    def fall(s, rest):
        return -1.0 / cap(rim - s * np.cos(angle), rest, angle)

    first = guess
    places, h = np.linspace(0.0, reach, count, retstep=True)
    rests = [rim]
    for s in places[:-1]:  # Runge and Kutta's classical step
        k1 = fall(s, rests[-1])
        k2 = fall(s + h / 2, rests[-1] + h / 2 * k1)
        k3 = fall(s + h / 2, rests[-1] + h / 2 * k2)
        k4 = fall(s + h, rests[-1] + h * k3)
        rests.append(rests[-1] + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4))
    at, rest = rim - places * np.cos(angle), np.array(rests)
    guess = first
    stretch = np.array([cap(a, b, angle) for a, b in zip(at, rest)])
    return at, rest / (at * stretch)


def test_sticking_cone_against_shooting():
    """Wall of a 60 degree cone, sharp rim at the clamp, until two thirds of the way down."""
    angle = np.radians(60.0)
    at, gauge = cone_by_shooting(CLAMP, angle, 0.05, SOFT)
    profile = np.array([(0.0, -CLAMP * np.tan(angle)), (CLAMP, 0.0)])
    run = ax.form(sheet(400), profile, 40e3)
    wall = np.flatnonzero(run.held[1:] & run.held[:-1])
    found = CubicSpline(run.middle[wall, 0], run.gauge[wall])
    error = found(at[1:]) / gauge[1:] - 1.0  # the rim itself is half an element beyond the middles
    assert len(wall) > 250 and np.sqrt(np.mean(error**2)) < 1e-4
    # A study of the same cone found t/t0 of 0.86 at the rim and 0.51 at r/r0 = 0.68 for the
    # neo-Hookean membrane, where the geometric element has 0.75 and 0.51 (read, not re-measured).
    assert gauge[0] == pytest.approx(0.86, abs=0.01)
    assert found(0.68 * CLAMP) == pytest.approx(0.51, abs=0.01)


def test_small_blow_is_linear_theory():
    """Shallow bubble: p R^4 / (E t w^3) from Hencky's series for a clamped circular membrane.

    w0 / R = 0.653 (p R / E t)^(1/3) for Poisson's ratio 1/2 is below the value 0.662 for 0.3
    (Hencky 1915, Campbell 1956: from memory); the two bracket an incompressible sheet to 2 %.
    """
    height = 0.01 * CLAMP
    found = ax.inflate(sheet(200), height)
    young = 3.0 * hyperelastic.shear_modulus(SOFT)
    ratio = (height / CLAMP) / (found.pressure * CLAMP / (young * GAUGE)) ** (1.0 / 3.0)
    assert ratio == pytest.approx(0.60, abs=0.07)


def test_blown_sheet_passes_a_pressure_maximum():
    """A neo-Hookean balloon has its maximum at stretch 7^(1/6) (closed form); a clamped sheet
    passes one as well, beyond the hemisphere, and its pole stays below the balloon's pressure."""
    heights = np.linspace(0.02, 0.12, 11)
    runs = [ax.inflate(sheet(100), h) for h in heights]
    pressures = np.array([run.pressure for run in runs])
    peak = int(pressures.argmax())
    assert 0 < peak < len(heights) - 1
    assert np.all(np.diff(pressures[:peak + 1]) > 0) and np.all(np.diff(pressures[peak:]) < 0)


def test_pole_lies_between_uniform_bubble_and_hill():
    """Hill's special solution and the bubble of one gauge bound the membrane's pole (trend)."""
    for height in (0.02, 0.03):
        pole = ax.inflate(sheet(), height).gauge[0]
        assert elements.hill_pole_gauge(height, CLAMP) * 0.97 < pole
        assert pole < elements.dome_gauge(height, CLAMP)


def test_forming_refines_and_keeps_volume():
    coarse, middle, fine = (ax.form(sheet(n), CUP, 100e3) for n in (100, 200, 800))
    for run in (coarse, middle, fine):
        assert run.complete and run.pressure == pytest.approx(100e3)
        assert run.volume_ratio() == pytest.approx(1.0, abs=1e-9)
    at = np.linspace(0.002, 0.043, 60)

    def gauge(run):
        rest = 0.5 * (run.rest[1:] + run.rest[:-1])
        return np.interp(at, rest, run.gauge)

    first = np.sqrt(np.mean((gauge(coarse) - gauge(fine)) ** 2))
    second = np.sqrt(np.mean((gauge(middle) - gauge(fine)) ** 2))
    assert second < 2e-3 and second < 0.75 * first


def test_more_pressure_forms_a_smaller_radius():
    low, high = (ax.form(sheet(100), CUP, p) for p in (30e3, 60e3))
    assert high.free_radius < low.free_radius
    assert high.gauge.min() < low.gauge.min()
    # Local balance of the last free strip: pressure = tension / radius (from memory, Laplace).
    assert low.free_radius == pytest.approx(2.0 * high.free_radius, rel=0.2)


def test_coulomb_between_sticking_and_frictionless():
    runs = {mu: ax.form(sheet(150), CUP, 100e3, friction=mu).gauge.min()
            for mu in (0.0, 0.3, 1.0, 5.0, np.inf)}
    assert runs[0.0] > runs[0.3] > runs[1.0] > 0.0
    assert runs[5.0] == pytest.approx(runs[np.inf], rel=2e-3)


def test_drape_keeps_its_top_and_means():
    """A stuck top keeps its gauge; the rest shares what is left (conservation of volume)."""
    tool = ax.punch_profile(0.06, 0.06, np.radians(3), 0.002, 0.002, 0.12)
    run = ax.form(ax.Sheet(0.12, GAUGE, SOFT, 400), tool, 200e3, rise=0.0601)
    top = run.middle[:, 0] < 0.055
    assert np.all(np.abs(run.gauge[top] - 1.0) < 0.01)
    length = np.hypot(*np.diff(run.position, axis=0).T)
    area = 2 * np.pi * run.middle[:, 0] * length
    rest = ~(run.middle[:, 0] < 0.0595)
    mean = np.sum(area[rest] * run.gauge[rest]) / np.sum(area[rest])
    assert mean == pytest.approx(elements.drape_gauge(0.06, 0.12, 0.06, np.radians(3)), rel=0.03)


def test_drape_thins_from_edge_and_toward_clamp_with_even_middle():
    """Trend read in the abstract of an open study of impact polystyrene over male moulds:
    the wall is thin by the top edge, even in the middle, and thinner toward the clamp with more
    depth. Here: the middle half of the wall varies less than the whole of it."""
    tool = ax.punch_profile(0.06, 0.06, np.radians(3), 0.008, 0.005, 0.12)
    run = ax.form(ax.Sheet(0.12, GAUGE, SOFT, 200), tool, 100e3, rise=0.0601)
    height = run.middle[:, 1]
    wall = (height > 0.004) & (height < 0.056) & (run.middle[:, 0] < 0.066)
    even = wall & (height > 0.017) & (height < 0.043)
    assert np.ptp(run.gauge[even]) < 0.5 * np.ptp(run.gauge[(height > 0.001) & (height < 0.0599)])


def test_plug_that_stays_saves_the_floor():
    deep = ax.cup_profile(0.045, 0.06, np.radians(85), 0.005, 0.002, CLAMP)
    nose = ax.fillet([(0.0, 0.0), (0.028, 0.0), (0.032, 0.06)], [0.006])
    plain = ax.form(sheet(150), deep, 100e3)
    sticky = ax.form(sheet(150), deep, 100e3, plug=ax.Plug(nose, 0.05))
    slippery = ax.form(sheet(150), deep, 100e3, plug=ax.Plug(nose, 0.05, friction=0.0))
    assert sticky.gauge[0] > 2.0 * plain.gauge[0]
    assert sticky.gauge.min() > plain.gauge.min()
    # An elastic sheet forgets what slipped freely on a plug.
    assert slippery.gauge[0] == pytest.approx(plain.gauge[0], rel=0.05)


@settings(max_examples=4, deadline=None)
@given(scale=st.floats(0.2, 5.0), modulus=st.floats(0.3, 3.0))
def test_scaling(scale, modulus):
    """Gauge depends on p L / (mu t0) and on shape alone (dimensional analysis)."""
    one = ax.form(sheet(60), CUP, 60e3)
    law = hyperelastic.neo_hookean(0.2e6 * modulus)
    other = ax.form(ax.Sheet(CLAMP * scale, GAUGE * scale, law, 60), CUP * scale, 60e3 * modulus)
    assert np.allclose(one.gauge, other.gauge, rtol=1e-6)


@settings(max_examples=6, deadline=None)
@given(depth=st.floats(0.1, 0.9), angle=st.floats(60, 88), law=st.sampled_from([SOFT, MOONEY]))
def test_forming_is_positive_and_never_inside_the_tool(depth, angle, law):
    rim = 0.045
    depth = depth * min(rim * np.tan(np.radians(angle)) * 0.7, 0.06)
    tool = ax.cup_profile(rim, depth, np.radians(angle), 0.2 * depth, 0.002, CLAMP)
    run = ax.form(sheet(80, law), tool, 80e3)
    assert np.all(run.gauge > 0.0) and np.all(run.gauge < 1.005)
    gap, _, _ = measure_gaps(run.position, tool, 1.0, 0.0)
    assert gap.min() > -2e-5 * CLAMP
    touched = run.touched_at[np.isfinite(run.touched_at)]
    assert np.all(touched <= run.volumes[-1] + 1e-12)


def test_a_hotter_middle_thins_more():
    warm = np.linspace(0.6, 1.0, 100)
    even = ax.form(sheet(100), CUP, 60e3)
    soft_middle = ax.form(ax.Sheet(CLAMP, GAUGE, SOFT, 100, warm), CUP, 60e3)
    assert soft_middle.gauge[0] < even.gauge[0]


def test_a_run_can_be_stopped():
    with pytest.raises(InterruptedError):
        ax.form(sheet(60), CUP, 60e3, tell=lambda fraction: fraction > 0.6)


def test_refusals():
    with pytest.raises(Refused, match="rise"):
        ax.form(sheet(60, radius=0.12),
                ax.punch_profile(0.06, 0.06, 0.05, 0.002, 0.002, 0.12), 1e5)
    with pytest.raises(Refused, match="end pressure"):
        ax.form(sheet(60), CUP, 0.0)
    with pytest.raises(Refused, match="does not fit"):
        ax.cup_profile(0.045, 0.01, np.radians(80), 0.03, 0.002, CLAMP)
    with pytest.raises(Refused, match="friction"):
        ax.form(sheet(60), CUP, 1e5, friction=-1.0)
    with pytest.raises(Refused, match="relative stiffness"):
        ax.Sheet(CLAMP, GAUGE, SOFT, 60, np.ones(7))


def test_balloon_check_of_the_law():
    """Thin neo-Hookean balloon: p R0 / (2 t0 mu) = 1/l - 1/l^7, greatest at l = 7^(1/6)."""
    peak = brentq(lambda l: -1 / l**2 + 7 / l**8, 1.1, 2.0)
    assert peak == pytest.approx(7 ** (1 / 6))
    stretch = 1.3
    stress, _ = hyperelastic.true_stress(stretch, stretch, SOFT)
    assert stress / stretch**3 == pytest.approx(0.2e6 * (1 / stretch - 1 / stretch**7))
