"""The 3-D membrane against independent solutions, and the promises it makes about itself.

References: shooting of the ordinary differential equations of the inflated membrane by scipy
(Adkins and Rivlin, Phil. Trans. R. Soc. A 244 (1952) 505-531, equations from memory); the
axisymmetric finite-element membrane of `axisymmetric`, which is held to its own checks elsewhere.
"""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from membrane_shapes import errors, grid_faces, revolve, rounded_block, together
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from thermoforming.guard import Refused
from thermoforming.physics.thinning import axisymmetric, contact, membrane, pockets, verdict
from thermoforming.physics.thinning.hyperelastic import mooney_rivlin, neo_hookean, ogden
from thermoforming.physics.thinning.sheet import rectangle, ring

MODULUS, GAUGE, CLAMP = 3e5, 2e-3, 0.06
SOFT = neo_hookean(MODULUS)
ARC = np.radians(np.linspace(0.0, 90.0, 46))
CONE = axisymmetric.cup_profile(0.05, 0.04, np.radians(60), 0.005, 0.003, CLAMP)
CUP = axisymmetric.cup_profile(0.05, 0.04, np.radians(80), 0.008, 0.004, CLAMP)
BOWL = np.vstack([np.c_[0.05 * np.sin(ARC), -0.05 * np.cos(ARC)], [[CLAMP, 0.0]]])
DOME = np.vstack([np.c_[0.03 * np.sin(ARC), 0.03 * np.cos(ARC)], [[CLAMP, 0.0]]])
DRAPE = membrane.Method(membrane.DRAPE)
FAR = np.array([[0.0, -1.0], [1.0, -1.0]])


def form(profile, mesh_size, pressure=3e4, law=SOFT, **more):
    return membrane.form(*revolve(profile), ring((0, 0), 2 * CLAMP), GAUGE, law, pressure,
                         mesh_size, **more)


def revolution(profile, pressure=3e4, law=SOFT, **more):
    sheet = axisymmetric.Sheet(CLAMP, GAUGE, law, 400)
    return axisymmetric.form(sheet, profile, pressure, **more)


def shoot(pressure):
    """Gauge ratio at the pole and height of a blown neo-Hookean sheet at a pressure.

    Vertical balance of a cap, T1 sin(angle) = p r / 2, and d(T1 r) = T2 dr, from the pole outward.
    """
    stiff = MODULUS * GAUGE

    def tension(l1, l2):
        return stiff * (l1 / l2 - 1.0 / (l1 * l2) ** 3)

    def slopes(flat, state):
        r, height, pull = state
        l2 = r / flat
        l1 = brentq(lambda l: tension(l, l2) * r - pull, 0.2, 50.0, xtol=1e-14)
        sine = 0.5 * pressure * r / tension(l1, l2)
        return [l1 * np.sqrt(max(1.0 - sine * sine, 0.0)), l1 * sine,
                tension(l2, l1) * l1 * np.sqrt(max(1.0 - sine * sine, 0.0))]

    def outward(pole):
        start = 1e-6
        first = [pole * start, 0.0, tension(pole, pole) * pole * start]
        return solve_ivp(slopes, (start, CLAMP), first, rtol=1e-9, atol=1e-14).y[:, -1]

    pole = brentq(lambda l: outward(l)[0] - CLAMP, 1.02, 1.6, xtol=1e-12)
    return pole**-2, outward(pole)[1]


def test_a_freely_blown_sheet_is_the_solution_of_its_differential_equations():
    gauge, height = shoot(5e3)
    blown = form(FAR, 0.004, pressure=5e3, platen=-1.0)
    middle = np.argmin(np.hypot(*blown.flat.T))
    assert -blown.points[:, 2].min() == pytest.approx(height, rel=5e-3)
    assert blown.node_gauge[middle] / GAUGE == pytest.approx(gauge, rel=5e-3)


@pytest.mark.parametrize("profile, method, rise, size, rms, least", [
    (CONE, membrane.Method(), 0.0, 0.003, 0.01, 0.02),
    (BOWL, membrane.Method(), 0.0, 0.004, 0.015, 0.02),
    (DOME, DRAPE, 0.03, 0.004, 0.01, 0.02),
], ids=["cone", "hemisphere", "drape over a dome"])
def test_gauge_is_that_of_the_membrane_of_revolution(profile, method, rise, size, rms, least):
    formed = form(profile, size, method=method)
    assert formed.valid, [check for check in formed.checks if not check.passed]
    found = errors(formed, revolution(profile, rise=rise), GAUGE)
    assert found[0] < rms and abs(found[1]) < least


