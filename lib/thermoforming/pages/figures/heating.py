"""Figures of heating: temperatures in time and depth, cooling, cycle, zones, sag, shots."""

from __future__ import annotations

import math

import numpy as np
import plotly.graph_objects as go

from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank

STAGES = {"load": style.GREY, "heat": style.ORANGE, "transfer": style.AMBER,
          "vacuum": style.GREEN, "cool": style.BLUE, "eject": style.PURPLE, "pause": style.SKY}
WINDOW = "rgba(0,158,115,0.12)"


def panels() -> tuple[Panel, ...]:
    """Heating and carrying; through the gauge; cooling; cycle; zones; sag; shots in a row."""
    return (
        Panel("heat", "From the heater to the tool", _make_heat, _heat,
              "Green: between forming limit and surface limit. The heater goes off when the core "
              "is ready; the sheet must be formed before the coldest place leaves the green.", 400),
        Panel("depth", "Through the gauge", _make_depth, _depth,
              "Left face: upper side. Dotted: forming limit and surface limit.", 320),
        Panel("cool", "On the tool", _make_cool, _cool,
              "Sheet and wall solved together. The part may leave below “set” at its hottest "
              "place; below “grips” a male form holds it.", 380),
        Panel("cycle", "The cycle", _make_cycle, _cycle,
              "Begins with loading. A stage shown above the others runs beside them only if the "
              "next sheet is heated meanwhile.", 230),
        Panel("map", "Heater zones and the sheet", _make_map, _map,
              "Colour: mean temperature of the sheet in its frame at the end of heating. Boxes: "
              "zones with their settings.", 380),
        Panel("sag", "Sag against temperature", _make_sag, _sag,
              "Band: modulus of the hot sheet low to high. Dot: this shot.", 320),
        Panel("run", "Shots in a row", _make_run, _run,
              "At the cycle above, from the tool's temperature before the first shot.", 320),
    )


def _line(name, colour, dash="solid", width=3, **more) -> go.Scatter:
    return go.Scatter(name=name, mode="lines", line=dict(color=colour, dash=dash, width=width),
                      **more)


def _level(colour) -> dict:
    return dict(type="line", xref="paper", x0=0, x1=1, line=dict(color=colour, dash="dot", width=2))


# ---------------------------------------------------------------- from heater to tool

def _make_heat() -> go.Figure:
    figure = blank("time [s]", "temperature [°C]")
    figure.add_trace(_line("upper face", style.ORANGE))
    figure.add_trace(_line("lower face", style.AMBER, "dash"))
    figure.add_trace(_line("coldest place", style.BLUE))
    figure.add_trace(_line("coldest place, heated from above only", style.GREY, "dot", 2))
    figure.add_shape(type="rect", xref="paper", x0=0, x1=1, fillcolor=WINDOW, line_width=0,
                     layer="below")
    for _ in range(3):
        figure.add_shape(type="line", yref="paper", y0=0, y1=1,
                         line=dict(color=style.GREY, dash="dash", width=1))
        figure.add_annotation(yref="paper", y=0.02, showarrow=False, xanchor="left",
                              yanchor="bottom", textangle=-90)
    return figure


def _heat(figure: go.Figure, scene: Scene) -> None:
    shot = scene.outcome.arrays["shot"]
    heating, air = shot.heating, shot.air
    seconds = heating.seconds
    early = heating.history.time <= seconds
    end = scene.outcome.arrays["end"]
    time = np.concatenate([heating.history.time[early], [seconds], seconds + air.time])
    sheet = np.vstack([heating.history.of(0)[early], end, air.of(0)])
    for trace, values in zip(figure.data[:3], (sheet[:, 0], sheet[:, -1], sheet.min(axis=1)),
                             strict=True):
        trace.update(x=time, y=scene.value(values, "°C"))
    one = shot.one_sided.history
    figure.data[3].update(x=one.time, y=scene.value(one.of(0).min(axis=1), "°C"),
                          visible=scene.inputs["sides"] == "two")
    window, *moments = figure.layout.shapes
    window.update(y0=scene.value(scene.inputs["forming_low"], "°C"),
                  y1=scene.value(scene.inputs["surface_limit"], "°C"))
    cold = shot.formable_air if math.isfinite(shot.formable_air) else float(air.time[-1])
    named = ((seconds, "heater off"), (seconds + scene.inputs["transfer"], "vacuum"),
             (seconds + cold, "too cold"))
    for line, word, (at, text) in zip(moments, figure.layout.annotations, named, strict=True):
        line.update(x0=at, x1=at)
        word.update(x=at, text=text)
    figure.layout.xaxis.range = [0.0, 1.08 * (seconds + cold)]


