"""Draft, undercut, radii, forms and sections against solids whose answer is known in closed form.

Where no closed form exists, a general-purpose mesh library (trimesh) is the other opinion.
"""

from math import acos, atan, cos, degrees, pi, radians, sin, tan

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from trimesh.ray import ray_triangle

from thermoforming.geometry.curvature import bends, smallest_radius, tight_regions
from thermoforming.geometry.display import coarser
from thermoforming.geometry.draft import (
    area_by_band,
    best_pull,
    draft_angles,
    pull_direction,
    undercut,
    undercut_regions,
)
from thermoforming.geometry.forms import flats, forms, gaps, height_map, plan_area
from thermoforming.geometry.pick import across, depth_below
from thermoforming.geometry.regions import regions, weighted_quantile
from thermoforming.geometry.section import section
from thermoforming.geometry.shapes import Form, tray
from thermoforming.geometry.sides import tool_side
from thermoforming.geometry.soundness import signed_volume
from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused

MM = 1e-3


def turned(profile, count=256):
    """Surface of revolution of (radius, height) points about z, normals to the right of the way."""
    profile = np.asarray(profile, dtype=float)
    angle = np.linspace(0, 2 * pi, count, endpoint=False)
    ring = np.stack([np.cos(angle), np.sin(angle)])
    points = np.concatenate([np.column_stack([r * ring[0], r * ring[1], np.full(count, z)])
                             for r, z in profile])
    a = np.arange(count)
    b = np.roll(a, -1)
    faces = []
    for i in range(len(profile) - 1):
        low, high = i * count, (i + 1) * count
        faces += [np.column_stack([low + a, low + b, high + b]),
                  np.column_stack([low + a, high + b, high + a])]
    surface = Surface(points, np.concatenate(faces))
    return surface.part(surface.areas > 1e-12)


def plane_with(profile, outer):
    """A flat of radius `outer` at z = 0 with a form of revolution standing on it."""
    return turned([(outer, 0.0), *profile])


def dish(**changes):
    values = dict(centre=(0.0, 0.0), size=(60 * MM, 50 * MM), height=20 * MM, corner=12 * MM,
                  drafts=(radians(4),) * 4, upper=2 * MM, lower=3 * MM) | changes
    return tray((80 * MM, 70 * MM), 5 * MM, [Form(**values)], step=2.5 * MM, chord=0.5 * MM)


# Draft ------------------------------------------------------------------------------------------

@pytest.mark.parametrize("angle", [0.5, 3.0, 10.0, 45.0])
def test_draft_of_a_cone_is_its_half_angle(angle):
    height = 40 * MM
    cone = turned([(50 * MM, 0.0), (50 * MM - height * tan(radians(angle)), height)], count=720)
    assert degrees(draft_angles(cone).mean()) == pytest.approx(angle, rel=1e-3)


def test_draft_of_a_pyramid_and_of_its_floor():
    points = [(1, 1, 0), (-1, 1, 0), (-1, -1, 0), (1, -1, 0), (0, 0, 2)]
    pyramid = Surface(points, [(0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)])
    np.testing.assert_allclose(draft_angles(pyramid), atan(1 / 2))
    floor = Surface(points, [(0, 1, 2)])
    assert degrees(draft_angles(floor)[0]) == pytest.approx(90.0)


def test_tilting_the_pull_adds_draft_on_one_side_and_takes_it_on_the_other():
    points = [(1, 1, 0), (-1, 1, 0), (-1, -1, 0), (1, -1, 0), (0, 0, 2)]
    pyramid = Surface(points, [(0, 1, 4), (1, 2, 4), (2, 3, 4), (3, 0, 4)])
    plain, tilted = draft_angles(pyramid), draft_angles(pyramid, pull_direction(0.1, 0.0))
    assert tilted[3] == pytest.approx(plain[3] + 0.1)  # the side that faces +x
    assert tilted[1] == pytest.approx(plain[1] - 0.1)


def test_bands_add_up_to_the_whole_area():
    surface = dish()
    assert area_by_band(surface, draft_angles(surface)).sum() == pytest.approx(surface.area)


