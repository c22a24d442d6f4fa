"""Exercises of the trial page; answers are worked out apart from the library's functions."""

from __future__ import annotations

from thermoforming.pages.exercise import Exercise, Posed


def _update(rng) -> Posed:
    before, wide = rng.integers(50, 70) / 100, rng.integers(10, 20) / 100
    mean, scatter, parts = rng.integers(70, 95) / 100, rng.integers(8, 16) / 100, int(
        rng.integers(3, 9))
    precision = 1 / wide**2 + parts / scatter**2
    answer = (before / wide**2 + mean * parts / scatter**2) / precision
    return Posed(
        f"Shrinkage was believed to be {before:.2f} % with a standard deviation of {wide:.2f} %. "
        f"{parts} parts show {mean:.2f} % on average; single parts scatter by {scatter:.2f} %. "
        "What is the mean of the belief now?",
        answer,
        f"Weights are one over variance: $1/{wide:.2f}^2 = {1 / wide**2:.1f}$ for the belief and "
        f"${parts}/{scatter:.2f}^2 = {parts / scatter**2:.1f}$ for the parts. The weighted mean "
        f"is {answer:.3f} %.",
        "Conjugate normal update, by hand.", unit="%", tolerance=0.01,
        hints=("Which of the two is known better? Weigh by one over variance.",
               "The mean of n parts has the variance of one part divided by n."))


def _correction(rng) -> Posed:
    nominal, tool = int(rng.integers(80, 240)), 0.0
    shrink, rise, expansion = rng.integers(45, 80) / 100, int(rng.integers(15, 40)), 90
    tool = nominal / ((1 - shrink / 100) * (1 + expansion * 1e-6 * rise))
    return Posed(
        f"A dimension on the tool side should be {nominal} mm. The parts taught that it shrinks "
        f"by {shrink:.2f} % of the hot tool; the tool runs {rise} K above the measuring room and "
        f"expands by {expansion} millionths a kelvin. What must the cold tool measure?",
        tool,
        f"Hot it must be ${nominal}/(1 - {shrink / 100:.4f})$ = "
        f"{nominal / (1 - shrink / 100):.3f} mm, and cold smaller by the factor "
        f"$1 + {expansion}\\cdot 10^{{-6}}\\cdot {rise}$: {tool:.3f} mm.",
        "Definitions of shrinkage on the hot tool and of linear expansion.", unit="mm",
        tolerance=2e-4,
        hints=("First the hot tool, then the cold one.",
               "Shrinkage is a share of the tool's dimension, so divide by 1 - S."))


def _camera(rng) -> Posed:
    reading, emissivity = int(rng.integers(135, 165)), rng.integers(78, 90) / 100
    setting, mirrored = 0.95, 25
    seen = setting * (reading + 273.15)**4 + (1 - setting) * (mirrored + 273.15)**4
    low, high = 300.0, 700.0
    while high - low > 1e-6:  # what radiance would the surface send into the camera?
        middle = (low + high) / 2
        sent = emissivity * middle**4 + (1 - emissivity) * (mirrored + 273.15)**4
        low, high = (middle, high) if sent < seen else (low, middle)
    answer = low - 273.15
    return Posed(
        f"A thermal camera set to an emissivity of {setting} shows {reading} °C on a sheet whose "
        f"emissivity is {emissivity:.2f}; the room it mirrors is at {mirrored} °C. How hot is the "
        "sheet? Put a shot read by thermal camera into the table and look at the figure of "
        "temperatures (the emissivities are under More inputs).",
        answer,
        f"The camera receives $\\epsilon T^4 + (1-\\epsilon) T_r^4$ and reckons with its own "
        f"setting. Equal radiance gives {answer:.1f} °C: a setting that is too high reads low.",
        "Grey-body radiance, solved by halving.", unit="°C", tolerance=0.004,
        hints=("Which temperature sends the same radiance with the true emissivity?",
               "Do not forget the mirrored part."))


def _judgement(rng) -> Posed:
    wrong = int(rng.integers(2, 6))
    return Posed(
        f"Eight parts are measured at one dimension. Seven lie within 0.1 mm; part {wrong} lies "
        "1.0 mm away and would move the correction of the tool. What do you do?",
        2,
        "An outlier is named, looked at again and explained before it is left out. A value cut "
        "away because it disturbs makes every later number look better than it is; a value kept "
        "without a look may be a slip of the pen.",
        "Common practice of measuring; no source.",
        choices=("Leave it out: it is obviously wrong.",
                 "Keep it in: data are data.",
                 "Measure that part again; leave it out only with a reason that is written down.",
                 "Take the middle of all eight and go on."),
        hints=("Which of these could a reviewer check?",
               "A value may be a slip of the pen, or the one that tells the truth."))


EXERCISES = (
    Exercise("update", "What a few parts teach", "by hand", _update),
    Exercise("correct", "The corrected tool", "by hand", _correction),
    Exercise("camera", "What the camera did not see", "with the page", _camera),
    Exercise("outlier", "One part out of eight", "judgement", _judgement),
)
