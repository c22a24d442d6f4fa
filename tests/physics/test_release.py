"""Grip and release against thin rings, an inclined plane, and Bernoulli."""

from math import atan, cos, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from thermoforming.guard import Refused
from thermoforming.physics.release import (
    blow_off_pressure,
    grip_of_form,
    grip_of_web,
    held_strain,
    release_force,
    self_releasing_draft,
    vacuum_hold,
    wall_use,
)


def test_grip_of_a_round_form_is_the_thin_ring_formula():
    """A ring of radius r stretched by a strain presses with E e t / r (strength of materials)."""
    modulus, strain, gauge, height, radius = 1.9e9, 1.5e-3, 1e-3, 20e-3, 12e-3
    pressure = modulus * strain * gauge / radius
    assert grip_of_form(modulus, strain, gauge, height) == pytest.approx(
        pressure * 2 * pi * radius * height)


def test_grip_does_not_depend_on_the_section():
    """Tension by radius of curvature, integrated round an ellipse by scipy."""
    a, b = 30e-3, 10e-3

    def curvature_along(t):
        speed = np.hypot(a * sin(t), b * cos(t))
        return a * b / speed**3 * speed

    turning = quad(curvature_along, 0, 2 * pi)[0]
    tension = 1.9e9 * 1e-3 * 1e-3
    assert grip_of_form(1.9e9, 1e-3, 1e-3, 15e-3) == pytest.approx(tension * turning * 15e-3)


def test_release_is_the_inclined_plane():
    """A wall at draft d is a plane inclined by 90 less d; forces balanced along the pull."""
    normal, friction, draft = 500.0, 0.4, radians(3)
    assert release_force(normal, friction, draft) == pytest.approx(
        normal * (friction * cos(draft) - sin(draft)))
    assert release_force(normal, friction, atan(friction)) == pytest.approx(0.0, abs=1e-9)
    assert release_force(normal, friction, radians(60)) == 0.0


@given(st.floats(0, 1), st.floats(0, 1.4))
def test_above_the_friction_angle_the_part_frees_itself(friction, draft):
    force = release_force(1.0, friction, draft)
    if draft > self_releasing_draft(friction) + 1e-9:
        assert force == 0.0
    assert 0.0 <= force <= friction + 1e-12


def test_more_draft_and_a_warmer_part_release_more_easily():
    warm, cold = (held_strain(9e-5, 358.15, t) for t in (343.15, 296.15))
    assert 0 < warm < cold
    assert held_strain(9e-5, 358.15, 370.0) == 0.0
    forces = release_force(100.0, 0.4, np.radians([0.0, 1.0, 3.0, 5.0]))
    assert (np.diff(forces) < 0).all()


def test_web_and_biaxial_grip():
    assert grip_of_web(2e9, 1e-3, 1e-3, 0.1) == pytest.approx(200.0)
    assert grip_of_web(2e9, 1e-3, 1e-3, 0.1, 0.36) == pytest.approx(200.0 / 0.64)


def test_vacuum_hold_from_bernoulli():
    """0.04 m2 lifted at 0.1 m/s through 10 mm2 with 0.6: 667 m/s is beyond Bernoulli, one bar."""
    assert vacuum_hold(0.04, 0.1, 1e-5) == pytest.approx(0.04 * 101325.0)
    speed = 0.04 * 0.05 / (0.6 * 1e-3)
    assert vacuum_hold(0.04, 0.05, 1e-3) == pytest.approx(0.04 * 0.6 * speed**2)
    assert vacuum_hold(0.04, 0.0, 1e-5) == 0.0


def test_air_pressure_does_the_work_of_the_pull():
    assert blow_off_pressure(200.0, 0.04) == pytest.approx(5000.0)


def test_wall_use_reaches_one_at_the_strength():
    assert wall_use(0.8 * 0.6e-3 * 24e6, 0.8, 0.6e-3, 24e6) == pytest.approx(1.0)


@pytest.mark.parametrize("call, field", [
    (lambda: held_strain(1e-3, 300.0, 300.0), "expansion"),
    (lambda: held_strain(1e-4, 300.0, -1.0), "part temperature"),
    (lambda: grip_of_form(np.nan, 1e-3, 1e-3, 1e-2), "modulus"),
    (lambda: grip_of_form(1e9, 1e-3, 1e-3, -1e-2), "height"),
    (lambda: grip_of_web(1e9, 1e-3, 1e-3, -1.0), "length"),
    (lambda: release_force(-1.0, 0.3, 0.1), "normal force"),
    (lambda: vacuum_hold(0.1, 0.1, 0.0), "open area"),
    (lambda: wall_use(1.0, 1.0, 0.0, 1e6), "gauge"),
])
def test_impossible_values_are_refused_by_name(call, field):
    with pytest.raises(Refused, match=field):
        call()
