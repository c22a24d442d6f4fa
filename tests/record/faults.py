"""A wrapper of `os` that fails, kills or interferes at the n-th call, and a small project."""

import os
import signal

from thermoforming.record import Project, files

BRIEF = {"inputs": {"gauge": {"value": 2e-3, "unit": "m"}}, "upstream": {}, "reason": "Stock."}
CALLS = {"open", "read", "write", "fsync", "close", "link", "unlink", "mkdir", "makedirs",
         "replace", "rename", "listdir"}


class Meddled:
    """`os` with every call counted; `meddle(name, n, half)` is asked at each moment of it.

    A moment is before a call, after it, or (for a write) when half of the bytes are written.
    """

    def __init__(self, meddle):
        self.meddle, self.moment = meddle, 0

    def __getattr__(self, name):
        real = getattr(os, name)
        return self._counted(name, real) if name in CALLS else real

    def _counted(self, name, real):
        def call(*arguments, **named):
            self._tick(name, "before")
            if name == "write":
                half = max(1, len(arguments[1]) // 2)
                written = real(arguments[0], arguments[1][:half])
                self._tick(name, "half")
                return written  # a short write is a thing the system may do at any time
            result = real(*arguments, **named)
            self._tick(name, "after")
            return result
        return call

    def _tick(self, name, when):
        self.meddle(name, self.moment, when)
        self.moment += 1


def moments(action, monkeypatch) -> int:
    """How many moments an action has, found by letting it run."""
    counter = Meddled(lambda name, moment, when: None)
    with monkeypatch.context() as patch:
        patch.setattr(files, "os", counter)
        action()
    return counter.moment


def killed_at(target: int, action) -> int:
    """Run `action` in a child that is killed at that moment; the signal it died of (0: none)."""
    child = os.fork()
    if child == 0:
        def kill(name, moment, when):
            if moment == target:
                os.kill(os.getpid(), signal.SIGKILL)

        files.os = Meddled(kill)
        try:
            action()
        finally:
            os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) * -1


def small_project(folder) -> Project:
    """One decision, its review and an input file."""
    project = Project.create(folder, "Instrument tray", "A. Maker")
    part = project.add_file(b"solid tray\nendsolid tray\n", "tray.stl", "A. Maker")
    first = project.save("brief", {**BRIEF, "files": {"part": part}}, "A. Maker", None)
    project.review("brief", first.sha256, "B. Reader", "accepted", "Agreed.")
    return project


def contents(folder) -> dict[str, bytes]:
    """Every file of the record by its path; leftovers of interrupted saves are none of it."""
    return {str(path.relative_to(folder)): path.read_bytes()
            for path in sorted(folder.rglob("*"))
            if path.is_file() and not path.name.endswith((files.PART, files.LOCK))}
