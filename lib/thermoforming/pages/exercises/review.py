"""Exercises of the review: what a hash tells, what becomes stale, what may be accepted."""

from __future__ import annotations

from thermoforming.pages.exercise import Exercise, Posed


def _collision(random) -> Posed:
    digits = int(random.integers(6, 11))
    return Posed(
        f"Somebody copies only the first {digits} hexadecimal digits of a SHA-256 from a printed "
        "page. How many different files must one try, on average, to find another file whose hash "
        "starts with the same digits? Give the base-2 logarithm of that number.",
        4.0 * digits,
        rf"A hexadecimal digit holds 4 bits: $16^{{{digits}}} = 2^{{{4 * digits}}}$. That stops "
        "an accident, not a patient forger; the whole hash has 256 bits.",
        "Counting; SHA-256 is defined in FIPS 180-4 (from memory).", tolerance=0.01,
        hints=("Each digit is one of 16.",
               "The base-2 logarithm of 16 is 4."))


def _stale(random) -> Posed:
    changed = int(random.integers(0, 3))
    names = ("brief", "material", "vents")
    answer = (3, 2, 0)[changed]
    return Posed(
        "Material stands on brief; vents stand on brief and material; the tool wall stands on "
        f"material. All four are saved and accepted. Then {names[changed]} is saved anew. How many "
        "of the other three become stale?",
        answer,
        "Follow the arrows: brief reaches material, vents and wall; material reaches vents and "
        "wall; nothing stands on vents. A decision is stale as soon as anything it stands on, "
        "directly or through others, has a newer revision.",
        "Rule of the record.", tolerance=0.0,
        hints=("Stale is inherited.",
               "Start at the changed one, and follow who stands on it."))


def _moved(random) -> Posed:
    saved = float(random.integers(200, 900)) / 1000
    found = saved * (1 + float(random.integers(2, 90)) * 1e-6)
    parts = (round(found, 7) - saved) / saved * 1e6
    return Posed(
        f"A gauge was saved as {saved:.7f} mm; computed anew it is {found:.7f} mm. By how many "
        "parts in a million has it moved? Look up under Verify on the page from which difference "
        "on a number counts as moved.", parts,
        rf"$\frac{{{found:.7f} - {saved:.7f}}}{{{saved:.7f}}} \cdot 10^6 = {parts:.2f}$. "
        "More than one part in a million counts as moved, although no measurement could show it: "
        "the same program must find the same number, and a small move says that something was "
        "changed.",
        "Arithmetic.", unit="parts in a million", tolerance=0.02,
        hints=("Take the difference first.", "Divide by the saved value, times a million."))


def _verdict(random) -> Posed:
    late = float(random.choice([0.2, 0.3, 0.4]))
    return Posed(
        f"The vents page says stop: the air leaves {late} s later than the sheet stays formable. "
        "The author writes: “we have always done it so.” You review. What do you do?",
        2,
        "An override needs a written reason that somebody else can check; a habit is none. A "
        "measured trial on this machine with this sheet would be one, and then the assumption "
        "behind the check should be changed instead.",
        "Common practice of design review, no source.",
        choices=("accept it, with the author's sentence as the reason", "accept it without a "
                 "reason", "return it and ask for larger vents or a measured time",
                 "save the vents anew under your own name and accept them"),
        hints=("Who could check that sentence a year from now?",
               "What would remove the stop instead of excusing it?"))


EXERCISES = (Exercise("collision", "How much a short hash says", "by hand", _collision),
             Exercise("stale", "What becomes stale", "by hand", _stale),
             Exercise("moved", "Has it moved?", "with the page", _moved),
             Exercise("verdict", "Accept or return", "judgement", _verdict))
