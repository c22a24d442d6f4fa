"""The decision on vents: what it answers, and what moves it which way."""

import math

import numpy as np
import pytest

from thermoforming.guard import Refused
from thermoforming.steps.base import CAUTION, PASS, STOP
from thermoforming.steps.brief import STEP as BRIEF
from thermoforming.steps.material import STEP as MATERIAL
from thermoforming.steps.brief.part import part_surface
from thermoforming.steps.upstream import Decision, Upstream, packed
from thermoforming.steps.vents import STEP


def _saved(step, upstream, **values):
    inputs = step.checked(values, upstream)
    outcome = step.compute(inputs, upstream)
    return Decision(inputs, {r.key: r.value for r in outcome.results},
                    {t.key: list(t.rows) for t in outcome.tables}, hash=step.key)


@pytest.fixture(scope="module")
def upstream():
    """A simple tray with one cavity of 200 x 120 x 40 mm."""
    brief = _saved(BRIEF, Upstream(), part="shape")
    return Upstream({"brief": brief,
                     "material": _saved(MATERIAL, Upstream({"brief": brief}))})


@pytest.fixture(scope="module")
def usual(upstream):
    return STEP.run({}, upstream)


def _check(outcome, key):
    return next(c for c in outcome.checks if c.key == key)


def test_proposes_vents_round_the_floor_of_the_tray(usual):
    rows = usual.table("vent_list").rows
    assert len(rows) == usual["vents"] > 4
    z = np.array([r["z"] for r in rows])
    assert np.all(z < -0.035)  # the floor is 40 mm below the rim
    assert {r["reason"] for r in rows} <= {"corner", "edge", "last contact", "pocket"}
    x, y = (np.array([abs(r[c]) for r in rows]) for c in "xy")
    assert np.any((x > 0.07) & (y > 0.035))  # near a corner of the floor


def test_the_air_is_out_in_a_plausible_time(usual):
    # Common practice, no source: thin and medium gauge evacuate in 0.2 to 3 s.
    assert 0.05 < usual["time"].typical < 3.0
    assert usual["time"].low <= usual["time"].typical <= usual["time"].high
    assert _check(usual, "time").verdict == PASS


def test_first_estimate_of_the_worked_calculation_is_of_the_same_size(usual):
    # Closed form: choked vents, never covered, constant volume.
    text = next(w.result for w in usual.worked if "first estimate" in w.title)
    assert float(text.split()[0]) == pytest.approx(usual["time"].typical, rel=1.0)


def test_fewer_and_smaller_vents_are_slower(upstream, usual):
    few = STEP.run({"most": 4}, upstream)
    small = STEP.run({"bore": 0.4e-3}, upstream)
    assert few["time"].typical > 2 * usual["time"].typical
    assert small["time"].typical > 2 * usual["time"].typical
    assert small["bulge"].typical < usual["bulge"].typical


def test_formable_time_is_an_assumption_until_heating_is_saved(upstream, usual):
    assert "assumption" in _check(usual, "time").source
    later = Upstream(dict(upstream.decisions) | {"heating": Decision(
        {"transfer": 5.0}, {"formable_air": 40.0, "cycle": 100.0})})
    known = STEP.run({}, later)
    assert "heating page" in _check(known, "time").source
    assert known["available"] == pytest.approx(35.0)
    assert "found 40" in _check(STEP.run({"formable": 20.0}, later), "time").source


def test_too_short_a_time_is_a_stop(upstream):
    found = STEP.run({"formable": 4.05, "transfer": 4.0, "most": 4}, upstream)
    assert _check(found, "time").verdict == STOP


def test_without_a_vent_everything_stops(upstream):
    found = STEP.run({"placing": "listed", "listed": []}, upstream)
    assert _check(found, "pockets").verdict == STOP
    assert _check(found, "time").verdict == STOP
    assert found["time"] is None


def test_vents_by_hand_go_to_the_face_below_them(upstream):
    rows = [{"x": 0.0, "y": 0.0, "why": "logo"}, {"x": 0.08, "y": 0.04, "why": ""}]
    found = STEP.run({"placing": "listed", "listed": rows}, upstream)
    first, second = found.table("vent_list").rows
    assert (first["x"], first["y"]) == pytest.approx((0.0, 0.0), abs=5e-3)
    assert first["z"] == pytest.approx(-0.04, abs=1e-3)
    assert first["reason"] == "logo" and second["reason"] == "placed by hand"


def test_the_engineer_moves_adds_and_leaves_out(upstream, usual):
    last = usual["vents"]
    changes = [{"what": "move", "number": 3, "x": 0.0, "y": 0.0, "why": "clear of the rib"},
               {"what": "omit", "number": 5, "x": 0.0, "y": 0.0, "why": ""},
               {"what": "add", "number": 0, "x": 0.02, "y": 0.0, "why": "logo"}]
    rows = {r["number"]: r for r in STEP.run({"changes": changes}, upstream)
            .table("vent_list").rows}
    assert (rows[3]["x"], rows[3]["y"]) == pytest.approx((0.0, 0.0), abs=5e-3)
    assert 5 not in rows and rows[last + 1]["reason"] == "logo"
    assert rows[4] == usual.table("vent_list").rows[3]
    with pytest.raises(Refused, match="no vent number 399"):
        STEP.run({"changes": [changes[1] | {"number": 399}]}, upstream)


