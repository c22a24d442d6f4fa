"""Whatever happens during a save: nothing saved before is touched and nothing is half saved.

Each test says how many cases it tried: run pytest with `-rP` to read them.
"""

import errno
import json
import multiprocessing
import os
import resource
import shutil
import signal
import sys

import pytest
from faults import BRIEF, Meddled, contents, killed_at, moments, small_project

from thermoforming.guard import Refused
from thermoforming.record import (
    Project,
    RecordError,
    SomeoneSavedFirst,
    chain,
    check,
    files,
)

forking = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


def newest(project):
    """Hash of the brief, read past the wrapped calls."""
    last = sorted((project.folder / "decisions/brief").glob("0*.json"))[-1]
    return json.loads(last.read_bytes())["sha256"]


def save_brief(project, expected=None):
    project.save("brief", BRIEF, "A. Maker", expected or newest(project))


def save_new_step(project):
    project.save("vents", BRIEF, "A. Maker", None)


def review(project):
    project.review("brief", newest(project), "B. Reader", "returned", "Why?")


def release(project):
    project.release("B. Reader", ["brief"])


def add_file(project):
    project.add_file(b"another part" * 1000, "other.stl")


def change(project):
    project.change(title="Renamed tray")


def log_trial(project):
    project.log_trial({"measured": [1.0, 2.0]}, "C. Hand")


ACTIONS = [save_brief, save_new_step, review, release, add_file, change, log_trial]
LINKS = ["links", "no links"]
CASES = [(action, "links") for action in ACTIONS] + [(save_brief, "no links"),
                                                     (add_file, "no links")]
each_action = pytest.mark.parametrize("action, links", CASES, indirect=["links"],
                                      ids=lambda given: getattr(given, "__name__", given))


@pytest.fixture(params=LINKS)
def links(request, monkeypatch):
    """File systems with hard links, and without."""
    if request.param == "no links":
        def refuse(*_):
            raise OSError(errno.EPERM, "no links here")
        monkeypatch.setattr(os, "link", refuse)
    return request.param


def copy_of(project, folder):
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(project.folder, folder)
    return Project.open(folder)


def assert_sound(folder, before, where):
    """Everything kept before is there, byte for byte, and all that is new is whole."""
    after = contents(folder)
    for name, data in before.items():
        if name != "project.json":
            assert after[name] == data, f"{name} changed {where}"
    report = check(folder)
    assert report.whole, f"{where}: {report}"


@forking
@each_action
def test_a_kill_at_each_moment_of_each_system_call(tmp_path, monkeypatch, links, action):
    project = small_project(tmp_path / "whole")
    before = contents(project.folder)
    counted = copy_of(project, tmp_path / "counted")
    total = moments(lambda: action(counted), monkeypatch)
    for moment in range(total):
        victim = copy_of(project, tmp_path / "victim")
        assert killed_at(moment, lambda: action(victim)) in (0, signal.SIGKILL)
        assert_sound(victim.folder, before, f"killed at moment {moment}")
        action(Project.open(victim.folder))  # no lock, no lost number, no half file in the way
        assert_sound(victim.folder, before, f"saved again after a kill at moment {moment}")
    print(f"{action.__name__}, {links}: killed at {total} moments")
    assert total > 20


@forking
def test_a_kill_while_a_project_is_created(tmp_path, monkeypatch):
    def create():
        Project.create(tmp_path / "new", "Tray", "A. Maker")

    total = moments(create, monkeypatch)
    for moment in range(total):
        shutil.rmtree(tmp_path / "new", ignore_errors=True)
        killed_at(moment, create)
        try:
            project = Project.open(tmp_path / "new")
        except RecordError:
            project = Project.create(tmp_path / "new", "Tray", "A. Maker")
        assert check(project.folder).whole
    print(f"killed at {total} moments")


ERRORS = {"full disk": errno.ENOSPC, "quota": errno.EDQUOT, "read-only": errno.EROFS,
          "forbidden": errno.EACCES, "vanished": errno.ENOENT, "share lost": errno.ESTALE,
          "device error": errno.EIO}


COMMON = ["full disk", "vanished"]


