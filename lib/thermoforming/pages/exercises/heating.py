"""Exercises on heating and cooling: balance, contact, the ideal tool, and what slows it."""

from __future__ import annotations

import math

import numpy as np

from thermoforming.pages.exercise import Exercise, Posed


def _balance(rng: np.random.Generator) -> Posed:
    gauge, flux = float(rng.choice([1.5, 2.0, 3.0, 4.0])), float(rng.choice([6, 8, 10, 12]))
    rise = float(rng.choice([110, 125, 140]))
    answer = 1050 * 1900 * gauge * 1e-3 * rise / (2 * flux * 1e3)
    return Posed(
        f"A sheet of {gauge:g} mm (density 1050 kg/m³, mean specific heat 1900 J/(kg K)) takes up "
        f"{flux:g} kW/m² on each face. How long until its mean is {rise:g} K warmer?", answer,
        rf"$\tau = \frac{{\rho c\,t\,\Delta T}}{{2q}}$ = {answer:.1f} s.",
        "heat balance", "s", 0.02, ("How much heat does a square metre of sheet need?",
                                "Both faces take heat up: divide by twice the flux."))


def _difference(rng: np.random.Generator) -> Posed:
    gauge, flux = float(rng.choice([1.5, 2.0, 3.0, 4.0])), float(rng.choice([6, 8, 10, 12]))
    answer = flux * 1e3 * gauge * 1e-3 / 2 / (2 * 0.17)
    return Posed(
        f"The same kind of sheet, {gauge:g} mm, k = 0.17 W/(m K), {flux:g} kW/m² on each face for "
        f"a good while. By how much is the surface hotter than the core? Then look on the page at "
        "the end of heating, with this gauge: what makes its difference another?", answer,
        rf"The profile is a parabola: $\Delta T = \frac{{q\,(t/2)}}{{2k}}$ = {answer:.1f} K. "
        "The page lets heat in to some depth, has properties that follow temperature, and its flux "
        "falls as the sheet warms.",
        "slab under constant flux, any heat transfer text", "K", 0.02,
        ("No heat crosses the middle; the flux falls in a straight line towards it.",
                                         "The mean flux over the half gauge is half the flux."))


def _touch(rng: np.random.Generator) -> Posed:
    hot, tool = float(rng.choice([140, 150, 160, 170])), float(rng.choice([40, 50, 60]))
    e_sheet = math.sqrt(0.16 * 1050 * 1900)
    e_tool = math.sqrt(0.22 * 1200 * 1500)
    answer = (e_sheet * hot + e_tool * tool) / (e_sheet + e_tool)
    return Posed(
        f"A polystyrene sheet at {hot:g} °C (k 0.16, density 1050, c 1900) touches a photopolymer "
        f"tool at {tool:g} °C (k 0.22, density 1200, c 1500), contact perfect. At what temperature "
        f"do the faces stand in the first seconds?", answer,
        rf"With $e=\sqrt{{k\rho c}}$: {e_sheet:.0f} and {e_tool:.0f}; "
        rf"$T_i=\frac{{e_1T_1+e_2T_2}}{{e_1+e_2}}$ = {answer:.1f} °C.",
        "two semi-infinite solids (Carslaw and Jaeger)", "°C", 0.01,
        ("Neither body knows yet how thick it is.",
                                       "Weigh both temperatures with the root of k rho c."))


def _brake(rng: np.random.Generator) -> Posed:
    wall = float(rng.choice([6, 8, 10]))
    return Posed(
        f"A photopolymer tool with a wall of {wall:g} mm cools parts too slowly. Water channels "
        f"stand 10 mm behind the face; the film at their walls is 3500 W/(m²K), k of the resin "
        f"0.2 W/(m K). What helps most?", 2,
        r"The resin between face and channel resists $\frac{0.010}{0.2}=0.05$ m²K/W, the film "
        r"only $\frac1{3500}=0.0003$. Faster water changes nothing; air on the free side works "
        r"at once, and so does metal under the face.",
        "resistances in series", choices=("more water", "colder water by 5 K",
                                          "a fan on the free side"),
        hints=("Write the resistances from the hot face to the water, one after the other.",
               "Which one is by far the largest, and what goes round it?"))


EXERCISES = (
    Exercise("balance", "Heating time by the balance", "by hand", _balance),
    Exercise("difference", "Surface and core", "with the page", _difference),
    Exercise("touch", "First touch", "by hand", _touch),
    Exercise("brake", "What is the brake?", "judgement", _brake),
)
