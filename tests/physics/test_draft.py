"""Draft and layer steps against plane geometry and the definition of Ra."""

from math import radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermoforming.guard import Refused
from thermoforming.physics.draft import (
    base_enlargement,
    lift_to_clear,
    required_draft,
    roughness,
    step_depth,
    step_roughness,
)

PER_DEPTH = radians(1.0) / 0.025e-3  # one degree per 0.025 mm of texture: common practice


def test_base_enlargement_and_lift_worked_by_hand():
    """3 degrees over 60 mm; 200 mm wide male form, S 0.6 %, 3 degrees: plane geometry."""
    assert base_enlargement(0.060, radians(3)) == pytest.approx(3.144467e-3, rel=1e-6)
    assert lift_to_clear(0.200, 0.006, radians(3)) == pytest.approx(11.44868e-3, rel=1e-6)


def test_after_the_lift_the_wall_has_moved_by_the_interference():
    lift = lift_to_clear(0.2, 0.006, radians(4))
    assert base_enlargement(lift, radians(4)) == pytest.approx(0.006 * 0.2 / 2)


def test_texture_adds_a_degree_per_quarter_of_a_tenth():
    assert required_draft(radians(3), 0.05e-3, PER_DEPTH) == pytest.approx(radians(5))
    assert required_draft(radians(3)) == radians(3)


@given(st.floats(0.0, 0.1), st.floats(0.0, 1e-4), st.floats(0.0, 3e-4))
def test_the_equation_of_required_draft_is_met(base, texture, layer):
    found = required_draft(base, texture, PER_DEPTH, layer)
    assert found == pytest.approx(base + PER_DEPTH * (texture + layer * np.sin(found)), rel=1e-6)
    assert found >= base


def test_layer_steps_ask_for_more_draft_than_a_smooth_wall():
    smooth, fine, coarse = (required_draft(radians(3), 0.0, PER_DEPTH, h)
                            for h in (0.0, 0.05e-3, 0.2e-3))
    assert smooth < fine < coarse


@pytest.mark.parametrize("angle", [1.0, 4.0, 30.0, 60.0])
def test_ra_of_a_stepped_wall_from_the_definition(angle):
    """Mean deviation from the mean line (ISO 21920-2) of steps drawn point by point."""
    layer, slope = 0.1e-3, radians(angle)
    height = np.linspace(0, 50 * layer, 200_001)[:-1]
    wall = np.floor(height / layer) * layer * np.tan(slope)  # where the stepped wall stands
    across = (wall - height * np.tan(slope)) * np.cos(slope)
    assert np.ptp(across) == pytest.approx(step_depth(layer, slope), rel=1e-3)
    deviation = np.abs(across - across.mean()).mean()
    assert deviation == pytest.approx(step_roughness(layer, slope), rel=1e-3)


def test_half_of_a_right_angle_worked_by_hand():
    """0.05 mm layers at 45 degrees: steps of 35.4 micrometres, Ra 8.84."""
    assert step_depth(0.05e-3, radians(45)) == pytest.approx(35.4e-6, rel=2e-3)
    assert step_roughness(0.05e-3, radians(45)) == pytest.approx(8.84e-6, rel=1e-3)


def test_an_upright_wall_has_the_roughness_of_its_process_only():
    assert roughness(0.1e-3, 0.0, 2.5e-6) == 2.5e-6
    assert roughness(0.1e-3, radians(5), 2.5e-6) > 2.5e-6


@pytest.mark.parametrize("call, field", [
    (lambda: required_draft(np.nan), "base draft"),
    (lambda: required_draft(0.05, -1e-6), "texture depth"),
    (lambda: lift_to_clear(0.1, 0.006, 0.0), "draft"),
    (lambda: step_depth(1.0, 0.1), "layer height"),
    (lambda: roughness(1e-4, 0.1, np.inf), "roughness"),
])
def test_impossible_values_are_refused_by_name(call, field):
    with pytest.raises(Refused, match=field):
        call()
