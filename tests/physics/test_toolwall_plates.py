"""Plates against Timoshenko & Woinowsky-Krieger, closed forms and each other's limits.

The rectangular values were computed independently from Levy's series (supported) and a Ritz
solution (clamped) and agree with tables 8 and 35 of Theory of Plates and Shells, 2nd ed., to the
three digits printed there (0.00406, 0.00772, 0.01013; 0.00126, 0.00220, 0.00254: from memory).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermoforming.guard import Refused
from thermoforming.physics.toolwall import plates

# long over short side: deflection, moment across the short side, across the long side; nu = 0.3
SUPPORTED = {1.0: (0.004062353, 0.04788638, 0.04788638), 1.2: (0.00565053, 0.06268182, 0.05008095),
             1.5: (0.007724022, 0.08116009, 0.04984271), 2.0: (0.01012866, 0.1016831, 0.0463503),
             3.0: (0.01223281, 0.1188605, 0.04062659)}
# deflection, moment at the middle of the long and of the short edge, at the centre; nu = 0.3
CLAMPED = {1.0: (0.001265319, -0.05133337, -0.05133337, 0.02290509),
           1.2: (0.001724871, -0.06389693, -0.05540744, 0.02997159),
           1.5: (0.002196522, -0.07565635, -0.05702421, 0.0367714),
           2.0: (0.002532956, -0.08286076, -0.05698673, 0.04115499)}


@pytest.mark.parametrize("aspect", SUPPORTED)
def test_supported_rectangles(aspect):
    m = plates.moments(aspect, 0.3, "supported")
    found = (plates.coefficients(aspect, "supported")["deflection"], m["centre_short"],
             m["centre_long"])
    assert found == pytest.approx(SUPPORTED[aspect], rel=1e-4)


@pytest.mark.parametrize("aspect", CLAMPED)
def test_clamped_rectangles(aspect):
    m = plates.moments(aspect, 0.3, "clamped")
    found = (plates.coefficients(aspect, "clamped")["deflection"], m["edge_long"],
             m["edge_short"], m["centre_short"])
    assert found == pytest.approx(CLAMPED[aspect], rel=3e-4)


@pytest.mark.parametrize("edge, deflection, edge_moment, centre_moment", [
    ("supported", 5 / 384, 0.0, 1 / 8), ("clamped", 1 / 384, -1 / 12, 1 / 24)])
def test_long_plates_are_beams(edge, deflection, edge_moment, centre_moment):
    """A strip under even load, any textbook of statics."""
    c = plates.coefficients(20.0, edge)
    assert c["deflection"] == pytest.approx(deflection, rel=1e-3)
    assert c["edge_long"] == pytest.approx(edge_moment, rel=1e-3, abs=1e-12)
    assert c["bend_short"] == pytest.approx(centre_moment, rel=1e-3)


# E [Pa], nu, q [Pa], radius, thickness [m]: deflections [m] and stresses [Pa], supported, clamped
CIRCLES = [((2.2e9, 0.35, 9e4, 0.100, 0.006), 12.34908e-3, 3.116122e-3, 31.40625e6, 18.75e6),
           ((1.2e9, 0.38, 9e4, 0.060, 0.004), 9.498642e-3, 2.436455e-3, 25.66688e6, 15.1875e6)]


@pytest.mark.parametrize("plate, w_supported, w_clamped, s_supported, s_clamped", CIRCLES)
def test_circular_plates(plate, w_supported, w_clamped, s_supported, s_clamped):
    """Closed forms of Timoshenko & Woinowsky-Krieger, worked out independently."""
    modulus, nu, q, radius, t = plate
    for edge, w, s in (("supported", w_supported, s_supported), ("clamped", w_clamped, s_clamped)):
        assert plates.circular_deflection(q, radius, t, modulus, nu, edge) == pytest.approx(w)
        assert plates.circular_stress(q, radius, t, nu, edge) == pytest.approx(s)


# q, short, long, t, E; deflection and stress, supported then clamped; nu = 0.3, thin-plate theory
PANELS = [((9.0e4, 0.120, 0.180, 0.008, 2.0e9), 1.537212e-3, 9.860951e6, 0.4371452e-3, 9.193041e6),
          ((9.5e4, 0.060, 0.060, 0.005, 1.0e9), 0.436937e-3, 3.930514e6, 0.1360947e-3, 4.213555e6)]


@pytest.mark.parametrize("panel, w_supported, s_supported, w_clamped, s_clamped", PANELS)
def test_worked_panels(panel, w_supported, s_supported, w_clamped, s_clamped):
    """Two panels between ribs worked out independently from the same book."""
    q, a, b, t, modulus = panel
    for edge, w, s in (("supported", w_supported, s_supported), ("clamped", w_clamped, s_clamped)):
        assert plates.panel_deflection(q, a, b, t, modulus, 0.3, edge, with_shear=False) == \
            pytest.approx(w, rel=1e-4)
        assert plates.panel_stress(q, a, b, t, 0.3, edge) == pytest.approx(s, rel=3e-4)


@pytest.mark.parametrize("k, expected", [(4.0, 11.99724e6), (6.97, 20.90519e6)])
def test_plate_buckling(k, expected):
    """Long plates with supported and clamped edges, Timoshenko & Gere (k from memory)."""
    assert plates.critical_stress(2e9, 0.35, 0.004, 0.1, k) == pytest.approx(expected, rel=1e-6)


def test_shear_is_the_torsion_membrane():
    """Saint-Venant's membrane of a square has 0.0737 q a^2 at its middle (from memory)."""
    assert plates.coefficients(1.0, "supported")["shear"] == pytest.approx(0.0737, rel=1e-3)


