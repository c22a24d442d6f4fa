"""The part as a mesh in space, for the pages that show something on it."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from thermoforming.geometry.display import coarser
from thermoforming.geometry.surface import Surface
from thermoforming.pages import style
from thermoforming.steps.brief.part import kept

CAMERA = dict(eye=dict(x=-0.5, y=-1.45, z=1.35), center=dict(x=0.0, y=0.0, z=-0.08))
PLACE = "x %{x:.1f}, y %{y:.1f}, z %{z:.1f}<extra></extra>"  # to be read off and typed
LIGHT = dict(ambient=0.7, diffuse=0.55, specular=0.08, roughness=0.9, fresnel=0.05)


def shown_part(surface: Surface) -> tuple[Surface, np.ndarray]:
    """What is drawn of a part, and which of its triangles each drawn one stands for."""
    return kept("shown", surface, lambda: coarser(surface))


def map_trace(title: str, scale: str = style.MAP, **more) -> go.Mesh3d:
    """An empty mesh coloured by a value of each triangle, with its colour bar."""
    return go.Mesh3d(intensitymode="cell", colorscale=scale, flatshading=True, lighting=LIGHT,
                     colorbar=dict(title=dict(text=title, side="right"), thickness=14, len=0.75,
                                   x=1.0), hovertemplate=PLACE, **more)


def plain_trace(name: str, colour: str) -> go.Mesh3d:
    """An empty mesh in one colour, with a place in the legend."""
    return go.Mesh3d(name=name, colorscale=[[0, colour], [1, colour]], cmin=0, cmax=1,
                     intensitymode="cell", showscale=False, flatshading=True, lighting=LIGHT,
                     showlegend=True, hovertemplate=PLACE)


def label_trace() -> go.Scatter3d:
    """Empty names in space on stalks, in a colour that reads on the map and on both themes."""
    return go.Scatter3d(mode="lines+text", line=dict(width=3, color=style.ORANGE),
                        textposition="top center", textfont=dict(size=15, color=style.ORANGE),
                        hoverinfo="text", showlegend=False)


def put_mesh(trace, surface: Surface, faces: np.ndarray, scale: float, values=None) -> None:
    """Put some triangles of a surface into a mesh trace, in the reader's unit."""
    points = (surface.vertices * scale).astype(np.float32)
    trace.x, trace.y, trace.z = points.T
    chosen = surface.faces[faces].astype(np.int32)
    trace.i, trace.j, trace.k = chosen.T
    trace.intensity = np.asarray(np.zeros(len(chosen)) if values is None else values, np.float32)


def name_axes(figure, unit: str) -> None:
    """Axis titles of a scene with the reader's unit of length."""
    figure.update_layout(scene=dict(xaxis=dict(title=f"x ({unit})"),
                                    yaxis=dict(title=f"y ({unit})"),
                                    zaxis=dict(title=f"z ({unit})", nticks=4)))


def put_labels(trace, places, names, hover, scale: float, lift: float) -> None:
    """Put names into a label trace, each on a stalk above its place."""
    foot = np.asarray(places, dtype=float).reshape(-1, 3) * scale
    head = foot + [0.0, 0.0, lift]
    gap = np.full_like(foot, np.nan)
    trace.x, trace.y, trace.z = np.stack([foot, head, gap], axis=1).reshape(-1, 3).T
    trace.text = [text for name in names for text in ("", name, "")]
    trace.hovertext = [text for each in hover for text in (each, each, "")]
