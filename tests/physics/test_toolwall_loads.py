"""Loads of the wall, fixings, and the material under repeated load."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermoforming.guard import Refused
from thermoforming.physics.toolwall import loads, warm


def test_a_hollow_at_vacuum_is_pressed_inward_only_once_sealed():
    before, sealed, after = loads.moments_of_load("vacuum", 101325.0, 10e3)
    assert (before.pressure, sealed.pressure, after.pressure) == (0.0, 91325.0, 0.0)


def test_a_hollow_at_atmosphere_is_pressed_outward_before_and_balanced_after():
    before, sealed, after = loads.moments_of_load("atmosphere", 101325.0, 10e3)
    assert (before.pressure, sealed.pressure, after.pressure) == (-91325.0, 0.0, 0.0)


@given(st.sampled_from(loads.HOLLOWS), st.floats(0.0, 1e6))
def test_forming_pressure_adds_inward(hollow, forming):
    without = loads.moments_of_load(hollow, 101325.0, 10e3)[1].pressure
    assert loads.moments_of_load(hollow, 101325.0, 10e3, forming)[1].pressure == \
        pytest.approx(without + forming)


@pytest.mark.parametrize("pressure, area, force", [(90e3, 30000e-6, 2700.0),
                                                   (95e3, 120000e-6, 11400.0)])
def test_force_on_an_area(pressure, area, force):
    """Statics, worked out independently."""
    assert loads.clamp_force(pressure, area, 1.0) == pytest.approx(force)


def test_pull_out_of_an_m5_insert():
    """pi 6.4 mm 9.5 mm 20 MPa = 3820 N, by hand."""
    assert loads.pull_out(20e6, 6.4e-3, 9.5e-3) == pytest.approx(3820, rel=1e-3)


def test_fillet_factor_falls_to_one():
    ratio = loads.fillet_factor(np.array([0.1, 0.3, 1.0, 3.0]) * 1e-3, 1e-3)
    assert np.all(np.diff(ratio) <= 0) and ratio[-1] == 1.0
    # K = 1.35 at r/t = 0.3, a stepped bar three times as high: Peterson's chart (from memory)
    assert ratio[1] == pytest.approx(1.35, rel=0.02)


def test_creep_of_one_load_is_the_creep_ratio_at_its_own_time():
    assert warm.creep_factor(1000.0, 1000.0, 1, 1000.0, 0.5, 0.3) == pytest.approx(2.0)


def test_creep_without_rest_is_one_long_load():
    """Boltzmann: loads that follow each other without a gap are one load."""
    assert warm.creep_factor(10.0, 10.0, 100, 1000.0, 0.5, 0.3) == pytest.approx(2.0)


@given(st.floats(1.0, 100.0), st.floats(0.0, 1000.0), st.integers(1, 300), st.floats(0.05, 1.0),
       st.floats(0.1, 0.9))
def test_rest_between_loads_never_hurts(load, rest, shots, ratio, exponent):
    without = warm.creep_factor(load, load, shots, 1000.0, ratio, exponent)
    found = warm.creep_factor(load, load + rest, shots, 1000.0, ratio, exponent)
    assert 1.0 <= found <= without * (1 + 1e-9)


def test_fatigue_line_passes_through_what_was_given():
    assert warm.fatigue_share(1, 0.2, 1e4) == pytest.approx(1.0)
    assert warm.fatigue_share(1e4, 0.2, 1e4) == pytest.approx(0.2)
    assert warm.fatigue_share(1e2, 0.2, 1e4) == pytest.approx(0.2**0.5)


@pytest.mark.parametrize("call, name", [
    (lambda: loads.moments_of_load("sealed", 1e5, 1e4), "hollow"),
    (lambda: loads.moments_of_load("vacuum", 1e5, 2e5), "plenum"),
    (lambda: loads.moments_of_load("vacuum", np.nan, 1e4), "ambient"),
    (lambda: warm.creep_factor(10.0, 5.0, 1, 1e3, 0.5, 0.3), "cycle time"),
    (lambda: warm.fatigue_share(0, 0.2, 1e4), "shots")])
def test_refuses_by_name(call, name):
    with pytest.raises(Refused, match=name):
        call()
