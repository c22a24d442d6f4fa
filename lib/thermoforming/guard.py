"""Refusals: every bad input is named, with its value and the permitted range."""

from __future__ import annotations

import math

import numpy as np


class Refused(ValueError):
    """An input that cannot be used; the message says which, what it was and what is permitted."""

    def __init__(self, field: str, message: str):
        super().__init__(message)
        self.field = field


def finite(field: str, value):
    """Return `value` (float or array) unchanged if every number in it is finite.

    Raises
    ------
    Refused
        If it is not a number, or any element is NaN or infinite.
    """
    try:
        numbers = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise Refused(field, f"{field} must be a number, but it is {value!r}.") from None
    if not np.all(np.isfinite(numbers)):
        raise Refused(field, f"{field} must be finite, but it is {_short(value)}.")
    return value


def within(field: str, value, low: float = -math.inf, high: float = math.inf, unit: str = "",
           *, above: bool = False, below: bool = False):
    """Return `value` unchanged if it is finite and every number of it lies in low..high.

    Parameters
    ----------
    field : str
        Name of the input, as the reader of the message knows it.
    value : float or array
        What was given.
    low, high : float
        Permitted range, both ends included unless `above` or `below` is set.
    unit : str
        Unit written after the numbers of the message.
    above, below : bool
        Exclude the low, the high end.

    Raises
    ------
    Refused
        If it is not finite or out of range.
    """
    numbers = np.asarray(finite(field, value), dtype=float)
    too_low = numbers <= low if above else numbers < low
    too_high = numbers >= high if below else numbers > high
    wrong = too_low | too_high
    if np.any(wrong):
        first = float(numbers[wrong].ravel()[0]) if numbers.ndim else float(numbers)
        raise Refused(field, f"{field} is {_with_unit(first, unit)}, but it must be "
                             f"{_range(low, high, unit, above, below)}.")
    return value


def one_of(field: str, value, options):
    """Return `value` if it is among `options`.

    Raises
    ------
    Refused
        If it is none of them; the message lists them.
    """
    if value not in options:
        raise Refused(field, f"{field} is {value!r}, but it must be one of: "
                             f"{', '.join(map(str, options))}.")
    return value


def _range(low, high, unit, above, below) -> str:
    floor = f"{'above' if above else 'at least'} {_with_unit(low, unit)}"
    ceiling = f"{'below' if below else 'at most'} {_with_unit(high, unit)}"
    if math.isinf(high):
        return floor
    if math.isinf(low):
        return ceiling
    return f"{floor} and {ceiling}"


def _with_unit(number: float, unit: str) -> str:
    return f"{number:.6g} {unit}".strip()


def _short(value) -> str:
    return str(value) if np.ndim(value) == 0 else "an array with NaN or infinity in it"
