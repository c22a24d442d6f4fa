"""Ledger, draft and release of the demo part, against numbers worked out independently here."""

import hashlib
import json
from math import cos, degrees, pi, radians, sin
from pathlib import Path

import numpy as np
import pytest

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.reference import sheets, tool_materials
from thermoforming.steps import brief, material
from thermoforming.steps.base import CAUTION, PASS, STOP
from thermoforming.steps.plain import content, decision_from
from thermoforming.steps.shrinkage import STEP
from thermoforming.steps.shrinkage.ledger import DISTORTION, GAUGE, ledger
from thermoforming.steps.upstream import Upstream

TRAY = (Path(__file__).parents[2] / "data" / "demo" / "tray.stl").read_bytes()
MESH = {"sha256": hashlib.sha256(TRAY).hexdigest(), "name": "tray.stl"}
HIPS, RESIN = sheets()["hips"], tool_materials()["photopolymer_heat"]
DIMENSIONS = (
    dict(name="D1", nominal=0.100, plus=6e-4, minus=6e-4, direction="x"),
    dict(name="D2", nominal=0.100, plus=6e-4, minus=6e-4, direction="y"),
    dict(name="D3", nominal=0.024, plus=3e-4, minus=3e-4, direction="x", kind="diameter",
         restraint="male"),
    dict(name="D4", nominal=0.124, plus=8e-4, minus=4e-4, direction="y", side="free"),
    dict(name="D5", nominal=0.240, plus=8e-4, minus=8e-4, direction="x", restraint="trim"),
)


def decided(step, values, upstream):
    inputs = step.checked(values, upstream)
    return decision_from(json.loads(json.dumps(content(step, inputs, step.compute(inputs,
                                                                                  upstream)))))


def upstream_of(**brief_values):
    files = Upstream(read_file=lambda sha256: TRAY)
    values = {"mesh": MESH, "dimensions": list(DIMENSIONS)} | brief_values
    decisions = {"brief": decided(brief.STEP, values, files)}
    with_brief = Upstream(decisions, files.read_file)
    return Upstream(decisions | {"material": decided(material.STEP, {
        "sheet": "hips", "tool_material": "photopolymer_heat"}, with_brief)}, files.read_file)


UPSTREAM = upstream_of()


def run(upstream=UPSTREAM, **changes):
    return STEP.run(changes, upstream)


def row(outcome, name, table="ledger"):
    return next(r for r in outcome.table(table).rows if r["name"] == name)


def check(outcome, key):
    return next(c for c in outcome.checks if c.key == key)


def test_tool_dimensions_worked_by_hand():
    """L / ((1 - S)(1 + alpha dT)) with the tables' typical values, 60 degC against 23 degC."""
    outcome = run(tool_running_temperature=333.15)
    growth = 1 + RESIN.band("expansion").typical * 37.0
    for name, key, part in (("D1", "shrinkage_free_along", 0.100),
                            ("D2", "shrinkage_free_across", 0.100),
                            ("D3", "shrinkage_restrained", 0.024)):
        by_hand = part / ((1 - HIPS.band(key).typical) * growth)
        assert row(outcome, name)["drawn"] == pytest.approx(by_hand, rel=1e-9)


def test_a_free_side_dimension_aims_at_the_middle_and_adds_two_gauges():
    outcome = run(tool_running_temperature=296.15, assumed_gauge=1e-3)
    by_hand = (0.1242 + 2e-3) / (1 - HIPS.band("shrinkage_free_across").typical)
    assert row(outcome, "D4")["drawn"] == pytest.approx(by_hand, rel=1e-9)


def test_a_depth_on_the_free_side_grows_with_a_thin_floor():
    """Depth = tool's depth + gauge of the rim - gauge of the floor, so the tool is shallower."""
    free = upstream_of(dimensions=[dict(name="H", nominal=0.035, plus=5e-4, minus=5e-4,
                                        kind="depth", direction="z", side="free")])
    drawn = row(run(free, assumed_gauge=1.2e-3, rim_gauge=2e-3, tool_running_temperature=296.15),
                "H")
    shrinkage = (HIPS.band("shrinkage_free_along").typical
                 + HIPS.band("shrinkage_free_across").typical) / 2
    assert drawn["drawn"] == pytest.approx((0.035 - 0.8e-3) / (1 - shrinkage), rel=1e-9)
    assert drawn["largest"] == "gauge"


def test_the_extrusion_swaps_along_and_across():
    one, other = run(), run(extrusion="y")
    assert row(one, "D1")["drawn"] == pytest.approx(row(other, "D2")["drawn"], rel=1e-12)


