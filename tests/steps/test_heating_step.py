"""The decision on heating, cooling and cycle: what it answers, and what moves it which way."""

import numpy as np
import pytest

from thermoforming.guard import Refused
from thermoforming.steps.base import CAUTION, PASS, STOP
from thermoforming.steps.brief import STEP as BRIEF
from thermoforming.steps.heating import STEP
from thermoforming.steps.heating.solve import timeline
from thermoforming.steps.material import STEP as MATERIAL
from thermoforming.steps.upstream import Decision, Upstream

C = 273.15


def _saved(step, upstream, **values):
    inputs = step.checked(values, upstream)
    outcome = step.compute(inputs, upstream)
    return Decision(inputs, {r.key: r.value for r in outcome.results},
                    {t.key: list(t.rows) for t in outcome.tables}, hash=step.key)


@pytest.fixture(scope="module")
def upstream():
    brief = _saved(BRIEF, Upstream(), part="shape")
    return Upstream({"brief": brief,
                     "material": _saved(MATERIAL, Upstream({"brief": brief}))})


@pytest.fixture(scope="module")
def usual(upstream):
    return STEP.run({}, upstream)


def _check(outcome, key):
    return next(c for c in outcome.checks if c.key == key)


def test_heating_of_two_millimetres_takes_a_plausible_time(usual):
    # Common practice, no source: some 10 to 25 s a millimetre with heaters on both sides.
    assert 15.0 < usual["heating_time"].typical < 60.0
    assert _check(usual, "ready").verdict == PASS
    # 150 degC is the sheet's normal forming temperature.
    assert usual.arrays["end"].min() == pytest.approx(150 + C, abs=0.6)


def test_heat_taken_up_is_what_the_heat_content_says(usual):
    """Independent balance: heat through the faces against enthalpy of the end profile."""
    from thermoforming.reference import sheets
    hips = sheets()["hips"]
    curve = hips.curve("enthalpy")
    history = usual.arrays["shot"].heating.history
    mean = np.interp(history.of(0), curve.temperature, curve.typical) @ history.width
    taken = (mean - mean[0]) * hips.band("density").typical
    known = history.of(0).max(axis=1) < curve.temperature[-1]
    assert known.sum() > 20
    assert taken[known] == pytest.approx(history.heat[known], rel=2e-3, abs=200.0)


def test_more_power_is_faster_and_less_even(upstream, usual):
    strong = STEP.run({"running": 1.0}, upstream)
    assert strong["heating_time"].typical < 0.8 * usual["heating_time"].typical
    assert strong["surface_end"] > usual["surface_end"]


def test_thicker_sheet_takes_longer(upstream, usual):
    thick = STEP.run({"gauge": 4e-3, "thickest": 4e-3}, upstream)
    assert thick["heating_time"].typical > 2 * usual["heating_time"].typical
    assert thick["contact_time"] > 2 * usual["contact_time"]
    assert thick["formable_air"] > 1.5 * usual["formable_air"]


def test_one_side_is_slower_than_two(upstream, usual):
    one = STEP.run({"sides": "one"}, upstream)
    assert one["heating_time"].typical > 1.8 * usual["heating_time"].typical


def test_a_heater_that_is_too_weak_stops_the_decision(upstream):
    weak = STEP.run({"power": 2e3, "running": 0.3}, upstream)
    assert _check(weak, "ready").verdict == STOP
    assert weak["heating_time"] is None


def test_time_by_hand_is_taken(upstream):
    short = STEP.run({"typed_time": 10.0}, upstream)
    assert _check(short, "ready").verdict == STOP
    assert short.table("cycle").rows[1]["seconds"] == pytest.approx(10.0)


def test_scorching_is_a_stop(upstream):
    hot = STEP.run({"typed_time": 90.0, "running": 1.0}, upstream)
    assert _check(hot, "surface").verdict == STOP


def test_the_printed_tool_is_the_brake(usual):
    """On a wall of photopolymer cooling takes longer than on one that does not warm."""
    assert usual["contact_time"] - 2.0 > 1.5 * usual["cooling_ideal"]
    assert _check(usual, "brake").verdict == CAUTION


def test_release_is_never_faster_than_the_ideal_tool(upstream):
    for wall in (2e-3, 6e-3, 20e-3):
        found = STEP.run({"wall": wall}, upstream)
        assert found["contact_time"] - 2.0 > found["cooling_ideal"]


def test_cold_transfer_is_told(upstream):
    late = STEP.run({"transfer": 50.0}, upstream)
    assert _check(late, "formable").verdict == STOP


def test_outer_zones_even_out_the_sheet(upstream, usual):
    rows = [dict(left=1.3, middle=1.0, right=1.3), dict(left=1.0, middle=0.7, right=1.0),
            dict(left=1.3, middle=1.0, right=1.3)]
    even = STEP.run({"zones": rows}, upstream)
    assert even["map_spread"] < 0.6 * usual["map_spread"]
    with pytest.raises(Refused, match="zones are off"):
        STEP.run({"zones": [dict(left=0.0, middle=0.0, right=0.0)]}, upstream)


def test_map_is_symmetric_for_even_zones(usual):
    t = usual.arrays["shot"].map[2]
    assert t == pytest.approx(t[::-1, :], rel=1e-9)
    assert t == pytest.approx(t[:, ::-1], rel=1e-9)
    assert t.max() == pytest.approx(t[t.shape[0] // 2, t.shape[1] // 2])


def test_edge_against_the_assumption_of_thinning(upstream, usual):
    told = Upstream(dict(upstream.decisions) | {"thinning": Decision(
        {"edge_cooler": 0.0, "gauge": 2e-3}, {})})
    assert usual["edge_cooler"] > 5.0
    assert _check(STEP.run({}, told), "map").verdict == CAUTION


def test_cycle_adds_up_and_two_stations_overlap(upstream, usual):
    rows = usual.table("cycle").rows
    assert sum(r["seconds"] for r in rows) == pytest.approx(usual["cycle"])
    both = STEP.run({"overlap": True}, upstream)
    assert both["cycle"] < usual["cycle"]
    inputs = dict(load=10.0, transfer=5.0, evacuate=2.0, eject=8.0, pause=0.0, overlap=True)
    assert timeline(inputs, 100.0, 20.0).cycle == pytest.approx(115.0)
    assert timeline(inputs, 100.0, 20.0).limit == "heat"
    assert timeline(inputs, 20.0, 100.0).cycle == pytest.approx(115.0)
    assert timeline(inputs, 20.0, 100.0).limit == "cool"


def test_a_pause_keeps_the_tool_cooler(upstream, usual):
    rested = STEP.run({"pause": 120.0}, upstream)
    assert rested["tool_steady"] < usual["tool_steady"] - 2.0


def test_a_long_span_of_soft_sheet_sags_onto_the_heater(upstream):
    wide = STEP.run({"sheet_x": 2.0, "sheet_y": 1.5, "clearance": 0.05}, upstream)
    assert _check(wide, "sag").verdict == STOP


def test_range_of_practice(upstream):
    # Common practice, no source: gauges of 0.5 to 4 mm, sheets up to 200 degC, tools near 75 degC.
    for gauge in (0.5e-3, 4e-3):
        found = STEP.run({"gauge": gauge, "thickest": gauge, "core": 190 + C,
                          "surface_limit": 230 + C, "tool_start": 75 + C}, upstream)
        assert found["heating_time"].typical > 0
        assert found["contact_time"] > 0
