"""The trial step: what it compares and learns, against sums by hand and simulated shops."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.mathtext import MathTextParser
from scipy import stats

from thermoforming.guard import Refused
from thermoforming.pages.charts import Scene, drawn
from thermoforming.pages.exercises.trial import EXERCISES
from thermoforming.pages.figures import trial as figures
from thermoforming.reference import sheets
from thermoforming.reference.tables import read
from thermoforming.steps.base import Cancelled
from thermoforming.steps.heating import STEP as HEATING
from thermoforming.steps.material import STEP as MATERIAL
from thermoforming.steps.plain import content, decision_from
from thermoforming.steps.trial import STEP
from thermoforming.steps.trial import defects as defects_module
from thermoforming.steps.trial.dimensions import SHRINKAGES, shrinkage_bands
from thermoforming.steps.upstream import Decision, NotDecided, Upstream, packed


def dimension(name, nominal, tolerance, direction="x", side="tool", restraint="female",
              kind="linear"):
    return {"name": name, "what": name, "kind": kind, "direction": direction, "nominal": nominal,
            "minus": tolerance, "plus": tolerance, "side": side, "restraint": restraint}


DIMENSIONS = [dimension("D1", 0.24, 8e-4, restraint="trim"), dimension("D2", 0.1, 5e-4),
              dimension("D3", 0.124, 6e-4, "y"), dimension("D4", 0.112, 5e-4, kind="centres"),
              dimension("D5", 0.024, 3e-4, restraint="male", kind="diameter")]


@pytest.fixture(scope="module")
def upstream():
    brief = Decision(inputs={"quantity": 80, "dimensions": DIMENSIONS},
                     results={"draw_ratio_area": 1.5, "smallest_internal": 0.004})
    nothing = Upstream()
    inputs = MATERIAL.checked({}, nothing)
    material = decision_from(content(MATERIAL, inputs, MATERIAL.compute(inputs, nothing)))
    return Upstream({"brief": brief, "material": material})


@pytest.fixture(scope="module")
def mapped(upstream):
    """The same with a formed sheet: a flat grid whose gauge rises from 0.5 to 1.5 mm along x."""
    x, y = np.meshgrid(np.linspace(0, 0.1, 21), np.linspace(0, 0.1, 21))
    points = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    data = packed({"points": points, "node_gauge": 0.0005 + 0.01 * points[:, 0],
                   "triangles": np.array([[0, 1, 22]])})
    thinning = Decision(inputs={"gauge": 0.002}, results={}, files={"simulation": "map"})
    return Upstream(dict(upstream.decisions) | {"thinning": thinning}, lambda sha256: data)


def run(upstream, **values):
    return STEP.run(values, upstream)


def shot(number, verdict="good", **values):
    return {"shot": number, "verdict": verdict} | values


def measured(name, *values):
    return [{"shot": i, "name": name, "value": value} for i, value in enumerate(values, start=1)]


def test_nothing_measured_says_so(upstream):
    outcome = run(upstream)
    assert outcome["reason"] == "Nothing was measured yet."
    assert outcome["good"] is None and outcome["worth"] is not None


def test_needs_brief_and_material():
    inputs = STEP.checked({}, Upstream())  # the page opens, and says what is missing
    with pytest.raises(NotDecided):
        STEP.compute(inputs, Upstream())


def test_share_of_good_parts_is_clopper_pearson(upstream):
    shots = [shot(1, "startup")] + [shot(i) for i in range(2, 10)] + [shot(10, "rejected")]
    good = run(upstream, shots=shots)["good"]
    outside = stats.binomtest(8, 9).proportion_ci(0.9, "exact")
    assert (good.low, good.typical, good.high) == pytest.approx((outside.low, 8 / 9, outside.high))


def test_one_dimension_is_the_conjugate_update_by_hand(upstream):
    """Tool measured, no local differences, scatter given: the textbook formula."""
    values = [0.0994, 0.0995, 0.0996]
    tool, scatter = 0.1002, 1e-4
    outcome = run(upstream, dimensions=measured("D2", *values), tool_at=296.15,
                  tool_dimensions=[{"name": "D2", "value": tool}], local_scatter=1e-5,
                  part_scatter=scatter, scatter_weight=50)
    prior = shrinkage_bands(upstream)["shrinkage along"]
    triangle = stats.triang((prior.typical - prior.low) / (prior.high - prior.low),
                            loc=prior.low, scale=prior.high - prior.low)  # scipy
    shown = 1 - np.array(values) / tool
    found = outcome.arrays["learned"].model
    noise = found.scatter / tool
    weight = 1 / triangle.var() + 3 / noise**2
    mean = (triangle.mean() / triangle.var() + shown.sum() / noise**2) / weight
    along = outcome["shrinkage_along"]
    assert along.typical == pytest.approx(mean, rel=2e-3)
    assert (along.high - along.low) / 2 / 1.645 == pytest.approx(weight**-0.5, rel=2e-2)


def test_scatter_weighs_expectation_and_repeats(upstream):
    found = run(upstream, dimensions=measured("D2", 0.0995, 0.0997), part_scatter=1e-4,
                scatter_weight=1).arrays["learned"].model
    # squares about the mean 2 * (0.1 mm)^2 with one degree of freedom, expectation counts as one
    assert found.scatter == pytest.approx(np.sqrt((1e-8 + 2e-8) / 2))


def test_warm_tool_is_counted_once(upstream):
    """A part as large as the cold tool has shrunk by as much as the tool had grown."""
    expansion = 1 + _expansion(upstream) * 30
    found = run(upstream, dimensions=measured("D2", 0.1), tool_at=326.15,
                tool_dimensions=[{"name": "D2", "value": 0.1}]).arrays["learned"].model
    d = next(d for d in found.dimensions if d.name == "D2")
    assert d.shrinkage(0.1) == pytest.approx(1 - 1 / expansion)


def _expansion(upstream):
    from thermoforming.steps.material import chosen_tool
    return chosen_tool(upstream).band("expansion").typical


def test_free_side_counts_the_gauge(upstream):
    brief = Decision(inputs={"quantity": 80, "dimensions": [dimension("D9", 0.1, 5e-4,
                                                                      side="free")]}, results={})
    here = Upstream(dict(upstream.decisions) | {"brief": brief})
    found = run(here, local_gauge=0.001).arrays["learned"].model
    # inside of a cavity, two walls of 1 mm within the tool: the tool is 2 mm larger
    d = found.dimensions[0]
    assert d.taken == pytest.approx(0.002)
    assert d.shrinkage(0.1) == pytest.approx(1 - 0.102 / d.hot)
    assert d.part(d.shrinkage(0.1)) == pytest.approx(0.1)


def test_corrected_cold_tool_gives_the_middle_when_it_is_warm(upstream):
    outcome = run(upstream, dimensions=measured("D3", 0.1235, 0.1236), tool_at=346.15)
    found = outcome.arrays["learned"].model
    row = next(row for row in outcome.table("corrections").rows if row["name"] == "D3")
    d = next(d for d in found.dimensions if d.name == "D3")
    hot = row["corrected"] * (1 + 50 * _expansion(upstream))
    assert hot * (1 - found.of(d)[0]) == pytest.approx(0.124)


def test_correction_puts_the_next_parts_right(upstream):
    """A simulated shop: true shrinkage 0.9 %, far from the assumed band."""
    rng = np.random.default_rng(4)
    true, tools = 0.009, {"D2": 0.1006, "D3": 0.1247, "D4": 0.1126, "D5": 0.0241}
    rows = [{"shot": i, "name": name, "value": tool * (1 - true) + 3e-5 * rng.standard_normal()}
            for i in range(1, 9) for name, tool in tools.items()]
    outcome = run(upstream, dimensions=rows, tool_at=296.15, part_scatter=5e-5,
                  tool_dimensions=[{"name": n, "value": v} for n, v in tools.items()])
    corrected = {row["name"]: row["corrected"] for row in outcome.table("corrections").rows}
    for name in tools:
        nominal = next(d["nominal"] for d in DIMENSIONS if d["name"] == name)
        assert corrected[name] * (1 - true) == pytest.approx(nominal, abs=6e-5)
    assert outcome["in_tolerance_corrected"] > outcome["in_tolerance"]


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 1000))
def test_belief_holds_the_truth_as_often_as_it_says(upstream, seed):
    """Truth drawn from the prior: its distance is a few deviations of the belief at most."""
    rng = np.random.default_rng(seed)
    empty = run(upstream).arrays["learned"].model
    unknown = rng.multivariate_normal(empty.prior.mean, empty.prior.covariance)
    rows = [{"shot": i, "name": d.name, "value": d.part(d.row @ unknown)
             + 5e-5 * rng.standard_normal()} for i in range(1, 5) for d in empty.dimensions]
    after = run(upstream, dimensions=rows).arrays["learned"].model.posterior
    assert np.all(np.abs(after.mean - unknown) < 5 * after.deviation + 1e-9)
    assert np.all(after.deviation <= empty.prior.deviation + 1e-12)


def test_more_parts_never_make_a_corrected_tool_worse(upstream):
    found = run(upstream, dimensions=measured("D2", 0.0995, 0.0996)).arrays["learned"].model
    widths = [found.after_more(n).deviation for n in (1, 3, 10, 50)]
    for fewer, more in zip(widths, widths[1:], strict=False):
        assert np.all(more <= fewer + 1e-12)


def test_worth_of_a_trial_falls_with_its_price(upstream):
    dear = run(upstream, trial_cost=500)["worth"]
    assert run(upstream, trial_cost=0)["worth"] == pytest.approx(dear + 500)


def test_outlier_is_named_kept_and_left_out_on_request(upstream):
    rows = measured("D2", 0.09951, 0.09952, 0.09949, 0.0995, 0.09953, 0.0975)
    kept = run(upstream, dimensions=rows)
    out = run(upstream, dimensions=rows, leave_out=True)
    assert "D2, shot 6" in kept["outliers"] and "D2, shot 6" in out["outliers"]
    assert out["scatter"] < kept["scatter"]
    assert next(c for c in kept.checks if c.key == "outliers").verdict == "caution"


def test_ledger_of_an_earlier_page_gives_the_tool(upstream):
    shrinkage = Decision(inputs={"shrinkage_from": "table", "extrusion": "y"}, results={},
                         tables={"ledger": [{"name": "D2", "drawn": 0.1011}]})
    here = Upstream(dict(upstream.decisions) | {"shrinkage": shrinkage})
    found = run(here).arrays["learned"].model
    d = next(d for d in found.dimensions if d.name == "D2")
    assert d.tool == pytest.approx(0.1011) and not d.tool_known
    assert d.row[SHRINKAGES.index("shrinkage across")] == 1.0, "x lies across an extrusion along y"
    tool = Decision(inputs={}, results={}, tables={"closed": [{"name": "D2", "found": 0.1012}]})
    closed = run(Upstream(dict(here.decisions) | {"tool": tool})).arrays["learned"].model
    assert next(d for d in closed.dimensions if d.name == "D2").tool == pytest.approx(0.1012)


# ---------------------------------------------------------------------------- gauge, times

def test_gauge_is_compared_with_the_nearest_place(mapped):
    rows = [{"shot": 1, "point": f"P{i}", "x": x, "y": 0.05, "z": 0.0,
             "gauge": (0.0005 + 0.01 * x) * 1.1} for i, x in enumerate((0.0, 0.05, 0.1))]
    outcome = run(mapped, gauges=rows)
    assert outcome["gauge_bias"].typical == pytest.approx(1e-4)
    assert run(mapped, gauges=rows, sheet_gauge=0.0022)["gauge_bias"].typical == pytest.approx(
        0.0, abs=1e-9)


def test_points_off_the_part_are_said(mapped):
    rows = [{"shot": 1, "point": "typo", "x": 1.0, "y": 0.0, "z": 0.0, "gauge": 0.001}]
    outcome = run(mapped, gauges=rows)
    assert "typo" in next(c for c in outcome.checks if c.key == "far").message


def test_times_against_the_page_that_predicts_them(upstream):
    heating = Decision(inputs={}, results={"cycle": 90.0})
    here = Upstream(dict(upstream.decisions) | {"heating": heating})
    shots = [shot(1, "startup", cycle=200.0), shot(2, cycle=90.5), shot(3, cycle=89.0)]
    outcome = run(here, shots=shots)
    assert next(c for c in outcome.checks if c.title == "Cycle").verdict == "pass"
    slow = run(here, shots=[shot(1, cycle=120.0)])
    assert next(c for c in slow.checks if c.title == "Cycle").verdict == "caution"


def test_camera_readings_are_corrected(upstream):
    hot = run(upstream, shots=[shot(1, sheet_temperature=430.0, read_by="camera")],
              set_emissivity=1.0, emissivity=0.8).arrays["learned"].shots.sheet[0]
    assert hot > 430.0
    plain = run(upstream, shots=[shot(1, sheet_temperature=430.0, read_by="thermocouple")])
    assert plain.arrays["learned"].shots.sheet[0] == 430.0


class Watch:
    """A run that is watched, and stopped after so many reports."""

    def __init__(self, stop_after=10_000):
        self.left = stop_after

    def report(self, fraction, text=""):
        assert 0.0 <= fraction <= 1.0
        self.left -= 1
        return self.left < 0

    def preview(self, simulation):
        pass


@pytest.fixture(scope="module")
def heated(upstream):
    """A heating page at its defaults, and what a heater that gives 82 % does in 25 s there."""
    inputs = HEATING.checked({}, upstream)
    here = Upstream(dict(upstream.decisions) | {"heating": Decision(inputs=inputs, results={})})
    weak = HEATING.compute(inputs | {"power": 0.82 * inputs["power"], "typed_time": 25.0}, here)
    shots = [shot(i, heating_time=25.0, sheet_temperature=weak["surface_end"] + error)
             for i, error in enumerate((-1.0, 0.0, 1.0), start=1)]
    return here, shots


def test_weak_heater_is_found_from_the_sheet_temperature(heated):
    here, shots = heated
    inputs = STEP.checked({"shots": shots, "thermometer": 2.0}, here)
    runs = STEP.simulate(inputs, here, Watch())
    outcome = STEP.compute(inputs, Upstream(here.decisions, None, runs))
    found = outcome["heater_learned"]
    assert found.typical == pytest.approx(0.82, abs=0.02)
    assert found.low < 0.82 < found.high and found.high - found.low < 0.2
    assert outcome.table("responses").rows[0]["count"] == 3


def test_more_readings_do_not_cure_a_thermometer(heated):
    here, shots = heated
    widths = []
    for many in (shots, shots * 5):
        inputs = STEP.checked({"shots": many, "thermometer": 8.0}, here)
        runs = STEP.simulate(inputs, here, Watch())
        found = STEP.compute(inputs, Upstream(here.decisions, None, runs))["heater_learned"]
        widths.append(found.high - found.low)
    assert widths[1] > 0.95 * widths[0]


def test_run_can_be_stopped_and_learns_nothing_without_data(heated, upstream):
    here, shots = heated
    with pytest.raises(Cancelled):
        STEP.simulate(STEP.checked({"shots": shots}, here), here, Watch(2))
    runs = STEP.simulate(STEP.checked({}, upstream), upstream, Watch())
    assert STEP.compute(STEP.checked({}, upstream), Upstream(upstream.decisions, None, runs)
                        )["heater_learned"] is None


# ---------------------------------------------------------------------------- defects

def test_table_of_defects_is_whole():
    for row in read("defects"):
        assert float(row["weight"]) > 0 and row["try"] and row["label"]
        assert row["clue"] == "none" or row["clue"] in defects_module.CLUES, row["clue"]


def test_cold_sheet_comes_first_when_it_was_cold(upstream):
    low = sheets()["hips"].band("forming_low").typical
    cold = _causes(upstream, low - 10)
    warm = _causes(upstream, sheets()["hips"].band("forming_normal").typical + 2)
    assert cold[0].cause.startswith("sheet too cold") and cold[0].clue.speaks == 1
    assert next(c for c in warm if c.cause.startswith("sheet too cold")).clue.speaks == -1
    assert sum(c.share for c in cold) == pytest.approx(1.0)


def _causes(upstream, temperature):
    outcome = run(upstream, shots=[shot(1, sheet_temperature=temperature,
                                        read_by="thermocouple")],
                  defects=[{"defect": "poor_detail", "where": "floor"}])
    return outcome.arrays["learned"].causes[0][1]


def test_vacuum_slower_than_the_sheet_speaks_for_it(upstream):
    vents = Decision(inputs={}, results={"time": 6.0, "available": 3.0, "final_pull": 9e4,
                                         "pockets": 0})
    here = Upstream(dict(upstream.decisions) | {"vents": vents})
    causes = run(here, defects=[{"defect": "poor_detail", "where": ""}]
                 ).arrays["learned"].causes[0][1]
    speaks = {cause.cause: cause.clue.speaks for cause in causes}
    assert speaks["vacuum slower than the sheet stays formable"] == 1
    assert speaks["too little vacuum at the end"] == -1


# ---------------------------------------------------------------------------- forms

def test_unknown_dimension_is_refused(upstream):
    with pytest.raises(Refused, match="Dimensions of parts, row 1"):
        run(upstream, dimensions=measured("D77", 0.1))


def test_everything_draws_prints_and_is_plain(mapped):
    values = dict(
        dimensions=measured("D2", 0.0995, 0.0996, 0.0994) + measured("D5", 0.0239),
        shots=[shot(1, "startup", sheet_temperature=430.0, tool_temperature=305.0), shot(2)],
        gauges=[{"shot": 1, "point": "P", "x": 0.02, "y": 0.02, "z": 0.0, "gauge": 0.0008},
                {"shot": 1, "point": "Q", "x": 0.08, "y": 0.02, "z": 0.0, "gauge": 0.0012}],
        defects=[{"defect": "webbing", "where": ""}],
        tools_run=[{"tool": "tool 1", "shots": 40, "ended": "cracked"}])
    inputs = STEP.checked(values, mapped)
    for given in (inputs, STEP.checked({}, mapped)):
        outcome = STEP.compute(given, mapped)
        scene = Scene(given, outcome, mapped)
        for panel in figures.panels():
            assert len(drawn(panel, scene).data) == len(panel.make().data)
        parser = MathTextParser("agg")
        for line in outcome.worked:
            parser.parse(f"${line.formula}$")
            parser.parse(f"${line.numbers}$")
        saved = decision_from(content(STEP, given, outcome))
        assert saved.inputs["dimensions"] == given["dimensions"]


@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda e: e.key)
def test_exercises_can_be_solved(exercise):
    posed = exercise.pose(np.random.default_rng(7))
    assert posed.right(posed.answer) and posed.solution and posed.source
