"""Bulge over a hole, placement of vents, drains."""

import math

import numpy as np
import pytest
import skfem as fem
import trimesh
from skfem.helpers import ddot, sym_grad, trace

from thermoforming.guard import Refused
from thermoforming.physics.bulge import (bulge_height, hencky_series, largest_bore,
                                         membrane_pressure)
from thermoforming.physics.venting import (CORNER, EDGE, POCKET, drain_time, enclosed_pockets,
                                           landed_share, order_from_shape, place_vents,
                                           pocket_volumes, touching_radius, walls_met)


@pytest.mark.parametrize(("poisson", "expected"), [(0.2, 1.6827), (0.3, 1.7244), (0.4, 1.7769)])
def test_hencky_centre_force(poisson, expected):
    # Tables of the circular membrane in Fichter, NASA TP 3658 (1997), from memory.
    assert hencky_series(poisson)[0] == pytest.approx(expected, abs=6e-5)


def test_hencky_deflection():
    # Same source: w0 = 0.653 a (q a/E t)^(1/3) at Poisson's ratio 0.3 (from memory).
    assert hencky_series(0.3)[1] == pytest.approx(0.653, abs=1e-3)


def test_low_dome_is_hencky_and_a_high_one_runs_away():
    c = hencky_series(0.5)[1]
    assert membrane_pressure(0.01) == pytest.approx((0.01 / c) ** 3, rel=1e-3)
    h = np.linspace(0, 3, 301)
    top = h[np.argmax([membrane_pressure(x) for x in h])]
    assert 0.8 < top < 1.6
    assert math.isinf(bulge_height(10e-3, 0.1e-3, 0.3e6, 1e5))


def _finite_element_bulge(thickness: float) -> float:
    """Centre of a linear elastic sheet over a hole of radius 1, no friction, E = 1, p = 1."""
    poisson, outer = 0.495, 8.0
    r = np.unique(np.concatenate([np.linspace(0, 0.8, 9), 1 - np.geomspace(0.2, 0.004, 10), [1.0],
                                  1 + np.geomspace(0.004, 0.3, 10), np.linspace(1.3, outer, 24)]))
    fine = 0.3 * min(thickness, 1.0)
    z = np.unique(np.concatenate([[0], np.geomspace(0.004, fine, 9),
                                  np.linspace(fine, thickness, 14)]))
    mesh = fem.MeshQuad.init_tensor(r, z)
    element = fem.ElementVector(fem.ElementQuad2())
    basis = fem.Basis(mesh, element, intorder=4)
    mu = 1 / (2 * (1 + poisson))
    lam = poisson / ((1 + poisson) * (1 - 2 * poisson))

    @fem.BilinearForm
    def stiffness(u, v, w):
        eu, ev, hoop_u, hoop_v = sym_grad(u), sym_grad(v), u[0] / w.x[0], v[0] / w.x[0]
        return (2 * mu * (ddot(eu, ev) + hoop_u * hoop_v)
                + lam * (trace(eu) + hoop_u) * (trace(ev) + hoop_v)) * w.x[0]

    @fem.LinearForm
    def pressure(v, w):
        return -v[1] * w.x[0]

    top = mesh.facets_satisfying(lambda x: np.isclose(x[1], thickness))
    load = pressure.assemble(fem.FacetBasis(mesh, element, facets=top, intorder=4))
    held = np.concatenate([
        basis.get_dofs(lambda x: np.isclose(x[1], 0) & (x[0] > 1 - 1e-9)).all("u^2"),
        basis.get_dofs(lambda x: np.isclose(x[0], outer)).all("u^1"),
        basis.get_dofs(lambda x: np.isclose(x[0], 0)).all("u^1")])
    u = fem.solve(*fem.condense(stiffness.assemble(basis), load, D=np.unique(held)))
    return -u[basis.nodal_dofs[1, np.argmin((mesh.p**2).sum(axis=0))]]


@pytest.mark.parametrize("thickness", [0.3, 0.5, 1.0, 2.0, 4.0])
def test_small_bulge_agrees_with_finite_elements(thickness):
    # scikit-fem, quadratic axisymmetric elements
    found = bulge_height(2.0, thickness, 1e6, 1.0) * 1e6
    assert found == pytest.approx(_finite_element_bulge(thickness), rel=0.05)


def test_large_bore_inverts_the_bulge_and_grows_with_gauge():
    bores = [largest_bore(50e-6, t, 1.1e6, 9e4) for t in (0.3e-3, 0.6e-3, 1.2e-3)]
    assert bores == sorted(bores)
    assert bulge_height(bores[1], 0.6e-3, 1.1e6, 9e4) == pytest.approx(50e-6, rel=1e-4)


def _box_cavity():
    """Points and inward normals of an open box 100 x 60 x 30 mm, and its corner positions."""
    box = trimesh.creation.box((0.1, 0.06, 0.03))
    points, face = trimesh.sample.sample_surface_even(box, 6000, seed=3)
    inside = -box.face_normals[face]
    keep = box.face_normals[face][:, 2] < 0.5
    return np.asarray(points)[keep], inside[keep]


def test_touching_ball_in_a_box():
    points, normals = _box_cavity()
    radius = touching_radius(points, normals, 0.05)
    floor = (normals[:, 2] > 0.5) & (np.abs(points[:, :2]).max(axis=1) < 3e-3)
    # on the floor below the middle the ball is stopped by the long walls, 30 mm away, once it is
    # wider than they are high: (30^2 + 30^2)/(2*30) = 30 mm at the rim
    assert np.median(radius[floor]) == pytest.approx(0.030, abs=2e-3)
    near = (np.abs(points[:, 0]) > 0.048) & (normals[:, 2] > 0.5)
    assert np.median(radius[near]) < 4e-3


