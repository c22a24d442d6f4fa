"""Tool temperature against slab series, contact of thick bodies, and the balance of heat."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.special import erf

from thermoforming.guard import Refused
from thermoforming.physics import conduction, toolthermal
from thermoforming.physics.toolthermal import Cycle, Layer, Setting, Sink
from thermoforming.reference import sheets

SHEET = Layer(0.002, 0.16, 1050 * 1900.0, 20)
WALL = Layer(0.006, 0.22, 1200 * 1500.0, 24)
USUAL = Setting(SHEET, 433.15, 600.0, (WALL,), 296.15, 9.0, 9.0, 9.0, 45.0, 45.0)
NONE = 1e-12  # a film too weak to matter [W/(m2 K)]


@pytest.mark.parametrize("sheet, wall, expected", [
    ((433.15, 0.16, 1050 * 1900.0), (323.15, 0.22, 1200 * 1500.0), 102.0384),
    ((433.15, 0.16, 1050 * 1900.0), (323.15, 167.0, 2700 * 896.0), 53.0074),
    ((438.15, 0.18, 1050 * 2000.0), (333.15, 1.0, 1650 * 1100.0), 92.90244)])
def test_first_touch_of_thick_bodies(sheet, wall, expected):
    """Contact temperature by effusivities (Carslaw & Jaeger; Incropera), worked out
    independently for polystyrene on photopolymer and aluminium, ABS on filled epoxy."""
    thick = 0.5 if wall[1] > 100 else 0.05
    setting = Setting(Layer(0.02, *sheet[1:], 150), sheet[0], 1e7, (Layer(thick, *wall[1:], 150),),
                      296.15, NONE, NONE, NONE, 3.0, 1.0)
    found = Cycle(setting).shots(np.full(150, wall[0]))
    assert found.peak[0] - 273.15 == pytest.approx(expected, abs=0.05 * 3)


@pytest.mark.parametrize("depth, time, expected", [(1e-3, 30.0, 74.83462), (3e-3, 60.0, 55.33954)])
def test_depth_of_warming(depth, time, expected):
    """Surface stepped from 25 to 95 degC, k 0.22, rho c 1200 x 1500: Incropera, error function.

    The step is made by a sheet so heavy and conductive that its face stays where it is.
    """
    sheet = Layer(0.05, 1e4, 1e9, 20)
    setting = Setting(sheet, 368.15, 1e8, (Layer(0.06, 0.22, 1200 * 1500.0, 120),), 298.15, NONE,
                      NONE, NONE, time, 1.0)
    cycle = Cycle(setting)
    wall = cycle.taken(np.full(120, 298.15)) - 273.15
    assert np.interp(depth, cycle.depth, wall) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("biot, fourier, x, theta", [
    (1.0, 0.5, 0.0, 0.7725264), (1.0, 0.5, 1.0, 0.5045219), (0.2, 2.0, 0.0, 0.7088666),
    (10.0, 0.3, 0.0, 0.6824646)])
def test_cooling_of_a_slab_in_air(biot, fourier, x, theta):
    """Slab series (Incropera & DeWitt; roots found independently): an open wall of one side."""
    k, rc, thick = 0.2, 1.8e6, 0.01
    film = biot * k / thick
    time = fourier * thick**2 * rc / k
    # forming face without loss, back face with the film: the middle of a slab of twice the wall
    setting = Setting(SHEET, 400.0, 1e-9, (Layer(thick, k, rc, 80),), 300.0, NONE, 0.0, film,
                      1e-6, time)
    cycle = Cycle(setting)
    wall = cycle.walls(400.0, 2)[1]
    inside = cycle.shots(wall).face[0] if x == 0.0 else cycle.shots(wall).back[0]
    assert (inside - 300.0) / 100.0 == pytest.approx(theta, abs=2e-3)


def test_a_cycle_against_a_general_integrator():
    """The same cells handed to scipy's stiff integrator, one closed and one open phase."""
    cycle = Cycle(USUAL)
    wall = np.linspace(330.0, 310.0, 24)
    closed = cycle._closed
    rate = closed._modes * closed._rates @ closed._modes.T / closed._root[:, None] * closed._root
    start = np.concatenate([np.full(20, 433.15), wall])
    found = solve_ivp(lambda _, t: -rate @ (t - closed._rest), (0, 45.0), start, method="BDF",
                      rtol=1e-8, atol=1e-8).y[:, -1]
    assert cycle.taken(wall) == pytest.approx(found[20:], abs=1e-4)


def _marched(sheet):
    """The usual contact phase, marched by the finite volumes of the heating page."""
    wall = conduction.Layer(conduction.Solid.constant(1200.0, 1500.0, 0.22), 0.006, 48)
    air = conduction.Side(296.15, 9.0)
    history = conduction.conduct([conduction.Layer(sheet, 0.002, 32), wall],
                                 [433.15, 320.0], air, air, 45.0, contact=1 / 600.0, steps=600)
    return history, history.layer == 1


def test_a_shot_against_finite_volumes_in_time():
    """Two independent schemes: eigenvalues here, an implicit march there."""
    history, in_wall = _marched(conduction.Solid.constant(1050.0, 1900.0, 0.16))
    cycle = Cycle(USUAL)
    start = np.full(24, 320.0)
    depth = history.depth[in_wall] - 0.002
    marched = np.interp(cycle.depth, depth, history.temperature[-1][in_wall])
    assert cycle.taken(start) == pytest.approx(marched, abs=0.15)
    peak = history.temperature[:, in_wall][:, 0].max()
    assert cycle.shots(start).peak[0] == pytest.approx(peak, abs=0.5)


