"""Design questions and the print map against hand calculation, scipy and exact maps."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.spatial import Delaunay

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.physics.thinning import design, print_map


def test_starting_gauge_by_hand():
    """0.6 mm at a ratio of 0.4 asks for 1.5 mm, with 5 % minus tolerance 1.579 mm (by hand)."""
    exact = design.starting_gauge(0.6e-3, Band.exact(0.4), Band.exact(0.0))
    assert exact.typical == pytest.approx(1.5e-3)
    band = design.starting_gauge(0.6e-3, Band(0.3, 0.4, 0.5), Band(0.0, 0.05, 0.1))
    assert band.typical == pytest.approx(1.5e-3 / 0.95)
    assert band.low == pytest.approx(1.2e-3) and band.high == pytest.approx(2e-3 / 0.9)


@given(gauge=st.floats(1e-4, 0.01), ratio=st.floats(0.05, 0.9), width=st.floats(0.0, 0.3))
def test_gauge_and_starting_gauge_undo_each_other(gauge, ratio, width):
    band = Band(ratio * (1 - width), ratio, min(1.0, ratio * (1 + width)))
    least = design.least_gauge(Band.exact(gauge), band)
    needed = design.starting_gauge(least.typical, Band.exact(ratio), Band.exact(0.0))
    assert needed.typical == pytest.approx(gauge)
    assert 0.0 < least.low <= least.typical <= least.high


def test_responses_are_exact_for_products():
    """For a product of powers the factors do not interact: compare with a plain Monte Carlo."""
    bands = {"a": Band(1.0, 2.0, 3.0), "b": Band(0.9, 1.0, 1.2)}
    found = design.responses(lambda a, b: 0.1 * a / b, bands)
    assert found["a"].low == pytest.approx(0.5) and found["b"].high == pytest.approx(1 / 1.2)
    carried = design.ratio_band(0.2, bands, found)
    rng = np.random.default_rng(3)
    plain = 0.1 * rng.triangular(1, 2, 3, 200_000) / rng.triangular(0.9, 1.0, 1.2, 200_000)
    assert carried.typical == pytest.approx(0.2)
    assert carried.low == pytest.approx(np.percentile(plain, 5), rel=0.02)
    assert carried.high == pytest.approx(np.percentile(plain, 95), rel=0.02)


def test_band_with_a_typical_end_keeps_its_typical():
    bands = {"a": Band(1.0, 1.0, 2.0)}
    carried = design.ratio_band(0.3, bands, {"a": design.Response(1.0, 0.5)})
    assert carried.typical == pytest.approx(0.3) and carried.high <= 0.3 + 1e-12


def test_search_agrees_with_scipy():
    def peak(x):
        return float(np.exp(-(x - 0.37) ** 2) + 0.1 * x)

    exact = minimize_scalar(lambda x: -peak(x), bounds=(0, 1), method="bounded").x
    setting, value = design.best_setting(peak, 0.0, 1.0, runs=20)
    assert setting == pytest.approx(exact, abs=0.01) and value == pytest.approx(peak(setting))
    with pytest.raises(InterruptedError):
        design.best_setting(peak, 0.0, 1.0, tell=lambda share: True)
    with pytest.raises(Refused, match="empty"):
        design.best_setting(peak, 1.0, 1.0)


def mesh(count=25, half=0.05):
    grid = np.linspace(-half, half, count)
    flat = np.array([(x, y) for y in grid for x in grid])
    return flat, Delaunay(flat).simplices


def picture(rows=60, cols=80):
    y, x = np.mgrid[0:rows, 0:cols]
    return np.stack([255.0 * x / cols, 255.0 * y / rows, 128 + 0.0 * x], 2)


def test_unformed_sheet_prints_the_picture_itself():
    flat, triangles = mesh()
    found = print_map.flat_map(flat, np.c_[flat, 0 * flat[:, 0]], triangles, 0.1 / 80)
    image = print_map.distorted(picture(80, 80), found, (-0.05, -0.05), (0.1, 0.1))
    assert np.max(np.abs(image[..., :3].astype(float) - picture(80, 80))) <= 1.0
    assert np.all(image[..., 3] == 255) and np.allclose(found.area_ratio, 1.0)


def test_known_maps():
    """Affine maps are exact: stretched twofold, half the picture's width holds all of it."""
    flat, triangles = mesh()
    points = np.c_[2 * flat[:, 0], 0.5 * flat[:, 1], 0.3 * flat[:, 0]]
    found = print_map.flat_map(flat, points, triangles, 1e-3)
    x, y = np.meshgrid(found.xs, found.ys)
    assert np.allclose(found.place[..., 0], 2 * x) and np.allclose(found.place[..., 1], y / 2)
    # Area ratio of the tilted plane by hand: |(2, 0, 0.3) x (0, 0.5, 0)|.
    assert np.allclose(found.area_ratio, 0.5 * np.hypot(2.0, 0.3))
    image = print_map.distorted(picture(), found, (-0.05, -0.0125), (0.1, 0.025))
    reached = image[..., 3] > 0
    columns = np.flatnonzero(reached.any(axis=0))
    assert len(columns) == pytest.approx(0.5 * reached.shape[1], abs=2)


def test_picture_refusals():
    flat, triangles = mesh()
    with pytest.raises(Refused, match="larger"):
        print_map.flat_map(flat, np.c_[flat, 0 * flat[:, 0]], triangles, 1e-6)
    found = print_map.flat_map(flat, np.c_[flat, 0 * flat[:, 0]], triangles, 1e-3)
    with pytest.raises(Refused, match="picture"):
        print_map.distorted(np.zeros((3, 3)), found, (0, 0), (1, 1))