def test_areas_by_draft_of_the_tray_are_those_drawn():
    """A wall of 4 degrees between fillets: length along the wall from plane geometry."""
    surface = dish()
    drafts = draft_angles(surface)
    straight = 2 * ((60 - 24) + (50 - 24)) * MM
    a = radians(4)
    wall = (20 * MM - (2 + 3) * MM * (1 - sin(a))) / cos(a)
    on_planes = np.isclose(drafts, a, atol=1e-6) & (
        np.isclose(np.abs(surface.normals[:, :2]), 0, atol=1e-9).any(axis=1))
    assert surface.areas[on_planes].sum() == pytest.approx(straight * wall, rel=1e-9)


# Undercut ---------------------------------------------------------------------------------------

def test_a_drafted_tray_has_no_undercut_and_an_upright_wall_is_none():
    assert undercut(dish()).area == 0.0
    assert undercut(dish(drafts=(0.0,) * 4)).area == 0.0


def test_a_facet_that_faces_down_is_undercut_even_with_nothing_above_it():
    facing_down = Surface([(0, 0, 0), (0, 1, 0), (1, 0, 0)], [(0, 1, 2)])
    assert undercut(facing_down).hidden[0] == 1.0
    assert undercut(facing_down.flipped()).hidden[0] == 0.0


def test_undercut_of_a_ball_on_a_plane():
    """The space under the lower half of a ball resting on a plane is pi R^3 / 3."""
    radius = 20 * MM
    turn = np.linspace(-pi / 2 + 1e-3, pi / 2 - 1e-6, 200)
    profile = [(radius * cos(t), radius + radius * sin(t)) for t in turn]
    ball = plane_with(profile, 40 * MM)
    found = undercut(ball)
    regions_found = undercut_regions(found, cells=500)
    assert len(regions_found) == 1 and regions_found[0].name == "U1"
    assert regions_found[0].volume == pytest.approx(pi * radius**3 / 3, rel=0.01)
    half_ball, shadow = 2 * pi * radius**2, pi * radius**2
    assert found.area == pytest.approx(half_ball + shadow, rel=0.02)


def test_undercut_of_a_ring_on_a_plane():
    """Under a torus lying on a plane: 2 pi R (2 r^2 - pi r^2 / 2), by Pappus's theorem."""
    big, small = 30 * MM, 8 * MM
    turn = np.linspace(-pi / 2, 3 * pi / 2, 240)
    ring = turned([(big + small * cos(t), small + small * sin(t)) for t in turn])
    floor = turned([(50 * MM, 0.0), (0.1 * MM, 0.0)])
    both = Surface(np.concatenate([ring.vertices, floor.vertices - [0, 0, 1e-6]]),
                   np.concatenate([ring.faces, floor.faces + len(ring.vertices)]))
    volume = sum(r.volume for r in undercut_regions(undercut(both), cells=800))
    assert volume == pytest.approx(2 * pi * big * (2 * small**2 - pi * small**2 / 2), rel=0.01)


def test_undercut_volume_and_depth_of_a_dovetail():
    """A cone that widens upwards: cylinder less frustum; depth is the difference of the radii."""
    low, high, tall = 15 * MM, 19 * MM, 12 * MM
    knob = plane_with([(low, 0.0), (high, tall), (1e-6, tall)], 40 * MM)
    found = undercut_regions(undercut(knob), cells=800)
    frustum = pi * tall / 3 * (low**2 + low * high + high**2)
    assert sum(r.volume for r in found) == pytest.approx(pi * high**2 * tall - frustum, rel=0.01)
    assert max(r.depth for r in found) == pytest.approx(high - low, abs=0.2 * MM)


def test_what_lies_in_the_shadow_of_a_lip_is_hidden_though_it_faces_up():
    lip = plane_with([(20 * MM, 0.0), (20 * MM, 10 * MM), (25 * MM, 10 * MM), (25 * MM, 12 * MM),
                      (1e-6, 12 * MM)], 40 * MM)
    found = undercut(lip)
    under = (found.surface.normals[:, 2] < -0.5)
    assert (found.hidden[under] == 1.0).all()
    upright_below = (np.abs(found.surface.normals[:, 2]) < 1e-6) & (lip.centres[:, 2] < 9 * MM)
    assert (found.hidden[upright_below] == 1.0).all()
    upright_lip = (np.abs(found.surface.normals[:, 2]) < 1e-6) & (lip.centres[:, 2] > 10 * MM)
    assert (found.hidden[upright_lip] == 0.0).all()


