"""Figures of shrinkage, draft and release."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from thermoforming.geometry.draft import BANDS
from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank, blank_scene
from thermoforming.pages.figures.part import (
    CAMERA,
    label_trace,
    map_trace,
    name_axes,
    plain_trace,
    put_labels,
    put_mesh,
    shown_part,
)
from thermoforming.pages.render import words

MOST_DRAFT = np.radians(10.0)  # the map is one colour above it
MOST_RADIUS = 6.0  # times the starting gauge
MOST_NAMES = 12
GROUPS = ("shrinkage", "gauge", "build", "tool temperature", "post-cure", "measuring", "trimming")
PATTERNS = ("", "/", "x", "-", "\\", ".", "|")


def panels() -> tuple[Panel, ...]:
    """Draft map, area by draft, ledger, contributions, release."""
    return (
        Panel("draft", "Draft of every facet for the pull", _make_draft, _update_draft,
              "Dark is upright, light is 10° and more. Orange regions need more draft, purple "
              "ones are undercut; their names are those of the tables.", 460),
        Panel("ledger", "Critical dimensions against their tolerance", _make_ledger,
              _update_ledger, "Deviation of the part from the middle of its tolerance. At the "
              "right: share of parts in tolerance.", 340, wide=True),
        Panel("contributions", "What spreads each dimension", _make_contributions,
              _update_contributions, "Share of each contribution in the sum of squares.", 320),
        Panel("bands", "Area by draft", _make_bands, _update_bands,
              "Short of draft: left of the dashed line where the part leaves the wall, of the "
              "dotted one where it grips.", 320),
        Panel("release", "Pull that frees the part, against its temperature", _make_release,
              _update_release, "The grip grows as the part cools on the tool; suction comes on "
              "top if it is lifted flat.", 300, wide=True),
        Panel("radii", "Radii and flats", _make_radii, _update_radii,
              "Smallest radius at each facet, in starting gauges; light is 6 and more. E are tight "
              "external, I tight internal radii, F flats that can hold air.", 430, wide=True),
    )


def _make_draft() -> go.Figure:
    figure = blank_scene(scene_camera=CAMERA)
    figure.add_traces([map_trace("draft (°)", cmin=0, cmax=10),
                       plain_trace("short of draft", style.ORANGE),
                       plain_trace("undercut", style.PURPLE), label_trace()])
    return figure


def _update_draft(figure, scene: Scene) -> None:
    arrays, scale = scene.outcome.arrays, scene.value(1.0, "mm")
    surface, origin = shown_part(arrays["surface"])
    drafts, flagged = arrays["drafts"][origin], arrays["flagged"][origin]
    whole, short, trapped, names = figure.data
    values = np.degrees(np.clip(drafts, 0.0, MOST_DRAFT))
    put_mesh(whole, surface, flagged == 0, scale, values[flagged == 0])
    put_mesh(short, surface, flagged == 1, scale)
    put_mesh(trapped, surface, flagged == 2, scale)
    regions = arrays["regions"][:MOST_NAMES]
    put_labels(names, [region.centre for region in regions], [r.name for r in regions],
               [f"{r.name}: {words(r.area, 'cm²', scene.inches)}, "
                f"{words(r.mean, '°')} on the mean" for r in regions], scale,
               0.18 * float(surface.size.max()) * scale)
    name_axes(figure, scene.unit("mm"))


def _make_radii() -> go.Figure:
    figure = blank_scene(scene_camera=CAMERA)
    figure.add_traces([map_trace("radius by gauge", cmin=0, cmax=MOST_RADIUS), label_trace()])
    return figure


def _update_radii(figure, scene: Scene) -> None:
    arrays, scale = scene.outcome.arrays, scene.value(1.0, "mm")
    surface, origin = shown_part(arrays["surface"])
    ratio = np.minimum(arrays["radii"][origin] / arrays["gauge"], MOST_RADIUS)
    whole, names = figure.data
    put_mesh(whole, surface, slice(None), scale, ratio)
    regions = arrays["details"][:MOST_NAMES]
    put_labels(names, [region.centre for region in regions], [r.name for r in regions],
               [f"{r.name}: {words(r.area, 'cm²', scene.inches)}" for r in regions], scale,
               0.18 * float(surface.size.max()) * scale)
    name_axes(figure, scene.unit("mm"))


def _make_ledger() -> go.Figure:
    figure = blank("deviation", "")
    line = dict(mode="lines", hoverinfo="skip")
    figure.add_traces([
        go.Scatter(name="tolerance", line=dict(width=20, color="rgba(128,128,128,0.3)"), **line),
        go.Scatter(name="90 % of parts (sampled)", line=dict(width=9, color=style.BLUE), **line),
        go.Scatter(name="root sum square", mode="markers", hoverinfo="skip",
                   marker=dict(symbol="line-ns", size=16, color=style.GREEN,
                               line=dict(width=3, color=style.GREEN))),
        go.Scatter(name="worst case", mode="lines+markers", hoverinfo="skip",
                   line=dict(color=style.ORANGE, width=1.2),
                   marker=dict(symbol="line-ns", size=9, color=style.ORANGE,
                               line=dict(width=1.5, color=style.ORANGE))),
        go.Scatter(mode="text", textposition="middle right", showlegend=False,
                   hoverinfo="skip", cliponaxis=False)])
    figure.update_layout(margin=dict(r=70))
    return figure


def _update_ledger(figure, scene: Scene) -> None:
    lines = scene.outcome.arrays["lines"]
    *spans, share = figure.data
    names = [line.row["name"] for line in lines]

    def shown(values):
        return scene.value(np.asarray(values, dtype=float), "mm")

    spread = ([(line.low, line.high) for line in lines],
              *([_ends(getattr(line.stack, key)) for line in lines]
                for key in ("sampled", "rss", "worst")))
    for trace, pairs in zip(spans, spread, strict=True):
        trace.y = [name for name in names for _ in range(3)]
        trace.x = shown([value - line.target for line, pair in zip(lines, pairs, strict=True)
                         for value in (*pair, np.nan)])
    right = max((max(line.stack.worst.high, line.high) - line.target for line in lines),
                default=0.0)
    share.x, share.y = shown(np.full(len(lines), right * 1.03)), names
    share.text = [f"{line.probability:.1%}" for line in lines]
    figure.update_xaxes(title_text=f"deviation ({scene.unit('mm')})")
    figure.update_yaxes(autorange="reversed", type="category", categoryorder="array",
                        categoryarray=names)


def _ends(band) -> tuple[float, float]:
    return band.low, band.high


def _make_contributions() -> go.Figure:
    figure = blank("share of the sum of squares (%)", "", barmode="stack")
    for group, colour, shape in zip(GROUPS, style.SEQUENCE, PATTERNS, strict=False):
        figure.add_trace(go.Bar(name=group, orientation="h", marker=dict(
            color=colour, pattern=dict(shape=shape, solidity=0.25, fgcolor="#ffffff")),
            hovertemplate=f"%{{y}}: {group} %{{x:.0f}} %<extra></extra>"))
    figure.update_xaxes(range=[0, 100])
    figure.update_yaxes(autorange="reversed", type="category")
    figure.update_layout(margin=dict(t=64), legend=dict(traceorder="normal"))
    return figure


def _update_contributions(figure, scene: Scene) -> None:
    lines = scene.outcome.arrays["lines"]
    names = [line.row["name"] for line in lines]
    squares = [{name: half**2 for name, half in line.grouped().items()} for line in lines]
    totals = [sum(found.values()) or 1.0 for found in squares]
    for trace, group in zip(figure.data, GROUPS, strict=True):
        trace.y = names
        trace.x = [100.0 * found.get(group, 0.0) / total
                   for found, total in zip(squares, totals, strict=True)]


def _make_bands() -> go.Figure:
    figure = blank("draft (°)", "area")
    figure.add_traces([
        go.Bar(name="area", marker=dict(color=style.BLUE), showlegend=False,
               hovertemplate="%{x}: %{y:.1f}<extra></extra>"),
        go.Scatter(name="wanted where the part leaves", mode="lines",
                   line=dict(color=style.ORANGE, dash="dash", width=2), hoverinfo="skip"),
        go.Scatter(name="wanted where it grips", mode="lines",
                   line=dict(color=style.ORANGE, dash="dot", width=2), hoverinfo="skip")])
    limits = np.round(np.degrees(BANDS), 1)
    figure.update_xaxes(tickvals=list(range(len(BANDS))), ticktext=[
        "< 0", *(f"{low:g}–{high:g}" for low, high in zip(limits, limits[1:]))])
    return figure


def _update_bands(figure, scene: Scene) -> None:
    arrays = scene.outcome.arrays
    bars, leaves, grips = figure.data
    area = scene.value(arrays["bands"], "cm²")
    bars.x, bars.y = list(range(len(BANDS))), area
    top = float(np.max(area)) or 1.0
    for trace, draft in ((leaves, arrays["required"].low), (grips, arrays["required"].high)):
        place = float(np.interp(draft, BANDS, np.arange(len(BANDS)) + 0.5))
        trace.x, trace.y = [place, place], [0.0, top]
    figure.update_yaxes(title_text=f"area ({scene.unit('cm²')})")


def _make_release() -> go.Figure:
    figure = blank("mean temperature of the part (°C)", "pull (N)")
    figure.add_traces([
        go.Scatter(name="range", mode="lines", line=dict(width=0), fill="toself",
                   fillcolor="rgba(0,114,178,0.22)", hoverinfo="skip"),
        go.Scatter(name="grip, typical", mode="lines", line=dict(color=style.BLUE, width=2.5)),
        go.Scatter(name="suction if lifted flat", mode="lines",
                   line=dict(color=style.GREY, dash="dash", width=1.5)),
        go.Scatter(name="stripped at", mode="markers",
                   marker=dict(color=style.ORANGE, size=11, symbol="diamond"))])
    return figure


def _update_release(figure, scene: Scene) -> None:
    release = scene.outcome.arrays["release"]
    region, typical, suction, strip = figure.data
    at = scene.value(release.temperatures, "°C")
    low, middle, high = release.curve
    region.x, region.y = np.concatenate([at, at[::-1]]), np.concatenate([low, high[::-1]])
    typical.x, typical.y = at, middle
    suction.x, suction.y = at[[0, -1]], [release.suction] * 2
    strip.x = [scene.value(scene.inputs["strip_temperature"], "°C")]
    strip.y = [release.total.typical]
