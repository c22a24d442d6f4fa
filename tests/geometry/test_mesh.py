"""Files that are right, and files that are wrong in each way."""

import io

import numpy as np
import pytest
import trimesh

from thermoforming.geometry.mesh import MOST_TRIANGLES, read_mesh, stand
from thermoforming.geometry.shapes import Form, tray
from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused


def dish():
    form = Form((0.0, 0.0), (0.06, 0.05), 0.02, 0.01, (0.07,) * 4, 0.002, 0.003)
    return tray((0.08, 0.07), 0.005, [form], step=4e-3, chord=1.5e-3)


def as_trimesh(surface, scale=1e3):
    return trimesh.Trimesh(surface.vertices * scale, surface.faces, process=False)


def exported(mesh, ending):
    content = trimesh.exchange.export.export_mesh(mesh, None, file_type=ending)
    return content if isinstance(content, bytes) else content.encode()


def words(reading, verdict):
    return " ".join(f.text for f in reading.findings if f.verdict == verdict)


@pytest.mark.parametrize("ending", ["stl", "stl_ascii", "obj", "ply", "3mf"])
def test_each_format_gives_the_same_part_in_metres(ending):
    surface = dish()
    content = exported(as_trimesh(surface), ending)
    reading = read_mesh(content, "mm", name=f"dish.{ending[:3]}")
    assert reading.usable and not words(reading, "caution")
    assert reading.surface.area == pytest.approx(surface.area, rel=1e-5)
    np.testing.assert_allclose(reading.surface.bounds, surface.bounds, atol=1e-8)


def test_areas_normals_and_volume_agree_with_a_mesh_library():
    surface = dish()
    mesh = as_trimesh(surface, 1.0)
    np.testing.assert_allclose(surface.areas, mesh.area_faces, rtol=1e-9)
    np.testing.assert_allclose(surface.normals, mesh.face_normals, atol=1e-9)
    edges = surface.edges
    assert len(edges.pairs) == len(mesh.face_adjacency)
    assert edges.against.all() and edges.crowded == 0


def test_the_unit_is_asked_for():
    content = exported(as_trimesh(dish()), "stl")
    reading = read_mesh(content, None, name="dish.stl")
    assert not reading.usable and "unit" in reading.findings[0].text
    assert not read_mesh(content, "furlong", name="dish.stl").usable


def test_a_wrong_unit_is_noticed_and_the_likely_one_named():
    content = exported(as_trimesh(dish(), scale=1.0), "stl")
    reading = read_mesh(content, "mm", name="dish.stl")
    assert not reading.usable
    assert "far too small" in words(reading, "stop") and " m." in reading.findings[0].advice


def test_the_unit_written_in_a_file_is_compared():
    content = exported(as_trimesh(dish()), "3mf")
    assert "millimeter" not in words(read_mesh(content, "mm", name="a.3mf"), "caution")
    assert "says its unit is mm" in words(read_mesh(content, "cm", name="a.3mf"), "caution")


@pytest.mark.parametrize("ending", ["stl", "stl_ascii", "obj", "ply", "3mf"])
def test_a_file_cut_off_is_refused(ending):
    content = exported(as_trimesh(dish()), ending)
    reading = read_mesh(content[: int(len(content) * 0.6)], "mm", name=f"a.{ending[:3]}")
    assert not reading.usable and reading.findings[0].advice


@pytest.mark.parametrize("ending", ["stl", "obj", "ply", "3mf"])
@pytest.mark.parametrize("content", [b"", b"hello", b"\x89PNG\r\n" * 100, b"solid x\nfacet\n"])
def test_what_is_not_a_mesh_is_refused(ending, content):
    assert not read_mesh(content, "mm", name=f"a.{ending}").usable


def test_other_endings_and_missing_files_are_refused(tmp_path):
    assert not read_mesh(b"x", "mm", name="part.step").usable
    reading = read_mesh(tmp_path / "nothing.stl", "mm")
    assert "no file" in reading.findings[0].text


def test_too_many_triangles_are_refused_before_they_are_loaded():
    count = MOST_TRIANGLES + 1
    content = bytes(80) + count.to_bytes(4, "little") + bytes(50 * count)
    assert "2,000,001" in words(read_mesh(content, "mm", name="a.stl"), "stop")


def test_flipped_triangles_are_turned_and_counted():
    surface = dish()
    faces = surface.faces.copy()
    faces[100:140] = faces[100:140, ::-1]
    broken = trimesh.Trimesh(surface.vertices * 1e3, faces, process=False)
    reading = read_mesh(exported(broken, "ply"), "mm", name="a.ply")
    assert "40 triangles were facing the wrong way" in words(reading, "caution")
    np.testing.assert_allclose(reading.surface.normals, surface.normals, atol=1e-3)


def test_an_upside_down_surface_is_turned():
    reading = read_mesh(exported(as_trimesh(dish().flipped()), "ply"), "mm", name="a.ply")
    assert "pointed down" in words(reading, "caution")
    assert reading.surface.normals[:, 2].min() > -1e-6