def test_what_the_build_is_known_to_do_is_taken_out():
    plain, known = run(), run(build_scale=0.002, build_offset=1e-4, post_cure=-0.001)
    by_hand = (row(plain, "D1")["drawn"] + 2e-4) / (1.002 * 0.999)  # a cavity loses two faces
    assert row(known, "D1")["drawn"] == pytest.approx(by_hand, rel=1e-9)
    by_hand = (row(plain, "D3")["drawn"] - 2e-4) / (1.002 * 0.999)  # a boss gains them
    assert row(known, "D3")["drawn"] == pytest.approx(by_hand, rel=1e-9)


def test_own_figures_against_a_cold_tool_give_that_tool_again():
    own = dict(shrinkage_from="own", own_along=0.006, own_across=0.006, own_restrained=0.006,
               own_spread=0.0)
    cold = run(own_refers="cold tool", own_expansion=RESIN.band("expansion").typical,
               own_rise=37.0, tool_running_temperature=333.15, **own)
    assert row(cold, "D1")["drawn"] == pytest.approx(0.100 / 0.994, rel=1e-9)
    on_part = run(own_refers="part", tool_running_temperature=296.15, **own)
    assert row(on_part, "D1")["drawn"] == pytest.approx(0.1006, rel=1e-9)


def test_probability_of_a_dimension_by_an_independent_sample():
    """Plain Monte Carlo with numpy's triangular distribution, the chain written out again."""
    outcome = run(tool_running_temperature=333.15, running_spread=10.0)
    random, count = np.random.default_rng(7), 200_000

    def draw(band):
        return (np.full(count, band.low) if band.low == band.high else
                random.triangular(band.low, band.typical, band.high, count))

    fixed, relative = (RESIN.band(f"tolerance_{k}").typical for k in ("fixed", "relative"))
    shrinkage, alpha = draw(HIPS.band("shrinkage_free_along")), draw(RESIN.band("expansion"))
    built = (row(outcome, "D1")["drawn"] + random.triangular(-fixed, 0, fixed, count)) * (
        1 + random.triangular(-relative, 0, relative, count)) * (
        1 + random.triangular(-5e-4, 0, 5e-4, count))
    part = built * (1 + alpha * (37.0 + random.triangular(-10, 0, 10, count))) * (1 - shrinkage)
    part *= 1 + HIPS.band("expansion").typical * random.triangular(-2, 0, 2, count)
    assert row(outcome, "D1")["probability"] == pytest.approx(
        np.mean(np.abs(part - 0.100) <= 6e-4), abs=0.01)
    low, high = np.percentile(part - 0.100, [5, 95])
    assert row(outcome, "D1")["low"] == pytest.approx(low, abs=1.5e-5)
    assert row(outcome, "D1")["high"] == pytest.approx(high, abs=1.5e-5)


def test_a_joint_probability_is_no_more_than_the_weakest():
    outcome = run()
    weakest = min(r["probability"] for r in outcome.table("ledger").rows)
    assert outcome["joint"] <= weakest + 1e-12
    assert outcome["worst_dimension"] == min(outcome.table("ledger").rows,
                                             key=lambda r: r["probability"])["name"]


def test_the_share_of_the_gauge_grows_with_its_spread():
    loose, tight = run(gauge_spread=0.5), run(gauge_spread=0.02)
    assert row(loose, "D4")["largest"] == "gauge" and row(tight, "D4")["largest"] != "gauge"
    assert row(loose, "D4")["probability"] < row(tight, "D4")["probability"]
    assert row(loose, "D1")["probability"] == row(tight, "D1")["probability"]


def test_a_trimmed_edge_does_not_know_the_tool():
    warm, cold = run(tool_running_temperature=353.15), run(tool_running_temperature=303.15)
    assert row(warm, "D5")["probability"] == row(cold, "D5")["probability"]
    assert row(warm, "D5")["largest"] == "trimming" and row(warm, "D5")["scale"] is None


def test_one_scale_cannot_serve_held_and_free_dimensions():
    """A held and a free dimension along x, polyolefin-like figures: a scale between the two."""
    own = dict(shrinkage_from="own", own_along=0.02, own_across=0.02, own_restrained=0.008,
               own_spread=0.0)
    both = upstream_of(dimensions=[
        dict(name="A", nominal=0.100, plus=2e-4, minus=2e-4, direction="x"),
        dict(name="B", nominal=0.100, plus=2e-4, minus=2e-4, direction="x", restraint="male")])
    found = check(run(both, **own), "scale")
    assert found.verdict == STOP and "Raised forms" in found.message
    assert check(run(), "scale").verdict == PASS


def test_draft_of_the_demo_part():
    outcome = run()
    short = outcome.table("short").rows
    assert degrees(short[0]["mean"]) < 0.8 and short[0]["held"] == "grips"
    assert short[0]["x"] == pytest.approx(-0.004, abs=1e-3)  # the wall drawn at half a degree
    assert outcome["undercut_area"] == 0.0 and check(outcome, "undercut").verdict == PASS
    assert check(outcome, "draft").verdict == CAUTION


