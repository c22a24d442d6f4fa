"""Exercises of the material page; answers computed apart from the library's own functions."""

from __future__ import annotations

from math import exp, sqrt

import numpy as np

from thermoforming.pages.exercise import Exercise, Posed


def _contact(rng: np.random.Generator) -> Posed:
    sheet, tool = int(rng.integers(130, 191)), int(rng.integers(30, 71))
    es, et = sqrt(0.17 * 1050 * 1700), sqrt(0.22 * 1180 * 1450)
    answer = (es * sheet + et * tool) / (es + et)
    return Posed(
        f"A sheet at {sheet} °C (conductivity 0.17 W/(m·K), density 1050 kg/m³, specific heat "
        f"1700 J/(kg·K)) touches a printed tool at {tool} °C (0.22, 1180, 1450). At what "
        "temperature do the two faces meet, in °C? Then look on the page where the faces of this "
        "project meet, and where they would on a tool of aluminium.", answer,
        rf"With $e = \sqrt{{k \rho c}}$: $e_s = {es:.0f}$ and $e_t = {et:.0f}$ W·s½/(m²·K), so "
        rf"$T_c = ({es:.0f} \cdot {sheet} + {et:.0f} \cdot {tool}) / ({es:.0f} + {et:.0f}) = "
        rf"{answer:.1f}$ °C. On aluminium ($e$ about 20 000) it would be near the tool's own "
        "temperature: that is why a printed face suffers and a metal one does not.",
        "Carslaw and Jaeger, two semi-infinite bodies (from memory)", "°C", 0.01,
        ("Effusivity is the square root of conductivity times density times specific heat.",
         "The contact temperature is the mean of the two, weighted with the effusivities."))


def _heat(rng: np.random.Generator) -> Posed:
    gauge = float(rng.choice([1.0, 1.5, 2.0, 3.0, 4.0]))
    hot, cold = int(rng.integers(200, 241)), int(rng.integers(80, 111))
    answer = 1050 * gauge * 1e-3 * (hot - cold)
    return Posed(
        f"A sheet of {gauge:g} mm and 1050 kg/m³ has an enthalpy of {hot} kJ/kg when it is formed "
        f"and {cold} kJ/kg when it is set. How much heat leaves each square metre of it, in "
        "kJ/m²?", answer,
        rf"$q = \rho\,t_0\,\Delta h = 1050 \cdot {gauge:g}\cdot 10^{{-3}} \cdot ({hot} - {cold}) "
        rf"= {answer:.0f}$ kJ/m². The tool takes its share of it, shot after shot.",
        "conservation of energy", "kJ/m²", 0.01,
        ("Mass of a square metre is density times gauge.",
         "Each kilogram gives up the difference of the two enthalpies."))


def _often(rng: np.random.Generator) -> Posed:
    low = round(float(rng.uniform(0.40, 0.50)), 2)
    shift = round(float(rng.uniform(0.03, 0.12)), 2)
    width = 0.20
    answer = 100.0 * (1.0 - 0.5 * (1.0 - shift / width) ** 2)
    return Posed(
        f"The score of candidate A may lie anywhere between {low + shift:.2f} and "
        f"{low + shift + width:.2f}, that of B between {low:.2f} and {low + width:.2f}, all values "
        "alike likely. In what share of cases is A the better one, in per cent?", answer,
        rf"B wins in the corner of the square where it lies above A: a triangle of area "
        rf"$\frac12 (1 - {shift:g}/{width:g})^2$. So A wins in {answer:.0f} %. Below 90 % this "
        "page says that the two cannot be told apart.",
        "area of a triangle in the unit square", "%", 0.02,
        ("Draw A against B in a square and shade where B is larger.",
         "It is a triangle; its sides are the width less the shift."))


def _shots(rng: np.random.Generator) -> Posed:
    tau, cycle = int(rng.integers(250, 600)), int(rng.integers(60, 181))
    final, limit = int(rng.integers(70, 96)), int(rng.integers(50, 66))
    answer = -tau / cycle * np.log(1.0 - (limit - 23) / (final - 23))
    check = 23 + (final - 23) * (1 - exp(-answer * cycle / tau))
    return Posed(
        f"A printed tool would settle at {final} °C in a long run, starting from 23 °C, with a "
        f"time constant of {tau} s and a shot every {cycle} s. After how many shots does it reach "
        f"{limit} °C (not rounded)?", float(answer),
        rf"$T = 23 + ({final} - 23)(1 - e^{{-n \cdot {cycle}/{tau}}})$, so $n = -\frac{{{tau}}}"
        rf"{{{cycle}}} \ln\left(1 - \frac{{{limit} - 23}}{{{final} - 23}}\right) = {answer:.1f}$; "
        rf"put back in, that gives {check:.0f} °C. A pause before then keeps a tool that a long "
        "run would lose.",
        "first-order warming", "shots", 0.03,
        ("How far is the limit, as a share of the whole rise?",
         "After n shots the time is n times the cycle; solve the exponential for n."))


def _ways(rng: np.random.Generator) -> Posed:
    ways = ["A printed tool of low conductivity, 60 mm thick instead of 6 mm",
            "Twice the time from shot to shot",
            "A fan on the tool between shots"]
    wrong = int(rng.integers(0, 3))
    order = [way for way in ways[1:]]
    order.insert(wrong, ways[0])
    return Posed(
        "A printed tool runs too warm in a long run. Which of these does not help?", wrong,
        "A thick wall of a poor conductor only takes longer to warm; in the long run the heat "
        "leaves through it more slowly, so its face ends warmer. A slower cycle brings less heat "
        "in a time, a fan takes more away.",
        "heat balance of the wall, as worked above", choices=tuple(order),
        hints=("In the long run, what comes in must go out.",
               "Which of the three leaves both the heat that comes and the way out unimproved?"))


EXERCISES = (
    Exercise("contact", "Where sheet and tool meet", "with the page", _contact),
    Exercise("heat", "The heat of a shot", "by hand", _heat),
    Exercise("shots", "How many shots before a pause", "by hand", _shots),
    Exercise("often", "How often first", "by hand", _often),
    Exercise("ways", "What keeps a tool cool", "judgement", _ways),
)
