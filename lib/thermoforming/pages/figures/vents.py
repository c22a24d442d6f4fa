"""Figures of the vents: pressure beside temperature, vents on the tool, template, bulge."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank, blank_scene
from thermoforming.steps.brief.part import part_surface, plan_of

FIRST = 5e-3  # s, where the time axis begins
SIGNS = {"pocket": "diamond", "corner": "square", "edge": "circle", "last contact": "x"}
COLOURS = {"pocket": style.PURPLE, "corner": style.ORANGE, "edge": style.SKY,
           "last contact": style.AMBER}


def panels() -> tuple[Panel, ...]:
    """Pressure and temperature in time; vents on the mesh; drilling template; bulge."""
    return (
        Panel("race", "Will the air be out before the sheet stiffens?", _make_race, _race,
              "The pressure below the sheet must reach the line “forms” while the sheet is above "
              "its forming limit. Shaded: air still in; time runs on a logarithmic scale.", 430),
        Panel("count", "How many are enough?", _make_count, _count,
              "Time to the vacuum that forms, with only the first so many of the list; the first "
              "ones serve one space each.", 300),
        Panel("mesh", "Vents on the tool", _make_mesh, _mesh,
              "Colour: share of the air gone when the sheet lands there. Signs: reason.", 460),
        Panel("template", "Drilling template, seen along the pull", _make_template, _template,
              "Numbers as in the vent list. Grey: depth of the tool.", 460),
        Panel("bulge", "How far the sheet bulges into a hole", _make_bulge, _bulge,
              "Band: hot modulus low to high. Dot: this bore.", 330),
    )


# ---------------------------------------------------------------- pressure and temperature

def _make_race() -> go.Figure:
    figure = blank("time since the valve opened [s]", "absolute pressure [kPa]")
    lines = (("slowest space", style.BLUE, "solid", 3), ("quickest space", style.SKY, "dash", 2),
             ("below the vents", style.GREEN, "dot", 2), ("tank", style.GREY, "dashdot", 2),
             ("second shot", style.PURPLE, "longdash", 2))
    for name, colour, dash, width in lines:
        figure.add_trace(go.Scatter(name=name, mode="lines",
                                    line=dict(color=colour, dash=dash, width=width)))
    figure.data[0].fill = "tozeroy"
    figure.data[0].fillcolor = "rgba(0,114,178,0.08)"
    figure.add_trace(go.Scatter(name="sheet in air, coldest", mode="lines", yaxis="y2",
                                line=dict(color=style.ORANGE, width=3)))
    figure.add_trace(go.Scatter(name="forming limit of the sheet", mode="lines", yaxis="y2",
                                line=dict(color=style.ORANGE, width=2, dash="dot")))
    figure.add_trace(go.Scatter(name="formed", mode="markers+text", textposition="top right",
                                marker=dict(size=11, color=style.BLUE), showlegend=False))
    figure.add_shape(type="line", xref="x", yref="y", line=dict(color=style.BLUE, dash="dot"))
    figure.add_shape(type="line", yref="paper", y0=0, y1=1,
                     line=dict(color=style.ORANGE, width=2))
    figure.add_annotation(yref="paper", y=0.98, xref="x", showarrow=False, xanchor="right",
                          text="too cold from here ")
    figure.add_annotation(xref="paper", x=0.01, yref="y", showarrow=False, yanchor="bottom",
                          xanchor="left", text="forms")
    figure.update_xaxes(type="log")
    figure.update_layout(margin=dict(r=64, t=66), yaxis=dict(rangemode="tozero"),
                         yaxis2=style.AXIS | dict(overlaying="y", side="right", showgrid=False,
                                                  tickmode="auto",
                                                  nticks=6, title=dict(text="sheet [°C]")))
    return figure


def _race(figure: go.Figure, scene: Scene) -> None:
    arrays = scene.outcome.arrays
    time = np.maximum(arrays["time"], FIRST)
    pressures = arrays["pockets"]
    end = max(1.3 * arrays["available"], 2.0)
    slowest, quickest = pressures.max(axis=0), pressures.min(axis=0)
    for trace, y in zip(figure.data[:4], (slowest, quickest, arrays["plenum"], arrays["tank"]),
                        strict=True):
        trace.update(x=time, y=scene.value(y, "kPa"))
    again, second = arrays["second"]
    figure.data[4].update(x=np.maximum(again, FIRST), y=scene.value(second, "kPa"))
    cooling, sheet = arrays["cooling"]
    cooled = cooling - scene.inputs["transfer"]
    seen = cooled >= FIRST
    figure.data[5].update(x=cooled[seen], y=scene.value(sheet[seen], "°C"))
    low = scene.value(arrays["forming_low"], "°C")
    figure.data[6].update(x=[FIRST, end], y=[low, low])
    top = scene.value(float(sheet.max()), "°C")
    room = max(top - low, 4.0)
    figure.layout.yaxis2.range = [low - 0.6 * room, top + 0.1 * room]
    _mark_arrival(figure, scene, end)


def _mark_arrival(figure: go.Figure, scene: Scene, end: float) -> None:
    arrays, took = scene.outcome.arrays, scene.outcome["time"]
    forms = float(scene.value(arrays["ambient"] - arrays["needed"], "kPa"))
    reached = took is not None
    figure.data[7].update(x=[took.typical] if reached else [], y=[forms] if reached else [],
                          text=[f"{took.typical:.2g} s"] if reached else [])
    line, limit = figure.layout.shapes
    line.update(x0=FIRST, x1=end, y0=forms, y1=forms)
    late = max(arrays["available"], FIRST)
    limit.update(x0=late, x1=late)
    word, forming = figure.layout.annotations
    word.update(x=np.log10(late))
    forming.update(y=forms)
    figure.layout.xaxis.range = [np.log10(FIRST), np.log10(end)]


# ---------------------------------------------------------------- how many

def _make_count() -> go.Figure:
    figure = blank("vents of the list used", "time to the vacuum that forms [s]")
    figure.add_trace(go.Scatter(name="time", mode="lines+markers",
                                line=dict(color=style.BLUE, width=3), marker=dict(size=9)))
    figure.add_trace(go.Scatter(name="time there is", mode="lines",
                                line=dict(color=style.ORANGE, width=2, dash="dot")))
    figure.update_yaxes(type="log")
    return figure


def _count(figure: go.Figure, scene: Scene) -> None:
    arrays = scene.outcome.arrays
    counts, times = arrays["by_count"]
    reached = np.isfinite(times)
    figure.data[0].update(x=counts[reached], y=times[reached])
    late = max(arrays["available"], 1e-3)
    figure.data[1].update(x=[0, max(counts[-1], 1)], y=[late, late])


# ---------------------------------------------------------------- vents on the mesh

def _make_mesh() -> go.Figure:
    figure = blank_scene()
    figure.add_trace(go.Mesh3d(colorscale=style.MAP, cmin=0, cmax=100, flatshading=False,
                               lighting=dict(ambient=0.6, diffuse=0.6, specular=0.1),
                               colorbar=dict(title="% gone", thickness=12, len=0.7)))
    for reason, sign in SIGNS.items():
        figure.add_trace(_signs_3d(reason, sign, COLOURS[reason]))
    figure.add_trace(_signs_3d("by hand", "cross", style.GREEN))
    return figure


def _signs_3d(name: str, sign: str, colour: str) -> go.Scatter3d:
    return go.Scatter3d(name=name, mode="markers", marker=dict(
        symbol=sign, size=7, color=colour, line=dict(color="#ffffff", width=1)))


def _mesh(figure: go.Figure, scene: Scene) -> None:
    landing = scene.outcome.arrays["landing"]
    points = scene.value(landing.points, "mm")
    body = figure.data[0]
    if body.x is None or len(body.x) != len(points) or not np.array_equal(body.x, points[:, 0]):
        i, j, k = landing.triangles.T
        body.update(x=points[:, 0], y=points[:, 1], z=points[:, 2], i=i, j=j, k=k,
                    intensity=100.0 * landing.order)
    rows, lift = scene.outcome.table("vent_list").rows, 0.006 * float(np.ptp(points[:, 0]))
    for trace in figure.data[1:]:
        mine = [r for r in rows if (r["reason"] if r["reason"] in SIGNS else "by hand")
                == trace.name]
        x, y, z = (scene.value(np.array([r[c] for r in mine], float), "mm") for c in "xyz")
        trace.update(x=x, y=y, z=z + lift,
                     text=[f"{r['number']}: {r['reason']}, space {r['pocket']}" for r in mine],
                     hovertemplate="%{text}<extra></extra>")


# ---------------------------------------------------------------- drilling template

def _make_template() -> go.Figure:
    figure = blank("x", "y", showlegend=True)
    figure.add_trace(go.Heatmap(colorscale=[[0, "#8a8a8a"], [1, "#f2f2f2"]], showscale=False,
                                hoverinfo="skip"))
    for reason, sign in SIGNS.items():
        figure.add_trace(_signs_2d(reason, sign, COLOURS[reason]))
    figure.add_trace(_signs_2d("by hand", "cross", style.GREEN))
    figure.update_yaxes(scaleanchor="x", scaleratio=1)
    return figure


def _signs_2d(name: str, sign: str, colour: str) -> go.Scatter:
    return go.Scatter(name=name, mode="markers+text", textposition="top center",
                      textfont=dict(size=10), marker=dict(symbol=sign, size=8, color=colour,
                                                          line=dict(color="#222222", width=1)))


def _template(figure: go.Figure, scene: Scene) -> None:
    plan = plan_of(part_surface(scene.upstream))
    xs, ys, heights = _thinned(plan)
    figure.data[0].update(x=scene.value(xs, "mm"), y=scene.value(ys, "mm"), z=heights)
    for trace in figure.data[1:]:
        mine = [r for r in scene.outcome.table("vent_list").rows
                if (r["reason"] if r["reason"] in SIGNS else "by hand") == trace.name]
        x, y, z = (scene.value(np.array([r[c] for r in mine], float), "mm") for c in "xyz")
        trace.update(x=x, y=y, text=[str(r["number"]) for r in mine], customdata=z,
                     hovertemplate="No. %{text}<br>x %{x:.1f}, y %{y:.1f}, z %{customdata:.1f}"
                                   "<extra></extra>")
    unit = scene.unit("mm")
    figure.layout.xaxis.title.text, figure.layout.yaxis.title.text = f"x [{unit}]", f"y [{unit}]"


def _thinned(plan, most: int = 160):
    step = max(1, max(plan.heights.shape) // most)
    heights = plan.heights[::step, ::step]
    return (plan.xs[::step], plan.ys[::step],
            np.where(np.isfinite(heights), heights, np.nanmax(heights)))


# ---------------------------------------------------------------- bulge

def _make_bulge() -> go.Figure:
    figure = blank("bore", "bulge")
    figure.add_trace(go.Scatter(name="soft sheet", mode="lines", line=dict(width=0),
                                showlegend=False))
    figure.add_trace(go.Scatter(name="band of the modulus", mode="lines", fill="tonexty",
                                line=dict(width=0), fillcolor="rgba(0,114,178,0.18)"))
    figure.add_trace(go.Scatter(name="typical", mode="lines",
                                line=dict(color=style.BLUE, width=3)))
    figure.add_trace(go.Scatter(name="permitted mark", mode="lines",
                                line=dict(color=style.ORANGE, width=2, dash="dot")))
    figure.add_trace(go.Scatter(name="this bore", mode="markers",
                                marker=dict(size=11, color=style.BLUE)))
    figure.update_yaxes(rangemode="tozero")
    return figure


def _bulge(figure: go.Figure, scene: Scene) -> None:
    bores, curves = scene.outcome.arrays["bulge_over"]
    x = scene.value(bores, "mm")
    soft, usual, stiff = (scene.value(c, "mm") for c in curves)
    for trace, y in zip(figure.data[:3], (soft, stiff, usual), strict=True):
        trace.update(x=x, y=y)
    mark = scene.value(scene.inputs["mark"], "mm")
    figure.data[3].update(x=[x[0], x[-1]], y=[mark, mark])
    here = scene.value(scene.outcome["bulge"].typical, "mm")
    figure.data[4].update(x=[scene.value(scene.outcome["bore"], "mm")], y=[here])
    unit = scene.unit("mm")
    figure.layout.xaxis.title.text = f"bore [{unit}]"
    figure.layout.yaxis.title.text = f"bulge [{unit}]"
    figure.layout.yaxis.range = [0, float(max(4 * mark, 2.5 * here))]
