"""Views in space for paper: drawn from the same side as on the screen, true to scale.

Triangles are sorted by depth and painted from the back, in parallel projection, so that lengths
along one direction can be compared; a bar in the corner gives the scale.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from matplotlib.cm import ScalarMappable
from matplotlib.collections import PolyCollection
from matplotlib.patches import Patch

from thermoforming.pages.paper.look import (
    POINTS,
    colour,
    dash,
    each,
    marker,
    numbered,
    plain,
    scale,
    span,
)

EYE = (1.25, 1.25, 1.25)
LIGHT = np.array([-0.35, -0.45, 0.82])  # from upper left, as on a drawing
NICE = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
SPATIAL = ("mesh3d", "scatter3d")


def in_space(figure) -> bool:
    """Whether a figure is a view in space."""
    return any(trace.type in SPATIAL for trace in figure.data)


@dataclass(frozen=True)
class View:
    """Right, up and towards the eye, as unit vectors."""

    right: np.ndarray
    up: np.ndarray
    eye: np.ndarray

    def flat(self, points) -> np.ndarray:
        """Where points lie on the paper."""
        return np.asarray(points, dtype=float) @ np.column_stack([self.right, self.up])

    def depth(self, points) -> np.ndarray:
        """How near points are to the eye."""
        return np.asarray(points, dtype=float) @ self.eye


def view_of(figure) -> View:
    """The screen's view."""
    camera = figure.layout.scene.camera.eye
    eye = np.array([EYE[i] if getattr(camera, n) is None else getattr(camera, n)
                    for i, n in enumerate("xyz")], dtype=float)
    eye /= np.linalg.norm(eye)
    right = np.cross([0.0, 0.0, 1.0], eye)
    right = right / np.linalg.norm(right) if np.linalg.norm(right) > 1e-9 else np.array([1., 0, 0])
    return View(right, np.cross(eye, right), eye)


def draw_scene(drawn, figure) -> None:
    """Draw a figure's surfaces, lines and markers in space."""
    view, axes = view_of(figure), drawn.add_axes((0.02, 0.02, 0.86, 0.9))
    axes.set_axis_off()
    axes.set_aspect("equal")
    shown = [(i, trace) for i, trace in enumerate(figure.data)
             if trace.visible not in (False, "legendonly") and trace.x is not None
             and len(trace.x)]
    meshes = [(i, trace) for i, trace in shown if trace.type == "mesh3d" and trace.i is not None]
    _surfaces(axes, figure, view, meshes)
    for index, trace in shown:
        if trace.type == "scatter3d":
            _points(axes, figure, index, trace, view)
    axes.autoscale_view()
    _scale_bar(axes, figure, view)
    for _, trace in meshes:
        _colour_bar(drawn, axes, trace)
    _legend(axes, figure, meshes)


# ---------------------------------------------------------------------- surfaces

def _surfaces(axes, figure, view: View, meshes) -> None:
    corners, paints = [], []
    for index, trace in meshes:
        points = np.column_stack([np.asarray(getattr(trace, n), dtype=float) for n in "xyz"])
        faces = np.column_stack([np.asarray(getattr(trace, n), dtype=int) for n in "ijk"])
        if len(faces):
            corners.append(points[faces])
            paints.append(_shaded(points[faces], _face_colours(figure, index, trace, faces), view))
    if not corners:
        return
    triangles, paint = np.concatenate(corners), np.concatenate(paints)
    order = np.argsort(view.depth(triangles.mean(axis=1)))
    axes.add_collection(PolyCollection(view.flat(triangles[order]), facecolors=paint[order],
                                       edgecolors=paint[order], linewidths=0.15, rasterized=True,
                                       zorder=1))


def _face_colours(figure, index, trace, faces) -> np.ndarray:
    opacity = 1.0 if trace.opacity is None else trace.opacity
    if trace.facecolor is not None:
        return np.array([colour(c, opacity) for c in trace.facecolor])
    if trace.intensity is not None and len(trace.intensity):
        values = np.asarray(trace.intensity, dtype=float)
        values = values if len(values) == len(faces) and trace.intensitymode == "cell" \
            else values[faces].mean(axis=1)
        paint = scale(trace.colorscale)(span(trace.intensity, trace.cmin, trace.cmax)(values))
        paint[:, 3] = np.where(np.isfinite(values), opacity, 0.3)
        return paint
    return np.tile(colour(numbered(figure, index, trace.color), opacity), (len(faces), 1))


def _shaded(triangles, paint, view: View) -> np.ndarray:
    """Lighter where a face looks to the light; both sides of a face are alike."""
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    normal *= np.sign(normal @ view.eye)[:, None] + (normal @ view.eye == 0)[:, None]
    light = 0.62 + 0.38 * np.clip(normal @ (LIGHT / np.linalg.norm(LIGHT)), 0.0, 1.0)
    return np.column_stack([np.clip(paint[:, :3] * light[:, None], 0, 1), paint[:, 3]])


