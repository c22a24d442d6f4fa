"""Figures of the brief and of shrinkage: names as in the tables, traces never added, units."""

import hashlib
import json
from pathlib import Path

import numpy as np
import pytest

from thermoforming.pages.charts import Scene
from thermoforming.pages.exercises import brief as brief_exercises
from thermoforming.pages.exercises import shrinkage as shrinkage_exercises
from thermoforming.pages.figures import brief as brief_figures
from thermoforming.pages.figures import shrinkage as shrinkage_figures
from thermoforming.steps import brief, material, shrinkage
from thermoforming.steps.plain import content, decision_from
from thermoforming.steps.upstream import Upstream

DEMO = Path(__file__).parents[2] / "data" / "demo"
TRAY = (DEMO / "tray.stl").read_bytes()
FILES = Upstream(read_file=lambda sha256: TRAY)
BRIEF = json.loads((DEMO / "demo.json").read_text(encoding="utf-8"))["decisions"]["brief"]
GIVEN = {key: value for key, value in BRIEF.items() if key != "reason"} | {
    "mesh": {"sha256": hashlib.sha256(TRAY).hexdigest(), "name": "tray.stl"}}


def scene(step, values, upstream, inches=False):
    inputs = step.checked(values, upstream)
    return Scene(inputs, step.compute(inputs, upstream), upstream, inches)


def after(step, values, upstream):
    shown = scene(step, values, upstream)
    saved = decision_from(json.loads(json.dumps(content(step, shown.inputs, shown.outcome))))
    return Upstream(upstream.decisions | {step.key: saved}, upstream.read_file)


UPSTREAM = after(material.STEP, {}, after(brief.STEP, GIVEN, FILES))


def drawn(panels, shown):
    figures = {}
    for panel in panels:
        figure = panel.make()
        before = len(figure.data)
        panel.update(figure, shown)
        panel.update(figure, shown)
        assert len(figure.data) == before, panel.key
        figures[panel.key] = figure
    return figures


def names_on(figure):
    return {text for text in figure.data[-1].text if text}


def test_forms_on_the_picture_are_those_of_the_table():
    shown = scene(brief.STEP, GIVEN, FILES)
    figures = drawn(brief_figures.panels(), shown)
    assert names_on(figures["part"]) == {row["name"] for row in shown.outcome.table("forms").rows}
    blanks = figures["nest"].data[1]
    assert np.isnan(blanks.x).sum() == len(shown.outcome.arrays["nest"])


def test_regions_on_the_picture_are_those_of_the_tables():
    leaning = scene(shrinkage.STEP, {"pull_from": "own", "tilt_x": 0.1}, UPSTREAM)
    figures = drawn(shrinkage_figures.panels(), leaning)
    undercuts, short = ([row["name"] for row in leaning.outcome.table(key).rows]
                        for key in ("undercuts", "short"))
    shown = names_on(figures["draft"])
    assert undercuts and set(undercuts) <= shown and short[0] in shown
    assert shown <= {*undercuts, *short}
    faces = sum(len(trace.i) for trace in figures["draft"].data[:3])
    assert faces == len(leaning.outcome.arrays["surface"].faces)
    flats = {row["name"] for row in leaning.outcome.table("flats").rows}
    assert flats <= names_on(figures["radii"])


def test_contributions_add_up_to_the_whole():
    figures = drawn(shrinkage_figures.panels(), scene(shrinkage.STEP, {}, UPSTREAM))
    total = np.sum([trace.x for trace in figures["contributions"].data], axis=0)
    np.testing.assert_allclose(total, 100.0)


def test_an_inch_project_shows_inches():
    metric, inch = (drawn(brief_figures.panels(), scene(brief.STEP, GIVEN, FILES, inches))
                    for inches in (False, True))
    assert inch["section"].layout.xaxis.title.text.startswith("x (in)")
    ratio = np.nanmax(metric["section"].data[0].x) / np.nanmax(inch["section"].data[0].x)
    assert ratio == pytest.approx(25.4)


def test_figures_bear_a_brief_without_dimensions_and_a_flat_part():
    bare = GIVEN | {"dimensions": [], "part": "shape", "shape_draft": 0.1}
    drawn(brief_figures.panels(), scene(brief.STEP, bare, FILES))
    upstream = after(material.STEP, {}, after(brief.STEP, bare, FILES))
    drawn(shrinkage_figures.panels(), scene(shrinkage.STEP, {}, upstream))


@pytest.mark.parametrize("exercise", [*brief_exercises.EXERCISES, *shrinkage_exercises.EXERCISES],
                         ids=lambda exercise: exercise.key)
def test_exercises_take_their_own_answer_whatever_the_seed(exercise):
    for seed in range(20):
        posed = exercise.pose(np.random.default_rng(seed))
        assert posed.right(posed.answer) and posed.solution and posed.source
        assert not posed.right(posed.answer * 1.2 + 1)
