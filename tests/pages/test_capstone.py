"""The capstone: a record against sound decisions, and a class as one table."""

import csv
import io
import re
from math import degrees, tan

import pytest

from thermoforming.guard import Refused
from thermoforming.pages import capstone as page
from thermoforming.pages.capstone import FOLDER, Capstone, Class, as_csv, class_table, report
from thermoforming.pages.session import DEMO
from thermoforming.pages.sound import DIFFERS, MISSING, SOUND, as_number, decisions, judge, table
from thermoforming.record import Project
from thermoforming.reference import rule, sheets, tool_materials
from thermoforming.steps import ORDER, step

ASKED = decisions(FOLDER / "sound.csv")


def saved(project, key, inputs=(), results=(), checks=()):
    """A decision with these values, as a page would save it."""
    latest = project.latest(key)
    project.save(key, {
        "inputs": {name: {"label": name, "value": value} for name, value in dict(inputs).items()},
        "results": {name: {"label": name, "value": value} for name, value in dict(results).items()},
        "checks": [{"key": name, "title": name, "verdict": verdict}
                   for name, verdict in dict(checks).items()],
        "reason": "for the test", "files": {}, "upstream": {}, "versions": {},
    }, project.author, latest.sha256 if latest else None)


def verdicts(project):
    return {one.decision.value: one.verdict for one in judge(project, ASKED)}


@pytest.fixture
def project(tmp_path):
    return Project.create(tmp_path / "one", "Cover", "T. Trainee")


def test_an_empty_record_is_missing_throughout(project):
    assert set(verdicts(project).values()) == {MISSING}


def test_a_number_is_sound_on_its_bounds_and_differs_beyond(project):
    for draft, wanted in ((0.0349066, SOUND), (0.05, SOUND), (0.110657, SOUND),
                          (0.03, DIFFERS), (0.12, DIFFERS)):
        saved(project, "brief", {"shape_draft": draft})
        assert verdicts(project)["brief.inputs.shape_draft"] == wanted


def test_words_flags_and_rows_are_compared(project):
    saved(project, "brief", {"side": "male", "outdoor": True, "dimensions": [{}, {}]})
    found = verdicts(project)
    assert {found[f"brief.inputs.{key}"] for key in ("side", "outdoor", "dimensions")} == {SOUND}
    saved(project, "brief", {"side": "female", "outdoor": False, "dimensions": [{}]})
    found = verdicts(project)
    assert {found[f"brief.inputs.{key}"] for key in ("side", "outdoor", "dimensions")} == {DIFFERS}


def test_a_bound_may_be_another_value_of_the_same_record(project):
    least = {"low": 7e-4, "typical": 8.5e-4, "high": 9e-4}
    saved(project, "thinning", results={"least_gauge": least})
    assert verdicts(project)["thinning.results.least_gauge.typical"] == MISSING
    saved(project, "brief", {"minimum_wall": 8e-4})
    assert verdicts(project)["thinning.results.least_gauge.typical"] == SOUND
    saved(project, "brief", {"minimum_wall": 9e-4})
    assert verdicts(project)["thinning.results.least_gauge.typical"] == DIFFERS


def test_a_stop_anywhere_differs(project):
    saved(project, "vents", checks={"time": "caution"})
    assert verdicts(project)["review.stops"] == SOUND
    saved(project, "wall", checks={"deflection": "stop"})
    found = verdicts(project)
    assert found["review.stops"] == found["review.decided"] == DIFFERS


def test_the_report_says_where_and_why_and_gives_nothing_away(project):
    saved(project, "brief", {"side": "female", "quantity": 60})
    text = report(judge(project, ASKED))
    side = next(one for one in ASKED if one.value == "brief.inputs.side")
    assert "Differs" in text and side.reason in text and side.source in text
    sheet = next(one for one in ASKED if one.value == "material.inputs.sheet")
    assert sheet.title in text and sheet.reason not in text and "pmma" not in text.lower()


def test_what_a_record_says_is_shown_as_text(project):
    saved(project, "brief", {"side": "<script>alert(1)</script>"})
    assert "<script" not in report(judge(project, ASKED))


def test_the_demo_is_another_part():
    found = verdicts(Project.open(DEMO))
    assert found["brief.inputs.side"] == found["brief.inputs.quantity"] == DIFFERS
    assert MISSING not in found.values()