# ---------------------------------------------------------------- through the gauge

def _make_depth() -> go.Figure:
    figure = blank("depth", "temperature [°C]")
    figure.add_trace(_line("heater off", style.ORANGE))
    figure.add_trace(_line("vacuum on", style.BLUE, "dash"))
    figure.add_shape(**_level(style.BLUE))
    figure.add_shape(**_level(style.ORANGE))
    return figure


def _depth(figure: go.Figure, scene: Scene) -> None:
    shot = scene.outcome.arrays["shot"]
    depth = scene.value(shot.air.depth, "mm")
    for trace, key in zip(figure.data, ("end", "formed"), strict=True):
        trace.update(x=depth, y=scene.value(scene.outcome.arrays[key], "°C"))
    for shape, key in zip(figure.layout.shapes, ("forming_low", "surface_limit"), strict=True):
        level = scene.value(scene.inputs[key], "°C")
        shape.update(y0=level, y1=level)
    figure.layout.xaxis.title.text = f"depth below the upper face [{scene.unit('mm')}]"


# ---------------------------------------------------------------- on the tool

def _make_cool() -> go.Figure:
    figure = blank("time on the tool [s]", "temperature [°C]")
    figure.add_trace(_line("part, hottest place", style.ORANGE))
    figure.add_trace(_line("part, mean", style.AMBER, "dash"))
    figure.add_trace(_line("tool, face", style.BLUE))
    figure.add_trace(_line("tool, back", style.SKY, "dash"))
    figure.add_trace(go.Scatter(name="may leave", mode="markers",
                                marker=dict(size=12, color=style.ORANGE)))
    figure.add_trace(go.Scatter(name="on a tool that does not warm", mode="markers",
                                marker=dict(size=12, symbol="diamond-open", color=style.GREEN)))
    for _ in range(2):
        figure.add_shape(**_level(style.GREY))
        figure.add_annotation(xref="paper", x=0.99, showarrow=False, xanchor="right",
                              yanchor="bottom")
    return figure


def _cool(figure: go.Figure, scene: Scene) -> None:
    shot = scene.outcome.arrays["shot"]
    history = shot.on_tool
    sheet, tool = history.of(0), history.of(1)
    for trace, values in zip(figure.data[:4], (sheet.max(axis=1), history.mean(0), tool[:, 0],
                                               tool[:, -1]), strict=True):
        trace.update(x=history.time, y=scene.value(values, "°C"))
    level = float(scene.value(scene.inputs["set"], "°C"))
    for trace, at in zip(figure.data[4:], (shot.release, shot.ideal), strict=True):
        known = math.isfinite(at)
        trace.update(x=[at] if known else [], y=[level] if known else [])
    for shape, word, key, text in zip(figure.layout.shapes, figure.layout.annotations,
                                      ("set", "grip"), ("set", "grips"), strict=True):
        y = float(scene.value(scene.inputs[key], "°C"))
        shape.update(y0=y, y1=y)
        word.update(y=y, text=text)
    last = float(history.time[-1])
    shown = 1.8 * shot.release if math.isfinite(shot.release) else last
    figure.layout.xaxis.range = [0.0, min(shown, last)]


# ---------------------------------------------------------------- the cycle

def _make_cycle() -> go.Figure:
    figure = blank("time [s]", "")
    for name, colour in STAGES.items():
        figure.add_trace(go.Bar(name=name, orientation="h", marker=dict(
            color=colour, line=dict(color="#ffffff", width=1)), textposition="inside",
            insidetextanchor="middle", textangle=0))
    figure.update_layout(barmode="overlay", bargap=0.3)
    figure.update_yaxes(type="category", categoryarray=["tool", "heater"], showgrid=False)
    return figure


def _cycle(figure: go.Figure, scene: Scene) -> None:
    times = scene.outcome.arrays["shot"].times
    stages = {name: (station, begin, seconds) for name, station, begin, seconds in
              (times.stages if times else ())}
    for trace in figure.data:
        station, begin, seconds = stages.get(trace.name, ("tool", 0.0, 0.0))
        trace.update(y=[station], base=[begin], x=[seconds],
                     text=[f"{seconds:.3g} s" if seconds > 0 else ""],
                     hovertemplate=f"{trace.name}: {seconds:.1f} s<extra></extra>",
                     visible=True if seconds > 0 else "legendonly")


# ---------------------------------------------------------------- zones

