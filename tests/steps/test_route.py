"""The route step: worked by hand, and what must hold whatever the inputs."""

import numpy as np
import pytest
from matplotlib.mathtext import MathTextParser
from scipy import stats

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.pages.charts import Scene, drawn
from thermoforming.pages.exercises.route import EXERCISES
from thermoforming.pages.figures import route as figures
from thermoforming.physics.nest import nest
from thermoforming.reference import sheets, tool_materials
from thermoforming.steps import experience
from thermoforming.steps.experience import Here, judged
from thermoforming.steps.material import STEP as MATERIAL
from thermoforming.steps.plain import content, decision_from
from thermoforming.steps.route import STEP
from thermoforming.steps.route.life import shots_of_a_place
from thermoforming.steps.upstream import Decision, NotDecided, Upstream

HOUR, DAY = 3600.0, 86400.0


@pytest.fixture(scope="module")
def upstream():
    """A brief of a tray of 240 by 160 by 35 mm, and the material step at its defaults."""
    brief = Decision(
        inputs={"quantity": 80, "batch": 40, "forms_x": 1, "forms_y": 1, "days": 21 * DAY,
                "dimensions": [{"name": "D1", "restraint": "trim", "minus": 8e-4, "plus": 8e-4}]},
        results={"footprint_x": 0.24, "footprint_y": 0.16, "draw_depth": 0.035,
                 "draw_ratio_area": 1.6, "blank_x": 0.31, "blank_y": 0.23,
                 "forming_method": "straight vacuum"})
    nothing = Upstream()
    inputs = MATERIAL.checked({}, nothing)
    material = decision_from(content(MATERIAL, inputs, MATERIAL.compute(inputs, nothing)))
    return Upstream({"brief": brief, "material": material})


def one_route(**changes):
    row = {"name": "bought", "way": "bought", "material": "aluminium_machined",
           "price_low": 1000.0, "price_high": 1000.0, "days_low": 10 * DAY, "days_high": 10 * DAY,
           "cycle": None, "chosen": True}
    return row | changes


def run(upstream, **changes):
    return STEP.run(changes, upstream)


def run_of(shots, ended="running", **changes):
    return {"origin": "an older job", "tool_material": "photopolymer_heat", "sheet": "hips",
            "shots": shots, "ended": ended, "sheet_temperature": 440.0, "gauge": 0.002,
            "method": "straight vacuum", "wall": 0.005, "cooling": "air", "cycle": 90.0} | changes


def test_needs_brief_and_material():
    inputs = STEP.checked({}, Upstream())  # the page opens, and says what is missing
    with pytest.raises(NotDecided):
        STEP.compute(inputs, Upstream())


def test_a_batch_worked_by_hand(upstream):
    """Every rate exact: the sums are written out here."""
    outcome = run(
        upstream, quantity=100, batches=1, routes=[one_route()], spread=0.0, sheet_price=3.0,
        scrap=0.0, startup=0, setup_batch=0.0, fixture=50.0, finishing=0.0, regrind=0.0,
        cycle=72.0, forming_rate=20 / HOUR, labour_rate=30 / HOUR, attendance=1.0,
        trim_rate=0.0, queue=0.0, work_day=10 * HOUR)
    nest = outcome["blanks"]
    gauge = upstream.input("material", "gauge")
    density = sheets()["hips"].band("density").typical
    sheet = 2.0 * gauge * density * 3.0 / nest
    # trimming: typical handling 30 s and pace 25 s/m over 0.8 m of edge
    part = sheet + 72 * 50 / HOUR + (30 + 25 * 0.8) * 30 / HOUR
    assert outcome["part_cost"].typical == pytest.approx(part)
    assert outcome["batch_cost"].typical == pytest.approx(1000 + 50 + 100 * part)
    assert outcome["tools"] == 1
    # 10 h a day at 72 s: 500 parts a day
    assert outcome["days_last"].typical == pytest.approx(10 * DAY + 100 / 500 * DAY)


def test_parts_formed_together_share_machine_sheet_and_operator(upstream):
    alone, twins = (run(upstream, routes=[one_route()], forms=forms).arrays["routes"].route.part
                    for forms in (1, 2))
    for item in ("sheet", "forming machine", "operator"):
        assert twins.items[item][0] == pytest.approx(alone.items[item][0] / 2)
    assert twins.items["trimming"][0] == pytest.approx(alone.items["trimming"][0])
    assert twins.per_day[0] == pytest.approx(2 * alone.per_day[0])


