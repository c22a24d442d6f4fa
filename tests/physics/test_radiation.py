"""Radiant exchange against view factor tables, parallel plates and the heat transfer library."""

import ht
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermoforming.guard import Refused
from thermoforming.physics import radiation as rad


@pytest.mark.parametrize(("hot", "cold", "e1", "e2", "expected"), [
    (873.15, 293.15, 0.9, 0.9, 26.6234e3), (873.15, 433.15, 0.9, 0.9, 25.33292e3),
    (723.15, 393.15, 0.9, 0.94, 12.04504e3)])
def test_parallel_grey_plates(hot, cold, e1, e2, expected):
    # Grey-body exchange with the CODATA constant; computed independently.
    assert rad.grey_plates_flux(hot, cold, e1, e2) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(("a", "b", "c", "expected"), [
    (1, 1, 1, 0.1998249), (0.6, 0.4, 0.15, 0.5666666), (0.5, 0.5, 0.1, 0.6902447)])
def test_view_factor_of_parallel_rectangles(a, b, c, expected):
    # Hottel's formula (Incropera, table 13.2); computed independently.
    assert rad.view_factor(a, b, c) == pytest.approx(expected, rel=1e-6)


def test_point_view_factors_average_to_the_rectangle():
    """The local view factor averaged over the sheet is the view factor of the pair."""
    points, weights = np.polynomial.legendre.leggauss(30)
    x, y = np.meshgrid(0.3 * points, 0.2 * points)
    local = rad.point_view_factor(x, y, 0.15, (-0.3, -0.2, 0.3, 0.2))
    mean = np.einsum("ij,i,j->", local, weights, weights) / 4.0
    assert mean == pytest.approx(0.5666666, rel=1e-4)


def test_zones_add_up_to_the_whole_field():
    zones = rad.zone_rectangles(0.6, 0.4, 3, 4)
    x, y = np.array([0.0, 0.2, 0.29]), np.array([0.0, -0.1, 0.19])
    parts = sum(rad.point_view_factor(x, y, 0.1, z) for z in zones)
    assert parts == pytest.approx(rad.point_view_factor(x, y, 0.1, (-0.3, -0.2, 0.3, 0.2)))


def test_full_view_is_parallel_plates_and_no_view_is_the_sheet_alone():
    full, around = rad.exchange_factors(1.0, 0.9, 0.92)
    assert full == pytest.approx(1 / (1 / 0.9 + 1 / 0.92 - 1))
    assert around == pytest.approx(0.0)
    assert rad.exchange_factors(0.0, 0.9, 0.92) == pytest.approx((0.0, 0.92))


@given(st.floats(0, 1), st.floats(0.05, 1), st.floats(0.05, 1))
def test_a_sheet_in_a_hot_room_takes_up_what_its_emissivity_says(view, heater, sheet):
    """With heater and room equally hot the enclosure is black but for its reflections; the sum
    lies between the two-grey-plates value and the sheet's emissivity."""
    from_heater, around = rad.exchange_factors(view, heater, sheet)
    least = 1 / (1 / heater + 1 / sheet - 1)
    assert least - 1e-9 <= from_heater + around <= sheet + 1e-9


@given(st.floats(0.01, 1), st.floats(0.05, 1), st.floats(0.05, 1))
def test_exchange_is_reciprocal(view, heater, sheet):
    assert rad.exchange_factors(view, heater, sheet)[0] == pytest.approx(
        rad.exchange_factors(view, sheet, heater)[0])


def test_exchange_agrees_with_a_radiosity_solve():
    # Radiosity equations of heater, sheet and black surroundings solved as a linear system.
    view, e1, e2, t1, t2, t3 = 0.6, 0.85, 0.92, 800.0, 400.0, 310.0
    black = rad.STEFAN_BOLTZMANN * np.array([t1, t2, t3]) ** 4
    system = np.array([[1, -(1 - e1) * view, -(1 - e1) * (1 - view)],
                       [-(1 - e2) * view, 1, -(1 - e2) * (1 - view)], [0, 0, 1]])
    j = np.linalg.solve(system, [e1 * black[0], e2 * black[1], black[2]])
    expected = view * j[0] + (1 - view) * j[2] - j[1]
    a, b = rad.exchange_factors(view, e1, e2)
    assert a * (black[0] - black[1]) + b * (black[2] - black[1]) == pytest.approx(expected)


def test_heater_power_and_temperature_agree():
    t = rad.heater_temperature(20e3, 1.0, 0.9, 0.9, 293.15, 293.15)
    assert rad.grey_plates_flux(t, 293.15, 0.9, 0.9) == pytest.approx(20e3, rel=1e-6)


def test_peak_wavelength():
    # Wien's law, 873.15 K: 3.318756 um; ht library
    assert rad.peak_wavelength(873.15) == pytest.approx(3.318756e-6, rel=1e-6)
    assert rad.peak_wavelength(873.15) == pytest.approx(_peak_of_planck(873.15), rel=1e-3)


def _peak_of_planck(temperature):
    wavelengths = np.linspace(2e-6, 6e-6, 8001)
    return wavelengths[np.argmax([ht.radiation.blackbody_spectral_radiance(temperature, w)
                                  for w in wavelengths])]


def test_refusals_name_the_input():
    with pytest.raises(Refused, match="distance"):
        rad.view_factor(1, 1, 0)
    with pytest.raises(Refused, match="emissivity"):
        rad.grey_plates_flux(500, 300, 0.0, 0.9)
    with pytest.raises(Refused, match="rectangle"):
        rad.point_view_factor(0, 0, 0.1, (0, 0, 0, 1))
