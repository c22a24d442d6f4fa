"""The tool as a solid, held to volumes worked out by hand and to a general mesh library."""

import manifold3d as m3
import numpy as np
import pytest
import trimesh

from thermoforming.geometry.shapes import Form, tray
from thermoforming.geometry.solid import Channel, Drain, Hole, ToolPlan, Vent, build
from thermoforming.geometry.solid.body import rim_loop
from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused

MM = 1e-3


def plate(side=100.0, cells=10) -> Surface:
    """A level square face at z = 0, open at its rim."""
    line = np.linspace(-side / 2, side / 2, cells + 1) * MM
    x, y = np.meshgrid(line, line)
    n = cells + 1
    index = np.arange(n * n).reshape(n, n)
    a, b, c, d = (index[:-1, :-1].ravel(), index[:-1, 1:].ravel(), index[1:, 1:].ravel(),
                  index[1:, :-1].ravel())
    faces = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return Surface(np.column_stack([x.ravel(), y.ravel(), np.zeros(n * n)]), faces)


def as_mesh(surface: Surface) -> trimesh.Trimesh:
    return trimesh.Trimesh(surface.vertices, surface.faces, process=False)


PLAIN = ToolPlan(run_off=0.0, below=20 * MM, wall=5 * MM, cell=1 * MM)


def test_solid_block_has_the_volume_of_a_box():
    built = build(plate(), ToolPlan(run_off=0.0, below=20 * MM, wall=0.0))
    assert built.audit.volume == pytest.approx(0.1 * 0.1 * 0.02, rel=1e-9)
    assert not built.audit.faults


def test_hollow_box_against_two_boxes_by_hand():
    built = build(plate(), PLAIN)
    by_hand = 0.1 * 0.1 * 0.02 - 0.09 * 0.09 * 0.015
    assert built.audit.volume == pytest.approx(by_hand, rel=5e-3)
    assert 5 * MM - 1e-9 <= built.audit.least_wall <= 6 * MM
    # source: trimesh, a general mesh library: closed, one body, the same volume
    mesh = as_mesh(built.whole)
    assert mesh.is_watertight and mesh.body_count == 1
    assert mesh.volume == pytest.approx(built.audit.volume, rel=1e-6)


def test_ribs_add_their_own_volume():
    ribbed = build(plate(), ToolPlan(run_off=0.0, below=20 * MM, wall=5 * MM, cell=1 * MM,
                                     ribs=(1, 0), rib_thickness=4 * MM, air_notch=5 * MM))
    bare = build(plate(), PLAIN)
    width = min(0.09 / 2 / 3, 4 * 5 * MM)  # of the one air opening
    by_hand = 4 * MM * 0.09 * 0.015 - 4 * MM * width * 5 * MM
    assert ribbed.audit.volume - bare.audit.volume == pytest.approx(by_hand, rel=0.03)
    assert ribbed.audit.least_gap == pytest.approx(0.09 / 2 - 2 * MM, rel=1e-6)


def test_hanging_ribs_are_as_high_as_asked():
    hanging = build(plate(), ToolPlan(run_off=0.0, below=20 * MM, wall=5 * MM, cell=1 * MM,
                                      ribs=(1, 0), rib_thickness=4 * MM, rib_height=6 * MM,
                                      air_notch=1 * MM))
    bare = build(plate(), PLAIN)
    assert hanging.audit.volume - bare.audit.volume == pytest.approx(4 * MM * 0.09 * 6 * MM,
                                                                     rel=0.03)


def test_flange_and_scale():
    built = build(plate(), ToolPlan(scale=(1.01, 1.02, 1.0), run_off=8 * MM, below=10 * MM,
                                    wall=0.0))
    low, high = as_mesh(built.whole).bounds
    assert high - low == pytest.approx([0.101 + 0.016, 0.102 + 0.016, 0.01], abs=1e-6)


@pytest.fixture(scope="module")
def deep() -> Surface:
    return tray((120 * MM, 90 * MM), 12 * MM, [Form(
        centre=(0.0, 0.0), size=(80 * MM, 50 * MM), corner=10 * MM, height=30 * MM,
        drafts=(np.radians(5.0),) * 4, upper=4 * MM, lower=4 * MM)])


VENTS = (Vent(1, 0.0, 0.0, -30 * MM, 0.8 * MM, 4 * MM, 5 * MM),
         Vent(2, 38 * MM, 0.0, -15 * MM, 0.8 * MM, 4 * MM, 5 * MM))


