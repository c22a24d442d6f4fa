"""The tool step on the demo project: ledger closed, solid built, files written and read again."""

import shutil
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
import trimesh

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.pages.page import Page
from thermoforming.pages.session import DEMO, Session, Silent
from thermoforming.pages.toolfiles import write_files
from thermoforming.steps import step
from thermoforming.steps.tool.closing import closed
from thermoforming.steps.upstream import Upstream


@pytest.fixture(scope="module")
def session(tmp_path_factory) -> Session:
    folder = tmp_path_factory.mktemp("projects") / "demo"
    shutil.copytree(DEMO, folder)
    return Session(folder)


@pytest.fixture(scope="module")
def upstream(session) -> Upstream:
    return session.upstream(step("tool"))


def with_found(upstream: Upstream, gauge: Band, running: Band, distortion: float) -> Upstream:
    """The same project, but thinning and wall found something else."""
    changes = {"thinning": {"mean_gauge": gauge.typical, "least_gauge": gauge.low},
               "wall": {"running_temperature": running, "distortion": distortion}}
    decisions = dict(upstream.decisions)
    for key, results in changes.items():
        old = decisions[key]
        decisions[key] = replace(old, results={**old.results, **results}, files={})
    return replace(upstream, decisions=decisions)


def as_assumed(upstream: Upstream) -> Upstream:
    given = upstream.decision("shrinkage").inputs
    gauge, spread = given["assumed_gauge"], given["gauge_spread"]
    running = Band.around(given["tool_running_temperature"], given["running_spread"])
    return with_found(upstream, Band.around(gauge, gauge * spread), running, 0.0)


def test_nothing_moves_when_all_is_found_as_assumed(upstream):
    ledgers = closed(as_assumed(upstream))
    assert all(ledgers.use(line) == pytest.approx(0.0, abs=1e-9) for line in ledgers.found.lines)
    assert ledgers.found.joint == pytest.approx(ledgers.assumed.joint)


def test_a_warmer_tool_is_drawn_smaller_by_its_expansion(upstream):
    """Definition of linear expansion: L'/L = (1 + a dT) / (1 + a dT')."""
    base = as_assumed(upstream)
    given = upstream.decision("shrinkage").inputs
    warm = Band.around(given["tool_running_temperature"] + 20.0, given["running_spread"])
    gauge = Band.around(given["assumed_gauge"], given["assumed_gauge"] * given["gauge_spread"])
    ledgers = closed(with_found(base, gauge, warm, 0.0))
    expansion = ledgers.found.bands["tool expansion"].typical
    rise = given["tool_running_temperature"] - 296.15
    factor = (1 + expansion * rise) / (1 + expansion * (rise + 20.0))
    for before, after in zip(ledgers.assumed.lines, ledgers.found.lines, strict=True):
        if before.scale and before.row["kind"] == "centres":
            assert after.drawn / before.drawn == pytest.approx(factor, rel=1e-6)


def test_what_uses_up_the_tolerance_is_a_stop(upstream):
    given = upstream.decision("shrinkage").inputs
    far = with_found(as_assumed(upstream), Band.exact(given["assumed_gauge"]),
                     Band.exact(given["tool_running_temperature"] + 90.0), 0.2e-3)
    declared = step("tool")
    outcome = declared.compute(declared.checked({}, far), far)
    assert outcome.verdict == "stop"
    assert any(c.key.startswith("moved_") and c.verdict == "stop" for c in outcome.checks)


@pytest.fixture(scope="module")
def page(session) -> Page:
    page = Page("tool", session)
    page.set(form_again=False, cell=1e-3)
    page.simulations[page._simulation_key(page.inputs)] = page.step.simulate(
        page.inputs, page.upstream, Silent())
    page.refresh()
    return page


def test_built_tool_is_whole_and_its_vents_are_open(page):
    measured = {check.key: check.verdict for check in page.outcome.checks}
    assert measured["bodies"] == measured["face"] == measured["vents"] == measured["wall"] == "pass"
    assert page.outcome["least_wall"] >= page.inputs["wall"] - 1e-9
    volume = sum(trimesh.Trimesh(p.vertices, p.faces).volume
                 for p in page.outcome.arrays["solid"].pieces)
    assert volume == pytest.approx(page.outcome["volume"], rel=2e-3)


def test_files_belong_to_a_saved_revision_and_are_whole(page, session):
    with pytest.raises(Refused, match="Save the decision first"):
        write_files(page)
    page.decide
    page._author.value, page._reason.value = "A. Maker", "tried in a test"
    page._save.click()
    files = write_files(page)
    for file in files:
        kind = file["name"].rsplit(".", 1)[1]
        loaded = trimesh.load(BytesIO(session.project.file(file["sha256"])), file_type=kind,
                              force="mesh")
        assert loaded.is_watertight
        assert np.all(loaded.extents < [281, 181, 301]), "millimetres in the demo's build volume"
    assert session.project.exports()[-1].content["files"] == files