def test_tilting_the_pull_makes_undercuts_that_are_named():
    outcome = run(pull_from="own", tilt_x=radians(6))
    assert check(outcome, "undercut").verdict == STOP
    names = [r["name"] for r in outcome.table("undercuts").rows]
    assert names and names[0] == "U1"
    assert sum(r["volume"] for r in outcome.table("undercuts").rows) > 0
    assert (outcome.arrays["flagged"] == 2).any()


def test_the_best_pull_has_no_undercut_and_more_draft_on_the_poor_wall():
    plain, best = run(), run(pull_from="best")
    assert best["undercut_area"] == 0.0
    assert row(best, "W1", "short")["least"] > row(plain, "W1", "short")["least"]


def test_texture_and_coarse_layers_ask_for_more_draft():
    plain = run(smoothed=True)
    textured = run(upstream_of(texture_depth=5e-5), smoothed=True)
    assert textured["required_draft"] - plain["required_draft"] == pytest.approx(radians(2))
    assert run(layer_height=2e-4)["required_draft"] > run(layer_height=5e-5)["required_draft"]


def test_release_of_the_boss_worked_by_hand():
    """N = 2 pi E eps t h and F = N (mu cos d - sin d): between the 5 degrees drawn and the mean
    draft with its fillets, whose steepest part helps but never pushes.
    """
    outcome = run(strip_temperature=333.15, assumed_gauge=1.2e-3)
    boss = row(outcome, "B1", "holds")
    modulus = HIPS.curve("solid_modulus").at(333.15).typical
    strain = HIPS.band("expansion").typical * (HIPS.band("set_temperature").typical - 333.15)
    normal = 2 * pi * modulus * strain * 1.2e-3 * 0.020
    friction = HIPS.band("friction_release").typical
    at_drawn, at_mean = (normal * (friction * cos(d) - sin(d)) for d in (radians(5),
                                                                        boss["draft"]))
    assert at_mean <= boss["force"] <= at_drawn
    assert boss["low"] < boss["force"] < boss["high"]


def test_a_part_grips_more_the_colder_it_is_stripped():
    assert run(strip_temperature=353.15)["release_force"].typical < \
        run(strip_temperature=313.15)["release_force"].typical
    outcome = run(strip_temperature=333.15)
    release = outcome.arrays["release"]
    assert (np.diff(release.curve[1]) < 0).all()
    at_strip = np.interp(333.15, release.temperatures, release.curve[1])
    assert at_strip == pytest.approx(outcome["release_force"].typical, rel=0.01)
    assert sum(r["force"] for r in outcome.table("holds").rows) == pytest.approx(
        outcome["release_force"].typical, rel=1e-9)


def test_nothing_is_saved_without_what_it_stands_on():
    with pytest.raises(Refused, match="has not been saved"):
        run(Upstream())


def test_no_dimensions_give_a_caution_and_scales_all_the_same():
    outcome = run(upstream_of(dimensions=[]))
    assert check(outcome, "joint").verdict == CAUTION
    free = HIPS.band("shrinkage_free_along").typical
    growth = RESIN.band("expansion").typical * 37.0
    assert run(upstream_of(dimensions=[]), tool_running_temperature=333.15)["scale_x"] == \
        pytest.approx(1 / ((1 - free) * (1 + growth)), rel=1e-9)


def test_what_a_later_page_finds_closes_the_same_ledger():
    """Local gauge and distortion for one dimension, with the tool as it was drawn."""
    rows = UPSTREAM.input("brief", "dimensions")
    inputs = STEP.checked({}, UPSTREAM)
    first = ledger(rows, inputs, HIPS, RESIN, "female")
    drawn = {line.row["name"]: line.drawn for line in first.lines}
    thin = Band.around(inputs["assumed_gauge"] - 3e-4, 1e-4)
    second = ledger(rows, inputs, HIPS, RESIN, "female",
                    local={"D4": {GAUGE: thin, DISTORTION: Band(0.0, 1e-4, 2e-4)}}, drawn=drawn)
    one, other = ({line.row["name"]: line for line in found.lines} for found in (first, second))
    growth = 1 + RESIN.band("expansion").typical * (inputs["tool_running_temperature"] - 296.15)
    moved = 2 * 3e-4 + 1e-4 * growth * (1 - HIPS.band("shrinkage_free_across").typical)
    assert other["D4"].stack.typical - one["D4"].stack.typical == pytest.approx(moved, rel=1e-6)
    assert other["D1"].stack.typical == pytest.approx(one["D1"].stack.typical, rel=1e-12)
    assert "distortion" in other["D4"].grouped() and "distortion" not in other["D1"].grouped()
