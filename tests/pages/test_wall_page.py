"""Figures, printed formulas and exercises of the wall page."""

import re

import numpy as np
import pytest
from matplotlib.mathtext import MathTextParser

from thermoforming.pages.charts import Scene, drawn
from thermoforming.pages.exercises.wall import EXERCISES
from thermoforming.pages.figures.wall import panels
from thermoforming.physics import channels
from thermoforming.physics.toolwall import plates, ribs
from thermoforming.steps.material import STEP as MATERIAL
from thermoforming.steps.upstream import Decision, Upstream
from thermoforming.steps.wall import STEP

VARIANTS = ({}, {"ribs": "hanging"}, {"channels": True, "skin": 0.02}, {"hollow": "atmosphere"},
            {"ribs_along": 0, "ribs_across": 0}, {"forming_pressure": 300e3}, {"held": "ends"})


@pytest.fixture(scope="module")
def upstream():
    inputs = MATERIAL.checked({"tool_material": "photopolymer_heat"}, Upstream())
    outcome = MATERIAL.compute(inputs, Upstream())
    return Upstream({"brief": Decision({}, {}), "material": Decision(
        inputs, {r.key: r.value for r in outcome.results})})


def _scenes(upstream, inches=False):
    for values in VARIANTS:
        inputs = STEP.checked(values, upstream)
        yield Scene(inputs, STEP.compute(inputs, upstream), upstream, inches)


@pytest.mark.parametrize("panel", panels(), ids=lambda p: p.key)
def test_figures_follow_in_place(panel, upstream):
    figure = panel.make()
    traces = len(figure.data)
    for scene in _scenes(upstream):
        panel.update(figure, scene)
        assert len(figure.data) == traces


def test_drawing_is_to_scale_in_both_units(upstream):
    drawing = panels()[0]
    for inches, unit in ((False, 1e-3), (True, 0.0254)):
        scene = next(iter(_scenes(upstream, inches)))
        skin = drawn(drawing, scene).data[0]
        v = scene.inputs
        assert np.nanmax(skin.x) - np.nanmin(skin.x) == pytest.approx(
            (v["length"] + 2 * v["side"]) / unit)


def test_every_formula_can_be_printed(upstream):
    parser = MathTextParser("path")
    for scene in _scenes(upstream):
        for line in scene.outcome.worked:
            parser.parse(f"${line.formula}$")
            parser.parse(f"${line.numbers}$")


def test_exercises_agree_with_the_library():
    """Their answers are worked out apart from it; here both are held together."""
    posed = {e.key: e.pose(np.random.default_rng(3)) for e in EXERCISES}
    numbers = {key: [float(n) for n in re.findall(r"\d+(?:\.\d+)?", p.question)]
               for key, p in posed.items()}
    across, thick, modulus, nu, _ = numbers["round_flat"]
    assert plates.circular_deflection(90e3, across / 2e3, thick / 1e3, modulus * 1e6, nu,
                                      "clamped") * 1e3 == pytest.approx(
                                          posed["round_flat"].answer)
    b, h, width, t = numbers["rib"]
    section = ribs.t_section(width, t, b, h)
    assert section.second_moment / (width * t**3 / 12) == pytest.approx(posed["rib"].answer)
    depth, _, pitch, flux = numbers["ripple"][:4]
    assert channels.ripple(flux, 0.22, 1e-5, depth / 1e3, pitch / 1e3) == pytest.approx(
        posed["ripple"].answer, rel=1e-3)