def test_every_batch_is_set_up_and_started_anew(upstream):
    """Fixture once; set-up and start-up shots, with their sheet and cycle, for each batch."""
    values = dict(routes=[one_route()], fixture=50.0, setup_batch=HOUR, startup=5, scrap=0.0,
                  labour_rate=30 / HOUR, forming_rate=20 / HOUR, quantity=60)
    for batches in (1, 3):
        outcome = run(upstream, batches=batches, **values)
        route = outcome.arrays["routes"].route
        shot = sum(route.part.items[name][0] for name in ("sheet", "forming machine", "operator"))
        assert route.fixed[0] == pytest.approx(50 + batches * (50 + 5 * shot))
        assert outcome["sheets"] * outcome["blanks"] >= 60 + 5 * batches
    shots = shots_of_a_place(60, {"scrap": 0.25, "forms": 2, "startup": 5, "batches": 3})
    assert shots == 60 / 0.75 / 2 + 15


def test_a_print_worked_by_hand(upstream):
    material = tool_materials()["photopolymer_heat"]
    rates = [{"material": "photopolymer_heat", "price": 100.0, "machine_rate": 6 / HOUR,
              "build_rate": 50e-6 / HOUR, "hand_work": 2 * HOUR}]
    outcome = run(upstream, routes=[one_route(way="printed", material="photopolymer_heat",
                                              price_low=None, price_high=None, days_low=None,
                                              days_high=None)],
                  rates=rates, spread=0.0, labour_rate=40 / HOUR, solid_volume=500e-6,
                  print_height=0.045, layer_time=6.0, setup=HOUR, waste=0.1, finishing=15.0)
    hours = 1 + 10 + 0.045 / material.band("layer_height").typical * 6 / 3600
    mass = 500e-6 * material.band("density").typical * 1.1
    assert outcome["machine_time"].typical == pytest.approx(hours * HOUR)
    assert outcome["tool_cost"].typical == pytest.approx(mass * 100 + hours * 6 + 2 * 40 + 15)


def test_blank_price_of_a_bought_tool_is_said_to_be_a_guess(upstream):
    outcome = run(upstream)
    rates = next(check for check in outcome.checks if check.key == "rates")
    assert rates.verdict == "caution" and "guessed" in rates.message
    alone = one_route(price_low=None, price_high=None)
    with pytest.raises(Refused, match="price is blank"):
        run(upstream, routes=[alone])


def test_prices_the_wrong_way_round_are_refused(upstream):
    with pytest.raises(Refused, match="price from is above"):
        run(upstream, routes=[one_route(price_low=9.0, price_high=5.0)])


def test_break_even_without_replacement_is_the_textbook_one(upstream):
    """Two bought tools that outlast every batch: (F_B - F_A) / (c_A - c_B)."""
    dear = one_route(name="dear", price_low=2200.0, price_high=2200.0, cycle=30.0, chosen=False)
    cheap = one_route(name="cheap", price_low=300.0, price_high=300.0, cycle=90.0)
    outcome = run(upstream, routes=[cheap, dear], scrap=0.0, startup=0, quantity=800,
                  forming_rate=20 / HOUR, labour_rate=40 / HOUR, attendance=1.0)
    even = outcome.arrays["break_evens"][0]
    assert (even.cheaper, even.dearer) == ("dear", "cheap")
    assert even.quantity.typical == pytest.approx(1900 / (60 * 60 / HOUR), rel=1e-6)


def test_more_clean_shots_never_ask_for_more_tools(upstream):
    tools = [run(upstream, experience=[run_of(shots)] if shots else [])["tools"]
             for shots in (0, 30, 100, 300)]
    assert tools == sorted(tools, reverse=True)


def test_reliability_is_clopper_pearson_of_what_counts(upstream):
    runs = [run_of(60), run_of(45, "cracked"), run_of(500, tool_material="board_dense")]
    outcome = run(upstream, experience=runs, confidence=0.9)
    # One-sided lower bound at 90 % is the lower end of a two-sided 80 % interval (scipy).
    outside = stats.binomtest(104, 105).proportion_ci(0.8, "exact").low
    assert outcome["reliability"] == pytest.approx(outside)
    said = outcome.table("runs").rows
    assert [row["counts"] for row in said] == ["yes", "yes", "no"]


def test_no_evidence_is_a_caution(upstream):
    check = next(c for c in run(upstream).checks if c.key == "evidence")
    assert check.verdict == "caution" and "No run" in check.message


def test_fifty_clean_shots_promise_little(upstream):
    """At 90 % confidence: 0.1^(m/n) for chance, 0.1^(((n+m)^2-n^2)/n^2) for wear of shape 2."""
    rows = {row["further"]: row for row in run(upstream).table("promise").rows}
    assert rows[50.0]["chance"] == pytest.approx(0.1) and rows[25.0]["chance"] == pytest.approx(
        0.1**0.5)
    assert rows[50.0]["wear"] == pytest.approx(0.1**3)


def test_a_route_that_cannot_carry_the_quantity_is_stopped(upstream):
    outcome = run(upstream, quantity=50_000)
    assert outcome["tools"] is None and outcome.verdict == "stop"


