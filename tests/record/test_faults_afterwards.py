"""Damage done to the files afterwards: each is noticed and reported in a sentence.

Each test says how many cases it tried: run pytest with `-rP` to read them.
"""

import json
import random
import shutil
from pathlib import Path

import pytest
import rfc8785
from faults import BRIEF, contents, small_project

from thermoforming.record import (
    Damaged,
    NewerSchema,
    Project,
    RecordError,
    check,
    schema,
    spelling,
)

KEPT = Path(__file__).parent / "kept"


@pytest.fixture
def project(tmp_path):
    """Two steps with two revisions each, reviews, a release, a trial and an input file."""
    project = small_project(tmp_path / "tray")
    brief = project.latest("brief")
    vents = project.save("vents", {"inputs": {}, "upstream": {"brief": brief.sha256}}, "A. Maker",
                         None)
    vents = project.save("vents", {"inputs": {"hole": {"value": 0.0005, "unit": "m"}},
                                   "upstream": {"brief": brief.sha256}}, "A. Maker", vents.sha256)
    project.review("vents", vents.sha256, "B. Reader", "accepted", "Agreed. — 0,5 mm")
    project.release("B. Reader", ["brief", "vents"], "First articles")
    project.log_trial({"depth": [0.0349, 0.0351]}, "C. Hand")
    assert check(project.folder).findings == ()
    return project