def _make_map() -> go.Figure:
    figure = blank("x", "y")
    figure.add_trace(go.Heatmap(colorscale=style.MAP, zsmooth="best",
                                colorbar=dict(title="°C", thickness=12)))
    figure.add_trace(go.Scatter(mode="lines", line=dict(color=style.GREY, width=1),
                                hoverinfo="skip", showlegend=False))
    figure.add_trace(go.Scatter(mode="text", hoverinfo="skip", showlegend=False))
    figure.update_yaxes(scaleanchor="x", scaleratio=1)
    return figure


def _map(figure: go.Figure, scene: Scene) -> None:
    x, y, temperatures = scene.outcome.arrays["shot"].map
    figure.data[0].update(x=scene.value(x, "mm"), y=scene.value(y, "mm"),
                          z=scene.value(temperatures, "°C"))
    rows = scene.inputs["zones"]
    xs = np.linspace(-0.5, 0.5, 4) * scene.value(scene.inputs["heater_x"], "mm")
    ys = np.linspace(-0.5, 0.5, len(rows) + 1) * scene.value(scene.inputs["heater_y"], "mm")
    lines_x = [v for a in xs for v in (a, a, None)] + [v for _ in ys for v in (xs[0], xs[-1], None)]
    lines_y = [v for _ in xs for v in (ys[0], ys[-1], None)] + [v for b in ys for v in (b, b, None)]
    figure.data[1].update(x=lines_x, y=lines_y)
    middle_x, middle_y = 0.5 * (xs[1:] + xs[:-1]), 0.5 * (ys[1:] + ys[:-1])
    places = [(a, b, row[c]) for b, row in zip(middle_y, rows, strict=True)
              for a, c in zip(middle_x, ("left", "middle", "right"), strict=True)]
    figure.data[2].update(x=[p[0] for p in places], y=[p[1] for p in places],
                          text=[f"{p[2]:.0%}" for p in places])
    unit = scene.unit("mm")
    figure.layout.xaxis.title.text, figure.layout.yaxis.title.text = f"x [{unit}]", f"y [{unit}]"


# ---------------------------------------------------------------- sag

def _make_sag() -> go.Figure:
    figure = blank("mean temperature of the sheet [°C]", "sag")
    figure.add_trace(_line("stiff", style.BLUE, width=0, showlegend=False))
    figure.add_trace(_line("band of the modulus", style.BLUE, width=0, fill="tonexty",
                           fillcolor="rgba(0,114,178,0.18)"))
    figure.add_trace(_line("typical", style.BLUE))
    figure.add_trace(go.Scatter(name="this shot", mode="markers",
                                marker=dict(size=11, color=style.BLUE)))
    figure.add_trace(_line("room below the sheet", style.ORANGE, "dot", 2))
    figure.update_yaxes(rangemode="tozero")
    return figure


def _sag(figure: go.Figure, scene: Scene) -> None:
    shot = scene.outcome.arrays["shot"]
    temperatures, (stiff, usual, soft) = shot.sag_curve
    x = scene.value(temperatures, "°C")
    for trace, values in zip(figure.data[:3], (stiff, soft, usual), strict=True):
        trace.update(x=x, y=scene.value(values, "mm"))
    mean = float(np.mean(scene.outcome.arrays["end"]))
    figure.data[3].update(x=[scene.value(mean, "°C")], y=[scene.value(shot.sag.typical, "mm")])
    room = scene.value(scene.inputs["clearance"], "mm")
    figure.data[4].update(x=[x[0], x[-1]], y=[room, room])
    figure.layout.yaxis.title.text = f"sag [{scene.unit('mm')}]"


# ---------------------------------------------------------------- shots in a row

def _make_run() -> go.Figure:
    figure = blank("shot", "temperature [°C]")
    figure.add_trace(_line("part's hottest place at release", style.ORANGE))
    figure.add_trace(_line("tool's face before the shot", style.BLUE))
    figure.add_trace(_line("set temperature", style.GREY, "dot", 2))
    return figure


def _run(figure: go.Figure, scene: Scene) -> None:
    runs = scene.outcome.arrays["shot"].runs
    face, part = (runs[0], runs[1]) if runs else (np.array([]), np.array([]))
    shots = np.arange(1, len(face) + 1)
    figure.data[0].update(x=shots, y=scene.value(part, "°C"))
    figure.data[1].update(x=shots, y=scene.value(face, "°C"))
    level = scene.value(scene.inputs["set"], "°C")
    figure.data[2].update(x=[1, max(len(face), 2)], y=[level, level])
