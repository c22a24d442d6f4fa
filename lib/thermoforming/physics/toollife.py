"""How long a tool lasts, as far as evidence supports it.

Three questions are kept apart. What does a run of shots prove, without any assumption about
wear (success run, Clopper-Pearson)? What does it prove if lives follow a Weibull line of an
assumed shape? And how many tools should be ordered, given what the trade expects of the material
and what was seen here?
"""

from __future__ import annotations

import math

import numpy as np
from scipy import stats

from thermoforming.guard import Refused, finite, within

MOST_TOOLS = 400  # a route that uses up more tools than this for one batch is no route


def reliability_bound(shots: int, failures: int, confidence: float) -> float:
    r"""Lower bound on the chance that one shot does not end the tool.

    .. math:: R = B^{-1}(1-C;\; n-f,\; f+1), \qquad R = (1-C)^{1/n} \text{ where } f = 0

    In words: the least reliability that would still show so few failures with probability 1 - C.

    Parameters
    ----------
    shots : int
        Shots made, >= 1. [shots]
    failures : int
        Shots that ended a tool, 0 to shots. [shots]
    confidence : float
        One-sided confidence C, above 0 and below 1. [1]

    Returns
    -------
    float
        Reliability of one shot. [1]

    Raises
    ------
    Refused
        If a count or the confidence is out of range.

    Notes
    -----
    Every shot is taken to be as likely to end the tool as any other: no wear. For a tool that
    wears, use `life_bound`.

    References
    ----------
    Clopper and Pearson, Biometrika 26 (1934) 404-413 (from memory); success-run theorem.
    """
    _counts(shots, failures, confidence)
    if failures == shots:
        return 0.0
    return float(stats.beta.ppf(1.0 - confidence, shots - failures, failures + 1))


def reliability_bound_uniform(shots: int, failures: int, confidence: float) -> float:
    r"""As `reliability_bound`, by Bayes from a uniform prior.

    .. math:: R = B^{-1}(1-C;\; n-f+1,\; f+1), \qquad R = (1-C)^{1/(n+1)} \text{ where } f = 0

    Parameters
    ----------
    shots : int
        Shots made, >= 1. [shots]
    failures : int
        Shots that ended a tool, 0 to shots. [shots]
    confidence : float
        Probability that the reliability is above the bound, above 0 and below 1. [1]

    Returns
    -------
    float
        Reliability of one shot. [1]

    Raises
    ------
    Refused
        If a count or the confidence is out of range.
    """
    _counts(shots, failures, confidence)
    return float(stats.beta.ppf(1.0 - confidence, shots - failures + 1, failures + 1))


def failure_limits(shots: int, failures: int, confidence: float) -> tuple[float, float]:
    r"""Two-sided Clopper-Pearson limits on the share of shots that end a tool.

    .. math:: p_{lo} = B^{-1}(\alpha/2;\; f,\; n-f+1), \qquad
              p_{hi} = B^{-1}(1-\alpha/2;\; f+1,\; n-f)

    Parameters
    ----------
    shots : int
        Shots made, >= 1. [shots]
    failures : int
        Shots that ended a tool, 0 to shots. [shots]
    confidence : float
        Two-sided confidence 1 - alpha, above 0 and below 1. [1]

    Returns
    -------
    tuple of float
        Lower and upper limit. [1]

    Raises
    ------
    Refused
        If a count or the confidence is out of range.

    References
    ----------
    Clopper and Pearson, Biometrika 26 (1934) 404-413 (from memory).
    """
    _counts(shots, failures, confidence)
    tail = (1.0 - confidence) / 2.0
    low = stats.beta.ppf(tail, failures, shots - failures + 1) if failures else 0.0
    high = stats.beta.ppf(1.0 - tail, failures + 1, shots - failures) if failures < shots else 1.0
    return float(low), float(high)


def shots_needed(reliability: float, confidence: float, failures: int = 0) -> int:
    r"""Fewest shots that prove a reliability of one shot, if so many failures occur on the way.

    .. math:: n = \left\lceil \frac{\ln(1-C)}{\ln R} \right\rceil \text{ where } f = 0

    Parameters
    ----------
    reliability : float
        Reliability of one shot to be proven, above 0 and below 1. [1]
    confidence : float
        One-sided confidence, above 0 and below 1. [1]
    failures : int
        Failures allowed, 0 to 1000. [shots]

    Returns
    -------
    int
        Number of shots. [shots]

    Raises
    ------
    Refused
        If out of range.
    """
    within("reliability", reliability, 0.0, 1.0, above=True, below=True)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    within("failures", failures, 0, 1000)
    low, high = failures, failures + 1
    while stats.binom.cdf(failures, high, 1.0 - reliability) > 1.0 - confidence:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        proven = stats.binom.cdf(failures, middle, 1.0 - reliability) <= 1.0 - confidence
        low, high = (low, middle) if proven else (middle, high)
    return int(high)


