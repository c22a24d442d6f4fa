"""Figures of the thinning page: updated in place, in the reader's unit, saying what they show."""

import numpy as np
import pytest

from thermoforming.pages.charts import Scene, drawn
from thermoforming.pages.figures.thinning import panels
from thermoforming.pages.session import DEMO, Session
from thermoforming.steps import step
from thermoforming.steps.upstream import Upstream


@pytest.fixture(scope="module")
def demo():
    """The demo's saved inputs and run."""
    declared, session = step("thinning"), Session(DEMO)
    upstream = session.upstream(declared, session.saved_simulation("thinning"))
    return declared, declared.checked(session.saved_inputs("thinning"), upstream), upstream


def scene(demo, inches=False, formed=True, **changes):
    declared, inputs, upstream = demo
    if not formed:
        upstream = Upstream(upstream.decisions, upstream.read_file)
    inputs = inputs | changes
    return Scene(inputs, declared.compute(inputs, upstream), upstream, inches)


@pytest.mark.parametrize("panel", panels(), ids=lambda panel: panel.key)
def test_update_adds_no_trace_and_follows_the_inputs(demo, panel):
    figure = drawn(panel, scene(demo))
    count, before = len(figure.data), figure.to_json()
    panel.update(figure, scene(demo, moment=0.3, section_at=0.03, minimum_wall=8e-4, pressure=6e4))
    assert len(figure.data) == count
    if panel.key not in ("contact", "print"):
        assert figure.to_json() != before
    panel.update(figure, scene(demo))
    assert figure.to_json() == before


@pytest.mark.parametrize("panel", panels(), ids=lambda panel: panel.key)
def test_every_figure_stands_before_the_sheet_is_formed(demo, panel):
    figure = drawn(panel, scene(demo, formed=False))
    assert len(figure.data) >= 1
    if panel.key == "part":
        assert "not formed yet" in figure.layout.annotations[0].text


def test_map_says_when_it_is_not_verified(demo):
    declared, inputs, upstream = demo
    part = next(panel for panel in panels() if panel.key == "part")
    waiting = Upstream(upstream.decisions, upstream.read_file,
                       dict(upstream.simulation) | {"verified": -1})
    figure = drawn(part, Scene(inputs, declared.compute(inputs, waiting), waiting))
    assert "not verified" in figure.layout.annotations[0].text


def test_inches_change_lengths(demo):
    section = next(panel for panel in panels() if panel.key == "section")
    metric, inch = (drawn(section, scene(demo, inches=inches)) for inches in (False, True))
    assert np.allclose(np.array(metric.data[1].x, float),
                       25.4 * np.array(inch.data[1].x, float), equal_nan=True)
    assert "(in)" in inch.layout.xaxis.title.text


def test_sheet_in_the_section_is_drawn_to_scale(demo):
    """Distance between the two faces of the drawn band on the flat flange is the gauge there."""
    figure = drawn(next(panel for panel in panels() if panel.key == "section"), scene(demo))
    band = figure.data[0]
    assert np.nanmax(band.y) == pytest.approx(2.0, abs=0.02)
