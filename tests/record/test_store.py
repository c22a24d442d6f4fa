"""A project from creation to release, and every rule on the way."""

import hashlib
import json

import pytest
import rfc8785

from thermoforming.guard import Refused
from thermoforming.record import Damaged, NotSaved, Project, RecordError, SomeoneSavedFirst

BRIEF = {"inputs": {"gauge": {"value": 2e-3, "unit": "m"}}, "upstream": {}, "reason": "Stock."}


@pytest.fixture
def project(tmp_path):
    return Project.create(tmp_path / "Gezeiten Ablage", "Instrument tray", "A. Maker")


def vents(brief, **more):
    return {"inputs": {}, "upstream": {"brief": brief.sha256}, **more}


def test_a_revision_can_be_read_and_checked_without_this_library(project):
    """The layout promised: RFC 8785 text whose hash leaves out only the hash itself."""
    first = project.save("brief", BRIEF, "A. Maker", None)
    data = (project.folder / "decisions/brief/0001.json").read_bytes()
    content = json.loads(data)
    assert data == rfc8785.dumps(content)
    sha256 = content.pop("sha256")
    assert sha256 == hashlib.sha256(rfc8785.dumps(content)).hexdigest() == first.sha256
    assert content["inputs"]["gauge"] == {"value": 0.002, "unit": "m", "position": 0}
    assert content["saved_utc"].endswith("+00:00")


def test_entries_come_back_in_the_order_they_were_declared(project):
    """Canonical JSON sorts keys; a reader wants the order of the page."""
    entries = {key: {"value": 1} for key in ("width", "gauge", "depth")}
    saved = project.save("brief", {"inputs": entries, "results": entries}, "A. Maker", None)
    assert list(saved.inputs) == list(project.latest("brief").inputs) == list(entries)
    assert saved.inputs == entries == project.latest("brief").results
    with pytest.raises(Refused, match="position"):
        project.save("wall", {"inputs": {"gauge": {"position": 1}}}, "A. Maker", None)


def test_revisions_form_a_chain(project):
    first = project.save("brief", BRIEF, "A. Maker", None)
    second = project.save("brief", BRIEF, "A. Maker", first.sha256)
    assert (first.previous, second.previous, second.number) == (None, first.sha256, 2)
    assert [revision.sha256 for revision in project.revisions("brief")] == [first.sha256,
                                                                           second.sha256]


def test_the_second_saver_sees_the_difference_and_may_go_on(project):
    first = project.save("brief", BRIEF, "A. Maker", None)
    other = {**BRIEF, "inputs": {"gauge": {"value": 3e-3, "unit": "m"}}}
    with pytest.raises(SomeoneSavedFirst, match="A. Maker saved revision 1") as told:
        project.save("brief", other, "B. Reader", None)
    assert [str(change) for change in told.value.differences] == ["inputs gauge value: "
                                                                  "0.002 → 0.003"]
    assert project.save("brief", other, "B. Reader", told.value.latest.sha256).previous \
        == first.sha256


def test_a_change_makes_all_that_stands_on_it_stale(project):
    brief = project.save("brief", BRIEF, "A. Maker", None)
    second = project.save("vents", vents(brief), "A. Maker", None)
    project.save("wall", {"upstream": {"vents": second.sha256}}, "A. Maker", None)
    assert project.state("wall").state == "current"
    project.save("brief", BRIEF, "A. Maker", brief.sha256)
    states = project.states(["brief", "vents", "wall", "tool"])
    assert [at.state for at in states.values()] == ["current", "stale", "stale", "missing"]
    assert "brief (revision 2) was changed after it." in states["vents"].reasons
    assert "vents, which it stands on, is stale." in states["wall"].reasons


def test_a_decision_made_before_its_upstream_becomes_stale(project):
    project.save("vents", {"upstream": {"brief": None}}, "A. Maker", None)
    assert project.state("vents").state == "current"
    project.save("brief", BRIEF, "A. Maker", None)
    assert project.state("vents").reasons == ("brief (revision 1) was decided after it.",)


@pytest.mark.parametrize("name", ["A. Maker", " a.  MAKER ", "Ａ. Maker"])
def test_nobody_reviews_their_own_decision(project, name):
    first = project.save("brief", BRIEF, "A. Maker", None)
    with pytest.raises(Refused, match="another person"):
        project.review("brief", first.sha256, name, "accepted")


def test_reviews_are_kept_and_shown(project):
    first = project.save("brief", BRIEF, "A. Maker", None)
    with pytest.raises(Refused, match="comment"):
        project.review("brief", first.sha256, "B. Reader", "returned")
    project.review("brief", first.sha256, "B. Reader", "returned", "Gauge tolerance?")
    assert project.state("brief").reasons == ("B. Reader returned it: Gauge tolerance?",)
    second = project.save("brief", BRIEF, "A. Maker", first.sha256)
    assert project.state("brief").state == "current"
    with pytest.raises(SomeoneSavedFirst):
        project.review("brief", first.sha256, "B. Reader", "accepted")
    project.review("brief", second.sha256, "B. Reader", "accepted")
    assert project.state("brief").state == "accepted"
    assert len(project.reviews("brief")) == 2


