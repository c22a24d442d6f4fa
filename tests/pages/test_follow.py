"""A stale page shows the inputs that stood at earlier decisions, and takes their new values."""

import pytest

from thermoforming.pages.page import Page
from thermoforming.pages.session import Session
from thermoforming.record import Project
from thermoforming.steps import step

PLATE = {"part": "shape", "side": "female"}


@pytest.fixture
def project(tmp_path):
    Project.create(tmp_path / "p", "Dish", "A. Maker", {"units": "mm"})
    session = Session(tmp_path / "p")
    session.decide("brief", PLATE | {"service_high": 323.15}, "asked for", "A. Maker")
    return session


def moved(session):
    return session.left_behind(step("material"))


def test_what_followed_the_brief_is_offered_anew_and_an_own_value_is_left_alone(project):
    project.decide("material", {"gauge": 0.003}, "stiff", "A. Maker")
    assert moved(project) == {}
    project.decide("brief", PLATE | {"service_high": 333.15, "quantity": 200}, "warmer", "B. Maker")
    assert moved(project)["service_high"] == pytest.approx(333.15)
    assert "gauge" not in moved(project)
    page = Page("material", Session(project.project.folder))
    table, button = page.header.children[-1].children
    assert "50 °C" in table.value and "60 °C" in table.value
    button.click()
    assert page.inputs["service_high"] == pytest.approx(333.15)
    assert page.inputs["gauge"] == pytest.approx(0.003)


def test_an_input_set_against_the_brief_is_not_called_left_behind(project):
    project.decide("material", {"service_high": 343.15}, "margin of 20 K", "A. Maker")
    project.decide("brief", PLATE | {"service_high": 333.15}, "warmer", "B. Maker")
    assert "service_high" not in moved(project)
