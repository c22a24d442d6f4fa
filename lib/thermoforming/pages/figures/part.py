"""The part as a mesh in space, for the pages that show something on it."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from thermoforming.geometry.display import coarser
from thermoforming.geometry.surface import Surface
from thermoforming.pages import style
from thermoforming.steps.brief.part import kept

LIGHT = dict(ambient=0.62, diffuse=0.55, specular=0.08, roughness=0.9, fresnel=0.05)


def shown_part(surface: Surface) -> tuple[Surface, np.ndarray]:
    """What is drawn of a part, and which of its triangles each drawn one stands for."""
    return kept("shown", surface, lambda: coarser(surface))


def map_trace(title: str, scale: str = style.MAP, **more) -> go.Mesh3d:
    """An empty mesh coloured by a value of each triangle, with its colour bar."""
    return go.Mesh3d(intensitymode="cell", colorscale=scale, flatshading=True, lighting=LIGHT,
                     colorbar=dict(title=dict(text=title, side="right"), thickness=14, len=0.75,
                                   x=1.0), hoverinfo="skip", **more)


def plain_trace(name: str, colour: str) -> go.Mesh3d:
    """An empty mesh in one colour, with a place in the legend."""
    return go.Mesh3d(name=name, color=colour, flatshading=True, lighting=LIGHT, showlegend=True,
                     hoverinfo="name")


def label_trace() -> go.Scatter3d:
    """Empty names in space."""
    return go.Scatter3d(mode="markers+text", marker=dict(size=3, color=style.GREY),
                        textposition="top center", textfont=dict(size=14, color=style.GREY),
                        hoverinfo="text", showlegend=False)


def put_mesh(trace, surface: Surface, faces: np.ndarray, scale: float, values=None) -> None:
    """Put some triangles of a surface into a mesh trace, in the reader's unit."""
    points = (surface.vertices * scale).astype(np.float32)
    trace.x, trace.y, trace.z = points.T
    trace.i, trace.j, trace.k = surface.faces[faces].astype(np.int32).T
    if values is not None:
        trace.intensity = np.asarray(values, dtype=np.float32)


def put_labels(trace, places, names, hover, scale: float, lift: float) -> None:
    """Put names into a label trace, a little above their places."""
    points = np.asarray(places, dtype=float).reshape(-1, 3) * scale
    trace.x, trace.y, trace.z = points[:, 0], points[:, 1], points[:, 2] + lift
    trace.text, trace.hovertext = list(names), list(hover)
