"""Figures of the wall page: the ribbed wall to scale, what it uses, its shape, its temperature."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank
from thermoforming.steps.base import CAUTION, PASS, STOP

SOLID = dict(mode="lines", fill="toself", line=dict(width=0.5, color=style.GREY), hoverinfo="skip")
USES = ("deflection", "stress", "fillets", "buckling", "temperature", "face", "part_off",
        "distortion")
ROOM_FOR_BARS = 1.5  # a bar longer than this share is cut; its number stands beside it


def panels() -> tuple[Panel, ...]:
    """Drawing, use of the limits, temperature by shot, temperature through the wall, shape."""
    return (
        Panel("drawing", "The ribbed wall, plan from below and section", _make_drawing, _drawing,
              "True to scale. Above: seen from the hollow. Below: cut along the middle, forming "
              "face up, on its base.", 470),
        Panel("use", "Share of each limit that is used", _make_use, _use,
              "Up to the line is within the limit. For temperatures: rise above the shop, or "
              "distance covered toward the limit.", 300),
        Panel("shots", "Temperature shot by shot, from cold", _make_shots, _shots,
              "Shaded: the margin below the usable limit. The mean of the wall decides how stiff "
              "it is, the face how it ages, the part when it may leave.", 360),
        Panel("through", "Through sheet and wall when the part is taken off", _make_through,
              _through, "Depth below the forming face; the last shot of the run, with the modulus "
              "left there.", 300),
        Panel("shape", "Deflection of the forming face, by finite elements", _make_shape, _shape,
              "Positive toward the hollow. Press Run above to see it; it belongs to the inputs "
              "with which it was run.", 400),
    )


# ---------------------------------------------------------------- drawing

def _make_drawing() -> go.Figure:
    figure = make_subplots(2, 1, row_heights=[0.72, 0.28], vertical_spacing=0.09,
                           shared_xaxes=True)
    figure.update_layout(style.LAYOUT | dict(margin=dict(l=60, r=16, t=30, b=46)))
    for row in (1, 2):
        figure.add_traces([
            go.Scatter(name="wall", fillcolor="rgba(86,180,233,0.30)", **SOLID),
            go.Scatter(name="ribs and side walls", fillcolor="rgba(0,114,178,0.75)", **SOLID),
            go.Scatter(name="channels" if row == 1 else "base", fillcolor="#ffffff" if row == 1
                       else "rgba(128,128,128,0.45)", **SOLID)], rows=row, cols=1)
    figure.add_trace(go.Scatter(name="channels, cut", fillcolor="#ffffff", **SOLID), 2, 1)
    figure.update_xaxes(style.AXIS | dict(showgrid=False, zeroline=False))
    figure.update_yaxes(style.AXIS | dict(showgrid=False, zeroline=False))
    figure.update_yaxes(scaleanchor="x", scaleratio=1.0, row=1, col=1)
    figure.update_yaxes(scaleanchor="x", scaleratio=1.0, row=2, col=1)
    return figure


def _drawing(figure: go.Figure, scene: Scene) -> None:
    wall = scene.outcome.arrays["found"].here.wall
    channel_y = _channels(scene.inputs, wall)
    shapes = (*_plan(scene.inputs, wall, channel_y), *_section(scene.inputs, wall, channel_y))
    # names once each; set here because the live figure forgets it from the start
    named = (True, True, len(channel_y) > 0, False, False, True, False)
    for trace, boxes, name in zip(figure.data, shapes, named, strict=True):
        xs, ys = _outlines(boxes)
        trace.update(x=scene.value(xs, "mm"), y=scene.value(ys, "mm"), showlegend=name)
    unit = scene.unit("mm")
    figure.layout.xaxis2.title.text = f"along the length [{unit}]"
    figure.layout.yaxis.title.text = f"across [{unit}]"
    figure.layout.yaxis2.title.text = f"height [{unit}]"


def _plan(v, wall, channel_y):
    """Outline, ribs with side walls, and channels as seen from the hollow."""
    x, y, thick, bore = wall.length / 2, wall.width / 2, wall.rib_thickness / 2, v["bore"] / 2
    far_x, far_y = x + wall.side, y + wall.side
    ribs = [(-x, at - thick, x, at + thick) for at in _middles(wall.ribs_along, wall.pitch_along)]
    ribs += [(at - thick, -y, at + thick, y) for at in _middles(wall.ribs_across,
                                                               wall.pitch_across)]
    sides = [(-far_x, -far_y, far_x, -y), (-far_x, y, far_x, far_y), (-far_x, -y, -x, y),
             (x, -y, far_x, y)]
    return ([(-far_x, -far_y, far_x, far_y)], ribs + sides,
            [(-x, at - bore, x, at + bore) for at in channel_y])


def _section(v, wall, channel_y):
    """Wall, cut ribs with side walls, base, and a channel, cut along the middle."""
    x, thick, bore, deep = wall.length / 2, wall.rib_thickness / 2, v["bore"] / 2, wall.depth
    far, middle = x + wall.side, wall.skin - v["channel_depth"]
    cut = [(at - thick, -float(wall.height), at + thick, 0.0)
           for at in _middles(wall.ribs_across, wall.pitch_across)]
    cut += [(-far, -deep, -x, 0.0), (x, -deep, far, 0.0)]
    return ([(-far, 0.0, far, wall.skin)], cut, [(-far, -deep - v["base_thickness"], far, -deep)],
            [(-x, middle - bore, x, middle + bore)] if len(channel_y) else [])


def _middles(number, pitch) -> np.ndarray:
    return (np.arange(int(number)) - (int(number) - 1) / 2.0) * pitch


def _channels(v, wall) -> np.ndarray:
    """Middles of the channels across the width; none without channels."""
    if not v["channels"]:
        return np.zeros(0)
    return _middles(max(1, int(wall.width / v["pitch"])), v["pitch"])


def _outlines(boxes):
    """Rectangles (x0, y0, x1, y1) as one line with gaps."""
    if not boxes:
        return np.zeros(0), np.zeros(0)
    lines = np.array([[(a, b), (c, b), (c, d), (a, d), (a, b), (np.nan, np.nan)]
                      for a, b, c, d in boxes]).reshape(-1, 2)
    return lines[:, 0], lines[:, 1]


# ---------------------------------------------------------------- use of the limits

def _make_use() -> go.Figure:
    figure = blank("share of the limit [%]", "")
    figure.add_trace(go.Bar(orientation="h", marker=dict(line=dict(color=style.GREY, width=1))))
    figure.add_shape(type="line", yref="paper", y0=0, y1=1, x0=100, x1=100,
                     line=dict(color=style.GREY, width=2, dash="dash"))
    figure.update_layout(showlegend=False, bargap=0.35, margin=dict(l=250, r=20, t=10))
    figure.update_xaxes(range=[0, 100 * ROOM_FOR_BARS])
    figure.update_yaxes(autorange="reversed", showgrid=False)
    return figure


def _use(figure: go.Figure, scene: Scene) -> None:
    checks = {check.key: check for check in scene.outcome.checks}
    shares = _shares(scene)
    names = [key for key in USES if key in checks and key in shares]
    percent = np.array([100.0 * shares[key] for key in names])
    pattern = {PASS: "", CAUTION: "/", STOP: "x"}
    figure.data[0].update(
        y=[f"{checks[key].title}   {style.VERDICT_SIGN[checks[key].verdict]} {p:.0f} %"
           for key, p in zip(names, percent, strict=True)],
        x=np.minimum(percent, 100 * ROOM_FOR_BARS),
        hovertemplate=[f"{checks[key].title}: {checks[key].verdict}<extra></extra>"
                       for key in names])
    figure.data[0].marker.color = [style.VERDICT_COLOUR[checks[key].verdict] for key in names]
    figure.data[0].marker.pattern.shape = [pattern[checks[key].verdict] for key in names]


def _shares(scene: Scene) -> dict[str, float]:
    """Share of each limit by check; of a temperature limit, of the rise above the shop."""
    found, v = scene.outcome.arrays["found"], scene.inputs
    here, heat, cold = found.here, found.here.heat, v["ambient"]
    shares = {"deflection": (found.edges[1] if found.solid is None else found.solid)
              / here.limits.deflection,
              "stress": found.stress / found.allowed, "fillets": found.at_fillets / found.allowed,
              "buckling": here.limits.buckling_factor / found.buckling,
              "temperature": (heat.warmest - cold) / (here.temperature_limit - cold),
              "part_off": (float(heat.last.part[0]) - cold)
              / (here.sheet.band("set_temperature").typical - cold),
              "distortion": found.distortion / here.limits.deflection}
    if "hdt_low_load" in here.tool:
        limit = here.tool.band("hdt_low_load").typical - v["margin"]
        shares["face"] = (float(heat.last.peak[0]) - cold) / (limit - cold)
    return {key: share if 0.0 <= share < 99.99 else 99.99 for key, share in shares.items()}


# ---------------------------------------------------------------- temperature

def _make_shots() -> go.Figure:
    figure = blank("shot", "")
    figure.update_xaxes(rangemode="nonnegative", zeroline=False)
    figure.add_traces([
        go.Scatter(name="margin", mode="lines", line=dict(width=0), fill="toself",
                   fillcolor="rgba(230,159,0,0.22)", hoverinfo="skip"),
        go.Scatter(name="usable limit", mode="lines",
                   line=dict(color=style.ORANGE, width=2, dash="dash")),
        go.Scatter(name="face, hottest", mode="lines+markers",
                   line=dict(color=style.BLUE, dash="dot"), marker=dict(symbol="triangle-up")),
        go.Scatter(name="wall, highest mean", mode="lines+markers",
                   line=dict(color=style.BLUE, width=3), marker=dict(symbol="circle")),
        go.Scatter(name="wall before the sheet", mode="lines", line=dict(color=style.SKY)),
        go.Scatter(name="part taken off", mode="lines",
                   line=dict(color=style.PURPLE, dash="dashdot"))])
    return figure


def _shots(figure: go.Figure, scene: Scene) -> None:
    here = scene.outcome.arrays["found"].here
    run, count = here.heat.run, len(here.heat.walls)
    shots = np.arange(1, count + 1)
    limit = here.tool.band("usable_limit").typical
    ends = np.array([0.5, count + 0.5])
    margin, line, face, mean, before, part = figure.data

    def shown(value):
        return scene.value(np.asarray(value), "°C")

    margin.update(x=[*ends, *ends[::-1], ends[0]],
                  y=shown([here.temperature_limit] * 2 + [limit] * 2 + [here.temperature_limit]))
    line.update(x=ends, y=shown([limit, limit]))
    for trace, values in ((face, run.peak), (mean, run.mean_peak), (before, run.mean),
                          (part, run.part)):
        trace.update(x=shots, y=shown(values))
    figure.layout.yaxis.title.text = f"temperature [{scene.unit('°C')}]"


def _make_through() -> go.Figure:
    figure = make_subplots(specs=[[{"secondary_y": True}]])
    figure.update_layout(style.LAYOUT)
    figure.add_trace(go.Scatter(name="temperature", mode="lines+markers",
                                line=dict(color=style.BLUE, width=3)))
    figure.add_trace(go.Scatter(name="modulus, creep included", mode="lines",
                                line=dict(color=style.ORANGE, width=2, dash="dash")),
                     secondary_y=True)
    figure.update_xaxes(style.AXIS)
    figure.update_yaxes(style.AXIS)
    figure.update_yaxes(showgrid=False, rangemode="tozero", tickmode="auto", secondary_y=True)
    return figure


def _through(figure: go.Figure, scene: Scene) -> None:
    here = scene.outcome.arrays["found"].here
    warm, depth = here.heat.part_off, here.heat.cycle.depth
    modulus, ratio = (here.tool.curve(key)(warm, "hold")[1] for key in ("modulus", "creep_ratio"))
    own = depth < scene.inputs["skin"]
    figure.data[0].update(x=scene.value(depth, "mm"), y=scene.value(warm, "°C"))
    figure.data[1].update(x=scene.value(depth[own], "mm"),
                          y=scene.value(modulus / here.creep(ratio), "MPa")[own])
    figure.layout.xaxis.title.text = f"depth below the forming face [{scene.unit('mm')}]"
    figure.layout.yaxis.title.text = f"temperature [{scene.unit('°C')}]"
    figure.layout.yaxis2.title.text = "modulus [MPa]"


# ---------------------------------------------------------------- shape by finite elements

def _make_shape() -> go.Figure:
    figure = blank("", "")
    figure.add_trace(go.Contour(colorscale=style.MAP, contours=dict(coloring="heatmap"),
                                line=dict(width=0.5, color="#ffffff"), ncontours=12,
                                colorbar=dict(thickness=14)))
    figure.update_xaxes(showgrid=False, zeroline=False)
    figure.update_yaxes(scaleanchor="x", scaleratio=1.0, showgrid=False, zeroline=False)
    figure.add_annotation(text="", showarrow=False, xref="paper", yref="paper", x=0.5, y=0.5)
    figure.update_layout(margin=dict(t=10))
    return figure


def _shape(figure: go.Figure, scene: Scene) -> None:
    found, unit = scene.outcome.arrays["found"], scene.unit("mm")
    s = found.simulation
    figure.layout.annotations[0].text = "" if s is not None else "not computed yet"
    x, y, w = (np.zeros(0), np.zeros(0), np.zeros((0, 0))) if s is None else (
        np.concatenate([-s["x"][:0:-1], s["x"]]), np.concatenate([-s["y"][:0:-1], s["y"]]),
        _whole(s["inward"]))
    figure.data[0].update(x=scene.value(x, "mm"), y=scene.value(y, "mm"), z=scene.value(w, "mm"))
    figure.data[0].colorbar.title.text = f"inward [{unit}]"
    figure.data[0].hovertemplate = f"%{{z:.4f}} {unit} at %{{x:.0f}}, %{{y:.0f}}<extra></extra>"
    figure.layout.xaxis.title.text = f"along the length [{unit}]"
    figure.layout.yaxis.title.text = f"across [{unit}]"


def _whole(quarter: np.ndarray) -> np.ndarray:
    """The whole face from the quarter that was computed."""
    half = np.concatenate([quarter[:, :0:-1], quarter], axis=1)
    return np.concatenate([half[:0:-1], half], axis=0)