@pytest.mark.parametrize("law", [mooney_rivlin(MODULUS, 0.1), ogden([2e5, -3e4], [1.8, -2.5])],
                         ids=["Mooney-Rivlin", "Ogden"])
def test_other_laws(law):
    rms, least = errors(form(CUP, 0.005, law=law), revolution(CUP, law=law), GAUGE)
    assert rms < 0.02 and abs(least) < 0.03


def test_friction_of_a_third_slides_and_one_of_five_sticks():
    rms, least = errors(form(CUP, 0.005, friction=0.3), revolution(CUP, friction=0.3), GAUGE)
    assert rms < 0.02 and abs(least) < 0.02
    firm, stuck = form(CUP, 0.006, friction=5.0), form(CUP, 0.006)
    assert verdict.half_rate(firm, stuck).value < 0.02


def test_a_plug_that_stays_leaves_more_in_the_floor():
    nose = np.vstack([[[0.0, 0.0]], np.c_[0.012 + 0.01 * np.sin(ARC), 0.01 - 0.01 * np.cos(ARC)],
                      [[0.022, 0.04]]])
    plug = membrane.Plug(*revolve(nose + [0.0, -0.03]), friction=0.2)
    formed = form(CUP, 0.005, pressure=4e4, method=membrane.Method(plug=plug))
    reference = revolution(CUP, 4e4, plug=axisymmetric.Plug(nose, 0.03, 0.2))
    rms, least = errors(formed, reference, GAUGE)
    assert formed.valid and rms < 0.02 and abs(least) < 0.02
    middle = np.hypot(*formed.flat.T) < 0.01
    without = form(CUP, 0.005, pressure=4e4)
    assert formed.node_gauge[middle].mean() > without.node_gauge[
        np.hypot(*without.flat.T) < 0.01].mean()


def test_the_pole_of_a_bubble_keeps_its_gauge_on_the_tool_that_rises_into_it():
    blown = axisymmetric.inflate(axisymmetric.Sheet(CLAMP, GAUGE, SOFT, 200), 0.025)
    formed = form(DOME, 0.005, method=replace(DRAPE, bubble=0.025))
    pole = np.argmin(np.hypot(*formed.flat.T))
    assert formed.valid
    assert formed.node_gauge[pole] / GAUGE == pytest.approx(blown.gauge[0], rel=0.015)


def test_refining_converges_at_least_with_the_first_power():
    reference = revolution(BOWL)
    coarse, fine = (errors(form(BOWL, h, rate=0.01), reference, GAUGE)[0] for h in (0.01, 0.005))
    assert fine < 0.55 * coarse


def test_turning_the_tool_or_the_mesh_changes_nothing_beyond_mesh_error():
    block = rounded_block((0.0, 0.0), 0.02, 0.02, np.radians(5), 0.004, 0.008)
    runs = []
    for turn, lattice in ((0.0, 0.0), (0.4, 0.0), (0.0, 0.3)):
        c, s = np.cos(turn), np.sin(turn)
        turned = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        formed = membrane.form(block[0] @ turned, block[1], ring((0, 0), 0.1), GAUGE, SOFT, 3e4,
                               0.005, method=DRAPE, turn=lattice)
        runs.append(replace(formed, flat=formed.flat @ turned[:2, :2].T))
    for other in runs[1:]:
        assert verdict.half_rate(runs[0], other).value < 0.03


def test_several_male_forms_close_together_converge_at_full_vacuum():
    forms = together(*[rounded_block((x, y), 0.015, 0.03, np.radians(5), 0.003, 0.005)
                       for x in (-0.0175, 0.0175) for y in (-0.0175, 0.0175)])
    least = []
    for size in (0.008, 0.005):
        formed = membrane.form(*forms, rectangle((0, 0), 0.12, 0.12), GAUGE, SOFT, 9e4, size,
                               method=DRAPE, rate=0.01)
        assert formed.valid, [check for check in formed.checks if not check.passed]
        least.append(formed.node_gauge.min())
    assert least[0] == pytest.approx(least[1], rel=0.3)


