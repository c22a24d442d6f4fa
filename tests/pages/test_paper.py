"""Figures for paper: what is drawn is what the screen figure holds."""

import xml.etree.ElementTree as ElementTree

import numpy as np
import plotly.graph_objects as go
import pytest
from matplotlib.figure import Figure
from plotly.subplots import make_subplots

from thermoforming.pages.paper import as_svg, shows_something
from thermoforming.pages.paper.flat import draw_axes
from thermoforming.pages.paper.look import colour, marker, plain
from thermoforming.pages.paper.space import _shaded, view_of


def drawn(figure):
    paper = Figure()
    draw_axes(paper, figure, 720.0, 360.0)
    return paper.axes


def test_lines_keep_their_numbers():
    axes, = drawn(go.Figure(go.Scatter(x=[1.0, 2.0, 4.0], y=[3.0, None, 5.0], mode="lines",
                                       line=dict(dash="dash", color="#0072B2"))))
    line = axes.lines[0]
    np.testing.assert_allclose(line.get_xdata(), [1, 2, 4])
    np.testing.assert_allclose(line.get_ydata(), [3, np.nan, 5])
    assert line.get_linestyle() == "--" or line.is_dashed()


def test_lying_bars_on_words_from_a_base_reversed():
    figure = go.Figure(go.Bar(orientation="h", y=["a", "b"], base=[1.0, 2.0], x=[3.0, 0.5]))
    figure.update_yaxes(autorange="reversed")
    axes, = drawn(figure)
    found = [(bar.get_x(), bar.get_width(), bar.get_y() + bar.get_height() / 2)
             for bar in axes.patches[:2]]
    np.testing.assert_allclose(found, [(1.0, 3.0, 0.0), (2.0, 0.5, 1.0)])
    low, high = axes.get_ylim()
    assert low > high
    assert [text.get_text() for text in axes.get_yticklabels()] == ["a", "b"]


def test_bars_stacked_and_side_by_side():
    traces = [go.Bar(x=["a", "b"], y=[1.0, 2.0]), go.Bar(x=["a", "b"], y=[0.5, 1.0])]
    stacked, = drawn(go.Figure(traces, layout=dict(barmode="stack")))
    assert [bar.get_y() for bar in stacked.patches] == [0, 0, 1, 2]
    beside, = drawn(go.Figure(traces, layout=dict(barmode="group")))
    edges = sorted((bar.get_x(), bar.get_width()) for bar in beside.patches)
    assert all(a[0] + a[1] <= b[0] + 1e-12 for a, b in zip(edges, edges[1:], strict=False))


def test_errors_to_both_sides():
    error = dict(array=[0.5], arrayminus=[0.25], symmetric=False)
    axes, = drawn(go.Figure(go.Scatter(x=[1.0], y=[2.0], error_y=error, mode="markers")))
    segment = axes.collections[0].get_segments()[0]
    np.testing.assert_allclose(segment[:, 1], [1.75, 2.5])


def test_logarithmic_axes_and_two_plots():
    figure = make_subplots(1, 2)
    figure.add_trace(go.Scatter(x=[1, 2], y=[3, 4]), 1, 1)
    figure.add_trace(go.Scatter(x=[1, 2], y=[10, 1000]), 1, 2)
    figure.update_yaxes(type="log", range=[0, 4], col=2)
    left, right = drawn(figure)
    assert (left.get_yscale(), right.get_yscale()) == ("linear", "log")
    np.testing.assert_allclose(right.get_ylim(), (1, 1e4))
    assert left.get_position().x1 < right.get_position().x0


def test_area_between_two_lines():
    figure = go.Figure([go.Scatter(x=[0, 1], y=[1, 1], mode="lines"),
                        go.Scatter(x=[0, 1], y=[3, 3], mode="lines", fill="tonexty")])
    axes, = drawn(figure)
    corners = axes.patches[0].get_xy()
    assert corners[:, 1].min() == 1 and corners[:, 1].max() == 3


def test_maps_shapes_and_notes():
    figure = go.Figure(go.Heatmap(x=[0, 1], y=[0, 1], z=[[1, 2], [3, None]], zmin=0, zmax=4,
                                  colorbar=dict(title="gauge [mm]")))
    figure.add_shape(type="line", x0=0.5, x1=0.5, yref="paper", y0=0, y1=1)
    figure.add_annotation(x=0.5, y=0.5, text="thin<br>here", showarrow=False)
    axes, bar = drawn(figure)
    assert (bar.get_ylim(), axes.collections[0].get_clim()) == ((0, 4), (0, 4))
    assert axes.texts[0].get_text() == "thin\nhere" and len(axes.lines) == 1


