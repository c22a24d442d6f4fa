"""The choice of sheet and tool material: refusals, comparison, reasons, own materials."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.reference import sheets
from thermoforming.steps import compare
from thermoforming.steps.base import Choice, Flag, Number
from thermoforming.steps.material import STEP, chosen_sheet, chosen_tool
from thermoforming.steps.material.findings import DOUBTFUL, MEETS, REFUSED, at_least, at_most
from thermoforming.steps.plain import content, decision_from
from thermoforming.steps.upstream import Decision, NotDecided, Upstream
from thermoforming.units import to_si

ALONE = Upstream()
OWN_ROW = dict(name="Our HIPS", kind="sheet", base="hips", property="service_temperature",
               low=88.0, typical=90.0, high=93.0, temperature=None,
               source="supplier's data sheet, rev. 3", basis="published")


def run(**changes):
    return STEP.run(changes, ALONE)


def candidate(outcome, table, name):
    return next(row for row in outcome.table(table).rows if row["name"] == name)


def check(outcome, key):
    return next(found for found in outcome.checks if found.key == key)


# ---------------------------------------------------------------- requirements

def test_clear_part_refuses_opaque_sheet_and_says_what_would_help():
    outcome = run(clear=True, service_low=283.15)
    row = candidate(outcome, "sheet_candidates", "HIPS")
    assert row["state"] == REFUSED and "clear" in row["why"] and "own material" in row["why"]
    assert candidate(outcome, "sheet_candidates", "PETG")["state"] == MEETS
    assert outcome.verdict == "stop"  # HIPS is still the chosen one


def test_refusal_says_by_how_much():
    # HIPS 68 °C typical against 90 °C asked: 22 K short
    why = candidate(run(service_high=363.15), "sheet_candidates", "HIPS")["why"]
    assert "22.0 K short of 90.0 °C" in why


@pytest.mark.parametrize("need, state", [(1.0, MEETS), (2.0, MEETS), (2.5, DOUBTFUL),
                                         (3.0, DOUBTFUL), (3.5, REFUSED), (5.0, REFUSED)])
def test_at_least_and_at_most_are_mirror_images(need, state):
    band = Band(2.0, 3.0, 4.0)
    assert at_least("x", band, need, "-").state == state
    assert at_most("x", band.scaled(-1.0), -need, "-").state == state


def test_remedy_tells_when_the_favourable_end_would_do():
    band = Band(2.0, 3.0, 4.0)
    assert "favourable" in at_least("x", band, 3.5, "-").remedy
    assert "favourable" not in at_least("x", band, 4.5, "-").remedy


def test_deeper_part_is_refused_until_a_plug_helps():
    straight = candidate(run(depth_ratio=1.1), "sheet_candidates", "HIPS")
    assert straight["state"] == REFUSED and "plug" in straight["why"]
    assisted = candidate(run(depth_ratio=1.1, assisted=True), "sheet_candidates", "HIPS")
    assert assisted["state"] != REFUSED


def test_no_drying_oven_refuses_what_must_be_dried():
    outcome = run(oven=False)
    assert candidate(outcome, "sheet_candidates", "PC")["state"] == REFUSED
    assert candidate(outcome, "sheet_candidates", "HIPS")["state"] == MEETS


def test_impossible_wish_refuses_every_sheet_and_says_so():
    outcome = run(service_high=413.15)
    assert all(row["state"] == REFUSED for row in outcome.table("sheet_candidates").rows)
    assert check(outcome, "sheet_any").verdict == "stop"


# ---------------------------------------------------------------- tool

def test_hot_tool_is_refused_with_ways_to_cool_it():
    outcome = run(cooling="still", tool_material="print_pla", cycle=90.0)
    why = candidate(outcome, "tool_candidates", "Printed PLA")["why"]
    assert "K too warm" in why and "mist would bring it to" in why
    assert "a cycle of" in why and ("shots in a row" in why or "first shot" in why)
    assert check(outcome, "tool_requirements").verdict == "stop"


def test_the_remedies_really_help():
    """Take the page at its word: cycle and pause it proposes bring the tool to its limit."""
    from thermoforming.reference import tool_materials
    from thermoforming.steps.material import tool

    hips = sheets()["hips"]
    need = STEP.checked(dict(cooling="still"), ALONE) | {
        "sheet_temperature": hips.band("forming_normal").typical}
    pla = tool_materials()["print_pla"]
    limit, hot = pla.band("usable_limit").typical, tool.running(pla, hips, need)
    assert hot.typical > limit
    slower = need | {"cycle": tool.slower_cycle(hot, limit, need)}
    assert tool.running(pla, hips, slower).steady == pytest.approx(limit, abs=1e-6)
    share = (limit - need["ambient"]) / (hot.steady - need["ambient"])
    shots = int(-hot.time_constant / need["cycle"] * np.log(1.0 - share))
    assert tool.running(pla, hips, need | {"run_shots": max(shots, 1)}).typical <= limit + 1e-6
    assert tool.running(pla, hips, need | {"run_shots": shots + 1}).typical >= limit - 1e-6


@pytest.mark.parametrize("name", ["Printed PLA", "Machined aluminium", "Plaster"])
def test_no_tool_runs_hotter_than_the_sheet_or_colder_than_the_shop(name):
    for cycle in (10.0, 60.0, 1800.0):
        row = candidate(run(cooling="still", cycle=cycle, run_shots=10_000), "tool_candidates",
                        name)
        assert 296.0 < row["running"] < sheets()["hips"].band("forming_normal").typical


def test_sheet_outside_its_window_stops():
    assert check(run(sheet_temperature=363.15), "window").verdict == "stop"
    assert check(run(sheet_temperature=402.15), "window").verdict == "caution"
    assert check(run(), "window").verdict == "pass"
    with pytest.raises(Refused, match="Sheet when formed"):
        run(sheet_temperature=340.0)


@pytest.mark.parametrize("colder", [dict(cooling="fan"), dict(cycle=240.0), dict(run_shots=1),
                                    dict(gauge=0.001), dict(ambient=283.15)])
def test_tool_runs_cooler_with_less_heat_or_more_cooling(colder):
    base = dict(cooling="still", tool_material="aluminium_machined")
    warm = run(**base)["running_temperature"].typical
    assert run(**{**base, **colder})["running_temperature"].typical < warm


def test_quantity_beyond_practice_asks_for_more_tools():
    why = candidate(run(quantity=900), "tool_candidates", "Heat-resistant photopolymer")["why"]
    assert "12 tools in turn" in why  # 900 shots at a typical 80 a tool


def test_tool_too_long_for_the_machine_is_split():
    why = candidate(run(tool_length=1.0), "tool_candidates", "Heat-resistant photopolymer")["why"]
    assert "Split into 4 pieces" in why  # 1000 mm in a usual 300 mm


def test_late_tool_is_refused():
    row = candidate(run(days=2 * 86400.0), "tool_candidates", "Machined aluminium")
    assert row["state"] == REFUSED and "above 2.00 d" in row["why"]


def test_thin_wall_under_pressure_is_refused_with_a_thickness_that_bears_it():
    weak = candidate(run(pressure=600e3, span=0.1, wall=0.003), "tool_candidates",
                     "Heat-resistant photopolymer")
    assert weak["state"] == REFUSED and "A wall of" in weak["why"]


def test_food_contact_says_what_to_ask_of_whom():
    asked = [c for c in run(food_contact=True).checks if c.key.startswith("food_")]
    assert {c.key for c in asked} == {"food_hips", "food_photopolymer_heat"}
    assert any("declaration of compliance" in c.message for c in asked)
    assert not [c for c in run().checks if c.key.startswith("food_")]


def test_chemicals_of_the_brief_are_held_against_the_sheet():
    brief = Decision(inputs={"chemicals": "isopropanol wipes"}, results={})
    outcome = STEP.run({}, Upstream({"brief": brief}))
    assert "isopropanol wipes" in check(outcome, "chemicals").message
    assert "craze" in check(outcome, "chemicals").message  # what the table says of HIPS


def test_window_pvc_and_polyolefin_cautions():
    metal = run(sheet="pvc_rigid", tool_material="aluminium_machined")
    assert check(metal, "pvc_metal").verdict == "caution"
    assert check(run(sheet="hdpe", tool_material="aluminium_machined"), "polyolefin_face")
    assert check(run(tool_material="sintered_pa12"), "porous").verdict == "caution"


# ---------------------------------------------------------------- comparison

CRITERION = (compare.Criterion("x", "X", True), compare.Criterion("y", "Y", False))


def test_how_often_first_of_two_normals_is_the_closed_form():
    """P(A > B) of two independent normals is Phi(delta / sqrt(2) sigma), scipy.stats.norm."""
    draw = np.random.default_rng(1).normal(size=(2, 200_000))
    samples = {"a": {"x": draw[0] + 0.5, "y": np.zeros(200_000)},
               "b": {"x": draw[1], "y": np.zeros(200_000)}}
    typical = {"a": {"x": 0.5, "y": 0.0}, "b": {"x": 0.0, "y": 0.0}}
    found = compare.compared(["a", "b"], CRITERION, {"x": 1.0, "y": 0.0}, samples, typical,
                             {"x": (0.0, 1.0), "y": (0.0, 1.0)})
    expected = norm.cdf(0.5 / np.sqrt(2.0))
    assert found.beats[0, 1] == pytest.approx(expected, abs=0.005)
    assert found.first == pytest.approx([expected, 1.0 - expected], abs=0.005)
    assert found.alike() == [(0, 1)]


def test_shares_add_to_one_and_ties_are_shared():
    samples = {key: {"x": np.ones(10), "y": np.ones(10)} for key in "abc"}
    typical = {key: {"x": 1.0, "y": 1.0} for key in "abc"}
    found = compare.compared(list("abc"), CRITERION, {"x": 1.0, "y": 1.0}, samples, typical,
                             {"x": (0.0, 2.0), "y": (2.0, 0.0)})
    assert found.first == pytest.approx([1 / 3] * 3)
    assert len(found.alike()) == 3


def test_utility_is_0_at_the_worst_and_1_at_the_best():
    less = compare.Criterion("price", "Price", False, True)
    scale = compare.scale_of(less, [1.0, 10.0, 100.0])
    assert compare.utility(less, np.array([100.0, 10.0, 1.0]), scale) == pytest.approx(
        [0.0, 0.5, 1.0])


def test_scaling_all_weights_changes_nothing():
    one = run()
    two = run(**{f"sheet_{c}": 2.0 * one_weight for c, one_weight in
                 dict(price=5, window=4, shrinkage=3, toughness=2).items()})
    rows = [[(r["name"], r["first"]) for r in o.table("sheet_candidates").rows] for o in (one, two)]
    assert rows[0] == rows[1]


def test_a_weight_moves_the_picture():
    toughness = {f"sheet_{c.key}": 0.0 for c in _sheet_criteria()} | {"sheet_toughness": 10.0}
    rows = run(**toughness).table("sheet_candidates").rows
    score = {row["name"]: row["score"].typical for row in rows if row["score"]}
    impact = {m.text("short"): m.band("impact_strength").typical for m in sheets().values()}
    # with one weight left, typical scores stand in the order of that property in the table
    assert sorted(score, key=score.get) == sorted(score, key=impact.get)
    assert rows[0]["name"] != run().table("sheet_candidates").rows[0]["name"]


def test_refusing_one_does_not_move_the_scores_of_the_others():
    free, bound = run(), run(impact=5e3)
    score = {o: candidate(o_, "sheet_candidates", "ABS")["score"]
             for o, o_ in (("free", free), ("bound", bound))}
    assert score["free"] == score["bound"]


def test_pairs_that_cannot_be_told_apart_are_listed_from_the_top():
    outcome = run()
    pairs = outcome.table("sheet_alike").rows
    rank = [row["name"] for row in outcome.table("sheet_candidates").rows]
    assert {pairs[0]["one"], pairs[0]["other"]} == {"HIPS", "ABS"}
    assert all(rank.index(p["one"]) < rank.index(p["other"]) for p in pairs)
    assert all(0.1 < p["better"] < 0.9 for p in pairs)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_anything_permitted_gives_an_answer_or_a_sentence(data):
    values = {}
    for field in STEP.fields:
        if isinstance(field, Number):
            low, high = (to_si(end, field.shown) for end in (field.low, field.high))
            number = st.floats(low, high)
            values[field.key] = data.draw(st.none() | number if field.optional else number)
        elif isinstance(field, Choice):
            keys = [key for key, _ in field.choices(ALONE) if key != "own"]
            values[field.key] = data.draw(st.sampled_from(keys))
        elif isinstance(field, Flag):
            values[field.key] = data.draw(st.booleans())
    try:
        outcome = STEP.run(values, ALONE)
    except Refused as refused:
        assert "Sheet when formed" in str(refused)
        return
    for kind in ("sheet", "tool"):
        shares = [row["first"] for row in outcome.table(f"{kind}_candidates").rows
                  if row["first"] is not None]
        assert not shares or sum(shares) == pytest.approx(1.0)
    assert outcome["reason"] and np.isfinite(outcome["running_temperature"].typical)


def test_the_same_inputs_give_the_same_numbers():
    assert run().results == run().results


def _sheet_criteria():
    from thermoforming.steps.material.sheet import CRITERIA
    return CRITERIA


# ---------------------------------------------------------------- reason, own, record

def test_reason_names_weights_shares_and_who_cannot_be_told_apart():
    reason = run()["reason"]
    for part in ("HIPS meets", "Refused:", "Weighed: cheap sheet 36%", "comes first in",
                 "cannot be told apart from"):
        assert part in reason


def test_own_material_is_chosen_by_name_and_marked():
    outcome = run(sheet="own", own_sheet="Our HIPS", own=[OWN_ROW], service_high=355.15)
    row = candidate(outcome, "sheet_candidates", "Our HIPS (own)")
    assert row["state"] == MEETS
    assert candidate(outcome, "sheet_candidates", "HIPS")["state"] == REFUSED
    marked = [r for r in outcome.table("sheet_properties").rows if "user's own" in r["source"]]
    assert {r["key"] for r in marked} == {"name", "short", "service_temperature"}


def test_own_material_travels_with_the_record():
    values = STEP.checked(dict(sheet="own", own_sheet="Our HIPS", own=[OWN_ROW]), ALONE)
    saved = decision_from(content(STEP, values, STEP.compute(values, ALONE)))
    later = Upstream({"material": saved})
    assert chosen_sheet(later).band("service_temperature").typical == pytest.approx(363.15)
    assert chosen_sheet(later).user
    assert chosen_tool(later).key == "photopolymer_heat"


@pytest.mark.parametrize("change, said", [
    (dict(name=""), "no name"), (dict(name="hips"), "shared material"),
    (dict(base="print_pla"), "cannot be like"), (dict(source=" "), "no source"),
    (dict(typical=99.0), "out of order"), (dict(low=-300.0), "physics"),
])
def test_bad_own_row_is_refused_in_words(change, said):
    with pytest.raises(Refused, match=said):
        run(own=[OWN_ROW | change])


def test_own_tool_material_is_chosen_by_name():
    row = dict(name="Our resin", kind="tool", base="photopolymer_general",
               property="usable_limit", low=70.0, typical=80.0, high=90.0, temperature=None,
               source="measured on a bar, 2026-02", basis="measured")
    values = STEP.checked(dict(tool_material="own", own_tool="Our resin", own=[row]), ALONE)
    outcome = STEP.compute(values, ALONE)
    assert outcome["usable_limit"].typical == pytest.approx(353.15)
    saved = decision_from(content(STEP, values, outcome))
    assert chosen_tool(Upstream({"material": saved})).base == "photopolymer_general"


def test_own_material_that_is_not_there_is_refused():
    with pytest.raises(Refused, match="no own material"):
        run(sheet="own", own_sheet="nothing")


def test_later_steps_are_told_when_nothing_is_saved():
    with pytest.raises(NotDecided):
        chosen_sheet(ALONE)


def test_defaults_come_from_the_brief_where_it_is_saved():
    brief = Decision(inputs={"quantity": 500.0}, results={})
    assert STEP.defaults(Upstream({"brief": brief}))["quantity"] == 500.0


def test_every_table_row_carries_a_source_and_a_basis():
    for key in ("sheet_properties", "tool_properties"):
        for row in run().table(key).rows:
            assert row["source"] and row["basis"], row


def test_two_bodies_of_one_material_meet_halfway():
    # Carslaw and Jaeger: with equal effusivity the contact temperature is the mean.
    from thermoforming.physics.toolheat import contact_temperature, effusivity
    e = effusivity(0.2, 1050.0, 1300.0)
    assert contact_temperature(400.0, 300.0, e, e) == pytest.approx(350.0)
    # and steel (k 50, rho 7800, c 470: handbook, from memory) barely warms
    steel = effusivity(50.0, 7800.0, 470.0)
    assert 300.0 < contact_temperature(400.0, 300.0, e, steel) < 306.0