def test_a_class_is_one_row_a_trainee_and_one_column_a_decision(tmp_path, project):
    saved(project, "brief", {"side": "male"})
    Project.create(tmp_path / "two", "Cover", "=U. Second")
    (tmp_path / "three").mkdir()
    (tmp_path / "three" / "project.json").write_text("{", encoding="utf-8")
    trainees = Class()
    trainees.folder.value = str(tmp_path)
    rows = trainees.read()
    assert [row["Trainee"] for row in rows] == ["T. Trainee", "three", "=U. Second"]
    assert [row["Side of the tool"] for row in rows] == [SOUND, MISSING, MISSING]
    assert list(rows[0]) == ["Trainee", "Project", *(one.title for one in ASKED)]
    back = list(csv.DictReader(io.StringIO(trainees.save().read_text("utf-8"))))
    assert len(back) == 3 and back[2]["Trainee"] == "'=U. Second"
    assert "1 of 3" in class_table(rows, ["Side of the tool"])
    # The first trainee's report: the side is sound, and so far nothing says stop.
    assert f"2 of {len(ASKED)}" in trainees.single.children[1].value


def test_a_folder_without_projects_is_refused_in_a_sentence(tmp_path):
    with pytest.raises(Refused, match="holds no project"):
        page.class_folders(str(tmp_path))
    trainees = Class()
    trainees.folder.value = str(tmp_path / "nowhere")
    assert trainees.read() == [] and trainees.save() is None and as_csv([]) == ""


def test_every_place_named_exists_in_the_demo_s_record():
    held = {key: Project.open(DEMO).latest(key) for key in ORDER}
    places = {place for one in ASKED for place in (one.value, one.low, one.high)
              if place and as_number(place) is None and not place.startswith("review")}
    for place in places:
        key, kind, name = place.split(".")[:3]
        assert name in ({check["key"] for check in held[key].checks} if kind == "checks" else
                        getattr(held[key], kind)), place


def test_every_range_has_its_reason_source_and_basis():
    assert len({one.title for one in ASKED}) == len(ASKED) > 25
    assert {one.step for one in ASKED} == {*ORDER, "review"} - {"trial"}
    for one in ASKED:
        assert one.reason and one.source
        assert one.basis in ("given", "computed", "published", "from memory", "common practice")
        assert bool(one.one_of) != bool(one.low or one.high)


def test_given_numbers_are_the_brief_s():
    text = (FOLDER / "brief.md").read_text(encoding="utf-8")
    wanted = {"shape_length": "160 mm", "shape_height": "45 mm", "quantity": "60 covers",
              "minimum_wall": "0.8 mm"}
    for key, words in wanted.items():
        one = next(one for one in ASKED if one.value == f"brief.inputs.{key}")
        size = 1.0 if key == "quantity" else 1e-3
        assert words in text and float(one.low) == pytest.approx(float(words.split()[0]) * size)


def test_draft_stands_on_the_table_and_on_plane_geometry():
    draft = next(one for one in ASKED if one.value == "brief.inputs.shape_draft")
    assert float(draft.low) == pytest.approx(rule("draft", "male, smooth, amorphous").band.low)
    # The top, 160 mm less twice the height times the tangent, must be 150 mm long.
    assert 160 - 2 * 45 * tan(float(draft.high)) == pytest.approx(150, abs=1e-3)
    assert degrees(float(draft.high)) == pytest.approx(6.34, abs=0.01)


def test_words_that_are_sound_can_be_chosen():
    known = {"sheet": set(sheets()), "tool_material": set(tool_materials())}
    for one in ASKED:
        key, kind, name = one.value.split(".")[:3] if one.value.count(".") > 1 else ("", "", "")
        if name in known:
            assert set(one.one_of) <= known[name]
        elif one.one_of and kind == "inputs" and one.one_of != ("yes",):
            assert set(one.one_of) <= {value for value, _ in step(key).field(name).options}


def test_the_brief_holds_no_answers_and_the_page_shows_it(capsys):
    capstone = Capstone()
    shown = capstone.brief.value
    assert "<li>" in shown and "**" not in shown
    assert not re.search(r"\b(male|female|ASA|drape|photopolymer)\b", shown)
    assert capstone.compare() and "Differs" in capstone.report.children[1].value
    capstone.values()
    assert "Side of the tool" in capsys.readouterr().out


def test_a_damaged_project_is_told_not_raised(tmp_path):
    (tmp_path / "project.json").write_text("{", encoding="utf-8")
    assert table([tmp_path], ASKED)[0]["Project"].startswith("cannot be read")
