"""The brief on the demo part and on the simple tray: numbers against plane geometry, verdicts."""

import hashlib
import json
from math import pi, radians, tan
from pathlib import Path

import pytest
import trimesh

from thermoforming.guard import Refused
from thermoforming.steps.base import CAUTION, PASS, STOP
from thermoforming.steps.brief import STEP, part_surface
from thermoforming.steps.brief.part import kept
from thermoforming.steps.plain import content, decision_from
from thermoforming.steps.upstream import NotDecided, Upstream

DEMO = Path(__file__).parents[2] / "data" / "demo"
TRAY = (DEMO / "tray.stl").read_bytes()
MESH = {"sha256": hashlib.sha256(TRAY).hexdigest(), "name": "tray.stl"}
UPSTREAM = Upstream(read_file=lambda sha256: TRAY)


def run(**changes):
    return STEP.run({"mesh": MESH} | changes, UPSTREAM)


def verdicts(outcome):
    return {check.key: check.verdict for check in outcome.checks}


def test_the_demo_part_is_what_its_script_says():
    outcome = run()
    assert outcome["footprint_x"] == pytest.approx(0.240, abs=1e-6)
    assert outcome["footprint_y"] == pytest.approx(0.160, abs=1e-6)
    assert outcome["draw_depth"] == pytest.approx(0.035, abs=1e-6)
    rows = {row["name"]: row for row in outcome.table("forms").rows}
    assert [round(rows[name]["depth"] * 1e3) for name in ("C1", "C2", "C3", "B1")] == [35, 24, 16,
                                                                                       20]
    assert rows["B1"]["inside"] == "C1"
    assert len(outcome.arrays["surface"].faces) >= 20_000


def test_air_below_the_sheet_is_the_volume_of_the_cavities():
    """Frusta between opening and floor, less the boss and the fillets: within their bounds."""
    volume = run()["cavity_volume"]
    boxes = 0.100 * 0.128 * 0.035 + 0.092 * 0.076 * 0.024 + 0.092 * 0.036 * 0.016
    floors = (0.0973 * 0.1231 * 0.035 + 0.0895 * 0.0727 * 0.024 + 0.0903 * 0.0343 * 0.016
              - pi * 0.0138**2 * 0.020)
    corners = 0.86 * (0.016**2 * 0.035 + 0.012**2 * 0.024 + 0.011**2 * 0.016)
    assert floors - 2 * corners < volume < boxes


def test_a_clamp_above_the_rim_adds_the_plan_area_times_its_height():
    more = run(clamp_height=0.010)["cavity_volume"] - run()["cavity_volume"]
    corners = (4 - pi) * 0.008**2
    assert more == pytest.approx((0.240 * 0.160 - corners) * 0.010, rel=1e-3)


def test_the_blank_and_its_nest_worked_by_hand():
    outcome = run(forms_x=2, spacing=0.030, trim_margin=0.010, clamp_margin=0.020)
    assert outcome["blank_x"] == pytest.approx(2 * 0.240 + 0.030 + 0.060, abs=1e-6)
    assert outcome["blank_y"] == pytest.approx(0.160 + 0.060, abs=1e-6)
    assert outcome["parts_per_stock"] == 2 * len(outcome.arrays["nest"])


def test_a_blank_larger_than_the_frame_stops():
    assert verdicts(run())["frame"] == PASS
    assert verdicts(run(forming_x=0.200, forming_y=0.250))["frame"] == STOP
    turned = run(forming_x=0.190, forming_y=0.300)  # only the other way round
    assert verdicts(turned)["frame"] == PASS


def test_other_limits_of_the_machine():
    assert verdicts(run(forming_depth=0.030))["machine_depth"] == STOP
    assert verdicts(run(build_x=0.200, build_z=0.200))["build"] == CAUTION
    assert verdicts(run(stock_x=0.200, stock_y=0.200))["stock"] == STOP
    assert verdicts(run(method="pressure"))["method"] == STOP
    assert verdicts(run(method="plug assist", plug_available=False))["method"] == STOP
    assert "method" not in verdicts(run(method="plug assist"))


def test_the_proposal_follows_the_depth():
    def tray(height, **more):
        return run(part="shape", shape_length=0.2, shape_width=0.1, shape_height=height,
                   shape_radius=0.004, shape_corner=0.03, **more)
    assert tray(0.030)["forming_method"] == "straight vacuum"
    deep = tray(0.090)
    assert deep["forming_method"] == "plug assist" and deep["assisted"] is True
    assert tray(0.090, plug_available=False)["forming_method"] == "pre-stretch"
    assert tray(0.030, side="male")["forming_method"] == "drape"
    fine = tray(0.030, texture_depth=5e-5, forming_pressure_available=3e5)
    assert fine["forming_method"] == "pressure"
    assert tray(0.030, method="drape")["forming_method"] == "drape"


def test_area_draw_ratio_of_an_upright_box_by_plane_geometry():
    """Sharp upright box: rim, floor and walls; fillets of 0.5 mm change it by under 2 %."""
    length, width, height, rim = 0.200, 0.120, 0.050, 0.015
    outcome = run(part="shape", shape_length=length, shape_width=width, shape_height=height,
                  shape_draft=0.0, shape_radius=5e-4, shape_corner=2e-3, shape_rim=rim)
    plan = (length + 2 * rim) * (width + 2 * rim)
    assert outcome["draw_ratio_area"] == pytest.approx(
        (plan + 2 * (length + width) * height) / plan, rel=0.02)
    assert outcome["gauge_floor"] == pytest.approx(6e-4 * outcome["draw_ratio_area"])


