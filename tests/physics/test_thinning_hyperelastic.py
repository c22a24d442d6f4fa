"""Hyperelastic laws against closed forms, their own derivatives and each other."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermoforming.guard import Refused
from thermoforming.physics.thinning import hyperelastic as he

STRETCH = st.floats(0.6, 4.0)
LAWS = {"neo-Hookean": he.neo_hookean(0.4e6), "Mooney": he.mooney_rivlin(0.4e6, 0.2),
        "Ogden": he.ogden([0.63e6, 0.0012e6, -0.01e6], [1.3, 5.0, -2.0])}


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS.keys())
@settings(deadline=None)
@given(l1=STRETCH, l2=STRETCH)
def test_stress_and_stiffness_are_derivatives(law, l1, l2):
    h = 1e-6
    p1, p2 = he.nominal_stress(l1, l2, law)
    w11, w12, w22 = he.stiffness(l1, l2, law)
    scale = he.shear_modulus(law)

    def slope(f):
        return ((f(l1 + h, l2) - f(l1 - h, l2)) / (2 * h),
                (f(l1, l2 + h) - f(l1, l2 - h)) / (2 * h))

    assert np.allclose((p1, p2), slope(lambda a, b: he.energy(a, b, law)), rtol=1e-6,
                       atol=1e-6 * scale)
    by1, by2 = slope(lambda a, b: he.nominal_stress(a, b, law)[0])
    assert np.allclose((w11, w12), (by1, by2), rtol=1e-5, atol=1e-5 * scale)
    assert w22 == pytest.approx(slope(lambda a, b: he.nominal_stress(a, b, law)[1])[1], rel=1e-5,
                                abs=1e-5 * scale)


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS.keys())
@settings(deadline=None)
@given(l1=STRETCH, l2=STRETCH)
def test_energy_positive_and_symmetric(law, l1, l2):
    assert he.energy(l1, l2, law) >= -1e-9
    assert he.energy(l1, l2, law) == pytest.approx(he.energy(l2, l1, law))
    first, second = he.true_stress(l1, l2, law)
    p1, p2 = he.nominal_stress(l1, l2, law)
    assert first == pytest.approx(p1 * l1, rel=1e-9, abs=1e-3)
    assert second == pytest.approx(p2 * l2, rel=1e-9, abs=1e-3)


def test_closed_forms():
    """Uniaxial neo-Hookean sigma = mu (l^2 - 1/l); Mooney sigma = 2 (C1 + C2/l)(l^2 - 1/l)
    (Treloar, The Physics of Rubber Elasticity, from memory)."""
    stretch = np.array([1.2, 2.0, 3.5])
    across = stretch**-0.5
    mu, share = 0.4e6, 0.2
    pull, side = he.true_stress(stretch, across, LAWS["neo-Hookean"])
    assert np.allclose(pull, mu * (stretch**2 - 1 / stretch)) and np.allclose(side, 0.0, atol=1e-6)
    pull, side = he.true_stress(stretch, across, LAWS["Mooney"])
    wanted = mu * ((1 - share) + share / stretch) * (stretch**2 - 1 / stretch)
    assert np.allclose(pull, wanted) and np.allclose(side, 0.0, atol=1e-6)


def test_mooney_is_an_ogden_law():
    mooney = he.mooney_rivlin(0.4e6, 0.2)
    same = he.ogden([0.4e6 * 0.8, -0.4e6 * 0.2], [2.0, -2.0])
    assert np.allclose(mooney, same)
    assert he.shear_modulus(mooney) == pytest.approx(0.4e6)


def test_balloon_with_enough_second_share_has_no_maximum():
    """Share of C2 above 0.176 (C2/C1 above 0.214): p ~ (1/l - 1/l^7)(1 + C2/C1 l^2) only rises."""
    stretch = np.linspace(1.01, 6.0, 400)
    for share, rises in ((0.10, False), (0.18, True)):
        stress, _ = he.true_stress(stretch, stretch, he.mooney_rivlin(1.0, share))
        assert np.all(np.diff(stress / stretch**3) > 0.0) == rises


@settings(deadline=None)
@given(l1=STRETCH, l2=STRETCH)
def test_tension_field_never_pushes(l1, l2):
    law = LAWS["Mooney"]
    p1, p2 = he.tension_field(l1, l2, law)
    assert p1 >= -1e-6 and p2 >= -1e-6
    taut = he.nominal_stress(l1, l2, law)
    if min(taut) > 0.0 and max(l1, l2) > 1.0:
        assert np.allclose((p1, p2), taut)


def test_refusals():
    with pytest.raises(Refused, match="shear modulus"):
        he.neo_hookean(-1.0)
    with pytest.raises(Refused, match="second share"):
        he.mooney_rivlin(1.0, 1.0)
    with pytest.raises(Refused, match="as many"):
        he.ogden([1.0, 2.0], [2.0])
    with pytest.raises(Refused, match="product"):
        he.ogden([1.0], [-2.0])
    with pytest.raises(Refused, match="first stretch"):
        he.true_stress(0.0, 1.0, LAWS["Ogden"])
