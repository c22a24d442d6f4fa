"""Exercises on vents: choking, how many, and the bulge."""

from __future__ import annotations

import math

import numpy as np

from thermoforming.pages.exercise import Exercise, Posed

R, GAMMA = 287.05, 1.4
CRITICAL = 0.6847315  # sqrt(1.4) (2/2.4)^3


def _choked(rng: np.random.Generator) -> Posed:
    count, bore = int(rng.integers(10, 40)), float(rng.choice([0.5, 0.6, 0.8, 1.0]))
    volume, end = float(rng.choice([1.0, 2.0, 3.0, 5.0])), float(rng.choice([40, 45, 50]))
    area = count * 0.8 * math.pi / 4 * (bore * 1e-3) ** 2
    answer = (volume * 1e-3 / (area * CRITICAL * math.sqrt(R * 293.15))
              * math.log(101.325 / end))
    return Posed(
        f"A cavity of {volume:g} L at 101.3 kPa and 20 °C is emptied through {count} holes of "
        f"{bore:g} mm, discharge coefficient 0.8, into a high vacuum. All stay open. How long does "
        f"it take to reach {end:g} kPa?", answer,
        r"While a hole is choked its flow is proportional to the pressure before it, so the "
        r"pressure falls exponentially: $\tau = \frac{V}{n C_d A\,C^*\sqrt{RT}}\ln\frac{p_0}{p}$, "
        rf"$C^* = 0.6847$: {answer:.3g} s.",
        "ideal gas, choked nozzle (ISO 9300, ideal-gas limit); closed form", "s", 0.03,
        ("Is the flow choked all the time? Below which ratio of pressures?",
         "Write the mass balance V dp/dt = -R T (mass flow)."))


def _ratio(rng: np.random.Generator) -> Posed:
    inside = float(rng.choice([80, 60, 40, 20]))
    critical = 0.5283 * inside
    answer = int(critical < 25)
    return Posed(
        f"Below the sheet there are {inside:g} kPa, below the vents 25 kPa. Would a stronger "
        f"vacuum below the vents make more air flow?", answer,
        rf"A hole is choked once the pressure behind it is below 0.528 of that before it: here "
        rf"{critical:.1f} kPa. " + ("25 kPa is above that, so yes." if answer else
                                    "25 kPa is below that already, so no: only more or larger "
                                    "holes help."),
        "critical pressure ratio of air, 0.5283", choices=("no", "yes"),
        hints=("When does a hole no longer notice the pressure behind it?",
               "Multiply the pressure below the sheet by 0.528 and compare."))


def _enough(rng: np.random.Generator) -> Posed:
    tank = float(rng.choice([20, 40, 60, 100]))
    space, low = float(rng.choice([6, 8, 10])), float(rng.choice([6, 10]))
    answer = (space * 101.3 + tank * low) / (space + tank)
    return Posed(
        f"A tank of {tank:g} L at {low:g} kPa is opened to {space:g} L of cavity, hollow and "
        f"box at 101.3 kPa. At what pressure do they settle, before the pump helps? Then set the "
        "tank and the volumes on the page, with the slowest pump, and see where the pressure "
        "levels off.",
        answer,
        rf"$p = \frac{{V_c p_c + V_t p_t}}{{V_c+V_t}}$ = {answer:.1f} kPa.",
        "ideal-gas mixing at one temperature", "kPa", 0.02, ("Mass is kept: p V / (R T).",
                                                       "Add p V of both and divide by the sum."))


EXERCISES = (
    Exercise("choked", "Time through choked vents", "by hand", _choked),
    Exercise("ratio", "Does more vacuum help?", "judgement", _ratio),
    Exercise("tank", "Is the tank large enough?", "with the page", _enough),
)