def test_orthotropic_agrees_with_two_beams_without_twist():
    """Without twist stiffness and with one direction weak, the plate is a beam across."""
    strip = plates.orthotropic(1.0, 1.0, 1.0, 1e-6, 0.0, "clamped", 12)
    assert strip.deflection == pytest.approx(1 / 384, rel=2e-2)


@given(st.floats(1.0, 6.0), st.floats(0.0, 0.49), st.sampled_from(plates.EDGES))
def test_clamped_lies_below_supported_and_grows_with_length(aspect, poisson, edge):
    longer = plates.coefficients(aspect * 1.1, edge)["deflection"]
    # a clamped plate of 3 : 1 deflects half a percent more than an endless one
    assert longer >= plates.coefficients(aspect, edge)["deflection"] * 0.995
    assert (plates.coefficients(aspect, "clamped")["deflection"]
            < plates.coefficients(aspect, "supported")["deflection"])
    assert plates.moments(aspect, poisson, "clamped")["edge_long"] < 0


@given(st.floats(0.01, 0.5), st.floats(1.0, 4.0), st.floats(1e-3, 0.02), st.floats(1e3, 1e6),
       st.floats(0.2, 5.0))
def test_panels_scale_as_their_units_do(side, aspect, thickness, pressure, factor):
    """Everything larger by a factor under the same pressure deflects by that factor more."""
    w = plates.panel_deflection(pressure, side, side * aspect, thickness, 2e9, 0.35, "clamped")
    f = factor
    scaled = plates.panel_deflection(pressure, side * f, side * aspect * f, thickness * f, 2e9,
                                     0.35, "clamped")
    assert scaled == pytest.approx(f * w, rel=1e-9)
    assert plates.panel_deflection(-pressure, side, side * aspect, thickness, 2e9, 0.35,
                                   "clamped") == pytest.approx(-w)


@given(st.floats(1e-6, 0.1), st.floats(0.0, 2.0))
def test_membrane_action_never_adds_and_solves_its_cubic(small, stiffening):
    w = plates.large_deflection(small, 0.004, stiffening)
    assert 0 < w <= small * (1 + 1e-9)
    assert w * (1 + stiffening * (w / 0.004) ** 2) == pytest.approx(small, rel=1e-6)


@pytest.mark.parametrize("bad", [
    dict(aspect=0.5, edge="clamped"), dict(aspect=np.nan, edge="clamped"),
    dict(aspect=1.0, edge="glued")])
def test_refuses_by_name(bad):
    with pytest.raises(Refused, match="aspect|edge"):
        plates.coefficients(**bad)