def test_visibility_agrees_with_rays_of_a_mesh_library():
    lumps = trimesh.util.concatenate([
        trimesh.creation.icosphere(3, radius=1.0).apply_translation(shift)
        for shift in [(0, 0, 0), (0.7, 0.3, 1.4), (-1.0, 0.6, -1.1)]])
    surface = Surface(lumps.vertices * 0.01, lumps.faces)
    pull = pull_direction(0.2, -0.1)
    found = undercut(surface, pull)
    facing = surface.normals @ pull > 0.02
    starts = (surface.centres + 1e-6 * surface.normals)[facing][::7]
    _, rays = ray_triangle.ray_triangle_id(surface.corners, starts, np.tile(pull, (len(starts), 1)),
                                           tree=EveryTriangle(surface))[:2]
    hit = np.isin(np.arange(len(starts)), rays)
    hidden = found.hidden[facing][::7]
    clear_cut = (hidden == 0.0) | (hidden == 1.0)
    assert clear_cut.mean() > 0.8
    np.testing.assert_array_equal(hidden[clear_cut] == 1.0, hit[clear_cut])


class EveryTriangle:
    """Stands in for the library's optional box tree: every triangle is tried."""

    def __init__(self, surface):
        self.bounds = surface.bounds.ravel()
        self.count = len(surface.faces)

    def intersection(self, _box):
        return range(self.count)


@given(tilt=st.floats(0.1, 0.4), way=st.floats(0.0, 2 * pi))
@settings(max_examples=8, deadline=None)
def test_the_pull_found_frees_a_leaning_cavity(tilt, way):
    """A cavity of 4 degrees turned as a whole comes out again along its own axis."""
    small = tray((80 * MM, 70 * MM), 5 * MM, [Form((0.0, 0.0), (60 * MM, 50 * MM), 20 * MM, 12 * MM,
                 (radians(4),) * 4, 2 * MM, 3 * MM)], step=6 * MM, chord=1.5 * MM)
    axis = [-sin(way), cos(way), 0.0]
    rotation = trimesh.transformations.rotation_matrix(tilt, axis)[:3, :3]
    leaning = small.moved(rotation)
    pull = best_pull(leaning, required=radians(3.0))
    assert undercut(leaning, pull).area == 0.0
    assert np.arccos(pull @ (rotation @ [0, 0, 1])) < radians(1.1)


# Radii ------------------------------------------------------------------------------------------

@pytest.mark.parametrize("radius", [1.0, 4.0, 12.0])
def test_radius_of_a_cylinder_is_exact(radius):
    drum = turned([(radius, z) for z in np.linspace(0, 30, 12)], count=48)
    found = bends(drum)
    assert smallest_radius(found, external=True) == pytest.approx(radius, rel=1e-9)
    assert smallest_radius(found, external=False) == float("inf")
    assert smallest_radius(bends(drum.flipped()), external=False) == pytest.approx(radius)


def test_radius_of_a_sphere():
    ball = trimesh.creation.icosphere(subdivisions=4, radius=7.0)
    found = bends(Surface(ball.vertices, ball.faces))
    assert np.median(found.radius) == pytest.approx(7.0, rel=0.01)


def test_smallest_radius_of_a_torus_is_its_tube():
    ring = trimesh.creation.torus(30.0, 5.0, major_sections=120, minor_sections=60)
    found = bends(Surface(ring.vertices, ring.faces))
    assert smallest_radius(found, external=True) == pytest.approx(5.0, rel=0.02)


def test_fillets_of_the_tray_are_those_drawn_and_are_told_apart():
    surface = dish(upper=2 * MM, lower=3 * MM)
    found = bends(surface)
    assert not found.sharp.any()
    assert smallest_radius(found, external=True, share=0.1) == pytest.approx(2 * MM, rel=0.05)
    assert smallest_radius(found, external=False, share=0.1) == pytest.approx(3 * MM, rel=0.05)
    tight = tight_regions(surface, found, external=True, below=2.5 * MM)
    assert [r.name for r in tight] == ["E1"]
    assert not tight_regions(surface, found, external=False, below=2.5 * MM)