def test_a_stale_decision_cannot_be_accepted(project):
    brief = project.save("brief", BRIEF, "A. Maker", None)
    second = project.save("vents", vents(brief), "A. Maker", None)
    project.save("brief", BRIEF, "A. Maker", brief.sha256)
    with pytest.raises(Refused, match="stale"):
        project.review("vents", second.sha256, "B. Reader", "accepted")
    project.review("vents", second.sha256, "B. Reader", "returned", "Stand on the new brief.")


def test_each_stop_needs_its_own_reason(project):
    stops = [{"title": "Hole", "verdict": "stop"}, {"title": "Time", "verdict": "stop"},
             {"title": "Mark", "verdict": "caution"}]
    first = project.save("brief", {**BRIEF, "checks": stops}, "A. Maker", None)
    for override in ({}, {"Hole": "Tested."}, {"Hole": "Tested.", "Time": "  "}):
        with pytest.raises(Refused, match="says stop"):
            project.review("brief", first.sha256, "B. Reader", "accepted", override=override)
    both = {"Hole": "Tested.", "Time": "Slow machine is accepted."}
    project.review("brief", first.sha256, "B. Reader", "accepted", override=both)
    assert project.reviews("brief")[-1].override == both


def test_only_a_whole_project_is_released(project):
    brief = project.save("brief", BRIEF, "A. Maker", None)
    second = project.save("vents", vents(brief), "A. Maker", None)
    with pytest.raises(Refused, match="brief waits for a review. vents waits"):
        project.release("B. Reader", ["brief", "vents"])
    for step, revision in (("brief", brief), ("vents", second)):
        project.review(step, revision.sha256, "B. Reader", "accepted")
    with pytest.raises(Refused, match="wall is missing"):
        project.release("B. Reader", ["brief", "vents", "wall"])
    with pytest.raises(Refused, match="not part of the release"):
        project.release("B. Reader", ["vents"])
    with pytest.raises(Refused, match="no decision"):
        project.release("B. Reader", [])
    release = project.release("B. Reader", ["brief", "vents"], "First articles")
    assert release.decisions["vents"]["sha256"] == second.sha256
    assert project.releases()[0].sha256 == release.sha256


def test_inputs_are_named_by_content(project):
    data = b"solid tray\nendsolid tray\n"
    sha256 = project.add_file(data, "C:\\parts\\tray é.STL", "A. Maker")
    assert sha256 == hashlib.sha256(data).hexdigest() == project.add_file(data, "again.stl")
    assert project.file(sha256) == data
    assert project.inputs.path(sha256).name == f"{sha256}.stl"
    assert project.inputs.about(sha256)["name"] == "tray é.STL"
    with pytest.raises(Damaged, match="missing"):
        project.save("brief", {"files": {"part.stl": "0" * 64}}, "A. Maker", None)


def test_settings_are_replaced_and_kept(project):
    project.change(title="Tray 2", units="inch")
    again = Project.open(project.folder)
    assert (again.title, again.settings["units"], again.id) == ("Tray 2", "inch", project.id)
    with pytest.raises(Refused, match="units"):
        project.change(units="furlong")


@pytest.mark.parametrize("content, where", [
    ({"results": {"flow": float("nan")}}, "content.results.flow"),
    ({"results": [1.0, float("inf")]}, r"content.results\[1\]"),
    ({"reason": "half \ud800"}, "content.reason"),
    ({"inputs": {"shots": 2**53}}, "content.inputs.shots"),
    ({"inputs": {1: 2}}, "content.inputs"),
    ({"inputs": {"x": object()}}, "content.inputs.x"),
    ({"author": "Somebody else"}, "author"),
    ({"sha256": "0" * 64}, "sha256"),
])
def test_what_cannot_be_kept_is_refused_by_name(project, content, where):
    with pytest.raises(Refused, match=where):
        project.save("brief", content, "A. Maker", None)
    assert project.steps() == []


@pytest.mark.parametrize("step", ["", "../brief", "Brief", "a/b", "a\\b", ".", "x" * 80])
def test_a_step_key_never_leads_out_of_the_folder(project, step):
    with pytest.raises(Refused, match="key of a step"):
        project.save(step, BRIEF, "A. Maker", None)


def test_create_and_open_say_what_is_wrong(tmp_path, project):
    with pytest.raises(NotSaved, match="holds a project already"):
        Project.create(project.folder, "Other", "A. Maker")
    with pytest.raises(RecordError, match="holds no project"):
        Project.open(tmp_path / "nowhere")
    with pytest.raises(Refused, match="title"):
        Project.create(tmp_path / "untitled", "  ", "A. Maker")