def test_holes_beside_the_rim_are_reported_with_their_place():
    surface = dish()
    flat = np.linalg.norm(surface.centres - [0.0, 0.0, -0.02], axis=1)
    hole = surface.part(flat > 0.006)
    reading = read_mesh(exported(as_trimesh(hole), "ply"), "mm", name="a.ply")
    assert reading.usable and "is 1 hole" in words(reading, "caution")
    assert "z -20.0" in words(reading, "caution")


def test_a_closed_body_is_not_a_tool_side_and_an_open_one_not_closed():
    box = trimesh.creation.box((50, 40, 30))
    assert "closed body" in words(read_mesh(exported(box, "stl"), "mm", name="a.stl"), "stop")
    assert read_mesh(exported(box, "stl"), "mm", "solid", name="a.stl").usable
    dished = exported(as_trimesh(dish()), "stl")
    assert "not closed" in words(read_mesh(dished, "mm", "block", name="a.stl"), "stop")


def test_several_bodies_are_counted():
    two = trimesh.util.concatenate([trimesh.creation.box((50, 40, 30)),
                                    trimesh.creation.icosphere(radius=20).apply_translation(
                                        (90, 0, 0))])
    reading = read_mesh(exported(two, "stl"), "mm", "solid", name="a.stl")
    assert "2 separate bodies" in words(reading, "caution")


def test_duplicate_and_flat_triangles_are_left_out():
    surface = dish()
    extra = np.concatenate([surface.faces, surface.faces[:7], [[3, 3, 4]] * 2])
    bad = trimesh.Trimesh(surface.vertices * 1e3, extra, process=False)
    reading = read_mesh(exported(bad, "ply"), "mm", name="a.ply")
    assert "7 triangles are there twice" in words(reading, "caution")
    assert "2 triangles have no area" in words(reading, "caution")
    assert len(reading.surface.faces) == len(surface.faces)


def test_a_one_sided_strip_is_refused():
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    across = np.array([-4.0, 4.0])[:, None]
    radius = 20 + across * np.cos(turn / 2)
    points = np.stack([radius * np.cos(turn), radius * np.sin(turn), across * np.sin(turn / 2)], -1)
    lower, upper = np.arange(60), np.arange(60, 120)
    next_lower = np.append(lower[1:], upper[0])
    next_upper = np.append(upper[1:], lower[0])
    faces = np.concatenate([np.column_stack([lower, next_lower, upper]),
                            np.column_stack([next_lower, next_upper, upper])])
    strip = trimesh.Trimesh(points.reshape(-1, 3), faces, process=False)
    assert "one side" in words(read_mesh(exported(strip, "ply"), "mm", name="a.ply"), "stop")


def test_a_coordinate_that_is_no_number_is_refused():
    content = b"v 0 0 0\nv 50 0 0\nv 0 nan 0\nf 1 2 3\n"
    assert "not numbers" in words(read_mesh(content, "mm", name="a.obj"), "stop")


@pytest.mark.parametrize("up", ["+x", "-x", "+y", "-y", "+z", "-z"])
def test_standing_a_part_puts_its_rim_at_zero_with_the_pull_up(up):
    surface = dish()
    axis, sign = "xyz".index(up[1]), 1.0 if up[0] == "+" else -1.0
    to_axis = trimesh.geometry.align_vectors([0, 0, 1], sign * np.eye(3)[axis])[:3, :3]
    stood = stand(surface.moved(to_axis, (0.3, -0.2, 0.1)), up)
    assert stood.bounds[1, 2] == pytest.approx(0.0, abs=1e-12)
    assert stood.bounds[0, 2] == pytest.approx(-0.02)
    assert stood.normals[:, 2].min() > -1e-9
    assert stood.area == pytest.approx(surface.area)


def test_impossible_surfaces_are_refused_by_name():
    with pytest.raises(Refused, match="finite"):
        Surface([[0, 0, 0], [1, 0, 0], [0, np.nan, 0]], [[0, 1, 2]])
    with pytest.raises(Refused, match="existing vertices"):
        Surface(np.eye(3), [[0, 1, 3]])
    with pytest.raises(Refused, match="kind"):
        read_mesh(io.BytesIO().getvalue(), "mm", "something", name="a.stl")


def test_a_letter_with_the_wrong_ending_is_not_called_a_cut_off_mesh():
    letter = b"Dear colleague, the part is attached.\n" * 20
    found = words(read_mesh(letter, "mm", name="a.stl"), "stop")
    assert "not an STL mesh" in found and "announces" not in found


def test_a_cloud_of_points_is_refused_in_plain_words():
    cloud = trimesh.PointCloud(np.random.default_rng(0).random((50, 3)) * 100)
    found = words(read_mesh(exported(cloud, "ply"), "mm", name="a.ply"), "stop")
    assert "no triangles" in found and "object" not in found