def surviving(shots, characteristic_life, shape: float):
    r"""Share of tools that outlive a number of shots, on a Weibull line.

    .. math:: R(t) = \exp\left(-(t/\eta)^\beta\right)

    Parameters
    ----------
    shots : float or array
        Number of shots t, >= 0. [shots]
    characteristic_life : float or array
        Shots eta by which 63.2 % of tools have ended, > 0. [shots]
    shape : float
        Weibull shape beta, > 0: below 1 early failures, 1 chance, above 1 wear. [1]

    Returns
    -------
    float or array
        Share of tools. [1]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    within("shots", shots, 0.0)
    within("characteristic life", characteristic_life, 0.0, above=True)
    within("shape", shape, 0.0, above=True)
    return np.exp(-((np.asarray(shots, float) / characteristic_life) ** shape))[()]


def life_bound(lives, failures: int, shape: float, confidence: float) -> float:
    r"""Lower bound on the characteristic life from what each tool has run, shape assumed.

    .. math:: \eta = \left(\frac{2 \sum t_i^\beta}{\chi^2_{C;\,2f+2}}\right)^{1/\beta}, \qquad
              \eta = \left(\frac{\sum t_i^\beta}{-\ln(1-C)}\right)^{1/\beta} \text{ where } f = 0

    Parameters
    ----------
    lives : sequence of float
        Shots that each tool has run, ended or not, > 0. [shots]
    failures : int
        How many of these tools ended, 0 to their number. [1]
    shape : float
        Assumed Weibull shape, > 0. [1]
    confidence : float
        One-sided confidence, above 0 and below 1. [1]

    Returns
    -------
    float
        Characteristic life that is exceeded at this confidence. [shots]

    Raises
    ------
    Refused
        If nothing was run, or a number is out of range.

    Notes
    -----
    The shape is an assumption, not a finding. The chi-square form is exact for tests that stop at
    a failure and slightly low (safe) otherwise.

    References
    ----------
    Weibayes; Abernethy, The New Weibull Handbook (from memory).
    """
    run = np.asarray(within("lives", lives, 0.0, above=True), float)
    if run.size == 0:
        raise Refused("lives", "lives is empty: no tool has made a shot yet.")
    within("failures", failures, 0, run.size)
    within("shape", shape, 0.0, above=True)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
    quantile = stats.chi2.ppf(confidence, 2 * failures + 2)
    return float((2.0 * np.sum(run**shape) / quantile) ** (1.0 / shape))


def further_run_bound(done: float, further: float, shape: float, confidence: float) -> float:
    r"""Lower bound on the chance that a tool with a clean run goes on for as many shots more.

    .. math:: R = (1-C)^{\left((n+m)^\beta - n^\beta\right)/n^\beta}

    Parameters
    ----------
    done : float
        Shots n that this one tool has run without failure, > 0. [shots]
    further : float
        Shots m still wanted of it, >= 0. [shots]
    shape : float
        Assumed Weibull shape, > 0. [1]
    confidence : float
        One-sided confidence, above 0 and below 1. [1]

    Returns
    -------
    float
        Chance of the further run. [1]

    Raises
    ------
    Refused
        If out of range or not finite.

    Notes
    -----
    At shape 1 a clean run of n gives, at 90 % confidence, a 10 % chance of another n at least:
    a run of fifty promises little about the next fifty, and less of a tool that wears.
    """
    eta = life_bound([done], 0, shape, confidence)
    within("further", further, 0.0)
    return float(surviving(done + further, eta, shape) / surviving(done, eta, shape))


def life_belief(low: float, high: float, shape: float, lives=(), ended=(),
                points: int = 241) -> tuple[np.ndarray, np.ndarray]:
    r"""What to believe of the characteristic life: the trade's range, changed by what was run.

    .. math:: p(\eta) \propto \phi\left(\frac{\ln\eta-\mu}{\sigma}\right)
              \prod_{ended} \eta^{-\beta} \prod_{all} e^{-(t_i/\eta)^\beta}

    In words: a lognormal prior with low and high at its 5th and 95th percentile, times the Weibull
    likelihood of tools that ended and tools that still run.

    Parameters
    ----------
    low, high : float
        Range that the trade expects, > 0, low < high. [shots]
    shape : float
        Assumed Weibull shape, > 0. [1]
    lives : sequence of float
        Shots that each tool has run, > 0. [shots]
    ended : sequence of bool
        Whether that tool ended there.
    points : int
        Points of the grid over ln eta, 21 to 2001. [1]

    Returns
    -------
    tuple of array
        Grid of characteristic lives and the probability of each (sum 1). [shots, 1]

    Raises
    ------
    Refused
        If out of range, or lives and ended differ in number.
    """
    within("low", low, 0.0, above=True)
    within("high", high, low, above=True)
    within("shape", shape, 0.0, above=True)
    within("points", points, 21, 2001)
    run, gone = np.asarray(lives, float), np.asarray(ended, bool)
    if run.shape != gone.shape:
        raise Refused("ended", "ended must say yes or no for each of the lives.")
    within("lives", run, 0.0, above=True)
    middle, sigma = math.log(low * high) / 2.0, math.log(high / low) / (2.0 * 1.6448536269514722)
    ends = [middle - 5 * sigma, middle + 5 * sigma]
    if run.size:  # evidence may lie far outside what the trade expects
        ends = [min(ends[0], math.log(run.min()) - 2), max(ends[1], math.log(run.sum()) + 2)]
    log_eta = np.linspace(ends[0], ends[1], points)
    weight = -0.5 * ((log_eta - middle) / sigma) ** 2 - shape * gone.sum() * log_eta
    with np.errstate(over="ignore"):
        weight -= np.sum(np.exp(shape * (np.log(run)[:, None] - log_eta)), axis=0)
    probability = np.exp(weight - weight.max())
    return np.exp(log_eta), probability / probability.sum()


def belief_quantile(life, probability, share):
    """Quantile of a belief given by `life_belief`.

    Parameters
    ----------
    life : array
        Grid as `life_belief` returns it. [shots]
    probability : array
        Probability of each. [1]
    share : float or array
        Share below the quantile, 0 to 1. [1]

    Returns
    -------
    float or array
        Characteristic life. [shots]
    """
    within("share", share, 0.0, 1.0)
    below = np.cumsum(probability) - 0.5 * np.asarray(probability)
    return np.exp(np.interp(share, below, np.log(life)))[()]


def sampled_lives(characteristic_lives, shape: float, tools: int, seed: int = 1) -> np.ndarray:
    """Whole-shot lives of a row of tools, for each sampled characteristic life.

    Parameters
    ----------
    characteristic_lives : array
        One per sample, > 0. [shots]
    shape : float
        Weibull shape, > 0. [1]
    tools : int
        Tools in the row, 1 to 400. [1]
    seed : int
        The same seed gives the same lives.

    Returns
    -------
    array, shape (samples, tools)
        Good shots each tool makes before it ends. [shots]

    Raises
    ------
    Refused
        If out of range.
    """
    eta = np.asarray(within("characteristic lives", characteristic_lives, 0.0, above=True), float)
    within("shape", shape, 0.0, above=True)
    within("tools", tools, 1, MOST_TOOLS)
    draws = np.random.default_rng(seed).weibull(shape, (eta.size, int(tools)))
    return np.floor(eta[:, None] * draws)


def tools_used(shots, lives) -> np.ndarray:
    """How many tools a batch uses up, tool after tool.

    Parameters
    ----------
    shots : float or array
        Good shots wanted, > 0. [shots]
    lives : array, shape (samples, tools)
        As `sampled_lives` returns them. [shots]

    Returns
    -------
    array, shape (samples,) or (samples, number of batches)
        Tools used, the last one only in part; one more than there are where they do not suffice.

    Raises
    ------
    Refused
        If shots is not above zero.
    """
    wanted = np.asarray(within("shots", shots, 0.0, above=True), float)
    made = np.cumsum(np.asarray(lives, float), axis=1)
    samples, tools = made.shape
    # One sorted line of all samples, each shifted beyond the one before: one search for all.
    shift = (1.0 + max(made.max(), wanted.max())) * np.arange(samples)[:, None]
    places = np.searchsorted((made + shift).ravel(), (wanted.reshape(-1) + shift).ravel())
    counts = places.reshape(samples, -1) - tools * np.arange(samples)[:, None]
    return (1 + counts)[:, 0] if wanted.ndim == 0 else 1 + counts


def tools_to_order(shots: float, risk: float, lives) -> int | None:
    """Fewest tools with which the chance of running out before the batch is done is small enough.

    Parameters
    ----------
    shots : float
        Good shots wanted, > 0. [shots]
    risk : float
        Accepted chance of running out, above 0 and below 1. [1]
    lives : array, shape (samples, tools)
        As `sampled_lives` returns them. [shots]

    Returns
    -------
    int or None
        Tools to order, spares included; None if the row of tools does not suffice. [1]

    Raises
    ------
    Refused
        If out of range.
    """
    within("risk", risk, 0.0, 1.0, above=True, below=True)
    used = np.sort(tools_used(float(finite("shots", shots)), lives))
    needed = int(used[math.ceil((1.0 - risk) * used.size) - 1])
    return needed if needed <= np.shape(lives)[1] else None


def _counts(shots, failures, confidence):
    within("shots", shots, 1)
    within("failures", failures, 0, shots)
    within("confidence", confidence, 0.0, 1.0, above=True, below=True)