@pytest.mark.parametrize("key, allowed", [("hips", 1.5), ("pp_copolymer", 4.0)])
def test_one_heat_capacity_for_the_sheet_is_good_enough(key, allowed):
    """The page takes the sheet's heat between forming and set temperature as one number; the
    enthalpy curve marched in full, melting included, says by how much that misses the wall."""
    material = sheets()[key]
    density, content = material.band("density").typical, material.curve("enthalpy")
    set_at = material.band("set_temperature").typical
    given = content.at(433.15, "hold").typical - content.at(set_at, "hold").typical
    one = density * given / (433.15 - set_at)
    full = conduction.Solid.curves(density, content.temperature, content.typical, (300.0, 500.0),
                                   (0.16, 0.16))
    history, in_wall = _marched(full)
    cycle = Cycle(replace(USUAL, sheet=Layer(0.002, 0.16, one, 20)))
    marched = np.interp(cycle.depth, history.depth[in_wall] - 0.002,
                        history.temperature[-1][in_wall])
    assert cycle.taken(np.full(24, 320.0)).mean() == pytest.approx(marched.mean(), abs=allowed)


def test_steady_cycle_is_where_the_shots_go_and_repeats():
    cycle = Cycle(USUAL)
    steady = cycle.steady()
    assert cycle.walls(296.15, 400)[-1] == pytest.approx(steady, abs=1e-6)
    assert cycle.walls(steady, 2)[1] == pytest.approx(steady, abs=1e-9)


def test_heat_is_conserved():
    """Without loss, wall and sheet end at their common temperature by their capacities."""
    setting = replace(USUAL, sheet_film=0.0, open_film=0.0, back_film=NONE, contact_time=5e4)
    cycle = Cycle(setting)
    wall = cycle.taken(np.full(24, 300.0))
    sheet_c, wall_c = 0.002 * SHEET.heat_capacity, 0.006 * WALL.heat_capacity
    common = (sheet_c * 433.15 + wall_c * 300.0) / (sheet_c + wall_c)
    assert wall == pytest.approx(common, abs=1e-3)
    assert cycle.heat(np.full(24, 300.0)) == pytest.approx(wall_c * (common - 300.0), rel=1e-6)


def test_coolant_at_the_back_is_a_film():
    """A strong sink at the deepest cell holds it at the coolant's temperature."""
    sink = Sink(0.006, 1e6, 290.0)
    steady = Cycle(replace(USUAL, sink=sink)).steady()
    assert steady[-1] == pytest.approx(290.0, abs=0.1)
    assert steady.mean() < Cycle(USUAL).steady().mean()


@settings(max_examples=25)
@given(st.floats(1.0, 3.0))
def test_what_helps_helps(factor):
    """Fan, longer cycle, more conductive wall: each lowers the mean of the steady cycle."""
    def mean(setting):
        cycle = Cycle(setting)
        return cycle.shots(cycle.steady()).mean[0]
    base = mean(USUAL)
    assert mean(replace(USUAL, open_film=9.0 * factor, back_film=9.0 * factor)) <= base + 1e-9
    assert mean(replace(USUAL, open_time=45.0 * factor)) <= base + 1e-9
    assert base < USUAL.sheet_temperature


def test_temperatures_rise_shot_by_shot_and_stay_between_air_and_sheet():
    cycle = Cycle(USUAL)
    shots = cycle.shots(cycle.walls(296.15, 60))
    for values in (shots.peak, shots.mean, shots.mean_peak, shots.part):
        assert np.all(np.diff(values) > 0)
    assert shots.mean[0] == pytest.approx(296.15)
    assert np.all(shots.peak < 433.15) and np.all(shots.mean_peak <= shots.peak)


def test_shots_before_a_limit_and_the_rest_after_them():
    cycle = Cycle(USUAL)
    walls = cycle.walls(296.15, 60)
    shots = cycle.shots(walls)
    limit = float(shots.mean_peak[9]) + 1e-6
    assert toolthermal.shots_before(shots.mean_peak, limit) == 10
    assert toolthermal.shots_before(shots.mean_peak, 1000.0) is None
    rest = cycle.rest(walls[20], 310.0)
    later = Cycle(replace(USUAL, open_time=rest, contact=1e-9, contact_time=1e-6))
    assert later.shots(later.walls(walls[20], 2)[1]).mean[0] == pytest.approx(310.0, abs=0.05)
    assert cycle.rest(walls[20], 295.0) == np.inf


def test_error_function_profile_in_both_bodies():
    wall = Layer(0.06, 0.22, 1200 * 1500.0, 120)
    setting = Setting(Layer(0.03, 0.16, 1050 * 1900.0, 120), 433.15, 1e8, (wall,), 296.15, NONE,
                      NONE, NONE, 20.0, 1.0)
    cycle = Cycle(setting)
    found = cycle.taken(np.full(120, 323.15))
    exact = 375.1884 + (323.15 - 375.1884) * erf(cycle.depth / (2 * np.sqrt(0.22 / 1.8e6 * 20.0)))
    assert found == pytest.approx(exact, abs=0.2)


@pytest.mark.parametrize("bad, name", [(dict(contact=0.0), "contact"), (dict(ambient=np.nan),
                                                                        "ambient"),
                                       (dict(wall=()), "wall"), (dict(open_time=-1.0),
                                                                 "open time")])
def test_refuses_by_name(bad, name):
    with pytest.raises(Refused, match=name):
        replace(USUAL, **bad)
