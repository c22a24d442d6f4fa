"""Exercises on thinning: area, the hand formula, what pressure fills, and a judgement."""

from __future__ import annotations

import math

import numpy as np

from thermoforming.pages.exercise import Exercise, Posed


def _mean(rng: np.random.Generator) -> Posed:
    long, wide = float(rng.choice([180, 200, 240])), float(rng.choice([120, 150]))
    deep, gauge = float(rng.choice([40, 50, 60])), float(rng.choice([2.0, 3.0, 4.0]))
    answer = gauge / (1.0 + 2.0 * deep * (long + wide) / (long * wide))
    return Posed(
        f"A box of {long:g} x {wide:g} mm, {deep:g} mm deep with upright walls, is drawn from a "
        f"{gauge:g} mm sheet clamped at its rim. What is the mean gauge?", answer,
        rf"$R_A = 1 + 2h(L+W)/(LW)$ = {gauge / answer:.3f}; $t_0/R_A$ = {answer:.3g} mm. The base "
        "counts as well as the walls.", "definition of the area draw ratio, volume kept", "mm",
        0.01, ("Volume is kept: gauge times area stays the same.",
               "Area of the base and the four walls over that of the flat sheet."))


def _cylinder(rng: np.random.Generator) -> Posed:
    radius, gauge = float(rng.choice([40, 50, 60])), float(rng.choice([2.0, 3.0]))
    deep = radius * float(rng.choice([1.2, 1.5, 1.8]))
    answer = gauge * 0.5 * math.exp(-(deep - radius) / radius)
    return Posed(
        f"A round cup of radius {radius:g} mm, {deep:g} mm deep with an upright wall, is drawn "
        f"from {gauge:g} mm sheet. What gauge has the middle of the floor by geometric elements?",
        answer,
        r"The hemisphere has half the gauge; going down a wall by $s$ it keeps $e^{-s/R}$. It "
        rf"touches the floor at $s = h - R$: $\tfrac12 t_0 e^{{-(h-R)/R}}$ = {answer:.3g} mm.",
        "volume balance of a hemispherical bubble (worked value for h = 1.5 R: 0.3033 t0)", "mm",
        0.02, ("What is the area of a hemisphere over that of its opening?",
               "d(tA) = -t dA_wall with A constant."))


def _corner(rng: np.random.Generator) -> Posed:
    start, end = float(rng.choice([30, 40, 50])), float(rng.choice([2, 4, 5]))
    gauge = float(rng.choice([0.8, 1.0, 1.2]))
    answer = gauge * (end / start) ** (4 / math.pi - 1)
    return Posed(
        f"When the sheet touches floor and upright wall of a long channel, the free fillet has "
        f"radius {start:g} mm and gauge {gauge:g} mm. What gauge is left at radius {end:g} mm?",
        answer, rf"$t = t_i (r/r_i)^{{4/\pi - 1}}$ = {answer:.3g} mm.",
        "volume balance of a quarter fillet; worked value (5/50): 0.533", "mm", 0.02,
        ("Each dr lays 2 dr of sheet on the walls; the fillet's length is (pi/2) r.",
                         "d(t r pi/2) = 2 t dr: separate t and r, and integrate."))


def _fill(rng: np.random.Generator) -> Posed:
    stress, gauge = float(rng.choice([0.5, 0.8, 1.2])), float(rng.choice([0.5, 0.8, 1.0]))
    pressure = float(rng.choice([80, 90, 300]))
    answer = stress * gauge / (pressure * 1e-3)
    return Posed(
        f"In an edge the hot sheet is {gauge:g} mm thick and pulls with {stress:g} MPa. Which "
        f"radius does a pressure of {pressure:g} kPa form there? Then move the pressure on the "
        "page and see whether the radius that it forms follows the same law.", answer,
        rf"Laplace: $\rho = \sigma t / p$ = {answer:.3g} mm. A sharper edge stays empty.",
        "balance of a cylinder under pressure", "mm", 0.02,
        ("Cut the fillet along its middle and balance the forces.",
                  "Pull per length is stress times gauge; it holds pressure times radius."))


def _plug(rng: np.random.Generator) -> Posed:
    return Posed(
        "A plug is pushed into the sheet, drawn back, and only then the vacuum comes. The sheet is "
        "evenly hot and has no memory. What does the plug do for the wall?", 1,
        "An elastic sheet forgets what was undone before it touched the tool. The plug must stay "
        "while the vacuum comes, or chill the sheet where it touches.",
        "elastic membrane; try it on this page with friction 0 on the plug",
        choices=("it evens the wall", "next to nothing", "it thins the rim"),
        hints=("When does a place of the sheet become fixed to something?",
               "Where does an elastic sheet go when the plug is drawn back?"))


EXERCISES = (
    Exercise("mean", "Mean gauge of a box", "by hand", _mean),
    Exercise("cylinder", "Floor of a deep cup", "by hand", _cylinder),
    Exercise("corner", "A filling corner", "by hand", _corner),
    Exercise("fill", "What the pressure fills", "with the page", _fill),
    Exercise("plug", "A plug that leaves too early", "judgement", _plug),
)