def test_parts_formed_together_need_a_tool_each(upstream):
    durable = one_route()
    assert run(upstream, routes=[durable], forms=4)["tools"] == 4


def test_tight_trim_is_stopped(upstream):
    tight = Decision(inputs=dict(upstream.decision("brief").inputs) | {"dimensions": [
        {"name": "D1", "restraint": "trim", "minus": 1e-4, "plus": 1e-4}]},
        results=upstream.decision("brief").results)
    outcome = run(Upstream(dict(upstream.decisions) | {"brief": tight}))
    assert next(c for c in outcome.checks if c.key == "trim").verdict == "stop"


def test_bands_hold_the_typical_and_the_same_inputs_give_the_same_record(upstream):
    first, again = run(upstream), run(upstream)
    assert first["batch_cost"] == again["batch_cost"]
    for result in first.results:
        if isinstance(result.value, Band):
            assert result.value.low <= result.value.typical <= result.value.high


def test_plain_content_is_complete(upstream):
    inputs = STEP.checked({"experience": [run_of(60)]}, upstream)
    decision = decision_from(content(STEP, inputs, STEP.compute(inputs, upstream)))
    assert decision.inputs["experience"] == inputs["experience"]


def test_worked_lines_can_be_printed(upstream):
    parser = MathTextParser("agg")
    outcome = run(upstream, experience=[run_of(60), run_of(45)])
    assert len(outcome.worked) >= 6
    for line in outcome.worked:
        parser.parse(f"${line.formula}$")
        parser.parse(f"${line.numbers}$")


def test_figures_draw(upstream):
    inputs = STEP.checked({"experience": [run_of(60), run_of(45, "worn")]}, upstream)
    scene = Scene(inputs, STEP.compute(inputs, upstream), upstream)
    for panel in figures.panels():
        before = len(panel.make().data)
        assert len(drawn(panel, scene).data) == before


# ---------------------------------------------------------------------------- experience

def test_gentler_run_does_not_count_and_a_harder_one_does():
    here = Here("photopolymer_heat", "hips", sheet_temperature=440.0)
    cooler, hotter = judged([run_of(60, sheet_temperature=415.0),
                             run_of(60, sheet_temperature=465.0)], here, nearness=15.0)
    assert not cooler.counts and "too gentle" in cooler.differences[0]
    assert hotter.counts and "hotter" in hotter.differences[0]


def test_differences_are_said():
    here = Here("photopolymer_heat", "hips", 440.0, gauge=0.004, method="plug assist", wall=0.01,
                cycle=30.0)
    found = judged([run_of(60, sheet="abs")], here, 15.0)[0]
    assert found.counts
    text = " ".join(found.differences)
    for word in ("another sheet", "thinner", "thinner wall", "slower", "straight vacuum"):
        assert word in text


def test_rows_from_another_project():
    trial = Decision(inputs={"tools_run": [{"tool": "tool 1", "shots": 52, "ended": "cracked"},
                                           {"tool": "tool 2", "shots": 0, "ended": "running"}],
                             "shots": [{"sheet_temperature": 430.0, "cycle": 80.0},
                                       {"sheet_temperature": 434.0, "cycle": None}]}, results={})
    material = Decision(inputs={"tool_material": "photopolymer_heat", "sheet": "hips",
                                "gauge": 0.002}, results={})
    rows = experience.from_project("Buoy lid", {"trial": trial, "material": material})
    assert len(rows) == 1
    row = rows[0]
    assert row["origin"] == "Buoy lid, tool 1" and row["ended"] == "cracked"
    assert row["sheet_temperature"] == pytest.approx(432.0) and row["cycle"] == 80.0
    field = STEP.field("experience")
    assert field.checked(rows, Upstream())[0]["shots"] == 52
    assert experience.from_project("Empty", {}) == []


@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda e: e.key)
def test_exercises_can_be_solved(exercise):
    posed = exercise.pose(np.random.default_rng(7))
    assert posed.right(posed.answer) and posed.solution and posed.source


def test_clean_run_exercise_agrees_with_scipy():
    posed = EXERCISES[0].pose(np.random.default_rng(3))
    shots, confidence = (int(word) for word in posed.question.replace("%", "").split()
                         if word.isdigit())
    outside = stats.binomtest(shots, shots).proportion_ci(2 * confidence / 100 - 1, "exact").low
    assert posed.answer == pytest.approx(100 * outside, rel=1e-9)


def test_blanks_exercise_agrees_with_the_page():
    for seed in range(4):
        posed = next(e for e in EXERCISES if e.key == "blanks").pose(np.random.default_rng(seed))
        a, b = [int(word) for word in posed.question.split() if word.isdigit()][:2]
        assert nest(1.2, 0.8, a / 1000, b / 1000).count == posed.answer
