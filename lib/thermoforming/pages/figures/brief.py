"""Figures of the brief: the part with its forms, a section, the blanks in the stock sheet."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank, blank_scene
from thermoforming.pages.figures.part import (
    CAMERA,
    label_trace,
    map_trace,
    name_axes,
    put_labels,
    put_mesh,
    shown_part,
)
from thermoforming.pages.render import words


def panels() -> tuple[Panel, ...]:
    """The part, its section, and the stock sheet."""
    return (
        Panel("part", "The tool side of the part", _make_part, _update_part,
              "Coloured by height; C are cavities, B raised forms and bosses, largest first. "
              "The part leaves upwards.", 430),
        Panel("section", "Section through the form with the most depth to width", _make_section,
              _update_section, "True to scale. Dashed: the clamp plane.", 260),
        Panel("nest", "Blanks in the stock sheet", _make_nest, _update_nest,
              "Outlines are blanks, shaded are the parts before trimming. Extrusion runs from "
              "left to right.", 330),
    )


def _make_part() -> go.Figure:
    figure = blank_scene(scene_camera=CAMERA)
    figure.add_traces([map_trace("height"), label_trace()])
    return figure


def _update_part(figure, scene: Scene) -> None:
    surface, _ = shown_part(scene.outcome.arrays["surface"])
    scale = scene.value(1.0, "mm")
    mesh, names = figure.data
    put_mesh(mesh, surface, slice(None), scale, surface.centres[:, 2] * scale)
    mesh.colorbar.title.text = f"height ({scene.unit('mm')})"
    forms = scene.outcome.arrays["forms"]
    put_labels(names, [_foot(form) for form in forms], [form.name for form in forms],
               [f"{form.name}: {words(form.depth, 'mm', scene.inches)} deep or high, "
                f"{words(form.width, 'mm', scene.inches)} wide" for form in forms],
               scale, 0.22 * float(surface.size.max()) * scale)
    name_axes(figure, scene.unit("mm"))


def _foot(form) -> tuple[float, float, float]:
    """Where the name of a form stands: off the middle of a cavity, on the middle of a boss."""
    if not form.name.startswith("C"):
        return (*form.centre, 0.0)
    x, y = (low + 0.25 * (high - low) for low, high in zip(*form.box, strict=True))
    return x, y, -form.depth


def _make_section() -> go.Figure:
    figure = blank("x", "z")
    figure.add_traces([
        go.Scatter(name="tool side", mode="lines", line=dict(color=style.BLUE, width=2.5)),
        go.Scatter(name="clamp plane", mode="lines",
                   line=dict(color=style.GREY, width=1.5, dash="dash"))])
    figure.update_yaxes(scaleanchor="x", scaleratio=1.0)
    return figure


def _update_section(figure, scene: Scene) -> None:
    arrays, unit = scene.outcome.arrays, scene.unit("mm")
    xs, zs = _broken([line[:, [0, 2]] for line in arrays["section"]])
    line, clamp = figure.data
    line.x, line.y = scene.value(xs, "mm"), scene.value(zs, "mm")
    ends = arrays["surface"].bounds[:, 0]
    clamp.x = scene.value(ends, "mm")
    clamp.y = scene.value(np.full(2, arrays["clamp_height"]), "mm")
    y = words(arrays["section_y"], "mm", scene.inches)
    figure.update_xaxes(title_text=f"x ({unit}) at y = {y}")
    figure.update_yaxes(title_text=f"z ({unit})")


def _make_nest() -> go.Figure:
    figure = blank("along extrusion", "across")
    figure.add_traces([
        go.Scatter(name="part", mode="lines", line=dict(color=style.SKY, width=0),
                   fill="toself", fillcolor="rgba(86,180,233,0.45)", hoverinfo="skip"),
        go.Scatter(name="blank", mode="lines", line=dict(color=style.BLUE, width=1.5),
                   hoverinfo="skip"),
        go.Scatter(name="stock sheet", mode="lines", line=dict(color=style.GREY, width=3),
                   hoverinfo="skip")])
    figure.update_yaxes(scaleanchor="x", scaleratio=1.0)
    return figure


def _update_nest(figure, scene: Scene) -> None:
    arrays, unit = scene.outcome.arrays, scene.unit("mm")
    stock = arrays["stock"]
    parts, blanks, sheet = figure.data
    for trace, boxes in ((parts, _parts(arrays)), (blanks, arrays["nest"]),
                         (sheet, [(0.0, 0.0, *stock)])):
        xs, ys = _broken([_outline(*box) for box in boxes])
        trace.x, trace.y = scene.value(xs, "mm"), scene.value(ys, "mm")
    figure.update_xaxes(title_text=f"along extrusion ({unit})")
    figure.update_yaxes(title_text=f"across ({unit})")


def _parts(arrays):
    """Outlines of the parts in every blank, turned with it."""
    nx, ny, gap, edge = arrays["layout"]
    length, width = arrays["part_size"]
    boxes = []
    for x, y, a, _ in arrays["nest"]:
        turned = abs(a - arrays["blank"][0]) > 1e-9
        for i in range(nx):
            for j in range(ny):
                u, v = edge + i * (length + gap), edge + j * (width + gap)
                boxes.append((x + v, y + u, width, length) if turned else
                             (x + u, y + v, length, width))
    return boxes


def _outline(x, y, a, b) -> np.ndarray:
    return np.array([(x, y), (x + a, y), (x + a, y + b), (x, y + b), (x, y)])


def _broken(lines):
    """Lines one after the other with a gap between them."""
    if not len(lines):
        return np.zeros(0), np.zeros(0)
    joined = np.concatenate([np.vstack([line, [[np.nan, np.nan]]]) for line in lines])
    return joined[:, 0], joined[:, 1]
