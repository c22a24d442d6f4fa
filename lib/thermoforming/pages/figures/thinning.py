"""Figures of thinning: the formed part by gauge, section, levels, air, contact, printed picture."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go
from plotly.subplots import make_subplots
from scipy.interpolate import LinearNDInterpolator

from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank, blank_scene
from thermoforming.pages.figures.part import (
    LIGHT,
    name_axes,
    plain_trace,
    put_mesh,
    shown_part,
)
from thermoforming.pages.render import words
from thermoforming.physics.thinning import elements
from thermoforming.steps.brief.part import kept
from thermoforming.steps.thinning.reading import gauge_at

RIM = 3e-4  # m; deeper than this counts as part of a form
GRID = 150
STEEP = 0.35  # cosine of the slope from which a wall is left out of the view from above
VIEW = dict(eye=dict(x=0.6, y=-1.75, z=1.65), center=dict(x=0.0, y=0.0, z=-0.15))


def panels() -> tuple[Panel, ...]:
    """What the thinning page shows."""
    return (
        Panel("part", "The formed sheet, coloured by gauge", _make_part, _update_part,
              "Dark is thin. Turn it with the mouse; “Moment of forming” runs through time. The "
              "table below names the same places in numbers.", 460),
        Panel("section", "Section, sheet drawn to scale", _make_section, _update_section,
              "Choose the place under “Look at”. Where the sheet leaves the tool, the pressure "
              "does not fill it.", 280),
        Panel("section_gauge", "Gauge along the section", _make_section_gauge,
              _update_section_gauge, "Same place and moment as above.", 240),
        Panel("levels", "Four levels of calculation", _make_levels, _update_levels,
              "Gauge over the share of the form's surface, thinnest first. Levels 2 and 3 are a "
              "form of the same size, level 4 is everything below the rim.", 340),
        Panel("air", "Air drawn out and pressure", _make_air, _update_air,
              "A blown sheet can pass a pressure maximum; the corners fill at the end.", 300),
        Panel("contact", "Where the sheet lands last", _make_contact, _update_contact,
              "Seen from above. Light lands last: the air there must leave last, so vents belong "
              "there. A1, A2 … are spaces of air where they end.", 360),
        Panel("print", "Printed picture", _make_print, _update_print,
              "Left as it shall look on the part from above; right what to print on the flat "
              "sheet.", 300),
    )


def _make_part() -> go.Figure:
    figure = blank_scene(scene_camera=VIEW)
    figure.add_traces([
        go.Mesh3d(name="sheet", intensitymode="vertex", colorscale=style.MAP, lighting=LIGHT,
                  flatshading=False, hovertemplate="%{intensity:.3f}<extra></extra>",
                  colorbar=dict(title=dict(side="right"), thickness=14, len=0.8, x=1.0)),
        plain_trace("tool, not yet formed", style.SKY),
        go.Scatter3d(name="least gauge", mode="markers", showlegend=False, hoverinfo="name",
                     marker=dict(size=5, color=style.ORANGE))])
    return figure


def _update_part(figure, scene: Scene) -> None:
    sheet, tool, labels = figure.data
    reading, scale = scene.outcome.arrays["reading"], scene.value(1.0, "mm")
    surface = scene.outcome.arrays["surface"]
    formed = reading is not None
    sheet.visible, labels.visible, tool.visible = formed, formed, not formed
    name_axes(figure, scene.unit("mm"))
    figure.update_layout(annotations=_standing(reading))
    if not formed:
        figure.update_layout(scene_annotations=[])
        part, _ = shown_part(surface)
        put_mesh(tool, part, slice(None), scale)
        return
    frame = scene.outcome.arrays["frame"]
    points, gauge = _shown_frame(reading, frame)
    sheet.x, sheet.y, sheet.z = (points * scale).astype(np.float32).T
    sheet.i, sheet.j, sheet.k = reading.arrays["triangles"].T
    sheet.intensity = (gauge * scale).astype(np.float32)
    sheet.cmin = float(reading.least * scale)
    sheet.cmax = float(reading.arrays["starting_gauge"] * scale)
    sheet.colorbar.title.text = f"gauge ({scene.unit('mm')})"
    least = int(np.argmin(np.where(reading.arrays["clamped"], np.inf, gauge)))
    value = words(float(gauge[least]), "mm", scene.inches)
    labels.x, labels.y, labels.z = ([float(x)] for x in points[least] * scale)
    figure.update_layout(scene_annotations=[_flag(points[least] * scale, f"least {value}")])


def _standing(reading) -> list[dict]:
    """What must be known before the map is believed, written on it."""
    if reading is None:
        text = "not formed yet: press “Form the sheet”"
    elif not reading.passed or reading.verified is False:
        text = "this run failed its checks: do not use it"
    elif not reading.fine or reading.verified is None:
        text = "not verified yet"
    else:
        return []
    return [dict(text=text, xref="paper", yref="paper", x=0.0, y=1.0, xanchor="left",
                 yanchor="top", showarrow=False, font=dict(size=14, color="#222"),
                 bgcolor="rgba(255,255,255,0.85)", bordercolor=style.ORANGE)]


def _flag(place, text) -> dict:
    """A name with an arrow to its place; text on a ground that reads on both themes."""
    return dict(x=float(place[0]), y=float(place[1]), z=float(place[2]), text=text, ax=60, ay=-90,
                font=dict(size=14, color="#222"), bgcolor="rgba(255,255,255,0.85)",
                bordercolor=style.ORANGE, arrowcolor=style.ORANGE, arrowwidth=2)


def _shown_frame(reading, frame):
    if frame is None:
        return np.asarray(reading.arrays["points"], float), np.asarray(
            reading.arrays["node_gauge"], float)
    return (np.asarray(reading.arrays["frames"][frame], float),
            kept("frame gauge", reading.surface, lambda: gauge_at(reading.arrays, frame), frame))


def _make_section() -> go.Figure:
    figure = blank("x", "z")
    figure.add_traces([
        go.Scatter(name="sheet", mode="lines", line=dict(color=style.ORANGE, width=1),
                   fill="toself", fillcolor="rgba(213,94,0,0.75)", hoverinfo="skip"),
        go.Scatter(name="tool", mode="lines", line=dict(color=style.BLUE, width=2),
                   hoverinfo="skip"),
        go.Scatter(name="gauge", mode="markers", marker=dict(size=5, opacity=0.0),
                   showlegend=False)])
    figure.update_yaxes(scaleanchor="x", scaleratio=1.0)
    return figure


def _update_section(figure, scene: Scene) -> None:
    band, tool, gauge = figure.data
    arrays = scene.outcome.arrays
    xs, zs = _broken(arrays["tool_section"])
    tool.x, tool.y = scene.value(xs, "mm"), scene.value(zs, "mm")
    axis = scene.inputs["section_along"]
    at = words(scene.inputs["section_at"], "mm", scene.inches)
    figure.update_xaxes(title_text=f"{axis} ({scene.unit('mm')}) at "
                                   f"{'y' if axis == 'x' else 'x'} = {at}")
    figure.update_yaxes(title_text=f"z ({scene.unit('mm')})")
    runs = arrays.get("section", [])
    xs, zs = _broken([_thick(*run) for run in runs])
    band.x, band.y = scene.value(xs, "mm"), scene.value(zs, "mm")
    if runs:
        x, z, t = (np.concatenate(parts) for parts in zip(*runs, strict=True))
        gauge.x, gauge.y = scene.value(x, "mm"), scene.value(z, "mm")
        unit = scene.unit("mm")
        gauge.hovertemplate = f"%{{customdata:.3f}} {unit}<extra>gauge</extra>"
        gauge.customdata = scene.value(t, "mm")
    else:
        gauge.x = gauge.y = []


def _make_section_gauge() -> go.Figure:
    figure = blank("x", "gauge")
    figure.add_traces([
        go.Scatter(name="gauge", mode="lines", line=dict(color=style.ORANGE, width=2.5)),
        go.Scatter(name="least wall asked for", mode="lines",
                   line=dict(color=style.PURPLE, width=1.5, dash="longdash"))])
    figure.update_yaxes(rangemode="tozero")
    return figure


def _update_section_gauge(figure, scene: Scene) -> None:
    gauge, wanted = figure.data
    arrays, unit = scene.outcome.arrays, scene.unit("mm")
    runs = arrays.get("section", [])
    xs, ts = _broken([(run[0], run[2]) for run in runs])
    gauge.x, gauge.y = scene.value(xs, "mm"), scene.value(ts, "mm")
    axis = 0 if scene.inputs["section_along"] == "x" else 1
    wanted.x = scene.value(arrays["surface"].bounds[:, axis], "mm")
    wanted.y = scene.value(np.full(2, arrays["minimum_wall"]), "mm")
    figure.update_xaxes(title_text=f"{scene.inputs['section_along']} ({unit})")
    figure.update_yaxes(title_text=f"gauge ({unit})")


def _thick(x, z, gauge):
    """Outline of a sheet of this gauge whose tool side is the line, its free side above."""
    along = np.gradient(np.column_stack([x, z]), axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1), 1e-12)[:, None]
    side = np.column_stack([-along[:, 1], along[:, 0]])
    if np.sum(side[:, 1]) < 0.0:
        side = -side
    free = np.column_stack([x, z]) + side * gauge[:, None]
    return np.concatenate([x, free[::-1, 0], x[:1]]), np.concatenate([z, free[::-1, 1], z[:1]])


def _broken(runs):
    """Runs as one line with gaps."""
    if not runs:
        return np.zeros(0), np.zeros(0)
    gap = np.array([np.nan])
    xs, zs = zip(*[(np.append(run[0], gap), np.append(run[1], gap)) for run in runs], strict=True)
    return np.concatenate(xs), np.concatenate(zs)


def _make_levels() -> go.Figure:
    figure = blank("share of the surface, thinnest first (%)", "gauge")
    names = ("1 area ratio", "2 geometric elements", "3 round membrane", "4 the tool's mesh")
    for name, colour, dash in zip(names, (style.GREY, style.AMBER, style.BLUE, style.ORANGE),
                                  ("dot", "dash", "dashdot", "solid"), strict=True):
        figure.add_trace(go.Scatter(name=name, mode="lines", line=dict(color=colour, width=2.5,
                                                                       dash=dash)))
    figure.add_trace(go.Scatter(name="least wall asked for", mode="lines",
                                line=dict(color=style.PURPLE, width=1.5, dash="longdash")))
    figure.update_xaxes(range=[0, 100])
    figure.update_yaxes(rangemode="tozero")
    return figure


def _update_levels(figure, scene: Scene) -> None:
    area, hand, round_, mesh, wanted = figure.data
    arrays = scene.outcome.arrays
    levels, gauge = arrays["levels"], arrays["gauge"]
    _put_level(area, scene, [0.0, 100.0], np.full(2, gauge / levels.area_ratio))
    _put_level(wanted, scene, [0.0, 100.0], np.full(2, arrays["minimum_wall"]))
    _put_level(hand, scene, *_by_elements(levels, gauge))
    _put_level(round_, scene, *_by_membrane(levels, gauge))
    _put_level(mesh, scene, *_by_mesh(arrays["reading"]))
    figure.update_yaxes(title_text=f"gauge ({scene.unit('mm')})")


def _put_level(trace, scene, share, gauge) -> None:
    trace.x, trace.y = np.asarray(share, float), scene.value(np.asarray(gauge, float), "mm")


def _ranked(gauge, areas):
    """Gauge against the share of area that is thinner, in percent."""
    order = np.argsort(gauge)
    share = np.cumsum(areas[order])
    picked = np.unique(np.searchsorted(share, np.linspace(0.0, share[-1], 200)).clip(
        0, len(order) - 1))
    return 100.0 * share[picked] / share[-1], gauge[order][picked]


def _by_elements(levels, gauge):
    form = levels.form
    if form.male:
        value = levels.elements["wall and flange"] * gauge
        return [0.0, 100.0], [value, value]
    line = elements.cup(form.radius, form.depth, form.wall_angle, _filled_corner(levels))
    strips = np.diff(line.along) * (line.across[1:] + line.across[:-1])
    return _ranked(0.5 * (line.gauge[1:] + line.gauge[:-1]) * gauge, np.maximum(strips, 0.0))


def _filled_corner(levels) -> float:
    """The corner as far as the pressure fills it, within what the bubble leaves. [m]"""
    form, run = levels.form, levels.membrane
    filled = run.free_radius if run is not None and run.complete else 0.0
    floor = form.radius - form.depth / np.tan(form.wall_angle)
    most = min(form.depth / (1.0 - np.cos(form.wall_angle)), floor / np.tan(form.wall_angle / 2))
    return min(max(form.corner, filled), 0.95 * most)


def _by_membrane(levels, gauge):
    run = levels.membrane
    if run is None:
        return [], []
    length = np.hypot(*np.diff(run.position, axis=0).T)
    areas = run.middle[:, 0] * length
    form = (run.middle[:, 1] > RIM) if levels.form.male else (run.middle[:, 1] < -RIM)
    return _ranked(run.gauge[form] * gauge, areas[form]) if form.any() else ([], [])


def _by_mesh(reading):
    if reading is None:
        return [], []
    height = reading.surface.centres[:, 2]
    rim = np.median(reading.surface.vertices[reading.arrays["clamped"], 2])
    form = np.abs(height - rim) > RIM
    return _ranked(np.asarray(reading.arrays["gauge"], float)[form], reading.areas[form])


def _make_air() -> go.Figure:
    figure = blank("air drawn out", "pressure")
    figure.add_traces([
        go.Scatter(name="pressure, mesh", mode="lines", line=dict(color=style.ORANGE, width=2.5)),
        go.Scatter(name="pressure, round form (its own air)", mode="lines",
                   line=dict(color=style.BLUE, width=2, dash="dashdot")),
        go.Scatter(name="surface landed", mode="lines", yaxis="y2",
                   line=dict(color=style.GREEN, width=2, dash="dash"))])
    figure.update_layout(yaxis2=dict(style.AXIS | dict(title=dict(text="surface landed (%)"),
                                                       overlaying="y", side="right",
                                                       range=[0, 105], tick0=0, dtick=20,
                                                       showgrid=False)))
    return figure


def _update_air(figure, scene: Scene) -> None:
    mesh, round_, landed = figure.data
    levels, reading = scene.outcome.arrays["levels"], scene.outcome.arrays["reading"]
    run = levels.membrane
    if run is not None:
        drawn = run.volumes - run.volumes.min() if levels.form.male else run.volumes
        round_.x, round_.y = scene.value(drawn, "cm³"), scene.value(run.pressures, "kPa")
    figure.update_xaxes(title_text=f"air drawn out ({scene.unit('cm³')})")
    figure.layout.yaxis.title.text = f"pressure ({scene.unit('kPa')})"
    if reading is None:
        mesh.x = mesh.y = landed.x = landed.y = []
        return
    curve = np.asarray(reading.arrays["curve"], float)
    mesh.x, mesh.y = scene.value(curve[:, 0], "cm³"), scene.value(curve[:, 1], "kPa")
    at = np.asarray(reading.arrays["landed"], float)
    known = np.sort(at[np.isfinite(at)])
    landed.x = scene.value(known[::max(1, len(known) // 200)], "cm³")
    landed.y = (100.0 * np.arange(1, len(known) + 1) / len(at))[::max(1, len(known) // 200)]


def _make_contact() -> go.Figure:
    figure = blank("x", "y")
    figure.add_traces([
        go.Heatmap(colorscale=style.MAP, zmin=0, zmax=100,
                   hovertemplate="%{z:.0f} %<extra></extra>",
                   colorbar=dict(title=dict(text="air gone when it lands (%)", side="right"),
                                 thickness=14)),
        go.Scatter(name="space of air ends", mode="markers+text", textposition="top center",
                   marker=dict(symbol="x", size=10, color=style.ORANGE),
                   textfont=dict(color=style.ORANGE, size=14)),
        go.Scatter(name="last contacts", mode="markers",
                   marker=dict(symbol="circle-open", size=12, color=style.ORANGE,
                               line=dict(width=2)))])
    figure.update_yaxes(scaleanchor="x", scaleratio=1.0)
    return figure


def _update_contact(figure, scene: Scene) -> None:
    heat, ends, last = figure.data
    reading, unit = scene.outcome.arrays["reading"], scene.unit("mm")
    figure.update_xaxes(title_text=f"x ({unit})")
    figure.update_yaxes(title_text=f"y ({unit})")
    if reading is None:
        heat.z, ends.x, ends.y, last.x, last.y = None, [], [], [], []
        return
    xs, ys, share = kept("landing plan", reading.surface, lambda: _landing_plan(reading))
    heat.x, heat.y, heat.z = scene.value(xs, "mm"), scene.value(ys, "mm"), 100.0 * share
    places = np.array([pocket.place for pocket in reading.pockets]).reshape(-1, 3)
    ends.x, ends.y = scene.value(places[:, 0], "mm"), scene.value(places[:, 1], "mm")
    ends.text = [f"A{i}" for i in range(1, len(places) + 1)]
    points = np.array(reading.last).reshape(-1, 5)
    last.x, last.y = scene.value(points[:, 0], "mm"), scene.value(points[:, 1], "mm")


def _landing_plan(reading):
    """Share of the air gone at landing over a plan grid, where nothing overhangs."""
    points = reading.surface.vertices
    low, high = reading.surface.bounds[:, :2]
    xs, ys = (np.linspace(low[i], high[i], GRID) for i in (0, 1))
    whole = float(reading.arrays["curve"][-1, 0])
    at = np.asarray(reading.arrays["landed"], float) / whole
    value = np.clip(np.where(np.isfinite(at), at, 1.0), 0.0, 1.0)
    level = reading.surface.normals[:, 2] > STEEP
    shown = np.ones(len(points), bool)
    shown[reading.surface.faces[~level]] = False
    return xs, ys, LinearNDInterpolator(points[shown, :2], value[shown])(*np.meshgrid(xs, ys))


def _make_print() -> go.Figure:
    figure = make_subplots(1, 2, horizontal_spacing=0.04,
                           subplot_titles=("on the part", "to print on the flat sheet"))
    figure.add_trace(go.Image(hoverinfo="skip", colormodel="rgba"), 1, 1)
    figure.add_trace(go.Image(hoverinfo="skip", colormodel="rgba"), 1, 2)
    figure.update_layout(style.LAYOUT | dict(margin=dict(l=8, r=8, t=30, b=8)))
    figure.update_xaxes(visible=False)
    figure.update_yaxes(visible=False)
    return figure


def _update_print(figure, scene: Scene) -> None:
    picture, flat = figure.data
    made = scene.outcome.arrays.get("print")
    if made is None:
        picture.z = flat.z = np.zeros((2, 3, 4), np.uint8)
        return
    flat.z = made["image"]
    picture.z = _opaque(made["picture"])


def _opaque(picture, most: int = 320) -> np.ndarray:
    """A picture with an opacity channel, thinned out to what a page needs."""
    step = max(1, int(np.ceil(max(picture.shape[:2]) / most)))
    small = np.asarray(picture)[::step, ::step, :3]
    return np.concatenate([small, np.full((*small.shape[:2], 1), 255)], axis=2).astype(np.uint8)