def test_a_vent_that_the_sheet_covers_early_carries_little(upstream):
    """One vent in the middle of the floor is covered long before the corners are full."""
    middle = STEP.run({"placing": "listed",
                       "listed": [{"x": 0.0, "y": 0.0, "why": ""}] * 10}, upstream)
    assert middle["time"] is None or middle["time"].typical > 1.0


def test_large_bores_leave_a_mark(upstream):
    found = STEP.run({"bore": 4e-3, "gauge": 0.5e-3}, upstream)
    assert _check(found, "bulge").verdict == STOP
    assert _check(found, "practice").verdict == CAUTION


def test_a_bore_too_fine_to_print_is_told(upstream):
    assert _check(STEP.run({"bore": 0.2e-3}, upstream), "printable").verdict == CAUTION


def test_long_narrow_bores_are_told(upstream):
    assert _check(STEP.run({"bore_length": 30e-3}, upstream), "length").verdict == CAUTION


def test_a_small_tank_is_not_back_for_the_next_shot(upstream):
    found = STEP.run({"tank_volume": 5e-3, "pump_speed": 1 / 3600, "cycle": 10.0}, upstream)
    assert _check(found, "second").verdict in (CAUTION, STOP)
    assert found["tank_second"] > found["tank_after"] - 20e3
    assert found["second_time"] is None or found["second_time"] > found["time"].typical


def _formed(surface):
    """Arrays as a forming run keeps them: a sheet that lies on the tool, its corners still open."""
    points = surface.vertices
    depth = points[:, 2].max() - points[:, 2]
    gone = depth / depth.max()
    near_corner = ((np.abs(points[:, 0]) > 0.085) & (np.abs(points[:, 1]) > 0.045)
                   & (gone > 0.9))
    volume, gap = 8e-4, np.where(near_corner, 2e-3, 0.0)
    lifted = points + np.where(near_corner, 1e-3, 0.0)[:, None] * [0.0, 0.0, 1.0]
    return dict(points=lifted, triangles=surface.faces, gap=gap,
                landed=np.where(near_corner, np.nan, volume * gone),
                node_gauge=2e-3 - 1.2e-3 * gone,
                curve=np.array([[0.0, 0.0], [0.5 * volume, 4e3], [volume, 2e4]]))


def test_a_formed_sheet_gives_order_gauge_and_places_on_the_tool(upstream):
    surface = part_surface(upstream)
    content = packed(_formed(surface))
    later = Upstream(dict(upstream.decisions) | {"thinning": Decision(
        {"gauge": 2e-3}, {"least_gauge": 0.8e-3}, files={"simulation": "a"}, hash="t")},
        {"a": content}.__getitem__)
    found = STEP.run({}, later)
    assert found["basis"] == "the formed sheet"
    assert _check(found, "basis").verdict == PASS
    rows = found.table("vent_list").rows
    assert all(r["z"] < -0.035 for r in rows)  # on the tool's floor, 40 mm down, not on the sheet
    assert found["gauge"] == pytest.approx(0.8e-3, rel=0.1)
    first = rows[:4]
    assert all(abs(r["x"]) > 0.08 and abs(r["y"]) > 0.04 for r in first)


def test_a_draped_sheet_that_starts_with_no_pull_is_no_refusal(upstream):
    """A sheet just laid over its form balances a little pressure from above at first."""
    arrays = _formed(part_surface(upstream))
    arrays["curve"] = np.vstack([[[1e-7, -370.0], [1e-6, -510.0]], arrays["curve"][1:]])
    content = packed(arrays)
    later = Upstream(dict(upstream.decisions) | {"thinning": Decision(
        {"gauge": 2e-3}, {"least_gauge": 0.8e-3}, files={"simulation": "a"}, hash="draped")},
        {"a": content}.__getitem__)
    assert STEP.run({}, later)["time"].typical > 0.0


def test_weak_vacuum_and_large_leaks_are_told(upstream, usual):
    assert _check(usual, "vacuum").verdict == PASS
    weak = STEP.run({"tank_pressure": 85e3, "pump_end": 80e3}, upstream)
    assert _check(weak, "vacuum").verdict == STOP
    leaky = STEP.run({"leak": 2000e-3 / 60}, upstream)  # 2000 L/min
    assert _check(leaky, "time").verdict in (CAUTION, STOP)


def test_slots_are_computed_and_negative_bores_refused(upstream):
    found = STEP.run({"kind": "slot", "gap": 0.3e-3, "slot_width": 8e-3}, upstream)
    assert math.isfinite(found["time"].typical)
    with pytest.raises(Refused, match="Bore is"):
        STEP.run({"bore": -1.0}, upstream)


def test_pressures_never_rise_above_the_atmosphere(usual, upstream):
    pockets = usual.arrays["pockets"]
    assert pockets.max() <= 101325.0 * 1.001
    assert np.all(np.diff(pockets.max(axis=0)) < 50.0)
