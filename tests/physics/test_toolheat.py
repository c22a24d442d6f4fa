"""Heat balance of a tool against numerical integration, series resistances and limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.special import erfc

from thermoforming.guard import Refused
from thermoforming.physics.toolheat import (
    contact_temperature,
    effusivity,
    heating_conductance,
    running_temperature,
    shots_to_reach,
    wall_conductance,
)

HOT, AMBIENT, REFERENCE = 423.15, 296.15, 333.15


def test_contact_temperature_makes_the_heat_fluxes_equal():
    """Two semi-infinite bodies: each follows erfc; scipy's erfc gives both fluxes at the face."""
    sheet, tool = (0.17, 1050.0, 1700.0), (0.22, 1180.0, 1450.0)
    face = contact_temperature(HOT, AMBIENT, effusivity(*sheet), effusivity(*tool))
    time, step = 2.0, 1e-7

    def flux(k, rho, c, deep):
        spread = 2.0 * np.sqrt(k / (rho * c) * time)
        inside = deep + (face - deep) * erfc(step / spread)
        return k * (inside - face) / step

    assert flux(*sheet, HOT) == pytest.approx(-flux(*tool, AMBIENT), rel=1e-4)


def test_aluminium_face_stays_near_its_own_temperature():
    # Effusivity of 6061 about 20 000, of polymer about 550 (handbook, from memory).
    aluminium, sheet = effusivity(167.0, 2700.0, 896.0), effusivity(0.17, 1050.0, 1700.0)
    assert contact_temperature(HOT, 323.15, sheet, aluminium) - 323.15 < 4.0


def test_running_temperature_and_shots_agree_with_integration():
    """The lump's differential equation, integrated by scipy."""
    capacity, cycle, heat = 10_000.0, 100.0, 100e3
    heating = heating_conductance(heat, cycle, HOT, REFERENCE)
    cooling = wall_conductance(5.0, 10.0, 0.006, 0.22)
    steady = running_temperature(heating, cooling, HOT, AMBIENT)
    limit = AMBIENT + 0.7 * (steady - AMBIENT)
    shots = shots_to_reach(0.7, cycle, capacity / (heating + cooling))
    solved = solve_ivp(lambda _, t: (heating * (HOT - t) - cooling * (t - AMBIENT)) / capacity,
                       (0.0, 50_000.0), [AMBIENT], rtol=1e-9, atol=1e-9, dense_output=True)
    assert solved.y[0, -1] == pytest.approx(steady, abs=1e-3)
    assert solved.sol(shots * cycle)[0] == pytest.approx(limit, abs=1e-3)


def test_wall_conductance_is_resistances_in_series():
    assert wall_conductance(0.0, 10.0, 0.005, 0.2) == pytest.approx(1 / (1 / 10.0 + 0.005 / 0.2))
    assert wall_conductance(4.0, 10.0, 0.005, 0.2) - wall_conductance(0.0, 10.0, 0.005, 0.2) == 4.0


def test_heat_stated_at_the_reference_is_taken_there():
    heating = heating_conductance(90e3, 100.0, HOT, REFERENCE)
    assert heating * (HOT - REFERENCE) * 100.0 == pytest.approx(90e3)


@given(heating=st.floats(0.0, 1e4), cooling=st.floats(0.1, 1e4))
def test_a_tool_runs_between_ambient_and_sheet(heating, cooling):
    steady = running_temperature(heating, cooling, HOT, AMBIENT)
    assert AMBIENT - 1e-9 <= steady <= HOT + 1e-9


@given(share=st.floats(0.0, 0.99), cycle=st.floats(1.0, 1e4))
def test_twice_the_cycle_halves_the_shots(share, cycle):
    assert shots_to_reach(share, 2.0 * cycle, 500.0) == pytest.approx(
        0.5 * shots_to_reach(share, cycle, 500.0))


@pytest.mark.parametrize("call, name", [
    (lambda: effusivity(0.0, 1000.0, 1000.0), "conductivity"),
    (lambda: effusivity(0.2, float("nan"), 1000.0), "density"),
    (lambda: contact_temperature(-1.0, 300.0, 500.0, 500.0), "sheet_temperature"),
    (lambda: wall_conductance(1.0, 10.0, 0.0, 0.2), "thickness"),
    (lambda: heating_conductance(1e5, 100.0, 300.0, 300.0), "less reference"),
    (lambda: running_temperature(1.0, 0.0, 400.0, 300.0), "cooling"),
    (lambda: shots_to_reach(1.0, 100.0, 500.0), "limit_share"),
])
def test_impossible_inputs_are_refused_by_name(call, name):
    with pytest.raises(Refused, match=name):
        call()