def test_the_edges_of_a_box_are_sharp():
    box = trimesh.creation.box((1, 1, 1))
    found = bends(Surface(box.vertices, box.faces))
    assert found.sharp.sum() == 12 and smallest_radius(found, external=True) == 0.0
    assert found.length[found.sharp].sum() == pytest.approx(12.0)


# Forms ------------------------------------------------------------------------------------------

def two_cavities():
    boss = Form((-25 * MM, 0.0), (14 * MM, 14 * MM), 9 * MM, 7 * MM, (radians(5),) * 4, 1 * MM,
                1.5 * MM)
    deep = Form((-25 * MM, 0.0), (40 * MM, 60 * MM), 20 * MM, 10 * MM, (radians(4),) * 4, 1.5 * MM,
                2 * MM, on_floor=(boss,))
    low = Form((20 * MM, 0.0), (30 * MM, 40 * MM), 10 * MM, 8 * MM, (radians(4),) * 4, 1.5 * MM,
               2 * MM)
    return tray((110 * MM, 80 * MM), 5 * MM, [deep, low], step=2.5 * MM, chord=0.5 * MM)


def test_forms_are_found_with_their_sizes():
    surface = two_cavities()
    plan = height_map(surface)
    found = {form.name: form for form in forms(surface, plan)}
    assert sorted(found) == ["B1", "C1", "C2"]
    assert found["C1"].depth == pytest.approx(20 * MM, rel=1e-6)
    assert (found["C1"].width, found["C1"].length) == pytest.approx((40 * MM, 60 * MM), rel=0.03)
    assert found["C2"].draw == pytest.approx(10 / 30, rel=0.03)
    assert found["B1"].inside == "C1" and found["B1"].depth == pytest.approx(9 * MM, rel=1e-6)


def test_gaps_are_the_web_and_the_channel_round_the_boss():
    surface = two_cavities()
    plan = height_map(surface)
    listed = {gap.between: gap for gap in gaps(plan, forms(surface, plan))}
    web = listed["C1", "C2"]
    assert web.width == pytest.approx(10 * MM, abs=0.7 * MM)
    assert web.height == pytest.approx(10 * MM)
    round_corner = 8 * sin(acos(1 - 0.25 * 10 / 8))  # where the corner has left by a quarter
    assert web.length == pytest.approx((40 - 2 * 8 + 2 * round_corner) * MM, rel=0.05)
    assert listed["C1", "B1"].width == pytest.approx(13 * MM, abs=1.6 * MM)


def test_areal_draw_of_a_straight_round_cup():
    """Areal draw of a cylinder of depth h and diameter d is 1 + 4 h / d."""
    cup = turned([(40 * MM, 0.0), (20 * MM, 0.0), (20 * MM, -30 * MM), (1e-6, -30 * MM)])
    found = forms(cup, height_map(cup))
    assert [f.name for f in found] == ["C1"]
    assert found[0].areal_draw == pytest.approx(1 + 4 * 30 / 40, rel=0.02)
    assert found[0].draw == pytest.approx(30 / 40, rel=0.02)
    assert cup.area / plan_area(cup) == pytest.approx(
        (pi * 0.04**2 + pi * 0.04 * 0.03) / (pi * 0.04**2), rel=1e-3)


def test_male_forms_are_found_and_the_channel_between_them():
    one = plane_with([(10 * MM, 0.0), (9 * MM, 15 * MM), (1e-6, 15 * MM)], 12 * MM)
    two = one.moved(np.eye(3), (30 * MM, 0.0, 0.0))
    floor = trimesh.creation.box((90 * MM, 60 * MM, 2 * MM))
    both = Surface(np.concatenate([one.vertices, two.vertices, floor.vertices - [0, 0, 1 * MM]]),
                   np.concatenate([one.faces, two.faces + len(one.vertices),
                                   floor.faces + 2 * len(one.vertices)]))
    plan = height_map(both)
    found = forms(both, plan)
    assert [f.name for f in found] == ["B1", "B2"]
    assert gaps(plan, found)[0].width == pytest.approx(10 * MM, abs=0.5 * MM)


def test_flats_are_the_rim_the_floors_and_the_boss():
    surface = two_cavities()
    levels = sorted(round(region.mean * 1e3, 6) for region in flats(surface, 1e-5))
    assert levels == [-20.0, -11.0, -10.0, 0.0]