def test_tight_tolerances_are_named():
    row = {"name": "D9", "nominal": 0.1, "plus": 1e-4, "minus": 1e-4}
    check = next(c for c in run(dimensions=[row]).checks if c.key == "tolerance")
    assert check.verdict == CAUTION and "D9" in check.message
    wide = row | {"plus": 2e-3, "minus": 2e-3}
    assert verdicts(run(dimensions=[wide]))["tolerance"] == PASS


def test_a_dimension_is_compared_with_the_mesh_where_a_place_is_typed():
    """Width 5 mm below the rim: 100 mm less 5 mm of draft of 0.5 and of 4 degrees."""
    width = 0.100 - 0.005 * (tan(radians(0.5)) + tan(radians(4)))
    good = {"name": "D1", "nominal": width, "plus": 1e-4, "minus": 1e-4, "direction": "x",
            "at": "-54, 40, -5"}
    outcome = run(dimensions=[good])
    assert outcome.table("picked").rows[0]["mesh"] == pytest.approx(width, abs=1e-6)
    assert verdicts(outcome)["picked"] == PASS
    assert verdicts(run(dimensions=[good | {"nominal": 0.1}]))["picked"] == CAUTION
    with pytest.raises(Refused, match="not a place"):
        run(dimensions=[good | {"at": "in the middle"}])
    with pytest.raises(Refused, match="D1.*both sides"):
        run(dimensions=[good | {"at": "0 0 90"}])


def test_the_demo_brief_of_the_record_has_no_stop():
    given = json.loads((DEMO / "demo.json").read_text(encoding="utf-8"))["decisions"]["brief"]
    given.pop("reason")
    assert run(**given).verdict != STOP


def test_no_part_and_a_wrong_unit_are_refused_with_advice():
    with pytest.raises(Refused, match="Upload"):
        STEP.run({}, UPSTREAM)
    with pytest.raises(Refused, match="far too large"):
        run(mesh_unit="m")
    with pytest.raises(Refused, match="not closed"):
        run(mesh_kind="solid")


def test_later_steps_get_the_same_surface_from_the_saved_brief():
    inputs = STEP.checked({"mesh": MESH}, UPSTREAM)
    saved = decision_from(json.loads(json.dumps(content(STEP, inputs, run()))))
    later = Upstream({"brief": saved}, UPSTREAM.read_file)
    assert part_surface(later).sha256 == run().arrays["surface"].sha256
    with pytest.raises(NotDecided):
        part_surface(UPSTREAM)


def test_measures_are_made_once_and_only_a_few_of_a_kind_are_kept():
    made = []
    surface = run().arrays["surface"]
    for value in (1, 1, 2, 3, 4, 5, 5, 1):
        assert kept("a test", surface, lambda value=value: made.append(value) or value,
                    value) == value
    assert made == [1, 2, 3, 4, 5, 1]


def own(mesh, ending="stl", **changes):
    data = mesh.export(file_type=ending)
    sha256 = hashlib.sha256(data).hexdigest()
    return STEP.run({"mesh": {"sha256": sha256, "name": f"own.{ending}"}} | changes,
                    Upstream(read_file=lambda _: data))


def thin_box(length=140.0, width=90.0, height=30.0, wall=2.0):
    """An open box with upright walls and no flange, made by subtracting its inside."""
    x, y = length / 2, width / 2
    outer = [(-x, -y), (x, -y), (x, y), (-x, y)]
    inner = [(a * (x - wall) / x, b * (y - wall) / y) for a, b in outer]
    points = [(*p, z) for ring, floor in ((outer, 0.0), (inner, wall)) for z in (floor, height)
              for p in ring]
    sides = [(i, (i + 1) % 4, 4 + (i + 1) % 4, 4 + i) for i in range(4)]
    faces = [(3, 2, 1, 0), *sides, (8, 9, 10, 11), *(tuple(8 + n for n in reversed(side))
                                                     for side in sides)]
    faces += [(4 + i, 4 + (i + 1) % 4, 12 + (i + 1) % 4, 12 + i) for i in range(4)]
    box = trimesh.Trimesh(points, [t for a, b, c, d in faces for t in ((a, b, c), (a, c, d))],
                          process=False)
    assert box.is_watertight
    return box


def test_upright_walls_of_a_box_without_a_flange_are_tool_side_not_trimmed_edge():
    outcome = own(thin_box(), mesh_kind="solid")
    assert outcome["draw_depth"] == pytest.approx(0.030, rel=1e-6)
    by_hand = 1 + 2 * (140 + 90) * 30 / (140 * 90)
    assert outcome["draw_ratio_area"] == pytest.approx(by_hand, rel=1e-6)
    assert outcome["draw_ratio_depth"] == pytest.approx(30 / 90, rel=0.01)


def test_the_same_box_upside_down_is_a_hood_over_a_male_tool():
    outcome = own(thin_box(), mesh_kind="solid", up="-z", side="male")
    assert "side" not in verdicts(outcome) and verdicts(outcome)["depth"] == PASS
    by_hand = 1 + 2 * (136 + 86) * 28 / (140 * 90)  # the edge of the wall lies on the tool too
    assert outcome["draw_ratio_area"] == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.parametrize("side, turned", [("female", STOP), ("male", None)])
def test_a_raised_form_is_no_female_tool(side, turned):
    hood = trimesh.creation.cone(40.0, 30.0, sections=64)
    hood.update_faces(hood.face_normals[:, 2] > -0.5)
    assert verdicts(own(hood, side=side)).get("side") == turned


def test_a_plate_without_forms_is_stopped_and_one_on_edge_refused():
    plate = trimesh.Trimesh([[0, 0, 0], [100, 0, 0], [100, 50, 0], [0, 50, 0]],
                            [[0, 1, 2], [0, 2, 3]])
    assert verdicts(own(plate))["depth"] == STOP
    with pytest.raises(Refused, match="no area seen from above"):
        own(plate, up="+x")
