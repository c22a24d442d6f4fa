"""Comparing, starting from an old project, zip out and in, the shelf of projects."""

import datetime
import io
import stat
import zipfile

import pytest
from faults import contents, small_project

from thermoforming.record import NotSaved, Project, RecordError, chain, check
from thermoforming.record.handover import (
    compare,
    last_accepted,
    latest_of,
    released_in,
    start_from,
)
from thermoforming.record.pack import from_zip, to_zip
from thermoforming.record.shelf import entry, shelf

STEPS = ["brief", "vents"]


@pytest.fixture
def project(tmp_path):
    """A released brief and vents standing on it."""
    project = small_project(tmp_path / "shelf" / "tray")
    brief = project.latest("brief")
    vents = project.save("vents", {"upstream": {"brief": brief.sha256}}, "A. Maker", None)
    project.review("vents", vents.sha256, "B. Reader", "accepted")
    project.release("B. Reader", STEPS)
    return project


def brief_with(gauge, project, author="A. Maker"):
    content = {**project.latest("brief").own_content,
               "inputs": {"gauge": {"label": "Gauge", "value": gauge, "shown": "mm"}}}
    return project.save("brief", content, author, project.latest("brief").sha256)


# ---------------------------------------------------------------------- compare and start anew


def test_two_releases_compared(project):
    old = released_in(project, project.releases()[0])
    changed = brief_with(3e-3, project)
    assert last_accepted(project, "brief").sha256 == old["brief"].sha256
    found = compare(old, latest_of(project))
    assert [one.step for one in found] == STEPS
    assert found[0].new == changed and found[0].changes[0].by() == "+1 mm (+50 %)"
    assert found[1].changes == ()


def test_a_step_in_one_project_only(project, tmp_path):
    other = small_project(tmp_path / "other")
    found = compare(latest_of(other), latest_of(project))
    assert [(one.step, one.old is None) for one in found] == [("brief", False), ("vents", True)]


def test_a_new_project_from_an_old_one_is_unreviewed(project, tmp_path):
    new = start_from(project, tmp_path / "again", "Second tray", "C. Heir")
    assert [at.state for at in new.states(STEPS).values()] == ["current", "current"]
    assert new.reviews("brief") == [] and new.releases() == [] and check(new.folder).findings == ()
    brief = new.latest("brief")
    assert brief.author == "C. Heir" and brief.previous is None
    assert brief.content["taken_from"]["sha256"] == project.latest("brief").sha256
    assert new.origin["id"] == project.id != new.id
    assert new.file(brief.files["part"]) == project.file(brief.files["part"])


def test_what_was_stale_stays_stale(project, tmp_path):
    brief_with(3e-3, project)
    new = start_from(project, tmp_path / "again", "Second tray", "C. Heir")
    assert [at.state for at in new.states(STEPS).values()] == ["current", "stale"]
    assert check(new.folder).findings == ()


# ---------------------------------------------------------------------- zip


def test_out_and_in_again_is_the_same_project(project, tmp_path):
    data = to_zip(project)
    again = from_zip(data, tmp_path / "unpacked")
    assert contents(again.folder) == contents(project.folder)
    assert to_zip(again) == data and check(again.folder).findings == ()


def test_a_zip_made_by_hand_of_the_folder_itself(project, tmp_path):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, data in contents(project.folder).items():
            archive.writestr(f"my tray/{name}", data)
    assert from_zip(stream.getvalue(), tmp_path / "unpacked").id == project.id


def zipped(project, change=lambda entries: None, **more):
    """The project's files as a zip after `change` had its way with them."""
    entries = contents(project.folder) | more
    change(entries)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return stream.getvalue()


OUTSIDE = ["../escaped.json", "/etc/escaped", "decisions/../../escaped.json", "C:/escaped.json",
           "..\\escaped.json", "decisions/brief/../../../escaped.json", "inputs/run.py",
           "decisions/brief/0002.json/../../../../x", "exports/0001/../../../x.html", "~/x",
           "decisions/vents/0002.JSON", "project.json ", "./project.json"]


@pytest.mark.parametrize("name", OUTSIDE)
def test_no_path_outside_the_folder_is_ever_written(project, tmp_path, name):
    before = set(tmp_path.rglob("*"))
    with pytest.raises(RecordError):
        from_zip(zipped(project, lambda entries: entries.update({name: b"{}"})),
                 tmp_path / "deep" / "unpacked")
    assert set(tmp_path.rglob("*")) - before <= {tmp_path / "deep"}


def test_a_link_in_a_zip_is_refused(project, tmp_path):
    stream = io.BytesIO(to_zip(project))
    with zipfile.ZipFile(stream, "a") as archive:
        link = zipfile.ZipInfo("decisions/wall/0001.json")
        link.create_system, link.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/passwd")
    with pytest.raises(RecordError, match="is a link"):
        from_zip(stream.getvalue(), tmp_path / "unpacked")
    assert not (tmp_path / "unpacked").exists()


def test_a_zip_that_unpacks_without_end_is_refused(project, tmp_path):
    bomb = zipped(project, **{f"inputs/{'a' * 64}.bin": bytes(50_000_000)})
    assert len(bomb) < 100_000
    with pytest.raises(RecordError, match="more than a project may hold"):
        from_zip(bomb, tmp_path / "unpacked", most_bytes=1_000_000)
    assert not (tmp_path / "unpacked").exists()


