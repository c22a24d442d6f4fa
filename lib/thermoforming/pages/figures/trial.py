"""Figures of the trial page: dimensions, what was learned, gauge, shots, worth of more parts."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank, blank_scene
from thermoforming.physics.measuring import OUTLYING
from thermoforming.steps.material import chosen_sheet
from thermoforming.steps.trial.dimensions import SHRINKAGES
from thermoforming.steps.trial.fields import STARTUP
from thermoforming.steps.trial.measured import sheet_temperature

NINE_TENTHS = 1.645
ENDS = (("forming_low", "window begins"), ("forming_normal", "usual"),
        ("forming_high", "window ends"))


def panels() -> tuple[Panel, ...]:
    return (
        Panel("dimensions", "Dimensions in their tolerance", _make_dimensions, _update_dimensions,
              "Zero is the middle of the tolerance, ±100 % its limits. Bars hold nine of ten "
              "parts: of the tool as it is, and of the corrected tool.", 380),
        Panel("learned", "Shrinkage before and after the data", _make_learned, _update_learned,
              "Bars hold nine tenths of the belief; marks are single parts.", 300),
        Panel("gauge", "Gauge, measured against predicted", _make_gauge, _update_gauge,
              "On the line the map was right; the dotted lines are its bias and twice the "
              "scatter.", 340),
        Panel("map", "Predicted gauge and measured points", _make_map, _update_map,
              "Click the map to add a point to the table of gauges; points show measured less "
              "predicted when pointed at. The table below holds the same numbers.", 480, wide=True),
        Panel("shots", "Temperatures shot by shot", _make_shots, _update_shots,
              "The sheet against its forming window, the tool below it; a camera's readings are "
              "corrected for emissivity.", 320),
        Panel("worth", "What another trial is worth", _make_worth, _update_worth,
              "Rejects it is expected to save less what it costs, by the number of parts "
              "measured.", 280),
    )


# ---------------------------------------------------------------------------- dimensions

def _make_dimensions() -> go.Figure:
    figure = blank("Off the middle, % of half the tolerance", "")
    look = dict(mode="lines", line=dict(width=9))
    figure.add_scatter(**look, name="tool as it is", opacity=0.75, line_color=style.ORANGE)
    figure.add_scatter(**look, name="tool corrected", opacity=0.75, line_color=style.BLUE)
    figure.add_scatter(mode="markers", name="part", marker=dict(
        color=style.GREY, symbol="line-ns-open", size=13, line=dict(width=2)))
    figure.add_scatter(mode="markers", name="outlier", marker=dict(
        color=style.ORANGE, symbol="x", size=10))
    for _ in range(2):
        figure.add_scatter(mode="lines", line=dict(color=style.GREY, dash="dash", width=1.5),
                           showlegend=False, hoverinfo="skip")
    return figure


def _update_dimensions(figure, scene: Scene):
    model = scene.outcome.arrays["learned"].model
    dimensions = model.dimensions if model else ()
    traces = {name: ([], []) for name in ("now", "then", "part", "out")}
    out = {(name, shot) for name, shot, _ in (model.outliers if model else ())}
    for i, d in enumerate(dimensions):
        half, place = (d.high - d.low) / 2, len(dimensions) - 1 - i
        mean, deviation = model.of(d)
        middle = d.part(mean) - d.target
        now = NINE_TENTHS * np.hypot(d.hot * deviation, model.scatter)
        then = NINE_TENTHS * np.sqrt((d.hot * deviation) ** 2 + model.scatter**2 + model.build**2)
        _bar(traces["now"], 100 * (middle - now) / half, 100 * (middle + now) / half, place + 0.16)
        _bar(traces["then"], -100 * then / half, 100 * then / half, place - 0.16)
        for value, shot in zip(d.values, d.shots, strict=True):
            x, y = traces["out" if (d.name, shot) in out else "part"]
            x.append(100 * (value - d.target) / half)
            y.append(place + 0.16)
    for trace, (x, y) in zip(figure.data, traces.values(), strict=False):
        trace.x, trace.y = x, y
    for trace, x in ((figure.data[4], -100), (figure.data[5], 100)):
        trace.x, trace.y = [x, x], [-0.6, len(dimensions) - 0.4]
    figure.layout.yaxis.tickvals = list(range(len(dimensions)))
    figure.layout.yaxis.ticktext = [d.name for d in reversed(dimensions)]
    figure.layout.yaxis.range = [-0.6, len(dimensions) - 0.4]


def _bar(trace, low, high, place):
    x, y = trace
    x += [low, high, None]
    y += [place, place, None]


# ---------------------------------------------------------------------------- shrinkage

def _make_learned() -> go.Figure:
    figure = blank("Shrinkage on the hot tool, %", "")
    look = dict(mode="lines", line=dict(width=9), opacity=0.8)
    figure.add_scatter(**look, name="before", line_color=style.GREY)
    figure.add_scatter(**look, name="now", line_color=style.BLUE)
    figure.add_scatter(mode="markers", name="part", hovertemplate="%{text}: %{x:.3f} %",
                       marker=dict(color=style.ORANGE, symbol="line-ns-open", size=13,
                                   line=dict(width=2)))
    names = [name.removeprefix("shrinkage ") for name in SHRINKAGES]
    figure.update_yaxes(tickvals=[2, 1, 0], ticktext=names, range=[-0.6, 2.6])
    return figure


def _update_learned(figure, scene: Scene):
    model = scene.outcome.arrays["learned"].model
    before, now, parts = ([], []), ([], []), ([], [], [])
    if model:
        for i in range(len(SHRINKAGES)):
            for trace, after, shift in ((before, False, 0.15), (now, True, -0.15)):
                band = model.band(i, after)
                _bar(trace, 100 * band.low, 100 * band.high, 2 - i + shift)
        for d in model.dimensions:
            for i in np.nonzero(d.row[:len(SHRINKAGES)])[0]:
                parts[0].extend(100 * d.shrinkage(d.values))
                parts[1].extend([2 - i - 0.15] * d.values.size)
                parts[2].extend([d.name] * d.values.size)
    figure.data[0].x, figure.data[0].y = before
    figure.data[1].x, figure.data[1].y = now
    figure.data[2].x, figure.data[2].y, figure.data[2].text = parts


# ---------------------------------------------------------------------------- gauge

def _make_gauge() -> go.Figure:
    figure = blank()
    _add_note(figure)
    figure.add_scatter(mode="lines", line=dict(color=style.GREY, width=1.5), name="as predicted",
                       hoverinfo="skip")
    figure.add_scatter(mode="lines", line=dict(color=style.BLUE, dash="dot", width=1.5),
                       name="bias ± twice the scatter", hoverinfo="skip")
    figure.add_scatter(mode="markers", name="point", hovertemplate="%{text}<extra></extra>",
                       marker=dict(color=style.BLUE, size=8))
    figure.add_scatter(mode="markers", name="outlier", hovertemplate="%{text}<extra></extra>",
                       marker=dict(color=style.ORANGE, symbol="x", size=10))
    return figure


def _update_gauge(figure, scene: Scene):
    found = scene.outcome.arrays["learned"].gauges
    figure.layout.xaxis.title.text = f"Predicted, {scene.unit('mm')}"
    figure.layout.yaxis.title.text = f"Measured, {scene.unit('mm')}"
    figure.layout.annotations[0].text = "" if found else _missing(scene)
    if found is None:
        for trace in figure.data:
            trace.x, trace.y = [], []
        return
    predicted, measured = scene.value(found.predicted, "mm"), scene.value(found.measured, "mm")
    ends = np.array([0.0, 1.08 * max(predicted.max(), measured.max())])
    figure.data[0].x = figure.data[0].y = ends
    figure.data[1].x, figure.data[1].y = _bias_lines(found.agreement, ends, scene)
    out = np.abs(found.z) > OUTLYING
    names = np.array(found.names)
    for trace, which in ((figure.data[2], ~out), (figure.data[3], out)):
        trace.x, trace.y, trace.text = predicted[which], measured[which], names[which]


def _bias_lines(agreement, ends, scene):
    if agreement is None:
        return [], []
    x, y = [], []
    for times in (-2, 0, 2):
        x += [*ends, None]
        y += [*(ends + scene.value(agreement.bias + times * agreement.scatter, "mm")), None]
    return x, y


def _add_note(figure):
    """A line of text in the middle, for what cannot be shown yet."""
    figure.add_annotation(text="", xref="paper", yref="paper", x=0.5, y=0.5, showarrow=False)


def _missing(scene) -> str:
    if scene.outcome.arrays["map"] is None:
        return "The thinning page has formed no sheet on the part's mesh yet."
    return "No gauge was measured on the part yet."


def _make_map() -> go.Figure:
    figure = blank_scene()
    figure.update_layout(scene_camera_eye=dict(x=1.1, y=-1.75, z=1.35))
    _add_note(figure)
    figure.add_mesh3d(colorscale=style.MAP, intensity=[0], x=[0], y=[0], z=[0], flatshading=False,
                      lighting=dict(ambient=0.75, diffuse=0.5), colorbar=dict(thickness=12),
                      hovertemplate="%{x:.1f}, %{y:.1f}, %{z:.1f}<extra></extra>")
    figure.add_scatter3d(mode="markers", hovertemplate="%{text}<extra></extra>",
                         marker=dict(color=style.ORANGE, size=6, symbol="diamond"))
    return figure


def _update_map(figure, scene: Scene):
    formed, found = scene.outcome.arrays["map"], scene.outcome.arrays["learned"].gauges
    mesh, points = figure.data
    drawn_now = None if formed is None else f"{id(formed)} {scene.unit('mm')}"
    if formed is not None and figure.layout.meta != drawn_now:  # a large mesh is sent once
        figure.layout.meta = drawn_now
        x, y, z = scene.value(formed.nodes.T, "mm")
        mesh.x, mesh.y, mesh.z = x, y, z
        mesh.i, mesh.j, mesh.k = formed.triangles.T
        mesh.intensity = scene.value(formed.gauge, "mm")
        mesh.colorbar.title.text = f"gauge, {scene.unit('mm')}"
    mesh.visible = formed is not None
    figure.layout.annotations[0].text = "" if formed is not None else _missing(scene)
    places = scene.value(found.places, "mm") if found else np.zeros((0, 3))
    points.x, points.y, points.z = places.T
    points.text = [] if found is None else [
        f"{name}: {scene.value(d, 'mm'):+.3f} {scene.unit('mm')}" for name, d in
        zip(found.names, found.measured - found.predicted, strict=True)]
    points.visible = found is not None


# ---------------------------------------------------------------------------- shots, worth

def _make_shots() -> go.Figure:
    figure = blank("Shot", "Temperature, °C", margin=dict(l=60, r=16, t=60, b=48))
    for name, symbol, colour in (("sheet", "circle", style.ORANGE), ("tool", "square", style.BLUE)):
        figure.add_scatter(mode="markers+lines", name=name, line=dict(width=1),
                           marker=dict(symbol=symbol, size=8, color=colour), line_color=colour)
    for (_, name), dash in zip(ENDS, ("dash", "dot", "dash"), strict=True):
        figure.add_scatter(mode="lines", name=name,
                           line=dict(color=style.GREY, dash=dash, width=1.5))
    figure.add_scatter(mode="markers", name="start-up or rejected", marker=dict(
        symbol="circle-open", size=14, color=style.GREY, line=dict(width=2)))
    return figure


def _update_shots(figure, scene: Scene):
    rows, inputs = scene.inputs["shots"], scene.inputs
    sheet = [(r["shot"], scene.value(sheet_temperature(r, inputs), "°C"), r["verdict"])
             for r in rows if r["sheet_temperature"] is not None]
    tool = [(r["shot"], scene.value(r["tool_temperature"], "°C"), r["verdict"])
            for r in rows if r["tool_temperature"] is not None]
    for trace, points in ((figure.data[0], sheet), (figure.data[1], tool)):
        trace.x, trace.y = [p[0] for p in points], [p[1] for p in points]
    shots = [p[0] for p in sheet + tool] or [1, 2]
    material = chosen_sheet(scene.upstream)
    for trace, (key, _) in zip(figure.data[2:5], ENDS, strict=True):
        trace.x = [min(shots) - 0.5, max(shots) + 0.5]
        trace.y = [scene.value(material.band(key).typical, "°C")] * 2
    ringed = [p for p in sheet if p[2] in (STARTUP, "rejected")]
    figure.data[5].x, figure.data[5].y = [p[0] for p in ringed], [p[1] for p in ringed]


def _make_worth() -> go.Figure:
    figure = blank("Parts measured in another trial", "Worth")
    figure.add_scatter(mode="lines+markers", line=dict(color=style.BLUE, width=2.5),
                       showlegend=False)
    figure.add_scatter(mode="markers", name="as set", marker=dict(
        color=style.ORANGE, symbol="diamond", size=12))
    figure.add_scatter(mode="lines", line=dict(color=style.GREY, dash="dash", width=1.5),
                       name="costs as much as it saves")
    return figure


def _update_worth(figure, scene: Scene):
    worths = scene.outcome.arrays["learned"].worths
    parts, money = [n for n, _ in worths], [w for _, w in worths]
    figure.data[0].x, figure.data[0].y = parts, money
    wanted = int(scene.inputs["more_parts"])
    figure.data[1].x = [wanted] if worths else []
    figure.data[1].y = [w for n, w in worths if n == wanted]
    figure.data[2].x, figure.data[2].y = ([parts[0], parts[-1]], [0, 0]) if worths else ([], [])
