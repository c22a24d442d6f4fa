"""Channels against a general heat-transfer library, a fluids library, exact and 2-D conduction."""

import fluids
import ht
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse.linalg import spsolve
from skfem import Basis, BilinearForm, ElementTriP2, FacetBasis, LinearForm, MeshTri
from skfem.helpers import dot, grad

from thermoforming.guard import Refused
from thermoforming.physics import channels

# water at 20 and 40 degC, 2 bar: IAPWS, as rounded in handbooks (from memory)
WATER_20 = channels.Coolant(998.25, 1.0015e-3, 0.5985, 4184.0)
WATER_40 = channels.Coolant(992.26, 0.6527e-3, 0.6306, 4179.0)


@pytest.mark.parametrize("water, bore, speed, re, nu, film", [
    (WATER_20, 0.008, 1.0, 7973.534, 64.28876, 4806.151),
    (WATER_40, 0.010, 1.5, 22802.14, 136.8744, 8603.076)])
def test_water_in_two_channels(water, bore, speed, re, nu, film):
    """Worked out independently with an equation of state for water and Gnielinski's formula."""
    flow = speed * np.pi * bore**2 / 4
    assert channels.reynolds(flow, bore, water) == pytest.approx(re, rel=5e-3)
    assert channels.film(flow, bore, 1.0, water) == pytest.approx(film, rel=5e-3)
    assert channels.nusselt(re, water.prandtl, 100.0) == pytest.approx(nu, rel=5e-3)


@pytest.mark.parametrize("re, pr, nu", [(1e4, 7.0, 79.49265), (2e4, 5.0, 129.5537)])
def test_gnielinski_on_plain_numbers(re, pr, nu):
    """ht 1.2.0, Gnielinski with Petukhov's friction."""
    assert channels.nusselt(re, pr, 50.0) == pytest.approx(nu, rel=1e-6)


@given(st.floats(4000.0, 1e5), st.floats(0.7, 100.0))
def test_turbulent_against_a_heat_transfer_library(re, pr):
    fd = (0.79 * np.log(re) - 1.64) ** -2
    assert channels.nusselt(re, pr, 50.0) == pytest.approx(
        ht.conv_internal.turbulent_Gnielinski(Re=re, Pr=pr, fd=fd), rel=1e-9)


@given(st.floats(10.0, 2300.0), st.floats(1.0, 200.0))
def test_laminar_lies_above_the_developed_limit(re, pr):
    long = channels.nusselt(re, pr, 1e9)
    assert long == pytest.approx(ht.conv_internal.laminar_T_const(), rel=2e-3)
    assert channels.nusselt(re, pr, 20.0) > long


def test_laminar_entry_against_a_heat_transfer_library():
    found = channels.nusselt(1000.0, 7.0, 100.0)
    expected = ht.conv_internal.laminar_entry_thermal_Hausen(Re=1000.0, Pr=7.0, L=1.0, Di=0.01)
    assert found == pytest.approx(expected, rel=1e-3)


def test_no_jump_between_laminar_and_turbulent():
    re = np.linspace(2290.0, 4010.0, 500)
    nu = channels.nusselt(re, 7.0, 50.0)
    assert np.all(np.diff(nu) >= 0) and np.diff(nu).max() < 0.5


@given(st.floats(10.0, 1e6), st.floats(0.0, 0.05))
def test_friction_against_a_fluids_library(re, roughness):
    expected = fluids.friction.Churchill_1977(Re=re, eD=roughness)
    assert channels.friction(re, roughness) == pytest.approx(expected, rel=1e-9)


def test_laminar_pressure_drop_is_poiseuilles():
    oil = channels.Coolant(900.0, 0.1, 0.15, 2000.0)
    flow, bore, length = 1e-5, 0.008, 50.0  # long: entry and exit do not count
    exact = 128 * oil.viscosity * length * flow / (np.pi * bore**4)
    assert channels.pressure_drop(flow, bore, length, 0.0, 0, 1.1, oil) == \
        pytest.approx(exact, rel=1e-3)


# bore, depth of middles, pitch [mm]: handbook formula, exact value (collocation, to 0.1 %)
ROWS = [((10, 20, 40), 1.858222, 1.944082), ((8, 16, 30), 1.78154, 1.870922),
        ((10, 15, 30), 2.031023, 2.215828)]


@pytest.mark.parametrize("sizes, handbook, exact", ROWS)
def test_shape_factors_of_channel_rows(sizes, handbook, exact):
    """Worked out independently; the handbook's formula is the thin-channel limit."""
    bore, depth, pitch = (v * 1e-3 for v in sizes)
    assert channels.shape_factor(bore, depth, pitch, 0) == pytest.approx(handbook, rel=1e-6)
    assert channels.shape_factor(bore, depth, pitch) == pytest.approx(exact, rel=1e-5)


