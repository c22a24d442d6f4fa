"""Exercises of the tool page."""

from __future__ import annotations

import numpy as np

from thermoforming.pages.exercise import Exercise, Posed


def _growth(rng: np.random.Generator) -> Posed:
    part, shrink = float(rng.integers(12, 40) * 10), float(rng.integers(4, 9)) / 1000
    alpha, cold = float(rng.integers(6, 11)) * 1e-5, 50.0
    warm = cold + float(rng.integers(4, 8)) * 5
    first = part / ((1 - shrink) * (1 + alpha * (cold - 23)))
    then = part / ((1 - shrink) * (1 + alpha * (warm - 23)))
    return Posed(
        f"A cavity of {part:.0f} mm was drawn for a tool at {cold:.0f} °C. The wall page finds "
        f"{warm:.0f} °C. The sheet shrinks {shrink:.1%}, the tool expands {alpha * 1e6:.0f}·10⁻⁶/K "
        "and both are referred to 23 °C. By how much must the drawn dimension change? (Mind the "
        "sign.)", then - first, unit="mm", tolerance=0.03,
        hints=("Only the second bracket of the formula changes.",
               r"Nearly: $-L\,\alpha\,\Delta T$ with the difference of the two temperatures."),
        solution=rf"$\frac{{{part:.0f}}}{{(1-{shrink})(1+{alpha:.1e}\cdot{warm - 23:.0f})}} - "
                 rf"\frac{{{part:.0f}}}{{(1-{shrink})(1+{alpha:.1e}\cdot{cold - 23:.0f})}} = "
                 rf"{then - first:.3f}$ mm",
        source="definition of linear expansion, worked out here without the page's functions")


def _mass(rng: np.random.Generator) -> Posed:
    a, b, h, t = (float(v) for v in (rng.integers(16, 30) * 10, rng.integers(10, 16) * 10,
                                     rng.integers(30, 60), rng.integers(4, 9)))
    outer, inner = a * b * h, (a - 2 * t) * (b - 2 * t) * (h - t)
    mass = (outer - inner) * 1e-9 * 1180
    return Posed(
        f"A plain hollow block of {a:.0f} x {b:.0f} x {h:.0f} mm, open below, has walls and a roof "
        f"of {t:.0f} mm and no ribs. Density 1180 kg/m³. What does it weigh? Compare with the "
        "page: set the ribs to 0.", mass, unit="kg", tolerance=0.02,
        hints=("Outer block less the room inside.",
               "The room lacks two walls in plan, and one roof in height."),
        solution=rf"$({a:.0f}\cdot{b:.0f}\cdot{h:.0f} - {a - 2 * t:.0f}\cdot{b - 2 * t:.0f}\cdot"
                 rf"{h - t:.0f})\,\mathrm{{mm^3}} \cdot 1180\,\mathrm{{kg/m^3}} = {mass:.3f}$ kg",
        source="volume of two boxes")


def _what_first(rng: np.random.Generator) -> Posed:
    choices = ("Export the files; the caution is only about numbers.",
               "Put the running temperature that was found into the shrinkage page, save it, look "
               "at the probability again, then build.",
               "Open the tolerance in the brief until the caution is gone.",
               "Scale the whole tool by one more percent, to be safe.")
    order = rng.permutation(len(choices))
    return Posed(
        "The closed ledger says that a dimension is drawn 45 % of half its tolerance away from "
        "what was assumed, because the tool runs 23 K warmer than assumed. Nothing is built yet. "
        "What first?", float(np.flatnonzero(order == 1)[0]),
        choices=tuple(choices[k] for k in order),
        hints=("A caution here means that an assumption no longer holds.",
               "On which page was it assumed?"),
        solution="Put what was found where it was assumed, so that the record stands on it, and "
                 "look again. The tolerance is the customer's, and scale is not a reserve.",
        source="common practice, no source")


EXERCISES = (Exercise("growth", "A warmer tool", "by hand", _growth),
             Exercise("mass", "Mass of a hollow block", "with the page", _mass),
             Exercise("first", "What first?", "judgement", _what_first))