def test_vents_go_to_the_corners_first():
    points, normals = _box_cavity()
    order = order_from_shape(points, normals, 0.05)
    sites = place_vents(points, normals, order, 0.015, last=0.9, allowed=normals[:, 2] > 0.5)
    placed = points[[s.point for s in sites]]
    assert np.all(placed[:, 2] < -0.0149)
    for corner in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
        away = np.linalg.norm(placed[:, :2] - np.array(corner) * (0.05, 0.03), axis=1)
        assert away.min() < 15e-3  # within the spacing asked for
    gaps = np.linalg.norm(placed[:, None] - placed[None], axis=2)
    assert gaps[np.triu_indices(len(placed), 1)].min() >= 0.015
    assert {s.reason for s in sites} <= {CORNER, EDGE, "last contact"}
    found = [s.order for s in sites]
    drillable = order[normals[:, 2] > 0.5]
    assert found == sorted(found, reverse=True) and found[0] == drillable.max()


def test_walls_are_counted():
    points, normals = _box_cavity()
    at = [int(np.argmin(np.linalg.norm(points - p, axis=1)))
          for p in ((0, 0, -0.015), (0, 0.03, -0.015), (0.05, 0.03, -0.015))]
    assert list(walls_met(points, normals, np.array(at), 5e-3)) == [1, 2, 3]


def test_each_pocket_has_a_vent_at_its_last_point():
    points, normals = _box_cavity()
    order = np.zeros(len(points))
    pocket = np.where(points[:, 0] > 0.03, 1, np.where(points[:, 0] < -0.03, 2, 0))
    order[pocket > 0] = 0.3
    last = int(np.flatnonzero(pocket == 2)[5])
    order[last] = 0.4
    sites = place_vents(points, normals, order, 0.02, last=0.9, pocket=pocket)
    assert sorted(s.pocket for s in sites) == [1, 2]
    assert all(s.reason == POCKET for s in sites)
    assert last in [s.point for s in sites]


def _two_bowls(n=81):
    """A flat field with two bowls of depth 2 and 1 and a ridge of 0.5 between them."""
    x, y = np.meshgrid(np.linspace(-2, 2, n), np.linspace(-1, 1, n // 2), indexing="ij")
    depth = np.maximum(2 * (1 - ((x + 1) ** 2 + y**2)), 1 - ((x - 1) ** 2 + y**2)).clip(0)
    i, j = np.meshgrid(np.arange(n - 1), np.arange(n // 2 - 1), indexing="ij")
    a = (i * (n // 2) + j).ravel()
    b, c = a + n // 2, a + 1
    triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([b, b + 1, c])])
    return x.ravel(), depth.ravel(), triangles


def test_two_bowls_are_two_pockets_that_part_at_the_ridge():
    x, depth, triangles = _two_bowls()
    areas = np.full(len(x), 1.0)
    order = depth / 2.0
    pockets = enclosed_pockets(order, triangles, areas)
    assert len(pockets) == 2
    assert pockets[1].closes == pytest.approx(0.0, abs=0.02)
    assert x[pockets[1].points].min() > -0.05  # the smaller, shallower bowl
    assert sum(len(p.points) for p in pockets) == len(x)


def test_a_slope_has_no_pocket():
    x, _, triangles = _two_bowls()
    assert len(enclosed_pockets((x + 2) / 4, triangles, np.ones(len(x)))) == 1


def test_pocket_volumes_sum_to_what_is_left_and_never_rise():
    x, depth, triangles = _two_bowls()
    areas = np.full(len(x), 1e-4)
    order = landed_share(depth, areas)
    pockets = enclosed_pockets(order, triangles, areas)
    gone = np.linspace(0, 1, 21)
    volumes = pocket_volumes(pockets, order, areas, 2e-3, gone)
    assert np.all(np.diff(volumes, axis=1) <= 0)
    assert volumes[:, 0].sum() == pytest.approx(2e-3, rel=1e-3)
    assert np.all(volumes.sum(axis=0)[:-1] <= 2e-3 * (1 - gone[:-1]) * 1.05)
    assert volumes[0, 14] > volumes[1, 14]  # the deeper bowl keeps its air longer


def test_landed_share_starts_at_nothing_and_ties_land_together():
    share = landed_share(np.array([0.0, 0.0, 1.0, 2.0]), np.ones(4))
    assert share[0] == share[1] == 0.0
    assert share[3] == pytest.approx(1 - 0.25**1.5)


def test_drain_time_scales_with_the_fourth_power_of_the_bore():
    one = drain_time(1e-4, 3e-3, 4e-3, 0.05, 0.5, 1100.0)
    assert drain_time(1e-4, 6e-3, 4e-3, 0.05, 0.5, 1100.0) == pytest.approx(one / 16)
    # at first the flow is pi d^4 rho g h/(128 mu L): Hagen-Poiseuille
    flow = math.pi * 3e-3**4 * 1100 * 9.80665 * 0.05 / (128 * 0.5 * 4e-3)
    assert one == pytest.approx(1e-4 / flow * math.log(100))


def test_refusals_name_the_input():
    with pytest.raises(Refused, match="modulus"):
        bulge_height(1e-3, 1e-3, 0.0, 1e5)
    with pytest.raises(Refused, match="spacing"):
        place_vents(np.zeros((2, 3)), np.ones((2, 3)), np.zeros(2), 0.0)
