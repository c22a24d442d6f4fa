"""Exercises of the brief: draw ratios, and the blank."""

from __future__ import annotations

from math import pi

from thermoforming.pages.exercise import Exercise, Posed


def _cup(random) -> Posed:
    diameter, depth = int(random.integers(6, 16)) * 10, int(random.integers(2, 12)) * 10
    opening = pi * diameter**2 / 4
    area = opening + pi * diameter * depth
    return Posed(
        f"A straight round cup is {diameter} mm wide and {depth} mm deep. What is its area draw "
        "ratio, base and wall over the opening?",
        area / opening,
        rf"$R_A = \frac{{\pi d^2/4 + \pi d h}}{{\pi d^2/4}} = 1 + \frac{{4h}}{{d}} = 1 + "
        rf"\frac{{4\cdot {depth}}}{{{diameter}}} = {area / opening:.3f}$",
        "Area of a cylinder and of a circle; an area draw ratio counts the base as well.",
        hints=("The sheet that starts as the opening ends as base and wall.",
               "Wall: circumference times depth. Divide base and wall by the base."))


def _gauge(random) -> Posed:
    length, width, depth = (int(v) * 10 for v in (random.integers(15, 31), random.integers(8, 15),
                                                  random.integers(3, 9)))
    least = float(random.choice([0.5, 0.6, 0.8, 1.0]))
    ratio = (length * width + 2 * (length + width) * depth) / (length * width)
    return Posed(
        f"A box with upright walls is {length} by {width} mm and {depth} mm deep; the wall must "
        f"be {least} mm everywhere. Below which starting gauge is that impossible, however evenly "
        "it is formed? Check it on the page: choose the simple tray, draft 0, a wide rim and "
        "small fillets, and see why the page gives less.",
        least * ratio,
        rf"$t_0 = t_{{min}}\,\frac{{L W + 2 (L + W) H}}{{L W}} = {least}\cdot {ratio:.3f} = "
        rf"{least * ratio:.2f}\,\mathrm{{mm}}$. The page counts the rim, which is not drawn, so "
        "its ratio of the whole is smaller; the table of forms gives each form alone.",
        "Volume of the sheet is kept; area of a box.", unit="mm", tolerance=0.03,
        hints=("Volume of sheet before and after is the same.",
               "Only the sheet over the opening is drawn, if the rim is clamped."))


def _method(random) -> Posed:
    width, depth = int(random.integers(6, 10)) * 10, int(random.integers(10, 14)) * 10
    return Posed(
        f"A female cavity is {width} mm wide and {depth} mm deep, with an even wall wanted all "
        "the way down. The machine has vacuum and a plug. What would you try first?",
        1, f"Depth to width is {depth / width:.2f}. Straight vacuum thins the floor and corners "
        "far too much above about 0.5; a plug carries material down before it touches the wall. "
        "More vacuum does not help: the sheet already touches, and thins where it does not.",
        "Depth-to-width rules of the table of rules (from memory; they differ between sources).",
        choices=("straight vacuum with a larger pump", "plug assist", "straight vacuum, hotter "
                 "sheet", "a thicker sheet, straight vacuum"),
        hints=("Compare depth to width with the limits of the check.",
               "Where does the sheet thin: before or after it has touched the wall?"))


EXERCISES = (Exercise("cup", "Area draw ratio of a cup", "by hand", _cup),
             Exercise("gauge", "The least starting gauge", "with the page", _gauge),
             Exercise("method", "Which method first", "judgement", _method))
