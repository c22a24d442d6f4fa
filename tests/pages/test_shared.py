"""What projects of one computer learn from each other."""

import shutil

import pytest

from thermoforming.bands import Band
from thermoforming.pages import shared
from thermoforming.pages.page import Page
from thermoforming.pages.session import DEMO, Session
from thermoforming.steps.upstream import Decision

pytestmark = pytest.mark.skipif(not (DEMO / "decisions" / "material").exists(),
                                reason="the demo record is being made")


@pytest.fixture
def two(tmp_path, monkeypatch):
    """Two copies of the demo; the second has a trial with two tools."""
    for name in ("first", "second"):
        shutil.copytree(DEMO, tmp_path / name)
        shutil.rmtree(tmp_path / name / "decisions" / "trial", ignore_errors=True)
    session = Session(tmp_path / "second")
    page = Page("trial", session)
    page.set(tools_run=[{"tool": "tool 1", "shots": 52.0, "ended": "cracked"},
                        {"tool": "tool 2", "shots": 11.0, "ended": "running"}], offer=True)
    session.save(page.step, page.inputs, page.outcome, "a try", "A. Maker",
                 None)
    monkeypatch.setattr(shared, "project_folders",
                        lambda: [tmp_path / "first", tmp_path / "second"])
    return tmp_path


def test_runs_of_all_projects_reach_the_route_page(two):
    page = Page("route", Session(two / "first"))
    older = {"origin": "the foreman", "tool_material": "photopolymer_heat", "sheet": "",
             "shots": 30.0, "ended": "running", "sheet_temperature": None, "gauge": None,
             "method": "", "wall": None, "cooling": "", "cycle": None}
    page.set(experience=[older])
    box = shared.take_experience(page)
    for _ in range(2):  # twice gives no run twice
        box.children[0].click()
    rows = page.inputs["experience"]
    assert [row["shots"] for row in rows] == [30.0, 52.0, 11.0]
    assert "2 runs from other trials, 1 typed" in box.children[1].value


def test_runs_are_shown_on_other_pages_with_their_differences(two):
    shown = shared.seen_before(Page("material", Session(two / "first"))).value
    assert "tool 1" in shown and "cracked" in shown and "Counts here" in shown


def test_learned_shrinkage_is_offered_only_on_request(two):
    page = Page("shrinkage", Session(two / "first"))
    before = page.inputs["own_along"]
    box = shared.take_learned(page)
    box.children[0].children[1].click()
    assert page.inputs["shrinkage_from"] == "own" and page.inputs["own_refers"] == "hot tool"
    assert page.inputs["own_along"] != before
    assert "Taken from a trial on hips" in box.children[1].value


def test_nothing_is_offered_without_the_engineers_decision():
    results = {f"shrinkage_{key}": Band(0.004, 0.005, 0.006) for key in ("along", "across", "held")}
    material = Decision(inputs={"sheet": "hips"}, results={})
    for offer, given in ((True, dict), (False, type(None))):
        trial = Decision(inputs={"offer": offer}, results=results)
        assert isinstance(shared.learned({"trial": trial, "material": material}), given)


def test_a_damaged_project_is_said_and_the_others_are_read(two):
    path = next((two / "first" / "decisions" / "material").glob("*.json"))
    path.write_bytes(path.read_bytes()[:-20])
    rows, problems = shared.all_runs([two / "first", two / "second"])
    assert len(rows) == 2 and len(problems) == 1 and "first" in problems[0]
