"""Makes the demo project's record anew: python data/demo/make_demo.py

Everything in it is invented. It passes through the thread as an engineer would: every decision
at the brief's values, else at its defaults, saved with a reason, the first ones reviewed.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path

from thermoforming.pages.session import DEMO, Session
from thermoforming.record import Project
from thermoforming.steps import ORDER

HERE = Path(__file__).resolve().parent
AUTHOR, REVIEWER = "A. Maker", "B. Reader"


def main() -> None:
    demo = json.loads((HERE / "demo.json").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "demo"
        make(made, demo)
        shutil.rmtree(DEMO, ignore_errors=True)  # only now: the old demo stands until the new does
        shutil.copytree(made, DEMO)


def make(folder: Path, demo: dict) -> None:
    Project.create(folder, demo["title"], AUTHOR)
    session = Session(folder)
    mesh = session.keep_file((HERE / "tray.stl").read_bytes(), "tray.stl")
    for key in ORDER:
        given = dict(demo["decisions"][key])
        reason = given.pop("reason")
        if key == "brief":
            given["mesh"] = mesh
        revision = session.decide(key, given, reason, AUTHOR)
        if key in demo["accepted"]:
            session.project.review(key, revision.sha256, REVIEWER, "accepted",
                                   demo["accepted"][key])
        print(f"{key}: {len(revision.checks)} checks, {len(revision.stops)} stops")


if __name__ == "__main__":
    main()
