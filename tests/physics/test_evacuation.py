"""Emptying the air below the sheet, against closed forms, scipy's integrators and balances."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from thermoforming.guard import Refused
from thermoforming.physics import gasflow as flow
from thermoforming.physics.evacuation import (Machine, Pocket, Pump, Vents, evacuate,
                                              pump_down_time, settled_pressure, stated_volume,
                                              tank_pressure_after, tank_volume_for)

MBAR, M3H, LITRE = 100.0, 1.0 / 3600.0, 1e-3
NO_PUMP = Pump([1000.0, 101325.0], [0.0, 0.0])
CURVE = Pump(np.array([20, 50, 100, 200, 500, 1013]) * MBAR,
             np.array([8, 22, 31, 36, 39, 40]) * M3H)
NEVER = np.inf


def rigid(volume):
    return Pocket([0.0], [volume])


def ideal_hole(d, coefficient):
    """A hole with this share of the area and no loss, the ideal hole of the closed forms."""
    return flow.bore(d * math.sqrt(coefficient), 0.0, loss=0.0)


def machine(**changes):
    kept = dict(plenum_volume=1e-5, line=(1e-5, 0.5), tank_volume=1e6, tank_pressure=1000.0,
                pump=NO_PUMP)
    return Machine(**(kept | changes))


@pytest.mark.parametrize(("volume", "speed", "p0", "p1", "expected"), [
    (20, 25, 1013, 100, 6.668644), (60, 40, 1013, 50, 16.2467)])
def test_pump_down_at_constant_speed(volume, speed, p0, p1, expected):
    # t = V/S ln(p0/p1), handbooks of vacuum technology; computed independently.
    pump = Pump([p1 * MBAR / 2, 101300], [speed * M3H] * 2)
    assert pump_down_time(volume * LITRE, p0 * MBAR, p1 * MBAR, pump) == pytest.approx(expected,
                                                                                    rel=1e-6)


def test_pump_with_ultimate_pressure():
    # S (1 - pu/p): 20 L, 25 m3/h, 20 mbar ultimate, 1013 to 100 mbar; computed independently.
    p = np.geomspace(20, 1013, 4000) * MBAR
    pump = Pump(p, 25 * M3H * (1 - 20 * MBAR / p))
    assert pump_down_time(20 * LITRE, 1013 * MBAR, 100 * MBAR, pump) == pytest.approx(7.253868,
                                                                                   rel=1e-5)


def test_tabulated_pump_curve():
    # Linear between the points, V int dp/(p S); computed independently.
    assert pump_down_time(0.05, 1013 * MBAR, 80 * MBAR, CURVE) == pytest.approx(12.79358, rel=1e-5)
    assert tank_pressure_after(0.05, 1013 * MBAR, 12.79358, CURVE) == pytest.approx(80 * MBAR,
                                                                                 rel=1e-5)


def test_pump_that_cannot_hold_a_leak_takes_for_ever():
    assert pump_down_time(0.05, 1e5, 3e3, CURVE, gas_load=1e3) == math.inf


def test_tank_settles_by_mixing():
    # Ideal-gas mixing; computed independently.
    assert settled_pressure(8, 1013, 60, 60) == pytest.approx(172.1176, rel=1e-6)
    assert settled_pressure(8, 1013, 20, 60) == pytest.approx(332.2857, rel=1e-6)
    assert tank_volume_for(1.0, 1013, 200, 60) == pytest.approx(5.807143, rel=1e-6)


def test_choked_vents_into_high_vacuum():
    # t = V/(Cd A k) ln(p0/p1) while choked: 3 L, 40 holes of 0.8 mm, Cd 0.8, to 40 kPa;
    # computed independently: 0.8727406 s.
    found = evacuate([rigid(3 * LITRE)], [Vents(0, ideal_hole(0.8e-3, 0.8), [NEVER] * 40)],
                     machine(), 2.0, 1e-4).time_to_pull(101325 - 40000)
    assert found == pytest.approx(0.8727406, rel=2e-3)


def test_vents_into_a_finite_tank():
    # Coupled balance with choked and subsonic holes: 4 L, 50 holes of 0.8 mm, Cd 0.8, tank 50 L at
    # 8 kPa, to 30 kPa; computed independently: 1.21906 s.
    found = evacuate([rigid(4 * LITRE)], [Vents(0, ideal_hole(0.8e-3, 0.8), [NEVER] * 50)],
                     machine(tank_volume=50 * LITRE, tank_pressure=8000.0), 3.0, 1e-4)
    assert found.time_to_pull(101325 - 30000) == pytest.approx(1.21906, rel=5e-3)


def test_whole_chain_agrees_with_scipy():
    """Cavity that shrinks, vents, plenum, valve, tank and pump, solved by scipy's Radau."""
    box = Machine(2e-3, (1e-7, 0.3), 40e-3, 9000.0, CURVE, temperature=330.0)
    curve = Pocket([0, 3e3, 1e4, 1e5], [2e-3, 1.5e-3, 4e-4, 1e-4])
    passage = flow.bore(0.7e-3, 4e-3)
    found = evacuate([curve], [Vents(0, passage, [NEVER] * 15)], box, 4.0, 1e-4)
    gas = flow.GAS_CONSTANT * 330.0
    grid = np.linspace(200, 101325, 20000)
    mass = grid * np.interp(101325 - grid, curve.pull, curve.volume) / gas

    def rates(_, y):
        p, plenum, tank = np.interp(y[0], mass, grid), y[1] * gas / 2e-3, y[2] * gas / 40e-3
        vented = 15 * flow.bore_mass_flow(passage, p, min(plenum, p), 330.0)
        led = flow.valve_mass_flow(1e-7, 0.3, plenum, min(tank, plenum), 330.0)
        return [-vented, vented - led, led - tank * float(CURVE.speed(tank)) / gas]

    start = [mass[-1], 101325 * 2e-3 / gas, 9000 * 40e-3 / gas]
    exact = solve_ivp(rates, (0, 4), start, "Radau", rtol=1e-6, atol=1e-9, max_step=0.05)
    times = np.linspace(0.05, 4, 30)
    pressure = np.interp(np.interp(times, exact.t, exact.y[0]), mass, grid)
    assert found.at(times)[0] == pytest.approx(pressure, abs=150.0)