# ---------------------------------------------------------------------- lines, markers, words

def _points(axes, figure, index, trace, view: View) -> None:
    points = np.column_stack([np.array([np.nan if v is None else v for v in getattr(trace, n)],
                                       dtype=float) for n in "xyz"])
    flat = view.flat(points)
    mode = trace.mode or "lines+markers"
    own = trace.line.color or trace.marker.color
    base = colour(numbered(figure, index, own), trace.opacity)
    label = plain(trace.name) if trace.name and trace.showlegend is not False else None
    if "lines" in mode:
        axes.plot(*flat.T, color=base, linewidth=(trace.line.width or 2) * POINTS, label=label,
                  linestyle=dash(trace.line.dash), zorder=3)
        label = None
    if "markers" in mode:
        _marks(axes, trace, flat, base, label)
    if "text" in mode and trace.text is not None:
        for place, text in zip(flat, each(trace.text, len(flat), ""), strict=True):
            if np.all(np.isfinite(place)):
                axes.annotate(plain(text), place, xytext=(0, 3), textcoords="offset points",
                              ha="center", va="bottom", zorder=5, color="#222222",
                              fontsize=(trace.textfont.size or 12) * POINTS,
                              bbox=dict(boxstyle="square,pad=0.1", facecolor="#ffffffb0",
                                        edgecolor="none"))


def _marks(axes, trace, flat, base, label) -> None:
    given, sign = trace.marker, marker(each(trace.marker.symbol, 1, "circle")[0])[0]
    paint = [base] * len(flat)
    if given.color is not None and not isinstance(given.color, str):
        numbers = all(isinstance(c, int | float | np.number) for c in given.color)
        paint = scale(given.colorscale)(span(given.color, given.cmin, given.cmax)(
            np.asarray(given.color, dtype=float))) if numbers else [colour(c) for c in given.color]
    sizes = [(float(s) * POINTS) ** 2 for s in each(given.size, len(flat), 6)]
    axes.scatter(*flat.T, sizes, c=paint, marker=sign, linewidths=0.4, edgecolors="#ffffff",
                 zorder=4, label=label)


# ---------------------------------------------------------------------- what goes with it

def _scale_bar(axes, figure, view: View) -> None:
    """A horizontal bar of a round length along x or y, whichever lies more across the paper."""
    across = 0 if abs(view.right[0]) >= abs(view.right[1]) else 1
    share = abs(view.right[across])
    low, high = axes.get_xlim()
    wanted = 0.22 * (high - low) / max(share, 1e-9)
    length = max((n for n in NICE if n <= wanted), default=wanted)
    title = (figure.layout.scene.xaxis.title.text, figure.layout.scene.yaxis.title.text)[across]
    unit = (re.findall(r"[\[(]([^\[()\]]+)[\])]", plain(title)) or ["mm"])[-1]
    bottom = axes.get_ylim()[0]
    step = 0.03 * (axes.get_ylim()[1] - bottom)
    axes.plot([low, low + length * share], [bottom - step] * 2, color="#222222", linewidth=1.2,
              solid_capstyle="butt")
    axes.annotate(f"{length:g} {unit} along {'xy'[across]}", (low, bottom - step),
                  xytext=(0, -3), textcoords="offset points", va="top", fontsize=11 * POINTS)


def _colour_bar(drawn, axes, trace) -> None:
    if trace.intensity is None or not len(trace.intensity) or trace.showscale is False:
        return
    bar = drawn.colorbar(ScalarMappable(span(trace.intensity, trace.cmin, trace.cmax),
                                        scale(trace.colorscale)), ax=axes, fraction=0.035,
                         pad=0.02, shrink=0.75)
    bar.set_label(plain(trace.colorbar.title.text))
    bar.outline.set_linewidth(0.4)
    if trace.colorbar.tickvals is not None:
        bar.set_ticks(list(trace.colorbar.tickvals))
        if trace.colorbar.ticktext is not None:
            bar.set_ticklabels([plain(text) for text in trace.colorbar.ticktext])


def _legend(axes, figure, meshes) -> None:
    handles, labels = axes.get_legend_handles_labels()
    for index, trace in meshes:
        if trace.showlegend and trace.name:
            handles.append(Patch(color=colour(numbered(figure, index, trace.color))))
            labels.append(plain(trace.name))
    if handles and figure.layout.showlegend is not False:
        axes.legend(handles, labels, loc="upper left", bbox_to_anchor=(0, 1.08),
                    ncols=min(4, len(handles)), borderaxespad=0)