def test_no_sheet_in_a_thin_rib_and_none_through_it():
    x, z = 0.02, 0.02
    rib = np.array([[i, j, k] for i in (-x, x) for j in (-8e-4, 8e-4) for k in (0.0, z)])
    faces = [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1], [2, 3, 7],
             [2, 7, 6], [1, 5, 7], [1, 7, 3]]
    formed = membrane.form(rib, faces, rectangle((0, 0), 0.08, 0.06), GAUGE, SOFT, 3e4, 0.004,
                           method=DRAPE, rate=0.01)
    checks = {check.name: check for check in formed.checks}
    assert checks["penetration"].passed and checks["pierced"].passed


def test_pockets_do_not_depend_on_the_mesh():
    x, y = np.meshgrid(np.linspace(-0.12, 0.12, 121), np.linspace(-0.06, 0.06, 61))
    out = np.clip((0.045 - np.hypot(np.abs(x) - 0.06, y)) / 0.02, 0.0, 1.0)
    z = -0.025 * out**2 * (3.0 - 2.0 * out)  # two round hollows in one flat plate
    plate = trimesh.Trimesh(np.c_[x.ravel(), y.ravel(), z.ravel()], grid_faces(61, 121))
    tool = contact.surface(plate.vertices, plate.faces)
    for size in (0.008, 0.005):
        formed = membrane.form(plate.vertices, plate.faces, rectangle((0, 0), 0.24, 0.12), GAUGE,
                               SOFT, 3e4, size, rate=0.01)
        found = pockets.of_formed(formed, contact.distances(tool, formed.points))
        assert sorted(p.centre[0] for p in found) == pytest.approx([-0.06, 0.06], abs=0.012)


def test_the_run_stops_when_asked_and_tells_how_far_it_is():
    told = []

    def progress(fraction, text):
        told.append(fraction)
        return len(told) > 5

    with pytest.raises(membrane.Cancelled):
        form(CUP, 0.006, progress=progress)
    assert len(told) == 6 and told == sorted(told) and 0.0 <= told[-1] <= 1.0


def test_a_sheet_drawn_past_the_tool_is_a_failed_run():
    hole = np.array([[0.03, -0.02], [0.05, 0.0], [CLAMP, 0.0]])
    formed = form(hole, 0.006)
    assert not formed.valid
    assert [check.name for check in formed.checks if not check.passed][0] == "held"


def test_too_light_a_sheet_is_found_out(monkeypatch):
    monkeypatch.setattr(membrane, "_MARGIN", 0.35)
    assert not form(CUP, 0.006).valid


def test_a_run_at_too_high_a_rate_differs_from_half_of_it():
    hasty = form(CUP, 0.006, rate=0.1)
    assert not verdict.half_rate(hasty, form(CUP, 0.006, rate=0.05)).passed
    calm = form(CUP, 0.006)
    assert verdict.half_rate(calm, form(CUP, 0.006, rate=0.0025)).passed


def test_a_stiffer_middle_stays_thicker():
    even = form(CUP, 0.006)
    cool = form(CUP, 0.006, stiffness=lambda flat: 1.0 + 2.0 * (np.hypot(*flat.T) < 0.02))
    assert cool.node_gauge[np.hypot(*cool.flat.T) < 0.015].mean() > \
        1.1 * even.node_gauge[np.hypot(*even.flat.T) < 0.015].mean()


@pytest.mark.parametrize("change", [
    {"gauge": 0.0}, {"pressure": np.nan}, {"mesh_size": -1.0}, {"friction": -0.1}, {"rate": 0.5},
    {"method": membrane.Method("blow")}, {"method": replace(DRAPE, bubble=-1.0)},
])
def test_an_input_that_cannot_be_used_is_refused(change):
    values = {"gauge": GAUGE, "law": SOFT, "pressure": 3e4, "mesh_size": 0.006} | change
    with pytest.raises(Refused):
        membrane.form(*revolve(CUP, 24), ring((0, 0), 2 * CLAMP), **values)


def test_a_tool_above_the_frame_needs_the_drape():
    with pytest.raises(Refused, match="above the"):
        form(DOME, 0.006)