def test_mass_is_kept_in_a_closed_system_with_pockets():
    main = Pocket([0, 4e3, 2e4, 1e5], [2e-3, 5e-4, 1e-4, 5e-5])
    side = Pocket([0, 4e3, 2e4, 1e5], [5e-5, 3e-5, 1e-5, 5e-6], closes_at=5e3)
    vents = [Vents(0, flow.bore(0.6e-3, 3e-3), [8e3, 2e4, NEVER]),
             Vents(1, flow.bore(0.4e-3, 3e-3), [NEVER])]
    found = evacuate([main, side], vents, machine(plenum_volume=1e-3, tank_volume=0.05,
                                                  tank_pressure=5e3), 60.0)
    assert np.ptp(found.mass) < 1e-12 * found.mass[0]
    assert np.ptp([found.pockets[0, -1], found.pockets[1, -1], found.tank[-1]]) < 50.0


@settings(max_examples=25, deadline=None)
@given(st.floats(0.3e-3, 1.5e-3), st.floats(1e-4, 1e-2), st.integers(1, 40),
       st.floats(5e-4, 2e-2), st.floats(5e-3, 0.5), st.floats(2e3, 4e4))
def test_air_is_kept_and_flows_downhill(bore, volume, count, plenum, tank, pressure):
    """Whatever the sizes: mass kept, every space falls, none below the tank's first pressure."""
    curve = Pocket([0, 5e3, 1e5], [volume, 0.3 * volume, 0.05 * volume])
    side = Pocket([0, 1e5], [0.1 * volume, 0.02 * volume], closes_at=6e3)
    found = evacuate([curve, side], [Vents(0, flow.bore(bore, 3e-3), [NEVER] * count),
                                     Vents(1, flow.bore(bore, 3e-3), [NEVER])],
                     machine(plenum_volume=plenum, line=(3e-7, 0.3), tank_volume=tank,
                             tank_pressure=pressure), 3.0, 2e-3)
    assert np.ptp(found.mass) < 1e-11 * found.mass[0]
    assert np.all(np.diff(found.pockets.max(axis=0)) < 0.003 * 101325)
    assert found.pockets.min() > 0.98 * pressure


def test_leak_lets_in_what_the_balance_says():
    """Only a leak, no vent: mass rises by the leak's flow, which is choked at first."""
    found = evacuate([rigid(2e-3), Pocket([0.0], [1e-3], closes_at=1e9)], [],
                     machine(leak=1e-10, plenum_volume=1e-3), 1.0)
    assert found.mass[-1] == pytest.approx(found.mass[0], rel=1e-9)  # no difference, no leak
    vented = evacuate([rigid(2e-3)], [Vents(0, flow.bore(2e-3, 2e-3), [NEVER] * 9)],
                      machine(leak=1e-9, tank_volume=1.0), 2.0)
    gained = np.diff(vented.mass) / np.diff(vented.time)
    choked = 1e-9 * 101325 * flow.REFERENCE_DENSITY * math.sqrt(293.15 / 293.15)
    assert gained[-1] == pytest.approx(choked, rel=1e-3)