@pytest.mark.parametrize("text, shown", [
    ("p<sub>1</sub> [kPa]", "p1 [kPa]"), ("a<br>b", "a\nb"), (None, ""), ("3 &lt; 4", "3 < 4"),
    ("$x$ and \\frac", "$x$ and \\frac")])
def test_text_without_markup(text, shown):
    assert plain(text) == shown


def test_colours_and_markers():
    assert colour("rgba(86,180,233,0.28)") == pytest.approx((86 / 255, 180 / 255, 233 / 255, .28))
    assert colour("#D55E00", 0.5)[3] == 0.5 and colour("no colour") == (0, 0, 0, 1)
    assert marker("circle-open") == ("o", False) and marker("diamond") == ("D", True)
    assert marker("line-ns") == ("|", False)


TETRAHEDRON = dict(x=[0, 10, 0, 0], y=[0, 0, 10, 0], z=[0, 0, 0, 10],
                   i=[0, 0, 0, 1], j=[2, 1, 3, 2],
                   k=[1, 3, 2, 3])


@pytest.mark.parametrize("eye", [(0.9, -1.5, 1.2), (0, 0, 2), (-1, 0, 0)])
def test_the_view_is_a_rotation(eye):
    """Right, up and eye are orthonormal and right-handed, so that the drawing is true to scale."""
    figure = go.Figure(layout=dict(scene_camera_eye=dict(zip("xyz", eye, strict=True))))
    view = view_of(figure)
    axes = np.array([view.right, view.up, view.eye])
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    assert np.dot(view.eye, eye) > 0


def test_both_sides_of_a_face_are_lit_alike():
    view = view_of(go.Figure(layout=dict(scene_camera_eye=dict(x=0.9, y=-1.5, z=1.2))))
    face = np.array([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]], dtype=float)
    paint = np.array([[0.5, 0.5, 0.5, 1.0]])
    np.testing.assert_allclose(_shaded(face, paint, view), _shaded(face[:, ::-1], paint, view))


FIGURES = {
    "mesh": go.Figure(go.Mesh3d(intensity=[1, 2, 3, 4], intensitymode="cell",
                                colorbar=dict(title="height [mm]"), **TETRAHEDRON)),
    "plain mesh": go.Figure(go.Mesh3d(color="#56B4E9", name="part", showlegend=True,
                                      **TETRAHEDRON)),
    "points in space": go.Figure([go.Scatter3d(x=[0, 1], y=[0, 1], z=[0, 1], text=["<b>V1</b>"],
                                               mode="markers+text+lines")]),
    "empty": go.Figure(), "no points": go.Figure(go.Scatter(mode="markers")),
    "not known": go.Figure(go.Pie(values=[1, 2])),
    "hostile": go.Figure([go.Scatter(x=["<script>alert(1)</script>"], y=[1], name="]]><x>"),
                          go.Bar(x=["a"], y=[1], name="$\\frac{$")],
                         layout=dict(xaxis_title="<img src=x onerror=1>", showlegend=True)),
    "contour": go.Figure(go.Contour(z=[[1, 2], [3, 4]])),
    "colours by number": go.Figure(go.Scatter(x=[1, 2], y=[1, 2], mode="markers",
                                              marker=dict(color=[0.0, 1.0], symbol=["x", "star"],
                                                          size=[5, 9]))),
}


@pytest.mark.parametrize("name", FIGURES)
def test_every_figure_becomes_a_drawing_that_runs_and_loads_nothing(name):
    root = ElementTree.fromstring(as_svg(FIGURES[name]))
    assert root.tag.endswith("}svg")
    for element in root.iter():
        assert not element.tag.endswith(("}script", "}foreignObject", "}text"))
        for key, value in element.attrib.items():
            if key.endswith("href"):
                assert value.startswith(("#", "data:image/png;base64,"))


def test_an_image_lies_where_it_did():
    pixels = np.zeros((2, 3, 4), dtype=np.uint8)
    figure = go.Figure(go.Image(z=pixels, x0=10, dx=2, y0=5, dy=1, colormodel="rgba"))
    axes, = drawn(figure)
    assert axes.images[0].get_extent() == [9, 15, 6.5, 4.5]
    assert shows_something(figure)
    assert not shows_something(go.Figure(go.Image(z=pixels[:1, :1])))
    assert not shows_something(go.Figure(go.Scatter()))