def turned(data: bytes, bit: int) -> bytes:
    changed = bytearray(data)
    changed[bit // 8] ^= 1 << bit % 8
    return bytes(changed)


def test_one_bit_turned_in_any_place_of_any_record_is_noticed(project):
    """Every single bit of every sealed file, through the function that all reading goes through."""
    cases = 0
    for name, data in contents(project.folder).items():
        if name.endswith(".json"):
            spelling.unseal(data, Path(name))
            for bit in range(8 * len(data)):
                with pytest.raises(Damaged):
                    spelling.unseal(turned(data, bit), Path(name))
                cases += 1
    print(f"{cases} bits turned")
    assert cases > 20_000


def test_one_bit_turned_on_disk_is_reported_by_the_check(project):
    """A bit in each byte of the input file and in every fifth byte of everything else."""
    chance, cases = random.Random(1), 0
    for name, data in contents(project.folder).items():
        path = project.folder / name
        for byte in range(0, len(data), 1 if name.endswith(".stl") else 5):
            path.write_bytes(turned(data, 8 * byte + chance.randrange(8)))
            report = check(project.folder)
            assert not report.whole and path.name in str(report), (name, byte)
            assert "Move it out" in str(report) or "Put back" in str(report)
            cases += 1
        path.write_bytes(data)
    print(f"{cases} bits turned on disk")
    assert check(project.folder).findings == ()


def test_a_file_cut_at_any_length_is_noticed(project):
    cases = 0
    for name, data in contents(project.folder).items():
        if name.endswith(".json"):
            for length in range(len(data)):
                with pytest.raises(Damaged):
                    spelling.unseal(data[:length], Path(name))
                cases += 1
    path = project.folder / "decisions/vents/0002.json"
    data = path.read_bytes()
    for length in (0, 1, len(data) // 2, len(data) - 1):
        path.write_bytes(data[:length])
        assert project.state("vents").state == "damaged"
        with pytest.raises(Damaged, match="Put back the file"):
            project.latest("vents")
        assert project.latest("brief").number == 1, "the others are not affected"
    print(f"{cases} lengths")


@pytest.mark.parametrize("text", [b"", b"[]", b"null", b"{}", b"\xff\xfe", b'{"sha256": 1}',
                                  b'{"a": NaN}', b"[" * 100_000, b'{"a": 1e999, "sha256": "x"}',
                                  b'{"sha256": {"a": 1}}', b"9" * 5000])
def test_nonsense_in_place_of_a_record(project, text):
    (project.folder / "decisions/vents/0002.json").write_bytes(text)
    with pytest.raises(Damaged):
        project.latest("vents")
    assert not check(project.folder).whole


def edited(path, resealed, **changes):
    """Change a record by hand; `resealed` writes a matching hash, as a forger would."""
    content = json.loads(path.read_bytes()) | changes
    if resealed:
        path.write_bytes(spelling.seal({k: v for k, v in content.items() if k != "sha256"}))
    else:
        path.write_bytes(rfc8785.dumps(content))


@pytest.mark.parametrize("name", ["project.json", "decisions/brief/0001.json",
                                  "decisions/vents/0001.json", "decisions/vents/0002.json",
                                  "reviews/brief/0001.json", "releases/0001.json",
                                  "trials/0001.json"])
@pytest.mark.parametrize("field", ["author", "title", "saved_utc", "number", "verdict", "new"])
def test_an_edit_by_hand_is_reported(project, name, field):
    edited(project.folder / name, resealed=False, **{field: "7"})
    report = check(project.folder)
    assert "does not match its hash" in str(report) and name.split("/")[-1] in str(report)


@pytest.mark.parametrize("name, names_it", [
    ("decisions/brief/0001.json", "stands on"), ("decisions/vents/0001.json", "was written after"),
    ("decisions/vents/0002.json", "released"), ("reviews/brief/0001.json", "review of brief")])
def test_an_edit_with_a_new_hash_breaks_what_names_it(project, name, names_it):
    edited(project.folder / name, resealed=True, reason="It was always so.")
    report = check(project.folder)
    assert not report.whole and names_it in str(report)


def test_a_record_moved_to_another_place_is_noticed(project):
    decisions = project.folder / "decisions"
    shutil.copy(decisions / "vents/0001.json", decisions / "vents/0003.json")
    with pytest.raises(Damaged, match="belongs elsewhere"):
        project.latest("vents")
    shutil.move(decisions / "vents/0003.json", decisions / "brief/0002.json")
    assert "belongs elsewhere" in str(check(project.folder))


@pytest.mark.parametrize("name", ["project.json", "decisions/brief/0001.json",
                                  "decisions/vents/0001.json", "decisions/vents/0002.json",
                                  "reviews/brief/0001.json", "reviews/vents/0001.json"])
def test_a_missing_record_is_reported(project, name):
    (project.folder / name).unlink()
    report = check(project.folder)
    assert not report.whole and all(str(finding).endswith(".") for finding in report.findings)


def test_a_missing_input_file_is_reported_and_can_be_put_back(project):
    sha256 = project.latest("brief").files["part"]
    path = project.inputs.path(sha256)
    data = path.read_bytes()
    path.unlink()
    assert project.state("brief").state == "damaged"
    assert project.state("vents").reasons == ("brief, which it stands on, is damaged.",)
    assert "Add the same file again" in str(check(project.folder))
    with pytest.raises(Damaged):
        project.file(sha256)
    project.add_file(data, "tray.stl")
    assert project.state("vents").state == "accepted" and check(project.folder).findings == ()


def test_a_changed_input_file_is_never_handed_out(project):
    sha256 = project.latest("brief").files["part"]
    path = project.inputs.path(sha256)
    original = path.read_bytes()
    path.write_bytes(original + b" ")
    for use in (lambda: project.file(sha256), lambda: project.add_file(original, "tray.stl")):
        with pytest.raises(Damaged, match="was changed after it was added"):
            use()


def test_links_to_other_places_are_not_followed_when_writing(project, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (project.folder / "decisions/wall").symlink_to(elsewhere, target_is_directory=True)
    with pytest.raises(RecordError, match="link to another place"):
        project.save("wall", BRIEF, "A. Maker", None)
    assert not list(elsewhere.iterdir())
    assert "link to another place" in str(check(project.folder))


def test_strange_files_are_pointed_out_and_left_alone(project):
    for name in ("decisions/vents/0002 (copy).json", "notes.txt", "inputs/readme.md",
                 "decisions/vents/.0003.json.1.ab.part"):
        (project.folder / name).write_text("{}")
    report = check(project.folder)
    assert report.whole and len(report.findings) == 4
    assert project.latest("vents").number == 2


# ---------------------------------------------------------------------- older and newer layouts


def test_a_project_kept_in_layout_1_is_read_and_carried_on(tmp_path):
    """The folder was written by the first version of this library that was committed."""
    folder = tmp_path / "layout-1"
    shutil.copytree(KEPT / "layout-1", folder)
    before = contents(folder)
    project = Project.open(folder)
    assert check(folder).findings == ()
    assert [at.state for at in project.states(["brief", "vents"]).values()] == ["accepted"] * 2
    brief = project.latest("brief")
    assert brief.inputs["gauge"]["value"] == 0.0025 and brief.reason.startswith("Thicker")
    assert project.releases()[0].decisions["brief"]["sha256"] == brief.sha256
    project.save("brief", BRIEF, "A. Maker", brief.sha256)
    assert project.state("vents").state == "stale" and check(folder).findings == ()
    assert {name: contents(folder)[name] for name in before} == before


@pytest.mark.parametrize("name", ["project.json", "decisions/vents/0002.json",
                                  "reviews/vents/0001.json", "releases/0001.json"])
def test_a_newer_layout_is_refused_with_a_sentence(project, name):
    edited(project.folder / name, resealed=True, schema=schema.CURRENT + 1)
    with pytest.raises(NewerSchema, match="Update the workbook"):
        Project.open(project.folder).latest("vents")
        project.reviews("vents")
        project.releases()
    assert "Update the workbook" in str(check(project.folder))


@pytest.mark.parametrize("wrong", [0, -1, 1.5, "2", None, True])
def test_an_impossible_layout_is_damage(project, wrong):
    edited(project.folder / "decisions/vents/0002.json", resealed=True, schema=wrong)
    with pytest.raises(Damaged):
        project.latest("vents")
