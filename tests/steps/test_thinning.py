"""The thinning decision: levels, bands, the run on the mesh and what is read from it."""

from io import BytesIO
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from thermoforming.guard import Refused
from thermoforming.steps.base import STOP, Cancelled
from thermoforming.steps.brief import STEP as BRIEF
from thermoforming.steps.brief import part_surface
from thermoforming.steps.material import STEP as MATERIAL
from thermoforming.steps.plain import content, decision_from
from thermoforming.steps.thinning import STEP, hot_sheet
from thermoforming.steps.thinning.levels import round_form
from thermoforming.steps.upstream import Upstream, packed, unpacked

TRAY = dict(part="shape", shape_length=0.12, shape_width=0.1, shape_height=0.04, shape_corner=0.02,
            shape_radius=0.006, shape_draft=np.radians(5), shape_rim=0.015)


def saved(read_file=None, **brief):
    """Upstream with a brief of a simple tray and the default material."""
    decisions = {}
    for step, given_inputs in ((BRIEF, TRAY | brief), (MATERIAL, {})):
        upstream = Upstream(decisions, read_file)
        inputs = step.checked(given_inputs, upstream)
        decisions[step.key] = decision_from(content(step, inputs, step.compute(inputs, upstream)))
    return Upstream(decisions, read_file)


class Watch:
    """A run that records what is said and may stop."""

    def __init__(self, stop_at=2.0):
        self.stop_at, self.said, self.previews = stop_at, [], []

    def report(self, fraction, text=""):
        self.said.append(fraction)
        return fraction >= self.stop_at

    def preview(self, simulation):
        self.previews.append(simulation)


@pytest.fixture(scope="module")
def upstream():
    return saved()


@pytest.fixture(scope="module")
def formed(upstream):
    """A tray formed on its mesh, and what was said meanwhile."""
    watch = Watch()
    inputs = STEP.checked(dict(mesh_size=0.006, minimum_wall=4e-4), upstream)
    simulation = STEP.simulate(inputs, upstream, watch)
    return SimpleNamespace(watch=watch, inputs=inputs, simulation=simulation,
                           upstream=Upstream(upstream.decisions, None,
                                             unpacked(packed(simulation))))


def check(outcome, key):
    return next(each for each in outcome.checks if each.key == key)


# ---------------------------------------------------------------- levels

def test_area_ratio_against_a_mesh_library(upstream):
    """trimesh adds up the part's triangles; the flange in the frame stays flat."""
    outcome = STEP.run({}, upstream)
    surface = part_surface(upstream)
    inputs = STEP.checked({}, upstream)
    area = trimesh.Trimesh(surface.vertices, surface.faces, process=False).area
    frame = inputs["frame_x"] * inputs["frame_y"]
    plan = surface.size[0] * surface.size[1]  # rounded corners of the rim are cut from it
    assert outcome["area_ratio"] == pytest.approx((area + frame - plan) / frame, rel=0.01)
    assert outcome["mean_gauge"] == pytest.approx(inputs["gauge"] / outcome["area_ratio"])


def test_without_a_run_the_page_says_so_and_still_answers(upstream):
    outcome = STEP.run({}, upstream)
    assert outcome["level"].startswith("level 3")
    assert "not been formed" in check(outcome, "run").message
    assert 0.0 < outcome["least_gauge"].low <= outcome["least_gauge"].typical
    assert outcome["least_gauge"].high < outcome["mean_gauge"]


def test_starting_gauge_keeps_the_wall_when_it_is_used(upstream):
    """At the gauge the page asks for, with pressure scaled alike, the least wall comes out.

    Gauge depends on p L / (mu t0) and shape alone (dimensional analysis), so that the ratio stays.
    """
    first = STEP.run({"minimum_wall": 8e-4}, upstream)
    needed = first["starting_needed"].typical
    inputs = STEP.checked({}, upstream)
    again = STEP.run({"gauge": needed, "pressure": inputs["pressure"] * needed / inputs["gauge"]},
                     upstream)
    tolerance = hot_sheet.tolerance_band(upstream).typical
    assert again["least_gauge"].typical * (1 - tolerance) == pytest.approx(8e-4, rel=2e-3)


@settings(max_examples=8, deadline=None)
@given(depth=st.floats(0.01, 0.08), corner=st.floats(0.002, 0.02), gauge=st.floats(5e-4, 6e-3),
       draft=st.floats(0.0, 0.3), pressure=st.floats(3e4, 6e5))
def test_any_form_gives_ordered_bands_or_a_refusal(upstream, depth, corner, gauge, draft, pressure):
    inputs = dict(depth=depth, corner=corner, gauge=gauge, draft=draft, pressure=pressure)
    outcome = STEP.run(inputs, upstream)
    if outcome["least_gauge"] is None:
        assert check(outcome, "least").verdict == STOP
        return
    band = outcome["least_gauge"]
    assert 0.0 < band.low <= band.typical <= band.high <= 1.1 * gauge
    form = round_form(STEP.checked(inputs, upstream), upstream)
    assert np.all(np.hypot(*np.diff(form.profile, axis=0).T) > 0.0)


def test_deeper_is_thinner_and_a_stuck_plug_saves_the_floor(upstream):
    shallow, deep = (STEP.run({"depth": d}, upstream)["membrane_least"] for d in (0.02, 0.06))
    assert deep < shallow
    plain = STEP.run({"depth": 0.06}, upstream).arrays["levels"].membrane
    plug = STEP.run({"depth": 0.06, "method": "plug assist", "plug_friction": 5.0},
                    upstream).arrays["levels"].membrane
    assert plug.gauge[0] > 1.2 * plain.gauge[0]