def test_a_flat_plate_has_no_forms():
    plate = turned([(40 * MM, 0.0), (1e-6, 0.0)])
    assert forms(plate, height_map(plate)) == []


# Sections, sides, regions -----------------------------------------------------------------------

def test_section_of_a_sphere_is_a_circle():
    ball = trimesh.creation.icosphere(subdivisions=5, radius=1.0)
    (line,) = section(Surface(ball.vertices, ball.faces), (0, 0, 0.6), (0, 0, 1))
    np.testing.assert_allclose(line[0], line[-1])
    length = np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert length == pytest.approx(2 * pi * 0.8, rel=1e-3)


def test_section_agrees_with_a_mesh_library():
    surface = two_cavities()
    mesh = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    ours = sum(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
               for line in section(surface, (0.0, 1e-3, 0.0), (0.1, 1.0, 0.2)))
    theirs = trimesh.intersections.mesh_plane(mesh, (0.1, 1.0, 0.2), (0.0, 1e-3, 0.0))
    assert ours == pytest.approx(np.linalg.norm(theirs[:, 1] - theirs[:, 0], axis=1).sum())


def test_a_plane_beside_the_mesh_cuts_nothing():
    assert section(dish(), (1.0, 0, 0), (1, 0, 0)) == []


def block(surface, depth):
    """A closed block under a tray: the tray, its outline drawn down, and a bottom."""
    mesh = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    edges = surface.edges.open
    used, number = np.unique(edges, return_inverse=True)
    number = number.reshape(-1, 2) + len(surface.vertices)
    low = surface.vertices[used] * [1, 1, 0] - [0, 0, depth]
    middle = len(surface.vertices) + len(used)
    sides = np.concatenate([np.column_stack([edges[:, 1], edges[:, 0], number[:, 0]]),
                            np.column_stack([edges[:, 1], number[:, 0], number[:, 1]])])
    bottom = np.column_stack([number[:, 1], number[:, 0], np.full(len(number), middle)])
    return Surface(np.concatenate([mesh.vertices, low, [[0, 0, -depth]]]),
                   np.concatenate([surface.faces, sides, bottom]))


def test_the_tool_side_is_found_on_a_closed_block():
    surface = two_cavities()
    tool = block(surface, 40 * MM)
    assert trimesh.Trimesh(tool.vertices, tool.faces).is_watertight
    found = tool_side(tool, "block")
    assert found.area == pytest.approx(surface.area, rel=1e-6)
    np.testing.assert_allclose(found.bounds, surface.bounds, atol=1e-9)


def test_the_tool_side_is_the_lower_side_of_a_part():
    surface = two_cavities()
    count, edges = len(surface.vertices), surface.edges.open
    rim = np.concatenate([np.column_stack([edges[:, 0], edges[:, 1], edges[:, 1] + count]),
                          np.column_stack([edges[:, 0], edges[:, 1] + count, edges[:, 0] + count])])
    part = Surface(np.concatenate([surface.vertices, surface.vertices + [0, 0, 2 * MM]]),
                   np.concatenate([surface.faces[:, ::-1], surface.faces + count, rim]))
    assert signed_volume(part) == pytest.approx(plan_area(surface) * 2 * MM, rel=1e-9)
    found = tool_side(part, "solid")
    assert found.area == pytest.approx(surface.area, rel=1e-6)
    assert found.normals[:, 2].min() > -1e-9
    assert found.bounds[1, 2] == pytest.approx(0.0, abs=1e-9)


def test_regions_are_named_by_size_and_small_ones_are_left_out():
    surface = two_cavities()
    low = surface.centres[:, 2] < -9.99 * MM
    named = regions(surface, low & (surface.normals[:, 2] > 0.99), "F", surface.centres[:, 2])
    assert [r.name for r in named][:2] == ["F1", "F2"]
    assert all(a.area >= b.area for a, b in zip(named, named[1:], strict=False))
    assert not regions(surface, low, "F", surface.centres[:, 2], least_area=1.0)
    assert not regions(surface, np.zeros(len(surface.faces), bool), "F", surface.areas)


