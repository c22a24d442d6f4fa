"""Recomputing: same, moved (by how much, against the band), cannot; and the exit codes."""

import pytest
from faults import small_project

from thermoforming.__main__ import main
from thermoforming.record.changes import Change, changes, words
from thermoforming.record.export import code_of
from thermoforming.record.verify import CANNOT, DAMAGED, MOVED, SAME, verify

BAND = {"low": 0.4, "typical": 0.5, "high": 0.8}
CONTENT = {
    "inputs": {"hole": {"label": "Vent hole", "value": 5e-4, "unit": "m", "shown": "mm"}},
    "results": {"time": {"label": "Evacuation time", "value": BAND, "unit": "s", "shown": "s"},
                "count": {"label": "Vents", "value": 41, "shown": "-"},
                "kind": {"label": "Flow", "value": "choked"}},
    "checks": [{"key": "mark", "title": "Vent mark", "verdict": "pass", "value": 5e-4,
                "limit": 6e-4, "shown": "mm"}],
    "tables": {"list": {"title": "Vent list", "columns": [{"key": "x", "label": "x",
                                                           "shown": "mm"}],
                        "rows": [{"x": 0.01}, {"x": 0.02}]}},
    "versions": {"thermoforming": "0.1.0"}, "upstream": {}, "reason": "Drill in the rack."}


@pytest.fixture
def project(tmp_path):
    project = small_project(tmp_path / "tray")
    project.save("vents", CONTENT, "A. Maker", None)
    return project


def today(**parts):
    """A library that finds the same, except for these parts of the vents."""
    def recompute(project, revision):
        return revision.own_content | (parts if revision.step == "vents" else {})
    return recompute


def with_time(**ends):
    band = BAND | ends
    return {**CONTENT["results"], "time": {**CONTENT["results"]["time"], "value": band}}


def test_the_same(project):
    found = verify(project.folder, today(), ["brief", "vents"])
    assert found.exit_code == SAME
    assert [one.verdict for one in found.decisions] == ["same", "same"]
    assert "vents, revision 1: same in all 8 values." in str(found)


def test_rounding_of_another_processor_is_the_same(project):
    found = verify(project.folder, today(results=with_time(typical=0.5 * (1 + 1e-9))))
    assert found.exit_code == SAME


@pytest.mark.parametrize("typical, inside, share", [(0.6, True, 0.5), (0.9, False, 2.0),
                                                    (0.401, True, -0.495)])
def test_moved_by_how_much_against_the_band(project, typical, inside, share):
    results = with_time(typical=typical, high=max(0.8, typical))
    found = verify(project.folder, today(results=results))
    assert found.exit_code == MOVED
    (change,) = found.decisions[-1].moved
    assert change.within_band is inside
    assert change.share_of_band == pytest.approx(share)  # half the width is 0.2 s
    assert ("inside its band" if inside else "outside its band") in str(found)
    assert f"{typical - 0.5:+.3g} s" in str(found)


def test_every_part_is_compared(project):
    results = {**CONTENT["results"], "kind": {"label": "Flow", "value": "not choked"}}
    checks = [{**CONTENT["checks"][0], "verdict": "stop"}]
    tables = {"list": {**CONTENT["tables"]["list"], "rows": [{"x": 0.01}, {"x": 0.0205}]}}
    found = verify(project.folder, today(results=results, checks=checks, tables=tables))
    assert [change.sentence() for change in found.decisions[-1].moved] == [
        "Flow: choked → not choked.", "Vent mark: pass → stop.",
        "Vent list, row 2, x: 20 mm → 20.5 mm, +0.5 mm (+2.5 %)."]


def test_a_value_that_is_gone_or_new_has_moved(project):
    results = {key: CONTENT["results"][key] for key in ("time", "count")}
    results["extra"] = {"label": "Extra", "value": 1.0}
    moved = verify(project.folder, today(results=results)).decisions[-1].moved
    assert [(change.label, change.was(), change.now()) for change in moved] == [
        ("Flow", "choked", "–"), ("Extra", "–", "1")]


@pytest.mark.parametrize("error", [KeyError("no such step"), ValueError("sheet is not known"),
                                   ZeroDivisionError()])
def test_what_cannot_be_recomputed_is_said_and_the_rest_goes_on(project, error):
    def recompute(project, revision):
        if revision.step == "brief":
            raise error
        return revision.own_content

    found = verify(project.folder, recompute)
    assert found.exit_code == CANNOT
    assert [one.verdict for one in found.decisions] == ["cannot", "same"]
    assert "brief: cannot be recomputed. " in str(found)


def test_a_missing_input_file_is_damage(project):
    sha256 = project.latest("brief").files["part"]
    project.inputs.path(sha256).unlink()
    assert verify(project.folder, today()).exit_code == DAMAGED


def test_a_damaged_decision_does_not_hide_the_others(project):
    (project.folder / "decisions/brief/0001.json").write_text("{}")
    found = verify(project.folder, today())
    assert found.exit_code == DAMAGED
    assert [one.verdict for one in found.decisions] == ["cannot", "same"]


def test_the_command_answers_scripts(project, capsys, tmp_path):
    assert main(["verify", "--hashes", str(project.folder)]) == 0
    assert "Everything is as it was written." in capsys.readouterr().out
    (project.folder / "decisions/vents/0001.json").write_text("{}")
    assert main(["verify", "--hashes", str(project.folder)]) == 4
    assert main(["verify", "--hashes", str(tmp_path / "nowhere")]) == 4
    assert "holds no project" in capsys.readouterr().out


def test_the_command_finds_a_record_by_its_code(project, capsys, tmp_path):
    code = code_of(project.latest("vents").sha256)
    assert main(["find", code.lower(), str(tmp_path)]) == 0
    assert "vents, revision 1" in capsys.readouterr().out
    assert main(["find", "00000-00000", str(tmp_path)]) == 1
    assert main(["find", "nonsense", str(tmp_path)]) == 4
    assert "foot of a page" in capsys.readouterr().err


def test_changes_speak_the_units_of_the_page():
    change = Change("Inputs", "Gauge", 2e-3, 2.54e-3, "mm")
    assert (change.was(), change.now(True)) == ("2 mm", "0.1 in")
    assert change.by() == "+0.54 mm (+27 %)"
    assert Change("Inputs", "Heat", 423.15, 433.15, "°C").by() == "+10 °C"
    assert words(BAND, "s") == "0.5 s (0.4 to 0.8)"


def test_no_change_no_line():
    assert changes(CONTENT, CONTENT) == []
    assert [c.part for c in changes(CONTENT, {**CONTENT, "reason": "New", "files": {"a": "f" * 64}})
            ] == ["Reason", "Files"]