@pytest.mark.parametrize("action, links, error", [
    (action, links, error) for action, links in CASES
    for error in (ERRORS if (action, links) == CASES[0] else COMMON)],
    indirect=["links"], ids=lambda given: getattr(given, "__name__", given))
def test_an_error_at_each_moment_of_each_system_call(tmp_path, monkeypatch, links, action, error):
    """The call fails; when the disk is put right the same save works."""
    project = small_project(tmp_path / "whole")
    before = contents(project.folder)
    counted = copy_of(project, tmp_path / "counted")
    total = moments(lambda: action(counted), monkeypatch)
    told = 0
    for moment in range(total):
        victim = copy_of(project, tmp_path / "victim")

        def fail(name, at, when, moment=moment):
            if at == moment and not (name == "close" and when == "before"):
                raise OSError(ERRORS[error], os.strerror(ERRORS[error]))

        with monkeypatch.context() as patch:
            patch.setattr(files, "os", Meddled(fail))
            try:
                action(victim)
            except (RecordError, Refused) as refusal:
                told += 1
                assert str(refusal).endswith(".") and len(str(refusal)) > 60
        assert_sound(victim.folder, before, f"{error} at moment {moment}")
        action(Project.open(victim.folder))
        assert_sound(victim.folder, before, f"saved again after {error} at moment {moment}")
    print(f"{action.__name__}, {links}, {error}: {total} moments, {told} refusals")
    assert told >= 10


def test_the_sentence_says_what_to_do(tmp_path, monkeypatch):
    project = small_project(tmp_path / "tray")
    advice = {errno.ENOSPC: "disk is full. Free some space",
              errno.EROFS: "copy the project to a folder of your own",
              errno.ENOENT: "Connect it again"}
    for number, words in advice.items():
        def fail(name, at, when, number=number):
            if name == "fsync":
                raise OSError(number, os.strerror(number))

        with monkeypatch.context() as patch:
            patch.setattr(files, "os", Meddled(fail))
            with pytest.raises(RecordError, match=words):
                save_new_step(project)


@forking
def test_a_disk_that_really_runs_full(tmp_path):
    """The system itself cuts the write: a limit on the size of files stands for the full disk."""
    project = small_project(tmp_path / "tray")
    before = contents(project.folder)
    for limit in (0, 1, 100, 300):
        child = os.fork()
        if child == 0:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            code = 1
            try:
                save_brief(project)
            except RecordError:
                code = 7
            finally:
                os._exit(code)
        assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 7
        assert contents(project.folder) == before and check(project.folder).findings == ()
    print("4 sizes at which the disk was full")


@pytest.mark.skipif(sys.platform == "win32", reason="permissions of folders differ")
@pytest.mark.parametrize("action", ACTIONS)
def test_a_folder_that_may_only_be_read(tmp_path, action):
    project = small_project(tmp_path / "tray")
    before = contents(project.folder)
    folders = [project.folder, *(path for path in project.folder.rglob("*") if path.is_dir())]
    for folder in folders:
        folder.chmod(0o555)
    for folder in (tmp_path, *list(tmp_path.parents)[:2]):
        folder.chmod(0o755)
    root = os.geteuid() == 0
    try:
        if root:
            os.seteuid(65534)  # permissions do not hold the administrator back
        with pytest.raises(RecordError, match="not permitted"):
            action(project)
        assert project.state("brief").state == "accepted"
    finally:
        if root:
            os.seteuid(0)
        for folder in folders:
            folder.chmod(0o755)
    assert contents(project.folder) == before


@each_action
def test_the_folder_vanishes_at_each_moment(tmp_path, monkeypatch, links, action):
    """As when a share is lost: the path leads nowhere, the files live on elsewhere."""
    project = small_project(tmp_path / "whole")
    before = contents(project.folder)
    counted = copy_of(project, tmp_path / "counted")
    total = moments(lambda: action(counted), monkeypatch)
    for moment in range(total):
        victim = copy_of(project, tmp_path / "victim")
        lost = tmp_path / "lost"
        shutil.rmtree(lost, ignore_errors=True)

        def vanish(name, at, when, moment=moment, victim=victim, lost=lost):
            if at == moment:
                os.rename(victim.folder, lost)

        with monkeypatch.context() as patch:
            patch.setattr(files, "os", Meddled(vanish))
            try:
                action(victim)
            except (RecordError, Refused) as refusal:
                assert str(refusal).endswith(".")
        assert not victim.folder.exists(), "a new folder was made where the project was"
        assert_sound(lost, before, f"vanished at moment {moment}")
    print(f"{action.__name__}, {links}: vanished at {total} moments")


