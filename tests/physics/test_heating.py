"""Conduction through the gauge against exact solutions, scipy, and balances; sag."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from thermoforming.guard import Refused
from thermoforming.physics import heating
from thermoforming.physics.conduction import (Layer, Side, Solid, absorption_shares, conduct,
                                              crossing)
from thermoforming.physics.radiation import STEFAN_BOLTZMANN
from thermoforming.physics.sag import sag

PLAIN = Solid.constant(1000.0, 1500.0, 0.2)  # diffusivity 1.3333e-7 m2/s
A = 0.2 / 1.5e6
CLOSED = Side(300.0)


@pytest.mark.parametrize(("biot", "zeta", "c"), [
    (0.1, 0.3110528, 1.016094), (0.5, 0.6532712, 1.070128), (1.0, 0.8603336, 1.119132),
    (10.0, 1.42887, 1.261963)])
def test_late_decay_follows_the_first_eigenvalue(biot, zeta, c):
    # Incropera, table 5.1 (Bi = 1: 0.8603, 1.1191 from memory); roots computed independently.
    half = 2e-3
    film = Side(300.0, biot * 0.2 / half)
    found = conduct([Layer(PLAIN, half, 48)], 400.0, CLOSED, film, 1.0 * half**2 / A, steps=400)
    late = found.when(found.temperature[:, 0], 300 + 100 * c * math.exp(-zeta**2 * 0.6), False)
    assert late * A / half**2 == pytest.approx(0.6, rel=2e-3)


@pytest.mark.parametrize(("biot", "fourier", "place", "expected"), [
    (1.0, 0.5, 0, 0.7725264), (1.0, 0.5, -1, 0.5045219), (0.2, 2.0, 0, 0.7088666),
    (10.0, 0.3, 0, 0.6824646)])
def test_slab_with_film(biot, fourier, place, expected):
    # Slab series; computed independently.
    half = 1.5e-3
    film = Side(300.0, biot * 0.2 / half)
    found = conduct([Layer(PLAIN, half, 48)], 400.0, CLOSED, film, fourier * half**2 / A,
                    steps=400)
    assert (found.temperature[-1, place] - 300) / 100 == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("fourier", "expected"), [(0.2, 0.7723116), (0.5, 0.3707774)])
def test_slab_on_an_ideal_tool(fourier, expected):
    # One face held, one closed (slab series); computed independently.
    gauge = 2e-3
    held = Side(300.0, 1e6)
    found = conduct([Layer(PLAIN, gauge, 48)], 400.0, held, CLOSED, fourier * gauge**2 / A,
                    steps=400)
    assert (found.temperature[-1, -1] - 300) / 100 == pytest.approx(expected, rel=1e-3)


def test_constant_flux_asymptote_and_mean_rise():
    # dT = q (t/2)/(2k): 37.5 K at 8 kW/m2, 3 mm, 0.16 W/mK; 52.36875 s for 140 K with rho c
    # 1050 x 1900; computed independently.
    assert heating.surface_core_difference(8e3, 3e-3, 0.16) == pytest.approx(37.5)
    assert heating.flux_for(140, 3e-3, 1050 * 1900, 52.36875) == pytest.approx(8e3, rel=1e-6)
    sheet = Solid.constant(1050.0, 1900.0, 0.16)
    # a very hot heater with a very small factor is a constant flux
    far = Side(300.0, 0.0, 5000.0, 8e3 / (STEFAN_BOLTZMANN * 5000.0**4))
    found = conduct([Layer(sheet, 3e-3)], 293.15, far, far, 52.36875)
    assert found.mean()[-1] - 293.15 == pytest.approx(140.0, rel=2e-3)
    middle = found.temperature[-1].min()
    assert found.temperature[-1, 0] - middle == pytest.approx(37.5, rel=5e-3)


def test_lumped_radiative_heating_agrees_with_scipy():
    """A thin, highly conducting sheet has one temperature: dT/dt = 2 a sigma (Th4-T4)/(rho c t)."""
    metal = Solid.constant(2000.0, 1000.0, 400.0)
    side = Side(300.0, 0.0, 800.0, 0.8, 300.0, 0.1)

    def rate(_, t):
        return 2 * STEFAN_BOLTZMANN * (0.8 * (800**4 - t**4) + 0.1 * (300**4 - t**4)) / 2000.0

    exact = solve_ivp(rate, (0, 60), [300.0], rtol=1e-10, atol=1e-8).y[0, -1]
    found = conduct([Layer(metal, 1e-3, 4)], 300.0, side, side, 60.0)
    assert found.temperature[-1] == pytest.approx(exact, rel=2e-5)


def melting_sheet():
    """Invented semi-crystalline curve: 2 kJ/kgK, 90 kJ/kg melted between 150 and 160 degC."""
    t = np.array([293.15, 423.15, 433.15, 523.15])
    return Solid.curves(900.0, t, [0.0, 260e3, 260e3 + 20e3 + 90e3, 550e3],
                        [293.15, 500.0], [0.22, 0.2])


def test_nonlinear_heating_agrees_with_scipy():
    """Melting, conductivity over temperature, radiation and film on both sides: scipy's BDF."""
    solid, gauge = melting_sheet(), 3e-3
    top = Side(320.0, 8.0, 780.0, 0.6, 300.0, 0.3)
    low = Side(310.0, 5.0, 0.0, 0.0, 300.0, 0.9)
    n = 80
    dx = gauge / n
    grid = np.arange(200.0, 900.5, 1.0)

    def gain(s, t):
        return (s.film * (s.air - t) + STEFAN_BOLTZMANN
                * (s.from_heater * (s.heater**4 - t**4) + s.from_around * (s.around**4 - t**4)))

    def rate(_, h):
        t = np.interp(h, solid.enthalpy, grid)
        k = np.interp(0.5 * (t[1:] + t[:-1]), grid, solid.conductivity)
        flux = k * np.diff(t) / dx
        change = np.zeros(n + 1)
        change[:-1] += flux
        change[1:] -= flux
        change[0] += gain(top, t[0])
        change[-1] += gain(low, t[-1])
        width = np.full(n + 1, dx)
        width[[0, -1]] /= 2
        return change / width

    start = np.full(n + 1, np.interp(293.15, grid, solid.enthalpy))
    exact = solve_ivp(rate, (0, 100), start, "BDF", rtol=1e-6, atol=10.0)
    expected = np.interp(exact.y[:, -1], solid.enthalpy, grid)
    found = conduct([Layer(solid, gauge, 32)], 293.15, top, low, 100.0, steps=300)
    assert found.temperature[-1, 0] == pytest.approx(expected[0], abs=0.3)
    assert found.temperature[-1, -1] == pytest.approx(expected[-1], abs=0.3)