def test_more_pressure_fills_smaller_radii_and_the_need_is_stated(upstream):
    low, high = (STEP.run({"pressure": p}, upstream) for p in (6e4, 1.2e5))
    assert high["formed_radius"] < low["formed_radius"]
    inputs = STEP.checked({}, upstream)
    need = check(low, "fill")
    assert need.limit < low["formed_radius"] and "pressure forming" in need.advice
    assert low["pressure_needed"] > 6e4 and inputs["corner"] == pytest.approx(need.limit, rel=0.05)


def test_laws_agree_at_small_strain_and_differ_deep(upstream):
    least = {law: STEP.run({"law": law, "depth": 0.05}, upstream)["membrane_least"]
             for law, _ in hot_sheet.LAWS}
    assert len({round(value, 6) for value in least.values()}) >= 2
    assert max(least.values()) < 1.5 * min(least.values())


def test_male_form_is_draped(upstream):
    male = saved(side="male")
    outcome = STEP.run({"frame_x": 0.24, "frame_y": 0.22}, male)
    levels = outcome.arrays["levels"]
    assert levels.form.male and set(levels.elements) == {"tent before the vacuum",
                                                         "wall and flange"}
    assert levels.membrane.gauge[0] == pytest.approx(1.0, abs=0.02)  # the top sticks at once


def test_bubble_over_a_cavity_is_called_useless(upstream):
    plain, bubble = (STEP.run({"method": m}, upstream) for m in ("straight vacuum", "pre-stretch"))
    assert bubble["membrane_least"] == pytest.approx(plain["membrane_least"], rel=0.02)
    assert "forgets" in check(bubble, "bubble").message


# ---------------------------------------------------------------- the run on the mesh

def test_run_comes_coarse_then_fine_then_verified(formed):
    levels = [str(each["level"]) for each in formed.watch.previews]
    assert levels == ["coarse", "fine"]
    assert all(int(each["verified"]) == -1 for each in formed.watch.previews)
    assert int(formed.simulation["verified"]) in (0, 1)
    assert np.all(np.diff(formed.watch.said) > -0.05)


def test_an_unverified_map_is_a_stop(formed, upstream):
    for preview in formed.watch.previews:
        outcome = STEP.compute(formed.inputs, Upstream(upstream.decisions, None, preview))
        assert check(outcome, "verified").verdict == STOP


def test_mesh_and_round_form_tell_the_same_story(formed):
    """Level 4 against level 3 on a tray near a round cup in size: a fifth is corners and length."""
    outcome = STEP.compute(formed.inputs, formed.upstream)
    assert outcome["level"].startswith("level 4")
    assert outcome["mesh_least"] == pytest.approx(outcome["membrane_least"], rel=0.25)
    rows = outcome.table("levels").rows
    assert len(rows) == 4 and rows[3]["apart"] == pytest.approx(0.0)


def test_plastic_is_kept_on_the_mesh(formed):
    arrays = formed.upstream.simulation
    mesh = trimesh.Trimesh(arrays["points"], arrays["triangles"], process=False)
    flat = formed.inputs["frame_x"] * formed.inputs["frame_y"] * formed.inputs["gauge"]
    assert np.sum(mesh.area_faces * arrays["gauge"]) == pytest.approx(flat, rel=1e-3)


def test_section_and_moments(formed):
    end = STEP.compute(formed.inputs, formed.upstream)
    start = STEP.compute(formed.inputs | {"moment": 0.0}, formed.upstream)
    thin = min(np.min(run[2]) for run in end.arrays["section"])
    assert thin >= end["mesh_least"] * (1 - 1e-6)
    assert min(np.min(run[2]) for run in start.arrays["section"]) > thin
    lowest = min(np.min(run[1]) for run in end.arrays["section"])
    assert lowest == pytest.approx(-0.04, abs=1e-3)


def test_symmetric_tray_lands_last_in_all_four_corners(formed):
    """By symmetry: the tray looks the same from all four sides."""
    rows = STEP.compute(formed.inputs, formed.upstream).table("last_contacts").rows[:4]
    quarters = {(row["x"] > 0, row["y"] > 0) for row in rows}
    assert len(quarters) >= 3
    assert all(row["z"] < -0.02 for row in rows)


def test_cancel_stops_the_run(upstream):
    inputs = STEP.checked(dict(mesh_size=0.006), upstream)
    with pytest.raises(Cancelled):
        STEP.simulate(inputs, upstream, Watch(stop_at=0.02))


def test_printed_picture_follows_the_sheet(formed):
    """Undrawn flange keeps the picture; the cavity's floor takes it drawn together."""
    stream = BytesIO()
    x = np.linspace(0, 255, 300)
    ramp = np.stack([np.tile(x, (260, 1))] * 3, 2).astype(np.uint8)
    Image.fromarray(ramp).save(stream, "PNG")
    size = part_surface(formed.upstream).size
    inputs = formed.inputs | {"picture": {"sha256": "p", "name": "ramp.png"},
                              "picture_width": float(size[0])}
    upstream = Upstream(formed.upstream.decisions, lambda _: stream.getvalue(),
                        formed.upstream.simulation)
    made = STEP.compute(inputs, upstream).arrays["print"]
    row = made["image"][made["image"].shape[0] // 2, :, 0].astype(float)
    inside = made["image"][made["image"].shape[0] // 2, :, 3] > 0
    assert np.all(np.diff(row[inside]) > -4.0)  # the ramp still rises
    assert np.nanmax(made["spread"]) > 1.5
    wrong = Upstream(formed.upstream.decisions, lambda _: b"no picture",
                     formed.upstream.simulation)
    with pytest.raises(Refused, match="cannot be read"):
        STEP.compute(inputs, wrong)