def test_a_lone_channel():
    """2 pi / acosh(2 z / d) = 3.045009: Incropera table 4.1, and ht 1.2.0."""
    assert channels.shape_factor(0.01, 0.02, 5.0) == pytest.approx(3.045009, rel=1e-2)
    assert 2 * np.pi / np.arccosh(4.0) == pytest.approx(3.045009, rel=1e-6)


@pytest.mark.parametrize("bore, depth, pitch", [(0.002, 0.012, 0.024), (0.008, 0.012, 0.024),
                                                (0.008, 0.020, 0.030), (0.010, 0.008, 0.040)])
def test_ripple_against_two_dimensional_conduction(bore, depth, pitch):
    """Finite elements of half a pitch with the hole cut out and an even flux into the face."""
    k, q = 0.22, 1000.0
    face = _face_temperatures(bore, depth, pitch, k, q)
    assert channels.ripple(q, k, bore, depth, pitch) == pytest.approx(face[-1] - face[0], rel=5e-3)


def test_ripple_of_thin_channels_is_the_closed_form():
    closed = 0.03 / np.pi * np.log(1 / np.tanh(np.pi * 0.012 / 0.03))
    assert channels.ripple(1.0, 1.0, 1e-5, 0.012, 0.03) == pytest.approx(closed, rel=1e-4)
    assert channels.ripple(1.0, 1.0, 0.008, 0.012, 0.03, 0) == pytest.approx(closed, rel=1e-9)


def _face_temperatures(bore, depth, pitch, conductivity, flux):
    """Temperature of the face from above a channel to half way between two."""
    below, radius = depth + 2 * pitch, bore / 2
    theta = np.linspace(0.0, np.pi, 97)
    # rays from the hole's rim to a box of half a pitch around it, graded
    corner = [np.arctan2(pitch / 2, depth), np.pi - np.arctan2(pitch / 2, below - depth)]
    theta = np.unique(np.concatenate([theta, corner]))
    outward = np.stack([np.sin(theta), -np.cos(theta)])  # y downward, from the channel's middle
    with np.errstate(divide="ignore"):
        reach = np.minimum.reduce([
            np.where(outward[0] > 1e-12, pitch / 2 / outward[0], np.inf),
            np.where(outward[1] < -1e-12, -depth / outward[1], np.inf),
            np.where(outward[1] > 1e-12, (below - depth) / outward[1], np.inf)])
    share = np.linspace(0.0, 1.0, 60)
    r = radius * (reach[None] / radius) ** share[:, None]
    points = np.stack([(outward[0] * r).ravel(), (depth + outward[1] * r).ravel()])
    n, m = theta.size, share.size
    i, j = (a.ravel() for a in np.meshgrid(np.arange(m - 1), np.arange(n - 1), indexing="ij"))
    a, b, c, d = i * n + j, i * n + j + 1, (i + 1) * n + j + 1, (i + 1) * n + j
    mesh = MeshTri(points, np.concatenate([[a, b, c], [a, c, d]], axis=1)).oriented()
    basis = Basis(mesh, ElementTriP2())
    conduct = BilinearForm(lambda u, v, _: conductivity * dot(grad(u), grad(v))).assemble(basis)
    top = mesh.facets_satisfying(lambda x: np.abs(x[1]) < 1e-9)
    load = LinearForm(lambda v, _: flux * v).assemble(FacetBasis(mesh, ElementTriP2(), facets=top))
    rim = basis.get_dofs(mesh.facets_satisfying(
        lambda x: np.hypot(x[0], x[1] - depth) < radius * 1.001)).all()
    free = np.setdiff1d(np.arange(load.size), rim)
    u = np.zeros(load.size)
    u[free] = spsolve(conduct[free][:, free].tocsc(), load[free])
    at = np.flatnonzero(np.abs(mesh.p[1]) < 1e-9)
    return u[basis.nodal_dofs[0, at[np.argsort(mesh.p[0, at])]]]


@given(st.floats(0.004, 0.012), st.floats(0.6, 4.0), st.floats(1.1, 8.0))
def test_shape_factor_grows_with_bore_and_falls_with_depth(bore, deep, apart):
    depth, pitch = bore * deep, bore * apart
    s = channels.shape_factor(bore, depth, pitch)
    assert channels.shape_factor(0.9 * bore, depth, pitch) < s
    assert channels.shape_factor(bore, 1.1 * depth, pitch) < s
    # never better than the whole face over a slab down to the channels' upper edge
    assert s < pitch / (depth - bore / 2)


def test_coolant_warms_by_the_heat_it_takes():
    assert channels.warming(1000.0, 1e-4, WATER_20) == pytest.approx(
        1000.0 / (998.25 * 4184.0 * 1e-4))
    assert channels.pump_power(1e-4, 50e3, 0.5) == pytest.approx(10.0)


@pytest.mark.parametrize("bad, name", [((0.01, 0.004, 0.03), "depth"), ((0.01, 0.02, 0.008),
                                                                       "pitch"),
                                       ((-0.01, 0.02, 0.03), "bore")])
def test_refuses_channels_that_cannot_be(bad, name):
    with pytest.raises(Refused, match=name):
        channels.shape_factor(*bad)
