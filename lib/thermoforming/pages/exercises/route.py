"""Exercises of the route page; answers are worked out apart from the library's functions."""

from __future__ import annotations

from functools import cache

from thermoforming.pages.exercise import Exercise, Posed


def _clean_run(rng) -> Posed:
    shots, confidence = int(rng.integers(12, 90)), int(rng.choice([80, 90, 95]))
    answer = 100 * (1 - confidence / 100) ** (1 / shots)
    return Posed(
        f"A printed tool has made {shots} shots without damage. At {confidence} % confidence, "
        "what chance is proven that one shot does not end it?",
        answer,
        f"The least reliability that shows no failure in n shots with probability 1 - C: "
        f"$R^n = 1 - C$, so $R = (1 - {confidence / 100})^{{1/{shots}}}$ = {answer:.2f} %. "
        f"It is a promise for one shot. For the next {shots} together it is "
        f"$R^{{{shots}}} = {1 - confidence / 100:.2f}$.",
        "Success-run theorem (zero-failure binomial); 22 shots prove 90 % at 90 %.",
        unit="%", tolerance=0.004,
        hints=("With reliability R, how likely are n clean shots?",
               "Set that equal to 1 - C and solve for R."))


def _break_even(rng) -> Posed:
    printed, machined = int(rng.integers(25, 60)) * 10, int(rng.integers(150, 320)) * 10
    part, cheaper = rng.integers(50, 70) / 10, rng.integers(30, 45) / 10
    life = int(rng.integers(4, 9)) * 10
    # Linear: each part carries printed/life of a tool that is used up.
    answer = machined / (part + printed / life - cheaper)
    return Posed(
        f"A printed tool costs {printed} and lasts {life} parts; the part costs {part:.2f}. A "
        f"machined tool costs {machined} and lasts for good; with its quicker cycle the part "
        f"costs {cheaper:.2f}. Spread the printed tools evenly over the parts. From how many "
        "parts is the machined tool the cheaper?",
        answer,
        f"Each part wears $F/L = {printed}/{life} = {printed / life:.2f}$ of a printed tool. "
        f"$N^* = \\frac{{{machined}}}{{{part:.2f} + {printed / life:.2f} - {cheaper:.2f}}}$ = "
        f"{answer:.0f}. Tools are bought whole, so the figure on the page has steps around it.",
        "Definition of the break-even quantity.", unit="parts", tolerance=0.02,
        hints=("What does a part cost when its share of a used-up tool is in it?",
               "Set the costs of both routes equal and solve for N."))


@cache
def _most(length: int, width: int, a: int, b: int) -> int:
    """Most blanks by trying every straight cut at whole units; slow, and nothing clever."""
    best = int((a <= length and b <= width) or (b <= length and a <= width))
    for x in range(1, length // 2 + 1):
        best = max(best, _most(x, width, a, b) + _most(length - x, width, a, b))
    for y in range(1, width // 2 + 1):
        best = max(best, _most(length, y, a, b) + _most(length, width - y, a, b))
    return best


def _blanks(rng) -> Posed:
    unit, stock = 40, (30, 20)  # mm; the stock sheet is 1200 by 800 mm
    for _ in range(50):  # until blanks both ways beat all one way
        a, b = int(rng.integers(7, 12)), int(rng.integers(3, 7))
        answer = _most(*stock, a, b)
        rows = max((stock[0] // a) * (stock[1] // b), (stock[0] // b) * (stock[1] // a))
        if answer > rows:
            break
    return Posed(
        f"Blanks of {a * unit} by {b * unit} mm are sawn from a sheet of {stock[0] * unit} by "
        f"{stock[1] * unit} mm, every cut from edge to edge, no width lost, no edge trimmed off; "
        "blanks may lie across. How many at most? Sketch it, then let the page find it (stock, "
        "blank, cut width and edge are under Making parts and More inputs).",
        answer,
        f"All blanks one way give {rows}; trying every straight cut on a grid of {unit} mm gives "
        f"{answer}. By area it could not be more than {stock[0] * stock[1] // (a * b)}.",
        "Every cut tried, apart from the page's own search.", unit="blanks", tolerance=0.0,
        hints=("First all one way, then the other way.",
               "What fits into the strip that is left over, turned?"))


def _which_proves(rng) -> Posed:
    shots = int(rng.integers(40, 70))
    again = 100 * 0.1**3
    return Posed(
        f"A tool has made {shots} clean shots; the order needs {shots} more, and tools of this "
        "material wear (Weibull shape about 2). Which holds?",
        1,
        f"At shape 2 the chance proven at 90 % for as many again is "
        f"$0.1^{{(2n)^2/n^2 - 1}} = 0.1^3$ = {again:.1f} %: nearly nothing. It may well last, but "
        "the clean run does not say so. A spare turns the question into a small sum of money.",
        "Weibull line without failure, worked by hand.",
        choices=("The clean run proves that as many again will go well with some 90 %.",
                 "The clean run proves next to nothing about as many again: order a spare.",
                 "The tool is run in and will now last longer.",
                 "The tool is worn out and must be replaced at once."),
        hints=("What was observed: this stretch, or the next?",
               "At shape 2 the hazard grows: the next stretch is harder than the first."))


EXERCISES = (
    Exercise("clean", "What a clean run proves", "by hand", _clean_run),
    Exercise("even", "When the dear tool pays", "by hand", _break_even),
    Exercise("blanks", "Blanks in a sheet", "with the page", _blanks),
    Exercise("again", "Fifty went well", "judgement", _which_proves),
)
