"""The design questions: how thick to start, how sure the least gauge is, which plug or bubble."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from thermoforming.bands import Band, carry
from thermoforming.guard import Refused, within

_GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)


def least_gauge(starting: Band, ratio: Band) -> Band:
    """Band of the least gauge of the part.

    .. math:: t_{min} = t_0 \\, \\rho

    Parameters
    ----------
    starting : Band
        Starting gauge with its tolerance, > 0. [m]
    ratio : Band
        Least gauge over starting gauge, > 0 to 1. [1]

    Returns
    -------
    Band
        5th percentile, typical and 95th percentile of the least gauge. [m]

    Raises
    ------
    Refused
        If a value is out of range.

    References
    ----------
    Volume balance: gauge scales with starting gauge in a membrane without bending.
    """
    within("starting gauge", starting.low, 0.0, unit="m", above=True)
    within("gauge ratio", [ratio.low, ratio.high], 0.0, 1.0 + 1e-9, above=True)
    return carry(lambda gauge, share: gauge * share, {"gauge": starting, "share": ratio})


def starting_gauge(least: float, ratio: Band, tolerance: Band) -> Band:
    """Nominal starting gauge that keeps a stated least gauge.

    .. math:: t_0 = \\frac{t_{min}}{\\rho\\, (1 - \\tau)}

    Parameters
    ----------
    least : float
        Least gauge asked for, > 0. [m]
    ratio : Band
        Least gauge over starting gauge, > 0 to 1. [1]
    tolerance : Band
        Minus tolerance of the sheet's gauge as a share of nominal, 0 to 0.5. [1]

    Returns
    -------
    Band
        From the most favourable to the least favourable ratio and tolerance; the high end keeps
        the stated gauge in nearly all cases. [m]

    Raises
    ------
    Refused
        If a value is out of range.

    Notes
    -----
    The ratio is taken not to change with gauge at the same stiffness of sheet and pressure; a
    thicker sheet fills corners less.

    References
    ----------
    Volume balance.
    """
    within("least gauge", least, 0.0, unit="m", above=True)
    within("gauge ratio", [ratio.low, ratio.high], 0.0, 1.0 + 1e-9, above=True)
    within("gauge tolerance", [tolerance.low, tolerance.high], 0.0, 0.5)
    return Band(least / (ratio.high * (1.0 - tolerance.low)), least / ratio.typical
                / (1.0 - tolerance.typical), least / (ratio.low * (1.0 - tolerance.high)))


@dataclass(frozen=True)
class Response:
    """How a result changes when one input goes to the ends of its band. [1]

    Attributes
    ----------
    low, high : float
        Result with the input at its low and high end, over the result at typical inputs.
    """

    low: float
    high: float


def responses(solve: Callable[..., float], bands: Mapping[str, Band]) -> dict[str, Response]:
    """Change of a result with each input at the ends of its band, the others typical.

    Parameters
    ----------
    solve : callable
        Takes the inputs by name, returns the result, > 0.
    bands : mapping of str to Band
        Inputs.

    Returns
    -------
    dict of str to Response
        Result over typical result at both ends of each band. [1]

    Raises
    ------
    Refused
        If a result is not finite or not above zero.
    """
    typical = {name: band.typical for name, band in bands.items()}
    base = within("result", solve(**typical), 0.0, above=True)
    return {name: Response(*(within("result", solve(**typical | {name: end}), 0.0, above=True)
                             / base for end in (band.low, band.high)))
            for name, band in bands.items()}


def ratio_band(typical: float, bands: Mapping[str, Band],
               found: Mapping[str, Response]) -> Band:
    """Carry inputs to a result through its responses, taken as independent factors.

    .. math:: \\rho = \\rho_0 \\prod_i f_i(x_i), \\quad f_i \\text{ linear from low to typical
              to high}

    Parameters
    ----------
    typical : float
        Result at typical inputs, > 0. [1]
    bands : mapping of str to Band
        Inputs.
    found : mapping of str to Response
        From `responses`.

    Returns
    -------
    Band
        5th percentile, typical and 95th percentile of the result. [1]

    Raises
    ------
    Refused
        If the typical result is not above zero.

    Notes
    -----
    Good while the inputs do not amplify each other; a run at the worst corner tells.
    """
    within("typical result", typical, 0.0, above=True)

    def result(**values):
        total = typical
        for name, value in values.items():
            band, response = bands[name], found[name]
            if band.is_exact:
                continue
            total = total * np.interp(value, *_increasing(band, response))
        return total

    return carry(result, bands) if bands else Band.exact(typical)


def _increasing(band, response):
    """Places and factors of the broken line, without repeated places."""
    places, at = np.unique([band.low, band.typical, band.high], return_index=True)
    factors = np.array([response.low, 1.0, response.high])
    factors[[place == band.typical for place in (band.low, band.typical, band.high)]] = 1.0
    return places, factors[at]


def best_setting(solve: Callable[[float], float], low: float, high: float, runs: int = 12,
                 tell: Callable[[float], bool] | None = None) -> tuple[float, float]:
    """Setting with the largest result: a coarse scan, then golden sections about its best.

    Parameters
    ----------
    solve : callable
        Takes a setting, returns what is to be large (such as the least gauge).
    low, high : float
        Range of the setting, low < high, in its own unit. [any]
    runs : int
        Number of times `solve` is called, 5 to 200. [1]
    tell : callable or None
        Called with the fraction done; True stops the search.

    Returns
    -------
    tuple of float
        Setting and result.

    Raises
    ------
    Refused
        If the range is empty.
    InterruptedError
        If `tell` asked to stop.

    Notes
    -----
    Finds the best of the scan's neighbourhood; a narrow second peak between points of the scan
    is missed.
    """
    within("number of runs", runs, 5, 200)
    if not low < high:
        raise Refused("range", f"the range of the setting is empty: {low:g} to {high:g}.")
    tried: list[tuple[float, float]] = []

    def run(setting):
        tried.append((solve(setting), setting))
        if tell and tell(len(tried) / runs):
            raise InterruptedError("The search was cancelled.")
        return tried[-1][0]

    scan = np.linspace(low, high, max(4, runs // 2))
    values = [run(float(x)) for x in scan]
    best = int(np.argmax(values))
    a, b = scan[max(best - 1, 0)], scan[min(best + 1, len(scan) - 1)]
    c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
    at_c, at_d = None, None
    while len(tried) < runs:
        at_c = run(float(c)) if at_c is None else at_c
        if len(tried) == runs:
            break
        at_d = run(float(d)) if at_d is None else at_d
        if at_c > at_d:
            b, d, at_d = d, c, at_c
            c, at_c = b - _GOLDEN * (b - a), None
        else:
            a, c, at_c = c, d, at_d
            d, at_d = a + _GOLDEN * (b - a), None
    result, setting = max(tried)
    return setting, result
