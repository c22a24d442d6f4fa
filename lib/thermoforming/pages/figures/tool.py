"""Figures of the tool page: the solid, its section, and the ledger closed."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from thermoforming.geometry.section import section
from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank, blank_scene
from thermoforming.pages.figures.part import CAMERA, name_axes, plain_trace, put_mesh, shown_part

EXPLODED = 0.06  # of the tool's size between pieces, in the picture only


def panels() -> tuple[Panel, ...]:
    """Solid, section, dimensions."""
    return (
        Panel("solid", "The tool as built", _make_solid, _solid,
              "From below, where the room, the ribs and the vents' reliefs are seen. Pieces to be "
              "built apart stand apart.", 460),
        Panel("section", "Section", _make_section, _section,
              "True to scale, material shaded. Choose the place under “Look at”.", 300),
        Panel("closed", "Dimensions, assumed and found", _make_closed, _closed,
              "How far the drawn dimension moves, as a share of half its tolerance; dotted: where "
              "the caution begins.", 300),
    )


def _make_solid() -> go.Figure:
    figure = blank_scene()
    figure.add_trace(plain_trace("tool", "#9db7c9"))
    figure.update_layout(scene_camera=dict(eye=dict(x=-0.7, y=-1.25, z=-1.3),
                                           up=dict(x=0, y=0, z=1), center=CAMERA["center"]))
    return figure


def _solid(figure, scene: Scene) -> None:
    solid = scene.outcome.arrays["solid"]
    name_axes(figure, scene.unit("mm"))
    trace = figure.data[0]
    if solid is None:
        trace.x = trace.y = trace.z = trace.i = trace.j = trace.k = []
        return
    points, faces = _apart(solid.pieces)
    shown, _ = shown_part(type(solid.surface)(points, faces))
    put_mesh(trace, shown, np.arange(len(shown.faces)), scene.value(1.0, "mm"))


def _apart(pieces):
    """All pieces as one mesh, moved away from their common middle."""
    middle = np.mean([piece.bounds.mean(axis=0) for piece in pieces], axis=0)
    points, faces, count = [], [], 0
    for piece in pieces:
        away = (piece.bounds.mean(axis=0) - middle) * 2 * EXPLODED if len(pieces) > 1 else 0.0
        points.append(piece.vertices + away)
        faces.append(piece.faces + count)
        count += len(piece.vertices)
    return np.vstack(points), np.vstack(faces)


def _make_section() -> go.Figure:
    figure = blank("x", "z")
    figure.add_scatter(mode="lines", fill="toself", line=dict(color=style.BLUE, width=1.2),
                       fillcolor="rgba(86,180,233,0.45)", hoverinfo="x+y", showlegend=False)
    figure.update_yaxes(scaleanchor="x", scaleratio=1)
    return figure


def _section(figure, scene: Scene) -> None:
    solid, inputs = scene.outcome.arrays["solid"], scene.inputs
    across = "xy".index(inputs["cut_across"])
    along = 1 - across
    unit = scene.unit("mm")
    figure.update_layout(xaxis_title_text=f"{'xy'[along]} ({unit})", yaxis_title_text=f"z ({unit})")
    trace = figure.data[0]
    if solid is None:
        trace.x, trace.y = [], []
        return
    origin, normal = np.zeros(3), np.zeros(3)
    origin[across], normal[across] = inputs["cut_at"], 1.0
    xs, ys = [], []
    for line in section(solid.surface, origin, normal):
        xs += [*scene.value(line[:, along], "mm"), None]
        ys += [*scene.value(line[:, 2], "mm"), None]
    trace.x, trace.y = xs, ys


def _make_closed() -> go.Figure:
    figure = blank("share of half the tolerance (%)", "")
    for name, colour, pattern in (("drawn differently", style.BLUE, ""),
                                  ("distortion of the warm wall", style.AMBER, "/")):
        figure.add_bar(name=name, orientation="h", marker=dict(
            color=colour, pattern=dict(shape=pattern)))
    figure.add_scatter(name="caution", mode="lines", line=dict(dash="dot", color=style.ORANGE))
    figure.update_layout(barmode="stack")
    figure.update_yaxes(autorange="reversed")
    return figure


def _closed(figure, scene: Scene) -> None:
    ledgers = scene.outcome.arrays["ledgers"]
    lines = ledgers.found.lines
    names = [line.row["name"] for line in lines]
    shifts = [100 * ledgers.use(line) for line in lines]
    bowed = [100 * ledgers.bowed(line) for line in lines]
    for trace, values in zip(figure.data[:2], (shifts, bowed), strict=True):
        trace.y, trace.x = names, values
    limit = 100 * scene.inputs["caution_share"]
    figure.data[2].x, figure.data[2].y = [limit, limit], [names[0], names[-1]] if names else []
