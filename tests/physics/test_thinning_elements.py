"""Draw ratios and geometric elements against worked values and volume balance."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from thermoforming.guard import Refused
from thermoforming.physics.thinning import area, elements

MM = 1e-3

# Worked independently from the volume balance of Rosenzweig, Narkis and Tadmor, Polym. Eng. Sci.
# 19 (1979) 946-951 (citation from memory), two routes where the sheet of worked values has two.
CONE = [  # distance down the wall mm, rim radius mm, angle deg, t/t0
    (0.0, 50, 60, 0.75), (25.0, 50, 60, 0.5625), (50.0, 50, 60, 0.375),
    (46.3644, 40, 75, 0.2266418), (115.1754, 40, 80, 0.02167581),
    (0, 50, 90, 0.5), (25, 50, 90, 0.3032653), (50, 50, 90, 0.1839397),
]
CUP = [  # rim radius, depth, angle, corner, wall covered at first floor contact, floor, corner
    (50, 60, 80, 5.0, 21.1785, 0.4055868, 0.2189962),
    (50, 60, 80, 2.0, 21.1785, 0.4055868, 0.1802047),
    (50, 40, 75, 3.0, 2.05647, 0.6097489, 0.322316),
    (50, 75, 90, 5.0, 25.0, 0.3032653, 0.1302344),
    (50, 75, 90, 2.5, 25.0, 0.3032653, 0.1067195),
    (50, 50, 90, 5.0, 0.0, 0.5, 0.2147202),
    (40, 80, 90, 4.0, 40.0, 0.1839397, 0.07899117),
]


@pytest.mark.parametrize("s, radius, angle, expected", CONE)
def test_cone_and_cylinder_wall(s, radius, angle, expected):
    found = elements.cone_wall_gauge(s * MM, radius * MM, np.radians(angle))
    assert found == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("radius, depth, angle, corner, touch, floor, thin", CUP)
def test_cup_with_floor_and_corner(radius, depth, angle, corner, touch, floor, thin):
    beta = np.radians(angle)
    found = elements.cup(radius * MM, depth * MM, beta, corner * MM)
    touching = elements.floor_contact_depth(radius * MM, depth * MM, beta)
    assert touching == pytest.approx(touch * MM, rel=1e-4, abs=1e-12)
    assert found.floor == pytest.approx(floor, rel=1e-4)
    assert found.corner == pytest.approx(thin, rel=1e-4)
    assert found.volume_ratio() == pytest.approx(1.0, abs=2e-3)


def test_free_domes():
    # Area of the cap; Hill, Phil. Mag. 41 (1950) (from memory).
    assert elements.dome_gauge(20 * MM, 50 * MM) == pytest.approx(0.862069, rel=1e-5)
    assert elements.dome_gauge(40 * MM, 50 * MM) == pytest.approx(0.6097561, rel=1e-5)
    assert elements.dome_gauge(50 * MM, 50 * MM) == pytest.approx(0.5)
    assert elements.hill_pole_gauge(50 * MM, 50 * MM) == pytest.approx(0.25)
    assert elements.hill_pole_gauge(25 * MM, 50 * MM) == pytest.approx(0.64)


def test_troughs_and_wedges():
    # Volume balance, worked by two routes.
    assert elements.trough_wall_gauge(0.0, 0.1) == pytest.approx(0.6366198, rel=1e-6)
    assert elements.trough_wall_gauge(30 * MM, 0.1) == pytest.approx(0.4345021, rel=1e-6)
    for depth_share, angle, expected in [(0.5, 60, 0.5255722), (0.3, 45, 0.8167136)]:
        beta = np.radians(angle)
        slant = depth_share * 0.05 / np.cos(beta)
        assert elements.trough_wall_gauge(slant, 0.1, beta) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("start, end, angle, expected", [
    (50, 5, 90, 0.5330408), (50, 2, 90, 0.4149803), (40, 4, 60, 0.789482),
    (1.0, np.exp(-1.0), 90, np.exp(-0.2732395)), (1.0, np.exp(-1.0), 60, np.exp(-0.1026578))])
def test_straight_corner(start, end, angle, expected):
    # Volume balance, worked by two routes; the last two rows hold the exponents.
    found = elements.corner_2d_gauge(start * MM, end * MM, np.radians(angle))
    assert found == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("end, expected", [(10, 0.4552193), (5, 0.3666672), (2.5, 0.299558)])
def test_three_plane_corner(end, expected):
    # Volume balance integrated independently (derived, no published value).
    assert elements.corner_3d_gauge(50 * MM, end * MM) == pytest.approx(expected, rel=1e-5)


def test_male_drape():
    # Conservation of volume, worked by hand.
    assert elements.tent_gauge(60 * MM, 120 * MM, 60 * MM) == pytest.approx(0.7071068, rel=1e-6)
    assert elements.tent_gauge(50 * MM, 150 * MM, 80 * MM) == pytest.approx(0.7808688, rel=1e-6)
    found = elements.drape_gauge(60 * MM, 120 * MM, 60 * MM, np.radians(3))
    assert found == pytest.approx(0.606347, rel=1e-5)
    found = elements.drape_gauge(50 * MM, 150 * MM, 80 * MM, np.radians(5))
    assert found == pytest.approx(0.7182946, rel=1e-5)


def test_draw_ratios():
    # Definitions, worked by hand.
    assert area.cup_area_ratio(50 * MM, 50 * MM, 50 * MM) == pytest.approx(3.0)
    assert area.box_area_ratio(200 * MM, 150 * MM, 60 * MM) == pytest.approx(2.4)
    assert area.cup_area_ratio(60 * MM, 45 * MM, 50 * MM) == pytest.approx(2.085045, rel=1e-6)
    assert area.hemisphere_area_ratio() == 2.0
    assert area.linear_draw_ratio(150 * MM, 60 * MM) == pytest.approx(1.8)
    assert area.depth_to_width(150 * MM, 60 * MM) == pytest.approx(0.4)
    assert area.mean_gauge(3 * MM, 2.4) == pytest.approx(1.25 * MM)


def test_corner_against_direct_integration():
    """The closed form of the ring fillet equals its differential equation, by scipy."""
    beta, base, start, end = np.radians(72.0), 0.031, 0.031 / np.tan(np.radians(36.0)), 0.002
    tan = np.tan(beta / 2)

    def slope(rho, log):
        floor = base - rho * tan
        free = rho * (beta * floor + rho * (1 - np.cos(beta)))
        grows = beta * base + 2 * rho * (1 - np.cos(beta) - beta * tan)
        return [(tan * (2 * floor + rho * np.sin(beta)) - grows) / free]

    exact = np.exp(solve_ivp(slope, (start, end), [0.0], rtol=1e-10, atol=1e-12).y[0, -1])
    found = elements._shrink(start, end, *elements._round_fillet_terms(base, beta))
    assert found == pytest.approx(exact, rel=1e-7)


FORMS = dict(radius=st.floats(0.02, 0.5), share=st.floats(0.05, 0.95),
             angle=st.floats(np.radians(20), np.radians(90)), corner=st.floats(0.05, 0.9))


@settings(max_examples=80, deadline=None)
@given(**FORMS, is_round=st.booleans())
def test_forms_keep_the_plastic(radius, share, angle, corner, is_round):
    depth = share * radius * min(np.tan(angle), 2.0)
    half = np.tan(angle / 2)
    base = radius - depth / np.tan(angle)
    start = depth / (1 - np.cos(angle)) if radius * half > depth else base / half
    if is_round:
        found = elements.cup(radius, depth, angle, corner * start)
    else:
        found = elements.trough(2 * radius, depth, angle, corner * start)
    assert np.all(found.gauge > 0.0) and np.all(found.gauge <= 1.0 + 1e-9)
    assert found.volume_ratio() == pytest.approx(1.0, abs=5e-3)
    assert found.corner <= found.floor + 1e-9


@settings(max_examples=40, deadline=None)
@given(scale=st.floats(0.1, 10), depth=st.floats(0.01, 0.2), corner=st.floats(0.1, 0.9))
def test_box_scales_and_thins_with_depth(scale, depth, corner):
    radius = corner * min(depth, 0.05)
    one = elements.box(0.2, 0.1, depth, radius)
    big = elements.box(0.1 * scale, 0.2 * scale, depth * scale, radius * scale)
    deeper = elements.box(0.2, 0.1, depth * 1.1, radius)
    for name in ("rim", "floor", "edge", "corner"):
        assert getattr(big, name) == pytest.approx(getattr(one, name), rel=1e-9)
    assert deeper.floor < one.floor and deeper.corner < one.corner
    assert 0.0 < one.corner < one.edge < 1.0


def test_box_becomes_cylinder_and_trough():
    square = elements.box(0.1, 0.1, 0.075, 0.005)
    assert square.floor == pytest.approx(0.3032653, rel=1e-6)
    long = elements.box(100.0, 0.1, 0.08, 0.005)
    assert long.floor == pytest.approx(elements.trough_wall_gauge(0.03, 0.1), rel=1e-2)


def test_refusals_name_the_field():
    with pytest.raises(Refused, match="rim radius"):
        elements.cone_wall_gauge(0.0, -1.0, 1.0)
    with pytest.raises(Refused, match="walls of this angle meet"):
        elements.cup(0.05, 0.2, np.radians(60), 0.001)
    with pytest.raises(Refused, match="end radius"):
        elements.corner_3d_gauge(0.05, 0.06)
    with pytest.raises(Refused, match="formed area"):
        area.areal_draw_ratio(0.9, 1.0)
    with pytest.raises(Refused, match="finite"):
        area.mean_gauge(float("nan"), 2.0)