def test_a_vanished_folder_says_so(tmp_path):
    project = small_project(tmp_path / "tray")
    os.rename(project.folder, tmp_path / "lost")
    with pytest.raises(RecordError, match="share it lies on is gone"):
        save_new_step(project)
    assert not project.folder.exists()


# ---------------------------------------------------------------------- many writers

ROUNDS = 3


def keep_saving(folder, name, start):
    project = Project.open(folder)
    start.wait()
    for i in range(ROUNDS):
        expected = None
        while True:
            try:
                project.save("brief", {**BRIEF, "reason": f"{name} {i}"}, name, expected)
                break
            except SomeoneSavedFirst as told:
                expected = told.latest.sha256


def save_once(folder, name, start, outcomes):
    project = Project.open(folder)
    expected = project.latest("brief").sha256
    start.wait()
    try:
        project.save("brief", {**BRIEF, "reason": name}, name, expected)
        outcomes.put("saved")
    except SomeoneSavedFirst:
        outcomes.put("told")


def together(target, arguments):
    """Run one process for each set of arguments, all set off at once."""
    context = multiprocessing.get_context("fork")
    start = context.Barrier(len(arguments))
    workers = [context.Process(target=target, args=(*given[:2], start, *given[2:]))
               for given in arguments]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
        assert worker.exitcode == 0


@forking
@pytest.mark.parametrize("writers", [2, 20])
def test_many_writers_keep_all_their_work(tmp_path, links, writers):
    project = Project.create(tmp_path / "tray", "Instrument tray", "A. Maker")
    people = [f"Person {i}" for i in range(writers)]
    together(keep_saving, [(project.folder, person) for person in people])
    kept = [revision.reason for revision in project.revisions("brief")]
    assert sorted(kept) == sorted(f"{person} {i}" for person in people for i in range(ROUNDS))
    assert check(project.folder).findings == ()
    print(f"{links}: {writers} writers, {len(kept)} revisions in one chain")


@forking
@pytest.mark.parametrize("writers", [2, 20])
def test_of_many_writers_one_saves_and_the_others_are_told(tmp_path, links, writers):
    project = small_project(tmp_path / "tray")
    outcomes = multiprocessing.get_context("fork").SimpleQueue()
    together(save_once, [(project.folder, f"Person {i}", outcomes) for i in range(writers)])
    found = sorted(outcomes.get() for _ in range(writers))
    assert found == ["saved"] + ["told"] * (writers - 1)
    assert len(project.revisions("brief")) == 2


def add_same(folder, name, start):
    project = Project.open(folder)
    start.wait()
    for i in range(5):
        project.add_file(bytes([i]) * 100_000, name)


@forking
def test_twenty_people_add_the_same_files(tmp_path, links):
    project = small_project(tmp_path / "tray")
    together(add_same, [(project.folder, f"part {i}.stl") for i in range(20)])
    report = check(project.folder)
    assert report.findings == () and report.inputs == 6


def test_a_clock_set_back(tmp_path, monkeypatch):
    """The order is that of the numbers; the earlier time is kept as it was and pointed out."""
    project = small_project(tmp_path / "tray")
    real = chain.now()
    for years in (1, 30):
        monkeypatch.setattr(chain, "now", lambda y=years: real.replace(year=real.year - y))
        save_brief(project)
    latest = project.latest("brief")
    assert latest.number == 3 and latest.saved.year == real.year - 30
    assert project.state("brief").state == "current"
    report = check(project.folder)
    assert report.whole and len(report.findings) == 2
    assert "a clock was wrong" in report.findings[0].sentence
