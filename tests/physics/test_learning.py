"""Updating, correcting, the worth of a trial; temperatures, outliers, bias and capability."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.physics import learning as le
from thermoforming.physics import measuring as me


def test_band_moments_are_those_of_the_triangle():
    band = Band(2.0, 3.0, 7.0)
    triangle = stats.triang((3 - 2) / 5, loc=2, scale=5)  # scipy
    assert le.band_moments(band) == pytest.approx((triangle.mean(), triangle.std()))


def test_normal_update_by_hand():
    # Belief 0.6 +- 0.2, three parts with noise 0.3 and mean 0.9: precision 25 + 33.33,
    # mean (25*0.6 + 33.33*0.9)/58.33.
    mean, deviation = le.normal_update(0.6, 0.2, [0.8, 0.9, 1.0], 0.3)
    assert mean == pytest.approx((15 + 30) / (25 + 100 / 3))
    assert deviation == pytest.approx((25 + 100 / 3) ** -0.5)


def test_normal_update_by_quadrature():
    x = np.linspace(-3, 5, 200_001)
    weight = stats.norm.pdf(x, 0.5, 0.4) * np.prod(
        [stats.norm.pdf(y, x, 0.7) for y in (1.1, 0.2, 0.9)], axis=0)
    weight /= weight.sum()
    mean = (x * weight).sum()
    assert le.normal_update(0.5, 0.4, [1.1, 0.2, 0.9], 0.7) == pytest.approx(
        (mean, math.sqrt(((x - mean) ** 2 * weight).sum())), rel=1e-6)


def test_linear_update_in_one_number_is_the_normal_update():
    prior = le.Belief(np.array([0.6]), np.array([[0.04]]))
    after = le.linear_update(prior, [[1], [1], [1]], [0.8, 0.9, 1.0], 0.3)
    assert (after.mean[0], after.deviation[0]) == pytest.approx(
        le.normal_update(0.6, 0.2, [0.8, 0.9, 1.0], 0.3))


@given(seed=st.integers(0, 10_000))
def test_linear_update_is_the_textbook_precision_form(seed):
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(3, 3))
    prior = le.Belief(rng.normal(size=3), root @ root.T + 0.1 * np.eye(3))
    a, y, s = rng.normal(size=(5, 3)), rng.normal(size=5), rng.uniform(0.2, 2, 5)
    after = le.linear_update(prior, a, y, s)
    precision = np.linalg.inv(prior.covariance) + a.T @ np.diag(s**-2) @ a
    mean = np.linalg.solve(precision, np.linalg.solve(prior.covariance, prior.mean)
                           + a.T @ (y / s**2))
    assert after.mean == pytest.approx(mean, rel=1e-6, abs=1e-8)
    assert after.covariance == pytest.approx(np.linalg.inv(precision), rel=1e-6, abs=1e-8)


@given(seed=st.integers(0, 10_000))
def test_order_of_the_data_does_not_matter(seed):
    rng = np.random.default_rng(seed)
    prior = le.Belief(np.zeros(2), np.eye(2))
    a, y = rng.normal(size=(4, 2)), rng.normal(size=4)
    at_once = le.linear_update(prior, a, y, 0.5)
    in_turn = le.linear_update(le.linear_update(prior, a[2:], y[2:], 0.5), a[:2], y[:2], 0.5)
    assert at_once.mean == pytest.approx(in_turn.mean, abs=1e-9)
    assert at_once.covariance == pytest.approx(in_turn.covariance, abs=1e-9)


def test_grid_update_is_the_conjugate_one_where_the_band_is_wide():
    # A very wide triangle is nearly flat, so the belief is the normal of the data alone.
    after = le.grid_update(Band(-40, 0, 40), [-40, 40], [[-40] * 3, [40] * 3], [1.0, 2.0, 3.0], 5.0)
    alone = stats.norm(2.0, 5 / math.sqrt(3))
    assert after.typical == pytest.approx(2.0, abs=0.25)
    assert (after.low, after.high) == pytest.approx((alone.ppf(0.05), alone.ppf(0.95)), abs=0.3)


def test_grid_update_by_quadrature():
    # Triangle of scipy times the likelihood of a model y = x^2 given at three values.
    band, data, noise = Band(0.4, 0.8, 2.0), np.array([1.0, 1.3]), 0.4
    grid = np.linspace(0.4, 2.0, 9)
    after = le.grid_update(band, grid, np.column_stack([grid**2, grid**2]), data, noise)
    x = np.linspace(0.4, 2.0, 20001)
    model = np.interp(x, grid, grid**2)
    weight = stats.triang.pdf(x, 0.25, 0.4, 1.6) * np.exp(
        -0.5 * sum((y - model) ** 2 for y in data) / noise**2)
    weight /= weight.sum()
    assert after.typical == pytest.approx((x * weight).sum(), rel=2e-3)
    assert after.low == pytest.approx(np.interp(0.05, np.cumsum(weight), x), rel=5e-3)


def test_grid_update_without_sensitivity_keeps_the_band():
    band = Band(0.4, 0.8, 2.0)
    after = le.grid_update(band, [0.4, 2.0], [[1.0], [1.0]], [3.0], 0.5)
    assert (after.low, after.high) == pytest.approx(band.quantile([0.05, 0.95]), rel=5e-3)


def test_no_data_leaves_the_belief():
    prior = le.Belief(np.array([1.0, 2.0]), np.eye(2))
    assert le.linear_update(prior, np.zeros((0, 2)), [], 1.0) is prior


def test_belief_about_a_combination():
    belief = le.Belief(np.array([1.0, 2.0]), np.array([[4.0, 1.0], [1.0, 9.0]]))
    assert belief.of([1, 1]) == pytest.approx((3.0, math.sqrt(15)))


@given(mean=st.floats(-2, 2), deviation=st.floats(0.01, 5))
def test_chance_within_is_scipys(mean, deviation):
    normal = stats.norm(mean, deviation)
    assert le.chance_within(mean, deviation, -1.0, 0.5) == pytest.approx(
        normal.cdf(0.5) - normal.cdf(-1.0), abs=1e-12)


def test_chance_of_three_sigma():
    assert le.chance_within(0, 1, -3, 3) == pytest.approx(0.9973, abs=5e-5)  # any normal table


def test_correction_gives_the_target():
    tool = le.corrected(0.1, 0.006)
    assert tool * (1 - 0.006) == pytest.approx(0.1)


@given(sigma=st.floats(0.01, 10), noise=st.floats(0.01, 10), parts=st.integers(0, 50))
def test_deviation_after_is_what_the_update_gives(sigma, noise, parts):
    _, deviation = le.normal_update(0.0, sigma, np.zeros(parts), noise)
    assert le.deviation_after(sigma, noise, parts) == pytest.approx(deviation)


def test_worth_of_trial_by_hand():
    # 100 parts at 5: at 80 % good 125 are made, at 100 % 100; 125 saved, less 40.
    assert le.worth_of_trial(0.8, 1.0, 100, 5, 40) == pytest.approx(85)
    assert le.worth_of_trial(0.8, 0.8, 100, 5, 40) == pytest.approx(-40)


def test_moved():
    assert le.moved(1.0, 0.5, 2.0, 0.25) == pytest.approx((2.0, 0.5))


def test_camera_at_the_right_emissivity_reads_right():
    assert me.camera_temperature(420, 0.95, 0.95, 296) == pytest.approx(420)


def test_camera_set_too_high_reads_low():
    # Radiance sent into the camera, worked out forward: e T^4 + (1-e) Tr^4 at the true numbers.
    true, emissivity, mirrored, setting = 430.0, 0.85, 300.0, 0.95
    radiance = emissivity * true**4 + (1 - emissivity) * mirrored**4
    reading = ((radiance - (1 - setting) * mirrored**4) / setting) ** 0.25
    assert reading < true
    assert me.camera_temperature(reading, setting, emissivity, mirrored) == pytest.approx(true)


def test_outlier_is_named():
    # Iglewicz and Hoaglin's data (in the NIST handbook, 1.3.5.17, from memory): 2.1, 2.6, 2.4,
    # 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3 with modified z of 34.7 and 35.3 by hand (MAD 0.2 from
    # the median 2.45: values 0.35, .15, .05, .05, .15, .35, .15, .15, 5.75, 5.85 -> 0.15).
    z = me.outlying([2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3])
    assert z[-2:] == pytest.approx([0.6745 * 5.75 / 0.15, 0.6745 * 5.85 / 0.15], rel=1e-3)
    assert list(np.abs(z) > me.OUTLYING) == [False] * 8 + [True] * 2


def test_few_or_equal_values_have_no_outlier():
    assert not me.outlying([1.0, 9.0, 1.0]).any()
    assert not me.outlying(np.ones(8)).any()


def test_bias_is_the_paired_t_interval_of_scipy():
    measured, predicted = np.array([1.0, 1.3, 0.8, 1.1, 1.25]), np.array([0.9, 1.2, 0.9, 0.9, 1.0])
    found = me.agreement(measured, predicted)
    outside = stats.ttest_rel(measured, predicted).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((outside.low, outside.high))
    assert found.scatter == pytest.approx(np.std(measured - predicted, ddof=1))


def test_performance_index():
    # Centred with six standard deviations across 8: 8/6 (definition of ISO 22514-2).
    assert me.performance_index(0, 1, -4, 4) == pytest.approx(4 / 3)
    assert me.performance_index(1, 1, -4, 4) == pytest.approx(1.0)


def test_performance_bound_holds_as_often_as_it_says():
    # Simulated: true index 1.33, 30 parts, 95 %.
    parts = np.random.default_rng(5).normal(0, 1, (4000, 30))
    bounds = [me.performance_bound(me.performance_index(p.mean(), p.std(ddof=1), -4, 4), 30)
              for p in parts]
    assert np.mean(np.array(bounds) <= 4 / 3) == pytest.approx(0.955, abs=0.02)


def test_pooled_deviation():
    # Two pairs: squares 2*0.5^2 and 2*1^2 over two degrees of freedom.
    assert me.pooled_deviation([[1, 2], [5, 7], [3]]) == (pytest.approx(math.sqrt(2.5 / 2)), 2)
    assert me.pooled_deviation([[1], [2]]) == (0.0, 0)


@pytest.mark.parametrize("call", [
    lambda: le.normal_update(0, 0, [1], 1),
    lambda: le.normal_update(0, 1, [math.nan], 1),
    lambda: le.linear_update(le.Belief(np.zeros(2), np.eye(2)), [[1.0]], [1.0], 1.0),
    lambda: le.chance_within(0, 0, -1, 1),
    lambda: le.grid_update(Band(0, 1, 2), [0, 1], [[0], [1]], [1], 1.0),
    lambda: le.grid_update(Band(0, 1, 2), [0, 2], [[0, 1], [1, 2]], [1], 1.0),
    lambda: le.corrected(0.1, 0.5),
    lambda: le.worth_of_trial(0, 1, 1, 1, 1),
    lambda: me.camera_temperature(420, 0, 0.9, 296),
    lambda: me.camera_temperature(300, 1.0, 0.01, 420),
    lambda: me.agreement([1.0], [1.0]),
    lambda: me.performance_index(0, 0, -1, 1),
])
def test_refusals(call):
    with pytest.raises(Refused):
        call()
