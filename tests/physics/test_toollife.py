"""Tool life: zero-failure bounds, Clopper-Pearson, Weibull lines, tools for a batch."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from thermoforming.guard import Refused
from thermoforming.physics import toollife as tl

shares = st.floats(0.05, 0.99)


# Success-run theorem R = (1-C)^(1/n) and its Bayes form (1-C)^(1/(n+1)), worked out apart.
@pytest.mark.parametrize(("confidence", "shots", "bound", "uniform"), [
    (0.90, 22, 0.900628, 0.9047357),
    (0.90, 10, 0.7943282, 0.8111308),
    (0.95, 59, 0.9504924, 0.9512971),
])
def test_success_run(confidence, shots, bound, uniform):
    assert tl.reliability_bound(shots, 0, confidence) == pytest.approx(bound, rel=1e-6)
    assert tl.reliability_bound_uniform(shots, 0, confidence) == pytest.approx(uniform, rel=1e-6)


# Zero-failure sample sizes of reliability demonstration tables: 22, 59, 230.
@pytest.mark.parametrize(("reliability", "confidence", "failures", "shots"), [
    (0.90, 0.90, 0, 22), (0.95, 0.95, 0, 59), (0.99, 0.90, 0, 230),
    (0.90, 0.90, 1, 38), (0.95, 0.95, 1, 93),  # with one failure: same tables, from memory
])
def test_shots_needed(reliability, confidence, failures, shots):
    assert tl.shots_needed(reliability, confidence, failures) == shots


# Clopper and Pearson (1934); limits worked out apart with scipy.
@pytest.mark.parametrize(("confidence", "failures", "shots", "low", "high"), [
    (0.95, 1, 20, 0.001265089, 0.2487328),
    (0.95, 0, 20, 0.0, 0.1684335),
    (0.90, 2, 50, 0.00715372, 0.1206142),
])
def test_clopper_pearson(confidence, failures, shots, low, high):
    assert tl.failure_limits(shots, failures, confidence) == pytest.approx((low, high), rel=1e-6)


@given(shots=st.integers(1, 300), data=st.data(), confidence=shares)
def test_limits_agree_with_the_binomial_test_of_scipy(shots, data, confidence):
    failures = data.draw(st.integers(0, shots))
    exact = stats.binomtest(failures, shots).proportion_ci(confidence, "exact")
    assert tl.failure_limits(shots, failures, confidence) == pytest.approx(
        (exact.low, exact.high), abs=1e-9)


@given(shots=st.integers(2, 300), data=st.data(), confidence=shares)
def test_bound_is_where_the_binomial_tail_is_the_risk(shots, data, confidence):
    failures = data.draw(st.integers(0, shots - 1))
    bound = tl.reliability_bound(shots, failures, confidence)
    assert stats.binom.cdf(failures, shots, 1 - bound) == pytest.approx(1 - confidence, rel=1e-6)


@given(reliability=st.floats(0.3, 0.995), confidence=shares, failures=st.integers(0, 4))
def test_shots_needed_is_the_fewest(reliability, confidence, failures):
    shots = tl.shots_needed(reliability, confidence, failures)
    assert tl.reliability_bound(shots, failures, confidence) >= reliability - 1e-9
    if shots > failures + 1:
        assert tl.reliability_bound(shots - 1, failures, confidence) < reliability + 1e-9


# Weibayes (Abernethy, The New Weibull Handbook, from memory); values worked out apart.
@pytest.mark.parametrize(("lives", "shape", "confidence", "eta", "at", "share"), [
    ([60, 60, 60], 2.0, 0.9, 68.48635, 40, 0.7109709),
    ([100], 1.5, 0.8, 72.81438, 50, 0.5660787),
])
def test_weibull_without_failure(lives, shape, confidence, eta, at, share):
    assert tl.life_bound(lives, 0, shape, confidence) == pytest.approx(eta, rel=1e-6)
    assert tl.surviving(at, eta, shape) == pytest.approx(share, rel=1e-6)


def test_weibull_line():
    assert tl.surviving(60, 120, 2.0) == pytest.approx(0.7788008, rel=1e-7)  # exp(-1/4)
    shots = np.array([1.0, 30.0, 250.0])
    assert tl.surviving(shots, 80.0, 1.7) == pytest.approx(
        stats.weibull_min.sf(shots, 1.7, scale=80.0))


def test_bound_with_failures_holds_as_often_as_it_says():
    # Tools run to failure, shape known: the chi-square bound is exact (any reliability text).
    lives = 100 * np.random.default_rng(3).weibull(2.0, (4000, 5))
    bounds = np.array([tl.life_bound(row, 5, 2.0, 0.9) for row in lives])
    # The bound above takes one failure more than it may where the last shot ended the test,
    # hence it holds at least as often as it says.
    assert 0.9 <= np.mean(bounds <= 100) < 0.99


def test_fifty_clean_shots_promise_little():
    assert tl.further_run_bound(50, 50, 1.0, 0.9) == pytest.approx(0.1)
    assert tl.further_run_bound(50, 50, 2.0, 0.9) == pytest.approx(0.1**3)
    assert tl.further_run_bound(50, 0, 2.0, 0.9) == 1.0


def test_belief_without_evidence_is_the_prior():
    life, probability = tl.life_belief(20, 300, 2.0)
    assert tl.belief_quantile(life, probability, [0.05, 0.5, 0.95]) == pytest.approx(
        [20, math.sqrt(20 * 300), 300], rel=0.01)


def test_belief_follows_the_conjugate_form_where_the_prior_is_wide():
    # With eta^-b = lambda the likelihood is Gamma(r, T): closed form, prior flat in ln(eta).
    lives, ended, shape = np.array([40.0, 55.0, 70.0, 62.0]), [True, True, True, False], 2.0
    life, probability = tl.life_belief(1e-3, 1e7, shape, lives, ended, points=2001)
    gamma = stats.gamma(3, scale=1 / np.sum(lives**shape))
    expected = gamma.ppf(0.5) ** (-1 / shape)
    assert tl.belief_quantile(life, probability, 0.5) == pytest.approx(expected, rel=0.02)


@given(more=st.floats(1.1, 20.0))
def test_a_longer_clean_run_never_lowers_the_belief(more):
    short = tl.belief_quantile(*tl.life_belief(20, 300, 2.0, [50.0], [False]), 0.5)
    long = tl.belief_quantile(*tl.life_belief(20, 300, 2.0, [50.0 * more], [False]), 0.5)
    assert long >= short * (1 - 1e-9)
    assert short >= tl.belief_quantile(*tl.life_belief(20, 300, 2.0), 0.5) * (1 - 1e-9)


def test_tools_used_up_at_constant_risk_are_negative_binomial():
    # Whole-shot lives at shape 1 are geometric, so that tools ended within N good shots are
    # negative binomial: scipy is the outside check.
    eta, shots = 40.0, 120
    lives = tl.sampled_lives(np.full(20000, eta), 1.0, 30)
    ends = 1 - math.exp(-1 / eta)
    ended = tl.tools_used(shots, lives) - 1
    for k in (1, 3, 5):
        assert np.mean(ended <= k) == pytest.approx(
            stats.nbinom.cdf(k, shots, 1 - ends), abs=0.012)
    assert tl.tools_to_order(shots, 0.05, lives) == 1 + stats.nbinom.ppf(0.95, shots, 1 - ends)


def test_tools_used_by_hand():
    lives = np.array([[50.0, 30.0, 40.0], [80.0, 1.0, 1.0]])
    assert tl.tools_used(80, lives).tolist() == [2, 1]
    assert tl.tools_used(np.array([50, 51, 121]), lives).tolist() == [[1, 2, 4], [1, 1, 4]]
    assert tl.tools_to_order(80, 0.4, lives) == 2
    assert tl.tools_to_order(500, 0.4, lives) is None


@given(risk=st.floats(0.01, 0.5), shots=st.integers(5, 400))
def test_less_risk_never_takes_fewer_tools(risk, shots):
    lives = tl.sampled_lives(np.full(200, 60.0), 2.0, 40)
    assert tl.tools_to_order(shots, risk / 2, lives) >= tl.tools_to_order(shots, risk, lives)


@pytest.mark.parametrize("call", [
    lambda: tl.reliability_bound(0, 0, 0.9),
    lambda: tl.reliability_bound(5, 6, 0.9),
    lambda: tl.reliability_bound(5, 0, 1.0),
    lambda: tl.shots_needed(1.0, 0.9),
    lambda: tl.surviving(math.nan, 10, 2),
    lambda: tl.life_bound([], 0, 2.0, 0.9),
    lambda: tl.life_bound([0.0], 0, 2.0, 0.9),
    lambda: tl.life_belief(30, 20, 2.0),
    lambda: tl.life_belief(20, 30, 2.0, [5.0], []),
    lambda: tl.sampled_lives([10.0], 2.0, 401),
    lambda: tl.tools_used(0, [[1.0]]),
    lambda: tl.tools_to_order(5, 0.0, [[9.0]]),
])
def test_refusals(call):
    with pytest.raises(Refused):
        call()