def test_energy_is_conserved_through_melting():
    solid = melting_sheet()
    side = Side(320.0, 8.0, 850.0, 0.8, 300.0, 0.1, absorption_depth=4e-4)
    found = conduct([Layer(solid, 2e-3)], 293.15, side, CLOSED, 60.0)
    content = solid.content(found.temperature) @ found.width
    assert found.temperature[-1].max() > 440.0  # it has melted
    assert content - content[0] == pytest.approx(found.heat, rel=1e-8, abs=1.0)


@settings(max_examples=30, deadline=None)
@given(st.floats(3e-4, 6e-3), st.floats(0.0, 2e-3), st.floats(500.0, 860.0),
       st.floats(0.0, 1.0), st.floats(2.0, 200.0), st.floats(0.0, 3e-3))
def test_energy_is_conserved_whatever_the_numbers(gauge, contact, heater, factor, time, depth):
    lit = Side(330.0, 12.0, heater, factor, 300.0, 1.0 - factor, absorption_depth=depth)
    wall = Solid.constant(1180.0, 1450.0, 0.22)
    found = conduct([Layer(melting_sheet(), gauge, 12), Layer(wall, 6e-3, 10)], [300.0, 320.0],
                    lit, Side(296.0, 30.0), time, contact=contact, steps=40)
    content = (melting_sheet().content(found.of(0)) @ found.width[found.layer == 0]
               + wall.content(found.of(1)) @ found.width[found.layer == 1])
    assert content[-1] - content[0] == pytest.approx(found.heat[-1], rel=1e-6, abs=2.0)
    assert 290.0 < found.temperature.min() and found.temperature.max() < heater + 1.0


def test_energy_is_conserved_across_a_contact():
    tool = Solid.constant(1200.0, 1400.0, 0.25)
    found = conduct([Layer(melting_sheet(), 2e-3), Layer(tool, 8e-3)], [450.0, 320.0],
                    Side(300.0, 20.0), Side(300.0, 10.0), 90.0, contact=2e-3)
    content = (melting_sheet().content(found.of(0)) @ found.width[found.layer == 0]
               + tool.content(found.of(1)) @ found.width[found.layer == 1])
    assert content - content[0] == pytest.approx(found.heat, rel=1e-8, abs=1.0)


def test_absorbed_shares_follow_beer_and_lambert():
    depths = Layer(PLAIN, 2e-3, 200).depths()
    shares = absorption_shares(depths, 1e-3)
    assert shares.sum() == pytest.approx(1 - math.exp(-2.0))
    assert np.all(shares > 0)
    half = shares[depths < 1e-3 * math.log(2)].sum()
    assert half == pytest.approx(0.5, abs=0.01)
    assert absorption_shares(depths, 0.0)[0] == 1.0


def test_clear_sheet_heats_more_evenly_and_takes_up_less():
    opaque = Side(300.0, 0.0, 800.0, 0.8)
    clear = Side(300.0, 0.0, 800.0, 0.8, absorption_depth=1e-3)
    hard, soft = (conduct([Layer(PLAIN, 3e-3)], 300.0, s, s, 25.0) for s in (opaque, clear))
    assert np.ptp(soft.temperature[-1]) < 0.6 * np.ptp(hard.temperature[-1])
    assert soft.heat[-1] < hard.heat[-1]


