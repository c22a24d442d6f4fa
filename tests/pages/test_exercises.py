"""Every exercise of every page, posed with twenty seeds."""

from math import isfinite

import pytest

from thermoforming.pages.exercise import KINDS, exercises
from thermoforming.steps import ORDER

PAGES = (*ORDER, "review")
EVERY = [pytest.param(exercise, id=f"{page}-{exercise.key}")
         for page in PAGES for exercise in exercises(page)]
SEEDS = range(1, 21)


@pytest.mark.parametrize("page", PAGES)
def test_a_page_has_the_three_kinds(page):
    found = exercises(page)
    assert {exercise.kind for exercise in found} == set(KINDS)
    assert len({exercise.key for exercise in found}) == len(found)


@pytest.mark.parametrize("exercise", EVERY)
def test_the_right_answer_is_right_and_another_is_not(exercise):
    for posed in map(exercise.posed, SEEDS):
        assert isfinite(posed.answer) and posed.right(posed.answer)
        if posed.choices:
            wrong = [k for k in range(-1, len(posed.choices)) if k != posed.answer]
            assert len(set(posed.choices)) == len(posed.choices)
        else:
            off = 3 * posed.tolerance * abs(posed.answer) + 1e-6
            wrong = [posed.answer + off, posed.answer - off, -posed.answer - 1.0, float("nan")]
        assert not any(posed.right(value) for value in wrong)


@pytest.mark.parametrize("exercise", EVERY)
def test_hints_lead_to_a_worked_solution_with_its_source(exercise):
    for posed in map(exercise.posed, SEEDS):
        assert len(posed.hints) >= 2 and posed.solution and posed.source
        for text in (posed.question, posed.solution, *posed.hints):
            assert text.count("$") % 2 == 0 and text.count("{") == text.count("}")


@pytest.mark.parametrize("exercise", EVERY)
def test_seeds_differ_and_a_seed_repeats(exercise):
    posed = [exercise.posed(seed) for seed in SEEDS]
    assert len({(one.question, one.choices) for one in posed}) >= 3
    assert posed == [exercise.posed(seed) for seed in SEEDS]
