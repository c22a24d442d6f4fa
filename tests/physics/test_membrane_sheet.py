"""The sheet's mesh: areas by closed form, and refinement that leaves no gap."""

import numpy as np
import pytest
import trimesh

from thermoforming.guard import Refused
from thermoforming.physics.thinning import contact, sheet


def flat_area(points, triangles):
    a, b, c = (points[triangles[:, k]] for k in range(3))
    u, w = b - a, c - a
    return 0.5 * (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0])


@pytest.mark.parametrize("turn", [0.0, 0.3])
def test_the_mesh_covers_the_frame(turn):
    points, triangles, held = sheet.flat_mesh(sheet.rectangle((0.1, 0.0), 0.24, 0.16), 0.006, turn)
    area = flat_area(points, triangles)
    assert area.sum() == pytest.approx(0.24 * 0.16, rel=1e-12)
    assert area.min() > 0.25 * np.sqrt(0.1875) * 0.006**2
    assert np.abs(points - [0.1, 0.0])[held].max(axis=1).max() <= 0.12 + 1e-12


def test_a_ring_is_a_polygon_of_its_circle():
    points, triangles, held = sheet.flat_mesh(sheet.ring((0, 0), 0.1), 0.004)
    n = held.sum()
    polygon = 0.5 * n * 0.05**2 * np.sin(2 * np.pi / n)
    assert flat_area(points, triangles).sum() == pytest.approx(polygon, rel=1e-12)


def test_refinement_keeps_area_neighbours_and_shapes():
    blank = sheet.Sheet(sheet.ring((0, 0), 0.1), 0.01, 0.0, 0.0)
    far = contact.surface([[0, 0, -9], [1, 0, -9], [0, 1, -9]], [[0, 1, 2]])
    before = flat_area(blank.flat, blank.tri).sum()
    stretched = 1.0 + 3.0 * np.exp(-(blank.flat**2).sum(axis=1) / 0.02**2)
    blank.x[:, 2] = 0.02 * stretched
    assert blank.refine(0.008, np.zeros(0, np.int64), far, 1e-6)
    assert flat_area(blank.flat, blank.tri).sum() == pytest.approx(before, rel=1e-12)
    assert flat_area(blank.flat, blank.tri).min() > 0.0
    assert np.array_equal(sheet.neighbours(blank.tri), blank.beyond)
    edges = np.roll(blank.tri, -1, axis=1)
    assert np.linalg.norm(blank.x[blank.tri] - blank.x[edges], axis=-1).max() <= 0.0121
    mesh = trimesh.Trimesh(np.c_[blank.flat, np.zeros(blank.nodes)], blank.tri, process=False)
    assert mesh.euler_number == 1 and mesh.is_winding_consistent


@pytest.mark.parametrize("size", [0.0, -1.0, np.nan, 0.05])
def test_a_mesh_size_that_does_not_suit_is_refused(size):
    with pytest.raises(Refused):
        sheet.flat_mesh(sheet.ring((0, 0), 0.1), size)
