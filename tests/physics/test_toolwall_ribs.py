"""Ribs against section geometry, Theory of Elasticity and the limits of a plate without ribs."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermoforming.physics.toolwall import plates, ribs

# flange width, thickness, web thickness, height [mm]: centroid from the tip [mm], I [mm4], gain
SECTIONS = [((60, 5, 5, 25), 23.08824, 26988.36, 43.18137),
            ((80, 6, 6, 40), 35.33333, 118080.0, 82.0)]


@pytest.mark.parametrize("sizes, centroid, second_moment, gain", SECTIONS)
def test_t_sections(sizes, centroid, second_moment, gain):
    """Two sections worked out independently by the parallel-axis theorem."""
    width, skin, thick, high = (v * 1e-3 for v in sizes)
    s = ribs.t_section(width, skin, thick, high)
    assert s.centroid == pytest.approx(centroid * 1e-3, rel=1e-6)
    assert s.second_moment == pytest.approx(second_moment * 1e-12, rel=1e-6)
    assert s.second_moment / (width * skin**3 / 12) == pytest.approx(gain, rel=1e-6)


def test_effective_width_of_a_very_wide_flange():
    """0.363 of the half wave for nu = 0.3: Timoshenko & Goodier (from memory)."""
    assert ribs.effective_width(10.0, 1.0, 0.3) * 10.0 == pytest.approx(0.363, rel=1e-3)


def test_effective_width_of_close_ribs_is_all_of_it():
    assert ribs.effective_width(0.01, 1.0, 0.3) == pytest.approx(1.0, abs=1e-3)


def test_without_ribs_it_is_the_plain_plate():
    grid = ribs.smeared(0.004, 0.004, 0.016, 0.0, 0.0, 2e9, 0.35)
    d = plates.rigidity(2e9, 0.004, 0.35)
    shear = 5 / 6 * 2e9 / (2 * 1.35) * 0.004
    assert (grid.bend_x, grid.bend_y, grid.twist) == pytest.approx((d, d, d))
    assert (grid.shear_x, grid.shear_y) == pytest.approx((shear, shear))


def test_ribs_one_way_are_beams_for_a_material_that_does_not_narrow():
    """With nu = 0 a skin with ribs one way bends like its T-sections side by side."""
    grid = ribs.smeared(0.004, 0.004, 0.016, 25.0, 0.0, 2e9, 0.0)
    section = ribs.t_section(0.04, 0.004, 0.004, 0.016)
    assert grid.bend_x == pytest.approx(2e9 * section.second_moment / 0.04)
    # the skin's middle is as far from the neutral axis as the section says
    assert -grid.shift_xx == pytest.approx(0.016 + 0.002 - section.centroid)


@given(st.floats(1e-3, 8e-3), st.floats(1e-3, 8e-3), st.floats(1e-3, 0.05), st.floats(1.0, 60.0))
def test_more_rib_is_never_softer(skin, thick, high, count):
    base = ribs.smeared(skin, thick, high, count, count, 2e9, 0.35)
    for more in (ribs.smeared(skin, thick, 1.1 * high, count, count, 2e9, 0.35),
                 ribs.smeared(skin, thick, high, 1.1 * count, count, 2e9, 0.35),
                 ribs.smeared(1.1 * skin, thick, high, count, count, 2e9, 0.35)):
        assert more.bend_x > base.bend_x
        assert more.twist > 0


@given(st.floats(0.005, 0.2), st.floats(0.05, 1.0), st.floats(0.0, 0.49))
def test_effective_width_is_a_share(pitch, span, poisson):
    assert 0 < ribs.effective_width(pitch, span, poisson) <= 1


def test_takes_arrays():
    pitch = np.array([0.02, 0.1, 0.5])
    shares = ribs.effective_width(pitch, 0.3, 0.3)
    assert np.all(np.diff(shares) < 0)
