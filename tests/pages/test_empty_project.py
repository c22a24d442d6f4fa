"""Every page of a project in which nothing is decided says so and offers no traceback."""

import pytest

from thermoforming.pages.page import Page
from thermoforming.pages.session import Session
from thermoforming.record import Project
from thermoforming.steps import ORDER, step


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    folder = tmp_path_factory.mktemp("projects") / "new"
    Project.create(folder, "Nothing yet", "A. Maker", {"units": "inch"})
    return folder


@pytest.mark.parametrize("key", ORDER)
def test_a_page_of_an_empty_project_opens_and_names_what_comes_first(empty, key, capsys):
    page = Page(key, Session(empty))
    assert page.header and page.workspace and page.checks and page.worked and page.decide
    page.values()
    if page.outcome is None:
        assert "Traceback" not in page._alert.value
        assert "No result yet" in capsys.readouterr().out
        if step(key).needs:
            assert step(step(key).needs[0]).title in page._alert.value
        page._save_now()
        assert "no result to save" in page._said.value
        assert page.session.project.latest(key) is None


@pytest.mark.parametrize("key", [k for k in ORDER if step(k).simulate])
def test_a_run_before_there_is_anything_to_run_says_so(empty, key):
    page = Page(key, Session(empty))
    page.run()
    assert page.outcome is not None or "Nothing can be run yet" in page._beside.text.value