def test_the_size_a_zip_states_is_not_believed(project, tmp_path):
    """The same, with a directory that says the file has ten bytes."""
    bomb = bytearray(zipped(project, **{f"inputs/{'a' * 64}.bin": bytes(50_000_000)}))
    size = (50_000_000).to_bytes(4, "little")
    while (at := bomb.find(size)) >= 0:
        bomb[at:at + 4] = (10).to_bytes(4, "little")
    with pytest.raises(RecordError):
        from_zip(bytes(bomb), tmp_path / "unpacked", most_bytes=1_000_000)


def test_a_twice_named_entry_is_refused(project, tmp_path):
    stream = io.BytesIO(to_zip(project))
    with zipfile.ZipFile(stream, "a") as archive, pytest.warns(UserWarning):
        archive.writestr("project.json", b"{}")
    with pytest.raises(RecordError):
        from_zip(stream.getvalue(), tmp_path / "unpacked")


def test_every_changed_byte_in_a_zip_is_noticed_or_harmless(project, tmp_path):
    """Turn a bit in every 17th byte: refused, or the very same project comes out."""
    data, refused = to_zip(project), 0
    for at in range(0, len(data), 17):
        changed = bytearray(data)
        changed[at] ^= 1
        folder = tmp_path / "unpacked" / str(at)
        try:
            again = from_zip(bytes(changed), folder)
        except RecordError:
            refused += 1
            assert not folder.exists()
        else:
            assert contents(again.folder) == contents(project.folder)
    print(f"{len(range(0, len(data), 17))} changed, {refused} refused")
    assert refused > 50


def test_a_changed_file_is_refused_even_in_a_sound_zip(project, tmp_path):
    name = f"inputs/{project.latest('brief').files['part']}.stl"
    with pytest.raises(RecordError, match="was changed after it was added"):
        from_zip(zipped(project, **{name: b"solid other"}), tmp_path / "unpacked")


@pytest.mark.parametrize("name", ["reviews/vents/0001.json", "releases/0001.json",
                                  "decisions/vents/0001.json"])
def test_a_zip_from_which_the_newest_record_was_lost(project, tmp_path, name):
    """Nothing else names the newest records; the list that travels along does."""
    data, stream = to_zip(project), io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w") as new:
        for info in old.infolist():
            if info.filename != name:
                new.writestr(info, old.read(info))
    with pytest.raises(RecordError):
        from_zip(stream.getvalue(), tmp_path / "unpacked")
    assert not (tmp_path / "unpacked").exists()


@pytest.mark.parametrize("cut", [0, 10, 0.5, 0.99])
def test_a_zip_cut_short(project, tmp_path, cut):
    data = to_zip(project)
    with pytest.raises(RecordError):
        from_zip(data[:int(cut * len(data)) if cut < 1 else cut], tmp_path / "unpacked")
    assert not (tmp_path / "unpacked").exists()


def test_an_existing_folder_is_never_unpacked_into(project, tmp_path):
    with pytest.raises(NotSaved, match="exists already"):
        from_zip(to_zip(project), project.folder)


def test_a_damaged_project_is_not_packed(project):
    (project.folder / "decisions/vents/0001.json").write_text("{}")
    with pytest.raises(RecordError, match="damaged and was not packed"):
        to_zip(project)


# ---------------------------------------------------------------------- the shelf


def test_the_shelf_says_where_each_project_stands(project, tmp_path, monkeypatch):
    here = tmp_path / "shelf"
    Project.create(here / "new", "Blank", "A. Maker")
    review = small_project(here / "review")
    review.save("vents", {"upstream": {}}, "C. Heir", None)
    small_project(here / "broken")
    (here / "broken/project.json").write_text("{}")
    found = {one.folder.name: one for one in shelf(here, STEPS)}
    assert {name: one.state for name, one in found.items()} == {
        "tray": "released", "new": "new", "review": "in review", "broken": "damaged"}
    assert found["review"].waits == ("C. Heir waits for a reviewer: vents.",)
    assert found["new"].waits == ("A. Maker has still to decide: brief, vents.",)
    assert "Put back the file" in found["broken"].waits[0]
    later = chain.now() + datetime.timedelta(days=3, hours=1)
    monkeypatch.setattr("thermoforming.record.shelf.now", lambda: later)
    assert found["tray"].age() == "3 days ago"


def test_the_shelf_says_who_waits_for_whom(project):
    brief = brief_with(3e-3, project)
    project.review("brief", brief.sha256, "B. Reader", "returned", "Why thicker?")
    found = entry(project.folder, STEPS)
    assert found.state == "in work"
    assert found.waits == ("B. Reader waits for A. Maker to mend brief.",
                           "A. Maker should decide again: vents.")


def test_a_release_is_over_when_something_changes(project):
    brief = brief_with(3e-3, project)
    vents = project.save("vents", {"upstream": {"brief": brief.sha256}}, "A. Maker",
                         project.latest("vents").sha256)
    for step, revision in (("brief", brief), ("vents", vents)):
        project.review(step, revision.sha256, "B. Reader", "accepted")
    assert entry(project.folder, STEPS).state == "to be released"
    assert entry(project.folder, STEPS).waits == ("Everything is accepted; it waits to be "
                                                  "released.",)
    project.release("B. Reader", STEPS)
    assert entry(project.folder, STEPS).state == "released"
