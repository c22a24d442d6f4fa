"""Plug from the tool by offset, and the flat around a part, against simple shapes."""

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from thermoforming.geometry.flange import with_flange
from thermoforming.geometry.plug import plug_surface
from thermoforming.geometry.shapes import Form, tray
from thermoforming.guard import Refused

BOX = Form((0.0, 0.0), (0.1, 0.08), 0.03, 0.015, (np.radians(5),) * 4, 0.004, 0.004)


@pytest.fixture(scope="module")
def part():
    return tray((0.14, 0.12), 0.01, [BOX], 3e-3, 1e-3)


def test_flange_continues_the_part_in_its_plane(part):
    """Area of a plate by hand: the outer rectangle's, less its cut corners, less the part's."""
    wide = with_flange(part, 0.05)
    added = wide.part(np.arange(len(part.faces), len(wide.faces)))
    assert np.allclose(added.normals[:, 2], 1.0)
    assert np.ptp(added.vertices[:, 2]) < 1e-9
    outer = wide.size[:2]
    plan = float(part.areas @ part.normals[:, 2])
    assert added.area <= outer.prod() - plan + 1e-9
    assert added.area > 0.93 * (outer.prod() - plan)
    assert np.all(wide.size[:2] >= part.size[:2] + 2 * 0.05)


def test_flange_closes_the_outline(part):
    """trimesh finds one open outline before and after, the outer one larger."""
    before, after = (trimesh.Trimesh(s.vertices, s.faces, process=False)
                     for s in (part, with_flange(part, 0.05)))
    assert len(before.outline().entities) == len(after.outline().entities)
    assert after.is_winding_consistent


def test_no_flange_without_a_level_outline(part):
    tilted = part.moved([[1, 0, 0], [0, np.cos(0.2), -np.sin(0.2)], [0, np.sin(0.2), np.cos(0.2)]])
    assert with_flange(tilted, 0.05) is tilted


def test_plug_keeps_its_clearance(part):
    """Distance from the plug to points spread over the tool by trimesh: not under the clearance."""
    clearance = 0.004
    plug = plug_surface(part, clearance, 1.0)
    tool = trimesh.Trimesh(part.vertices, part.faces, process=False)
    spread, _ = trimesh.sample.sample_surface(tool, 60_000, seed=1)
    distance, _ = cKDTree(spread).query(plug.vertices[::11])
    assert distance.min() > 0.85 * clearance  # the grid of the plan is 1 mm
    assert plug.bounds[0, 2] == pytest.approx(-0.03 + clearance, abs=2e-4)
    assert np.all(plug.normals[:, 2] < 0.0)


def test_share_of_depth_and_refusal(part):
    half = plug_surface(part, 0.004, 0.5)
    assert half.bounds[0, 2] == pytest.approx(0.5 * (-0.03 + 0.004), abs=2e-4)
    with pytest.raises(Refused, match="leaves nothing|slender"):
        plug_surface(part, 0.06, 0.8)
