"""Distances to a tool's triangles, against a general-purpose mesh library and closed forms."""

import numpy as np
import pytest
import trimesh

from thermoforming.guard import Refused
from thermoforming.physics.thinning import contact


def soup(mesh):
    """Triangles without shared corners, every other one wound the wrong way, as bad files are."""
    faces = np.arange(3 * len(mesh.faces)).reshape(-1, 3)
    faces[::2] = faces[::2, ::-1]
    return mesh.vertices[mesh.faces].reshape(-1, 3), faces


@pytest.fixture(scope="module")
def torus():
    return trimesh.creation.torus(0.05, 0.02, major_sections=48, minor_sections=24)


def test_distance_equals_the_exhaustive_search_of_trimesh(torus):
    tool = contact.surface(*soup(torus))
    points = np.random.default_rng(1).uniform(-0.08, 0.08, (400, 3))
    naive = trimesh.proximity.closest_point_naive(torus, points)[1]
    assert np.abs(contact.distances(tool, points)) == pytest.approx(naive, abs=1e-15)


def test_sign_is_that_of_the_box_even_beside_sharp_edges_and_corners():
    tool = contact.surface(*soup(trimesh.creation.box((0.04, 0.06, 0.08))))
    points = np.random.default_rng(2).uniform(-0.05, 0.05, (2000, 3))
    inside = np.all(np.abs(points) < [0.02, 0.03, 0.04], axis=1)
    assert np.array_equal(contact.distances(tool, points) < 0.0, inside)


def test_signed_distance_of_a_torus_is_the_closed_form_within_its_facets(torus):
    fine = trimesh.creation.torus(0.05, 0.02, major_sections=200, minor_sections=100)
    points = np.random.default_rng(3).uniform(-0.07, 0.07, (500, 3))
    exact = np.hypot(np.hypot(points[:, 0], points[:, 1]) - 0.05, points[:, 2]) - 0.02
    assert contact.distances(contact.surface(*soup(fine)), points) == pytest.approx(exact, abs=2e-5)


def test_cast_meets_the_sphere_where_the_quadratic_says():
    ball = contact.surface(*soup(trimesh.creation.icosphere(5, 0.03)))
    rng = np.random.default_rng(4)
    for start, step in zip(rng.uniform(-0.06, 0.06, (200, 3)), rng.normal(0, 0.06, (200, 3))):
        a, b, c = step @ step, 2 * start @ step, start @ start - 0.03**2
        roots = [s for s in np.roots([a, b, c]) if np.isreal(s) and 0.0 <= s.real <= 1.0]
        exact = min(np.real(roots)) if roots else 2.0
        grazing = abs(b * b - 4 * a * c) < 0.02 * b * b
        if not grazing:
            assert contact.cast(ball, *start, *step) == pytest.approx(exact, abs=5e-3)


def test_an_open_surface_is_turned_to_the_sheet():
    grid = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], float)
    tool = contact.surface(grid, [[0, 2, 1], [0, 2, 3]])
    assert np.all(tool.face_normals[:, 2] > 0.99)


@pytest.mark.parametrize("vertices, faces", [
    ([[0, 0, 0], [1, 0, 0], [np.nan, 1, 0]], [[0, 1, 2]]),
    ([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[0, 1, 2]]),
    ([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 3]]),
])
def test_a_mesh_that_cannot_be_used_is_refused(vertices, faces):
    with pytest.raises(Refused):
        contact.surface(vertices, faces)