def test_vents_are_open_from_the_face_to_below(deep):
    built = build(deep, ToolPlan(wall=5 * MM, cell=1 * MM, vents=VENTS))
    assert built.audit.vents_open == 2 and not built.audit.faults
    mesh = as_mesh(built.whole)
    assert mesh.is_watertight
    # source: trimesh: an open vent adds a handle, a solid without any has Euler number 2
    assert mesh.euler_number == 2 - 2 * 2


def test_face_stays_where_it_was_drawn(deep):
    built = build(deep, ToolPlan(scale=(1.005, 1.004, 1.003), wall=5 * MM, cell=1 * MM,
                                 vents=VENTS))
    assert built.audit.face_error < 0.05 * MM


def test_wall_is_nowhere_thinner_than_asked(deep):
    for wall in (3 * MM, 6 * MM):
        built = build(deep, ToolPlan(wall=wall, cell=1 * MM))
        assert wall - 1e-9 <= built.audit.least_wall < wall + 1 * MM
        # source: the boolean library's own least distance between the air above and the room
        assert gap_between_air_and_room(built) >= wall - 1e-9


def gap_between_air_and_room(built) -> float:
    low, high = built.whole.bounds * 1000.0
    whole = m3.Manifold(m3.Mesh64(built.whole.vertices * 1000.0,
                                  built.whole.faces.astype(np.uint64)))
    box = m3.Manifold.cube(list(high - low + [0, 0, 5.0])).translate(list(low))
    air = sorted((box - whole).decompose(), key=lambda body: body.bounding_box()[5])
    return air[-1].min_gap(air[0], 50.0) / 1000.0


def test_pieces_fit_and_lose_nothing_but_the_play(deep):
    plan = ToolPlan(wall=6 * MM, cell=1 * MM, build=(90 * MM, 150 * MM, 100 * MM))
    built = build(deep, plan)
    assert len(built.pieces) == 2
    for piece in built.pieces:
        assert as_mesh(piece).is_watertight
        assert np.all(piece.size[:2] <= [90 * MM, 150 * MM])
    lost = built.audit.volume - sum(as_mesh(piece).volume for piece in built.pieces)
    sockets = 2 * np.pi / 4 * ((6.3 * MM) ** 2 - (6 * MM) ** 2) * 10 * MM
    assert 0.0 < lost < 1.1 * sockets


def test_drain_and_holes_go_through(deep):
    bare = build(deep, ToolPlan(wall=5 * MM, cell=1 * MM))
    cut = build(deep, ToolPlan(wall=5 * MM, cell=1 * MM, drains=(Drain(-70 * MM, 0.0, 5 * MM),),
                               holes=(Hole(65 * MM, 50 * MM, 5 * MM),)))
    assert as_mesh(cut.whole).euler_number == as_mesh(bare.whole).euler_number - 4
    assert cut.audit.volume < bare.audit.volume


def test_channel_that_breaks_out_is_named(deep):
    straight = ((-75 * MM, 0.0), (75 * MM, 0.0))
    good = build(deep, ToolPlan(wall=5 * MM, cell=1 * MM, channels=(
        Channel(straight, 5 * MM, 8 * MM),)))
    assert not good.audit.faults
    bad = build(deep, ToolPlan(wall=5 * MM, cell=1 * MM, below=6 * MM, channels=(
        Channel(straight, 8 * MM, 5 * MM),)))
    assert any("channel" in fault.text for fault in bad.audit.faults)


def test_what_cannot_be_built_is_refused_by_name(deep):
    with pytest.raises(Refused, match="scale along x"):
        ToolPlan(scale=(9.0, 1.0, 1.0))
    with pytest.raises(Refused, match="wall is 15 mm"):
        ToolPlan(wall=15 * MM, below=15 * MM)
    closed = Surface(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]]),
                     np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]))
    with pytest.raises(Refused, match="closed"):
        rim_loop(closed)
    holed = Surface(deep.vertices, np.delete(deep.faces, len(deep.faces) // 2, axis=0))
    with pytest.raises(Refused, match="close the holes"):
        build(holed, PLAIN)


def test_a_male_form_is_hollow_too(deep):
    male = Surface(deep.vertices * (1.0, 1.0, -1.0), deep.faces[:, ::-1])
    built = build(male, ToolPlan(wall=4 * MM, cell=1 * MM))
    assert built.audit.bodies == 1 and built.audit.least_wall >= 4 * MM - 1e-9
    assert as_mesh(built.whole).is_watertight
