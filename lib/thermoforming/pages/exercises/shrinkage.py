"""Exercises of shrinkage, draft and release."""

from __future__ import annotations

from math import radians, sqrt, tan

from thermoforming.pages.exercise import Exercise, Posed


def _tool(random) -> Posed:
    part = int(random.integers(10, 50)) * 10
    shrinkage = float(random.choice([0.4, 0.5, 0.6, 1.5, 1.8, 2.0]))
    alpha, rise = (int(random.choice(v)) for v in ([23, 60, 80, 90], [20, 30, 40, 50]))
    answer = part / ((1 - shrinkage / 100) * (1 + alpha * 1e-6 * rise))
    return Posed(
        f"A part must measure {part} mm. The sheet shrinks {shrinkage} % of the hot tool; the tool "
        f"runs {rise} K above the reference temperature and expands {alpha}·10⁻⁶ per kelvin. How "
        "long is the cold tool?", answer,
        rf"$L = \frac{{{part}}}{{(1 - {shrinkage / 100:.4f})(1 + {alpha}\cdot 10^{{-6}}\cdot "
        rf"{rise})}} = {answer:.3f}\,\mathrm{{mm}}$. Adding {shrinkage} % to the part instead "
        rf"gives {part * (1 + shrinkage / 100):.3f} mm: the two conventions differ by $S^2$, and "
        "the tool's own growth is left out.",
        "ISO 294-4 defines shrinkage on the mould (from memory); definition of expansion.",
        unit="mm", tolerance=0.0002,
        hints=("The hot tool is longer than the cold one, so the cold one may be shorter.",
               "Divide twice: by one less the shrinkage, and by the growth."))


def _stack(random) -> Posed:
    halves = [round(float(v), 2) for v in random.uniform(0.05, 0.4, 4)]
    answer = sqrt(sum(h * h for h in halves))
    squares = " + ".join(f"{h}^2" for h in halves)
    return Posed(
        f"Shrinkage, build, gauge and temperature change a dimension by ± {halves[0]}, "
        f"± {halves[1]}, ± {halves[2]} and ± {halves[3]} mm, independently. What is the root sum "
        "of squares? Then find the same line in the worked calculation of the page.", answer,
        rf"$\sqrt{{{squares}}} = {answer:.3f}\,\mathrm{{mm}}$, against {sum(halves):.2f} mm if "
        "all were at their limits at once. Halving the largest helps most.",
        "Definition; independent and centred contributions.", unit="mm",
        hints=("Independent contributions seldom stand at their limits together.",
               "Square, add, root."))


def _wall(random) -> Posed:
    height, width = int(random.integers(3, 8)) * 10, int(random.integers(10, 30)) * 10
    draft, held = int(random.integers(1, 4)), 0.5
    lift = width * held / 100 / 2 / tan(radians(draft))
    return Posed(
        f"A part has shrunk by {held} % onto a male form {width} mm wide and {height} mm high, "
        f"with {draft}° of draft. It scrapes off over {lift:.0f} mm of lift. What helps most, at "
        "the least cost to the part?", 1,
        rf"The scrape is as long as $\frac{{S W}}{{2\tan\theta}}$; stripping warm lowers S before "
        "it has grown, and costs nothing. More draft changes the part; polishing lowers friction "
        "but makes hot sheet stick and hold air; a colder tool makes the part shrink on "
        "more before it comes off.",
        "Plane geometry; contraction of a part on a rigid form.",
        choices=("a colder tool", "strip the part while it is still warm", "polish the tool",
                 "double the gauge"),
        hints=("What makes the grip grow with time?",
               "Which choice leaves the part as drawn and acts before the grip has grown?"))


EXERCISES = (Exercise("tool", "Length of a cold tool", "by hand", _tool),
             Exercise("stack", "Four contributions", "with the page", _stack),
             Exercise("wall", "A part that will not come off", "judgement", _wall))
