"""Tolerance stacks against their definitions, scipy's distributions, and ISO 286."""

import numpy as np
import pytest
from scipy import stats

from thermoforming.bands import Band, sample
from thermoforming.guard import Refused
from thermoforming.physics.tolerance import (
    nearest_grade,
    realistic_tolerance,
    root_sum_square,
    share_all_within,
    share_within,
    stack,
    standard_tolerance,
    worst_case,
)

FOUR = [0.2, 0.3, 0.15, 0.4]


def test_worst_case_and_root_sum_square_of_four():
    """Definitions, worked by hand: 1.05 and 0.559017."""
    assert worst_case(FOUR) == pytest.approx(1.05)
    assert root_sum_square(FOUR) == pytest.approx(0.559017, rel=1e-5)


def total(**parts):
    return sum(parts.values())


def test_a_stack_of_four_gives_the_same():
    bands = {f"t{i}": Band.around(10.0 * i, half) for i, half in enumerate(FOUR, start=1)}
    found = stack(total, bands)
    assert found.typical == pytest.approx(100.0)
    assert found.worst.high - found.typical == pytest.approx(1.05)
    assert found.typical - found.rss.low == pytest.approx(0.559017, rel=1e-5)
    assert found.largest == "t4"
    assert sum(found.share(name) for name in bands) == pytest.approx(1.0)
    assert found.share("t4") == pytest.approx(0.4**2 / 0.559017**2, rel=1e-5)


def test_sampled_spread_of_two_equal_triangles_is_scipys():
    """The sum of two triangular variables; its percentiles from scipy by a fine convolution."""
    bands = {"a": Band(-1.0, 0.0, 1.0), "b": Band(-1.0, 0.0, 1.0)}
    found = stack(total, bands, count=20_000)
    step = 1e-3
    x = np.arange(-1, 1 + step, step)
    density = stats.triang.pdf(x, 0.5, loc=-1, scale=2)
    both = np.convolve(density, density) * step
    cumulative = np.cumsum(both) * step
    places = np.interp([0.05, 0.95], cumulative, np.linspace(-2, 2, len(both)))
    assert found.sampled.low == pytest.approx(places[0], abs=0.02)
    assert found.sampled.high == pytest.approx(places[1], abs=0.02)
    inside = np.interp(0.7, np.linspace(-2, 2, len(both)), cumulative)
    assert share_within(found.samples, -0.7, 0.7) == pytest.approx(2 * inside - 1, abs=0.01)


def test_the_worst_case_of_falling_inputs_takes_the_other_end():
    found = stack(lambda up, down: up / down, {"up": Band(9, 10, 11), "down": Band(1.9, 2, 2.2)})
    assert found.worst.low == pytest.approx(9 / 2.2) and found.worst.high == pytest.approx(11 / 1.9)
    assert found.worst.low <= found.samples.min() and found.samples.max() <= found.worst.high


def test_what_does_not_vary_spreads_nothing():
    found = stack(total, {"a": Band.exact(3.0)})
    assert found.largest == "" and found.sampled == Band.exact(3.0)
    assert stack(total, {}, b=2.0).typical == 2.0


def test_joint_probability_of_independent_dimensions_is_the_product():
    drawn = np.random.default_rng(4).normal(size=(2, 40_000))
    joint = share_all_within(drawn, [-1, -2], [1, 2])
    product = np.prod([stats.norm.cdf(k) - stats.norm.cdf(-k) for k in (1, 2)])
    assert joint == pytest.approx(product, abs=0.01)


def test_dimensions_that_move_together_are_not_independent():
    common = sample({"s": Band(-1, 0, 1)}, 4000)["s"]
    both = np.stack([common, 2 * common])
    assert share_all_within(both, [-0.5, -1.0], [0.5, 1.0]) == share_within(common, -0.5, 0.5)


def test_realistic_tolerance_of_a_normal_sample():
    values = stats.norm.rvs(loc=5.0, scale=0.1, size=100_000, random_state=3)
    assert realistic_tolerance(values, 5.0, 0.95) == pytest.approx(
        0.1 * stats.norm.ppf(0.975), rel=0.02)


# Published table of ISO 286-1 (values from memory): the formula before rounding is within 4 %.
@pytest.mark.parametrize("size, grade, width", [(100, 12, 0.35), (100, 14, 0.87), (60, 13, 0.46),
                                                (20, 7, 0.021), (40, 11, 0.16), (5, 8, 0.018)])
def test_standard_tolerance_against_the_published_table(size, grade, width):
    assert standard_tolerance(size * 1e-3, grade) == pytest.approx(width * 1e-3, rel=0.04)


def test_standard_tolerance_worked_by_hand():
    """80 to 120 mm, grade 12 is 160 i, grade 14 is 400 i."""
    assert standard_tolerance(0.1, 12) == pytest.approx(0.3476051e-3, rel=1e-6)
    assert standard_tolerance(0.1, 14) == pytest.approx(0.8690128e-3, rel=1e-6)


def test_nearest_grade_is_the_first_wide_enough():
    assert nearest_grade(0.1, 0.17e-3) == 12 and nearest_grade(0.1, 0.18e-3) == 13
    assert nearest_grade(0.1, 0.1) == 0


@pytest.mark.parametrize("call, field", [
    (lambda: worst_case([0.1, -0.1]), "half widths"),
    (lambda: share_within([1.0], 2.0, 1.0), "upper limit"),
    (lambda: share_all_within([[1.0]], [0, 0], [1, 1]), "one lower"),
    (lambda: realistic_tolerance([1.0], 1.0, 1.0), "coverage"),
    (lambda: standard_tolerance(0.9, 12), "dimension"),
    (lambda: standard_tolerance(0.1, 3), "grade"),
    (lambda: stack(lambda a: a * np.nan, {"a": Band(0, 1, 2)}), "finite"),
])
def test_impossible_values_are_refused_by_name(call, field):
    with pytest.raises(Refused, match=field):
        call()
