"""Exercises: a question with numbers that vary by seed, checked on the spot.

An answer comes from a published example or from a computation independent of the function that
the exercise is about. Questions and solutions may hold LaTeX between dollar signs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from html import escape
from importlib import import_module
from importlib.util import find_spec

import ipywidgets as w
import numpy as np

from thermoforming.guard import Refused
from thermoforming.pages.controls import read_number
from thermoforming.pages.render import message
from thermoforming.units import digits

KINDS = ("by hand", "with the page", "judgement")


@dataclass(frozen=True)
class Posed:
    """One exercise with its numbers.

    `answer` is a number in `unit` (right within `tolerance`, relative), or, with `choices`, the
    index of the right one.
    """

    question: str
    answer: float
    solution: str
    source: str
    unit: str = ""
    tolerance: float = 0.02
    hints: tuple[str, ...] = ()
    choices: tuple[str, ...] = ()

    def right(self, given: float) -> bool:
        """Whether a given number, or index of a choice, is right."""
        if self.choices:
            return int(given) == int(self.answer)
        return abs(given - self.answer) <= self.tolerance * max(abs(self.answer), 1e-12)


@dataclass(frozen=True)
class Exercise:
    """`kind` is one of `KINDS`; `pose` draws the numbers."""

    key: str
    title: str
    kind: str
    pose: Callable[[np.random.Generator], Posed]

    def posed(self, seed: int) -> Posed:
        """The exercise with this seed's numbers, its choices in this seed's order."""
        random = np.random.default_rng([seed, *self.key.encode()])
        posed = self.pose(random)
        order = random.permutation(len(posed.choices))
        if not posed.choices:
            return posed
        return replace(posed, choices=tuple(posed.choices[k] for k in order),
                       answer=int(np.flatnonzero(order == posed.answer)[0]))


def exercises(step: str) -> tuple[Exercise, ...]:
    """The exercises of a page."""
    name = f"thermoforming.pages.exercises.{step}"
    return import_module(name).EXERCISES if find_spec(name) else ()


def exercise_box(found: tuple[Exercise, ...], seed: int = 1) -> w.Widget:
    """All exercises of a page, with a seed that gives each trainee other numbers."""
    box = w.VBox()
    seed_box = w.BoundedIntText(value=seed, min=1, max=99999, description="Seed",
                                layout=w.Layout(width="180px"))

    def fill(_=None):
        box.children = tuple(_one(each, seed_box.value) for each in found)

    seed_box.observe(fill, "value")
    fill()
    note = w.HTML('<span class="tf-page tf-note">Another seed gives other numbers.</span>')
    return w.VBox([w.HBox([seed_box, note]), box])


def _one(exercise: Exercise, seed: int) -> w.Widget:
    posed = exercise.posed(seed)
    question = w.HTMLMath(f'<div class="tf-page"><h3>{escape(exercise.title)} '
                          f'<span class="tf-note">({escape(exercise.kind)})</span></h3>'
                          f"{posed.question}</div>")
    reply, helped = w.HTML(), w.HTMLMath()
    entry, given = _entry(posed)
    check = w.Button(description="Check", layout=w.Layout(width="80px"))
    hint = w.Button(description="Hint", disabled=not posed.hints, layout=w.Layout(width="70px"))
    solve = w.Button(description="Show the solution", layout=w.Layout(width="150px"))
    shown: list[str] = []

    def on_check(_):
        try:
            value = given()
        except Refused as refused:
            reply.value = message(str(refused))
            return
        right = posed.right(value)
        reply.value = message("Right." if right else _miss(posed, value),
                              "pass" if right else "caution")

    def on_hint(_):
        if len(shown) < len(posed.hints):
            shown.append(posed.hints[len(shown)])
        helped.value = "".join(f'<div class="tf-page tf-note">Hint: {h}</div>' for h in shown)
        hint.disabled = len(shown) == len(posed.hints)

    def on_solve(_):
        helped.value = (f'<div class="tf-page tf-worked">{posed.solution}<div class="tf-source">'
                        f"{escape(posed.source)}</div></div>")

    check.on_click(on_check)
    hint.on_click(on_hint)
    solve.on_click(on_solve)
    return w.VBox([question, w.HBox([entry, check, hint, solve]), reply, helped])


def _entry(posed: Posed) -> tuple[w.Widget, Callable[[], float]]:
    if posed.choices:
        box = w.Dropdown(options=[("choose …", -1)] + [(c, i) for i, c in
                                                       enumerate(posed.choices)],
                         layout=w.Layout(width="auto", min_width="220px"))
        return box, lambda: float(box.value)
    text = w.Text(placeholder="your answer", layout=w.Layout(width="120px"))
    unit = w.HTML(f'<span class="tf-page">{escape(posed.unit)}</span>')
    return w.HBox([text, unit]), lambda: read_number(text.value)


def _miss(posed: Posed, value: float) -> str:
    if posed.choices:
        return "Not the one that holds best; look at the numbers again."
    if posed.answer and value * posed.answer > 0:
        ratio = value / posed.answer
        near = "close, but not within the tolerance" if 0.8 < ratio < 1.25 else "not yet"
        return f"{near.capitalize()}: your answer is {digits(ratio, 3)} times the right one."
    return "Not yet: look at the sign and the unit."