def test_weighted_quantile_with_equal_weights_is_the_ordinary_one():
    values = np.random.default_rng(1).normal(size=1001)
    ours = weighted_quantile(values, np.ones(1001), (0.1, 0.5, 0.9))
    np.testing.assert_allclose(ours, np.quantile(values, [0.1, 0.5, 0.9]), atol=0.01)


def test_bad_requests_are_refused_by_name():
    surface = dish()
    with pytest.raises(Refused, match="pull"):
        undercut(surface, (0, 0, 0))
    with pytest.raises(Refused, match="finite"):
        draft_angles(surface, (0, np.nan, 1))
    with pytest.raises(Refused, match="tilt"):
        pull_direction(2.0, 0.0)
    with pytest.raises(Refused, match="normal"):
        section(surface, (0, 0, 0), (0, 0, 0))
    with pytest.raises(Refused, match="corner radius is used up"):
        dish(corner=4 * MM)
    with pytest.raises(Refused, match="fillets"):
        dish(height=4 * MM)


def test_a_coarser_copy_keeps_shape_and_knows_where_it_came_from():
    ball = trimesh.creation.icosphere(subdivisions=5, radius=1.0)
    fine = Surface(ball.vertices, ball.faces)
    shown, origin = coarser(fine, 2000)
    assert len(shown.faces) == len(origin) <= 2000 and len(shown.faces) > 400
    assert shown.area == pytest.approx(fine.area, rel=0.1)
    assert np.linalg.norm(shown.centres - fine.centres[origin], axis=1).max() < 0.2
    same, numbers = coarser(fine, len(fine.faces))
    assert same is fine and len(numbers) == len(fine.faces)


def test_distances_across_a_cavity_and_a_boss_are_those_drawn():
    """Drafted walls: width at a depth z is the width at the top less 2 z tan(draft)."""
    surface = two_cavities()
    inside = across(surface, (-25 * MM, 20 * MM, -8 * MM), (1, 0, 0))
    assert inside.distance == pytest.approx((40 - 2 * 8 * tan(radians(4))) * MM, rel=1e-9)
    boss = across(surface, (-25 * MM, 0.0, -15 * MM), (1, 0, 0))
    assert boss.distance == pytest.approx((14 + 2 * 4 * tan(radians(5))) * MM, rel=0.01)
    assert depth_below(surface, (-25 * MM, 20 * MM, 0)) == pytest.approx(20 * MM)
    assert depth_below(surface, (-25 * MM, 0, 0)) == pytest.approx(11 * MM)


def test_a_place_beside_the_part_is_refused():
    surface = two_cavities()
    with pytest.raises(Refused, match="both sides"):
        across(surface, (0.0, 0.0, 50 * MM), (1, 0, 0))
    with pytest.raises(Refused, match="beside"):
        depth_below(surface, (1.0, 0.0, 0.0))
    with pytest.raises(Refused, match="direction"):
        across(surface, (0, 0, 0), (0, 0, 0))


# Laws -------------------------------------------------------------------------------------------

@given(scale=st.floats(0.2, 5.0), turn=st.floats(0.0, 2 * pi))
@settings(max_examples=6, deadline=None)
def test_size_and_heading_change_lengths_but_not_angles(scale, turn):
    small = dish()
    heading = trimesh.transformations.rotation_matrix(turn, [0, 0, 1])[:3, :3]
    large = Surface(small.vertices @ heading.T * scale, small.faces)
    np.testing.assert_allclose(draft_angles(large), draft_angles(small), atol=1e-7)
    assert undercut(large).area == 0.0
    ratio = smallest_radius(bends(large), True) / smallest_radius(bends(small), True)
    assert ratio == pytest.approx(scale, rel=1e-6)


@given(angle=st.floats(0.09, 0.5))
@settings(max_examples=6, deadline=None)
def test_a_pull_beyond_the_draft_makes_an_undercut_that_grows(angle):
    """Walls of 4 degrees: what leans more than that is caught, and the more the further."""
    surface = dish()
    some, more = (undercut(surface, pull_direction(a, 0.0)) for a in (angle, angle + 0.1))
    assert 0.0 < some.area <= more.area + 1e-9
    volumes = [sum(r.volume for r in undercut_regions(found, 300)) for found in (some, more)]
    assert volumes[0] < volumes[1]