def test_nothing_happens_in_equilibrium():
    """Kirchhoff: in an enclosure at its own temperature a sheet, clear or not, stays as it is."""
    side = Side(400.0, 12.0, 400.0, 0.6, 400.0, 0.2, absorption_depth=2e-3)
    found = conduct([Layer(melting_sheet(), 2e-3)], 400.0, side, side, 100.0)
    assert found.temperature == pytest.approx(400.0, abs=1e-6)


def test_converges_at_second_order_in_time_and_depth():
    side = Side(300.0, 100.0)

    def end(cells, steps):
        return conduct([Layer(PLAIN, 2e-3, cells)], 400.0, side, CLOSED, 20.0,
                       steps=steps).temperature[-1, -1]

    exact = end(200, 2000)
    depth = [abs(end(cells, 2000) - exact) for cells in (6, 12, 24)]
    time = [abs(end(200, steps) - exact) for steps in (10, 20, 40)]
    for errors in (depth, time):
        orders = np.log2(np.array(errors[:-1]) / errors[1:])
        assert np.all(orders > 1.7)


def test_one_side_needs_longer_than_two_and_heats_less_evenly():
    lit, dark = Side(300.0, 5.0, 750.0, 0.7), Side(300.0, 5.0)
    both = conduct([Layer(PLAIN, 3e-3)], 293.15, lit, lit, 200.0)
    one = conduct([Layer(PLAIN, 3e-3)], 293.15, lit, dark, 400.0)
    assert heating.ready_time(one, 420.0) > 2.0 * heating.ready_time(both, 420.0)
    assert heating.scorch_time(one, 470.0) < heating.ready_time(one, 420.0)


def test_heating_time_scales_with_the_square_of_the_gauge_at_equal_biot():
    def time(gauge):
        held = Side(450.0, 0.5 / gauge)
        found = conduct([Layer(PLAIN, gauge)], 293.15, held, held, 4e7 * gauge**2)
        return heating.ready_time(found, 420.0)
    assert time(4e-3) == pytest.approx(4 * time(2e-3), rel=1e-3)


def test_equalising_and_formable_time():
    lit = Side(300.0, 0.0, 900.0, 0.8)
    heated = conduct([Layer(PLAIN, 3e-3)], 293.15, lit, lit, 20.0)
    rest = conduct([Layer(PLAIN, 3e-3)], heated.temperature[-1], CLOSED, CLOSED, 60.0)
    even = heating.equalising_time(rest, 2.0)
    # exact: the cosine profile of two equal faces decays with exp(-(2 pi/t)^2 a tau)
    later = heating.equalising_time(rest, 1.0)
    assert later - even == pytest.approx(math.log(2) / ((2 * math.pi / 3e-3) ** 2 * A), rel=0.02)
    assert rest.mean()[-1] == pytest.approx(rest.mean()[0], rel=1e-6)
    assert math.isinf(heating.formable_time(rest, 300.0))
    assert heating.profile_at(heated, 20.0) == pytest.approx(heated.temperature[-1])


def test_crossing_interpolates():
    assert crossing(np.array([0.0, 1.0, 2.0]), np.array([0.0, 2.0, 4.0]), 3.0, True) == 1.5
    assert math.isinf(crossing(np.array([0.0, 1.0]), np.array([0.0, 2.0]), 3.0, True))


def test_sag_without_slack_is_the_closed_cube_root():
    # 8/3 E d^3/b^3 = rho g b/8
    b, rho, e = 0.4, 1050.0, 1e6
    assert sag(b, rho, e) == pytest.approx(b * (3 * rho * 9.80665 * b / (64 * e)) ** (1 / 3))


def test_stiff_sheet_with_slack_hangs_as_the_inextensible_parabola():
    # Length of a shallow parabola: b (1 + 8/3 (d/b)^2)
    assert sag(0.4, 1050.0, 1e12, 0.01) == pytest.approx(0.4 * math.sqrt(3 * 0.01 / 8), rel=1e-4)


def test_sag_agrees_with_a_catenary():
    """An elastic strip of little stretch: exact catenary of the stretched length, by scipy."""
    b, rho, e = 0.5, 1000.0, 5e6
    found = sag(b, rho, e)
    stress = rho * 9.80665 * b**2 / (8 * found)
    length = b * (1 + stress / e)
    c = brentq(lambda c: 2 * c * math.sinh(b / (2 * c)) - length, 0.05, 100)
    assert found == pytest.approx(c * (math.cosh(b / (2 * c)) - 1), rel=0.02)


def test_refusals_name_the_input():
    with pytest.raises(Refused, match="thickness"):
        Layer(PLAIN, 0.0)
    with pytest.raises(Refused, match="enthalpy"):
        Solid.curves(1000.0, [300, 400], [1e5, 0.0], [300], [0.2])
    with pytest.raises(Refused, match="start"):
        conduct([Layer(PLAIN, 1e-3)], 1200.0, CLOSED, CLOSED, 1.0)
    with pytest.raises(Refused, match="duration"):
        conduct([Layer(PLAIN, 1e-3)], 300.0, CLOSED, CLOSED, float("nan"))
