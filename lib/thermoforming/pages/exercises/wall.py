"""Exercises of the wall page; answers computed apart from the library's own functions."""

from __future__ import annotations

from math import pi, tanh

import numpy as np

from thermoforming.pages.exercise import Exercise, Posed


def _round_flat(rng: np.random.Generator) -> Posed:
    radius, t = int(rng.integers(15, 41)), float(rng.choice([3.0, 4.0, 5.0]))
    modulus, p, nu = int(rng.integers(8, 21)) * 100, 90e-3, 0.36
    stiff = modulus * t**3 / (12 * (1 - nu**2))
    w = p * radius**4 / (64 * stiff)
    return Posed(
        f"The round top of a boss, {2 * radius} mm across and {t:g} mm thick, is held firmly by "
        f"the boss's wall. The warm material has {modulus} MPa and Poisson's ratio {nu}. By how "
        "many millimetres does 90 kPa bend it in the middle?", w,
        rf"$D = E t^3 / (12 (1 - \nu^2)) = {stiff:.0f}$ N mm, $w = p r^4 / (64 D) = 0.09 \cdot "
        rf"{radius}^4 / (64 \cdot {stiff:.0f}) = {w:.4f}$ mm. Simply supported it would be "
        rf"{(5 + nu) / (1 + nu):.1f} times as much: the edge decides.",
        "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, circular plates", "mm",
        0.02, ("Work in N and mm: 90 kPa is 0.09 N/mm².", "The clamped plate has 64 below."))


def _halving(rng: np.random.Generator) -> Posed:
    w = float(rng.choice([0.2, 0.3, 0.4, 0.5, 0.8]))
    ratio = float(rng.choice([1.5, 2.0, 3.0]))
    return Posed(
        f"A square panel between standing ribs bends by {w} mm. The ribs are set {ratio:g} times "
        "as close in both directions. By how many millimetres does a panel bend now (thin plate)?",
        w / ratio**4,
        rf"$w \propto a^4$, so $w = {w} / {ratio:g}^4 = {w / ratio**4:.4f}$ mm. Thickness only "
        "counts with its third power, and costs mass everywhere: closer ribs come first.",
        "thin-plate theory", "mm", 0.03, ("How does deflection grow with the span of a plate?",
                                        "In both directions alike the shape stays: fourth power."))


def _rib(rng: np.random.Generator) -> Posed:
    width, t, b, h = (int(rng.integers(40, 81)), int(rng.integers(4, 8)), int(rng.integers(4, 7)),
                      int(rng.integers(15, 41)))
    flange, web = width * t, b * h
    y = (flange * (h + t / 2) + web * h / 2) / (flange + web)
    inertia = (width * t**3 / 12 + flange * (h + t / 2 - y) ** 2 + b * h**3 / 12
               + web * (h / 2 - y) ** 2)
    gain = inertia / (width * t**3 / 12)
    return Posed(
        f"A rib {b} mm thick and {h} mm high stands behind {width} mm of a {t} mm wall. How many "
        "times as stiff in bending is the T-section as the strip of wall alone?", gain,
        rf"Centroid {y:.2f} mm from the tip, $I = {inertia:.0f}$ mm⁴ against "
        rf"{width * t**3 / 12:.0f} mm⁴: {gain:.1f} times.",
        "parallel-axis theorem", "times", 0.02,
        ("Find the centroid first.",
         "Each part: its own b h³/12 plus area times distance squared."))


def _ripple(rng: np.random.Generator) -> Posed:
    pitch, depth = int(rng.integers(20, 41)), int(rng.integers(8, 15))
    flux = int(rng.integers(8, 21)) * 100
    answer = flux * pitch * 1e-3 / (pi * 0.22) * -np.log(tanh(pi * depth / pitch))
    return Posed(
        f"Thin channels lie {depth} mm below the face of a printed wall (0.22 W/(m·K)) at a pitch "
        f"of {pitch} mm and take away {flux} W/m² in the mean. How much warmer, in kelvin, is the "
        "face between two channels than above one?", float(answer),
        rf"$\Delta T = \frac{{q w}}{{\pi k}} \ln \coth \frac{{\pi z}}{{w}} = {answer:.1f}$ K. Wide "
        "bores make it worse than this; the page counts them in.",
        "row of line sinks with images in the face (Carslaw and Jaeger, from memory)", "K", 0.03,
        ("coth x = 1 / tanh x.",
         "Put the depth over the pitch into it; work in metres."))


def _first(rng: np.random.Generator) -> Posed:
    return Posed(
        "A printed tool's wall bends too far when it is warm, and the run cools it with a fan "
        "already. What would you change first?", 2,
        "Standing ribs turn the whole span into small panels, and deflection goes with the fourth "
        "power of the span. Twice the wall makes eight times the stiffness for twice the mass, but "
        "keeps its heat longer; a stronger resin with the same warm modulus bends alike.",
        "the two tables of this page: lightest walls, ways to cool",
        choices=("a wall of twice the thickness", "a resin of higher strength",
                 "ribs that reach down to the base", "more vacuum"),
        hints=("Deflection goes with the fourth power of one thing, the third of another.",
               "Which of them can be changed at the least mass?"))


EXERCISES = (Exercise("round_flat", "The top of a boss", "by hand", _round_flat),
             Exercise("rib", "What a rib brings", "by hand", _rib),
             Exercise("halving", "Closer ribs", "with the page", _halving),
             Exercise("ripple", "Channels in a poor conductor", "by hand", _ripple),
             Exercise("first", "What first", "judgement", _first))