def test_a_large_leak_against_few_vents_settles_where_flows_balance():
    """Steady state: the leak's flow equals the vents' flow, both by their own formulas."""
    vents = [Vents(0, flow.bore(1e-3, 3e-3), [NEVER] * 4)]
    found = evacuate([rigid(2e-3)], vents, machine(leak=2e-8), 20.0, 1e-3)
    p = float(found.pockets[0, -1])
    leaked = flow.valve_mass_flow(2e-8, 0.5, 101325.0, p, 293.15)
    vented = 4 * flow.bore_mass_flow(vents[0].passage, p, float(found.plenum[-1]), 293.15)
    assert leaked == pytest.approx(vented, rel=5e-3)


def test_covered_vents_carry_nothing_and_a_pocket_without_vent_stays_full():
    main = Pocket([0, 2e4, 1e5], [2e-3, 4e-4, 2e-4])
    side = Pocket([0, 1e5], [2e-5, 1e-5], closes_at=1e4)
    bores = flow.bore(0.8e-3, 3e-3)
    kept = evacuate([main, side], [Vents(0, bores, [NEVER] * 10)], machine(), 30.0)
    assert 101325 - kept.pockets[1, -1] == pytest.approx(1e4, rel=0.1)
    assert kept.pockets[0, -1] < 2000.0
    shut = evacuate([main], [Vents(0, bores, [3e4] * 10)], machine(), 30.0)
    assert 101325 - shut.pockets[0, -1] == pytest.approx(3e4, rel=0.02)
    assert math.isinf(shut.time_to_pull(5e4))


def test_steps_converge():
    main = Pocket([0, 4e3, 2e4, 1e5], [2e-3, 5e-4, 1e-4, 5e-5])
    vents = [Vents(0, flow.bore(0.6e-3, 3e-3), [NEVER] * 12)]
    box = machine(plenum_volume=1e-3, line=(1e-7, 0.3), tank_volume=0.05, tank_pressure=8e3)
    times = [evacuate([main], vents, box, 8.0, t).time_to_pull(7e4) for t in (1e-2, 5e-4, 1e-5)]
    assert abs(times[1] - times[2]) < 5e-3 * times[2]
    assert abs(times[0] - times[2]) < 3e-2 * times[2]


def test_more_vents_and_smaller_volume_are_faster():
    def time(count, volume):
        return evacuate([stated_volume(volume, 0.1, 5e3, 8e4)],
                        [Vents(0, flow.bore(0.6e-3, 3e-3), [NEVER] * count)],
                        machine(), 10.0).time_to_pull(7e4)

    assert time(20, 1e-3) < time(10, 1e-3) < time(10, 2e-3)
    assert time(20, 2e-3) == pytest.approx(time(10, 1e-3), rel=5e-3)  # scales with V over area


def test_second_shot_starts_from_the_tank_that_the_first_left():
    pockets, vents = [rigid(5e-3)], [Vents(0, flow.bore(1e-3, 3e-3), [NEVER] * 20)]
    box = machine(plenum_volume=2e-3, line=(3e-7, 0.3), tank_volume=100e-3, tank_pressure=6e3,
                  pump=CURVE)
    first = evacuate(pockets, vents, box, 10.0)
    recovered = tank_pressure_after(100e-3, first.tank[-1], 0.1, CURVE)
    assert 6e3 < recovered < first.tank[-1]
    again = evacuate(pockets, vents, machine(plenum_volume=2e-3, line=(3e-7, 0.3),
                                             tank_volume=100e-3, tank_pressure=recovered,
                                             pump=CURVE), 10.0)
    assert again.time_to_pull(8.5e4) > first.time_to_pull(8.5e4)


def test_refusals_name_the_input():
    with pytest.raises(Refused, match="volume curve rises"):
        Pocket([0, 1e4], [1e-3, 2e-3])
    with pytest.raises(Refused, match="pressures increasing"):
        Pump([2e3, 1e3], [1, 1])
    with pytest.raises(Refused, match="pocket of a vent"):
        evacuate([rigid(1e-3)], [Vents(3, flow.bore(1e-3, 1e-3), [1e4])], machine(), 1.0)
    with pytest.raises(Refused, match="tank_pressure"):
        machine(tank_pressure=2e5)
