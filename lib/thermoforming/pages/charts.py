"""Figures of a page: declared once as panels, updated in place while a control moves."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import plotly.graph_objects as go

from thermoforming.pages import style
from thermoforming.steps.base import Outcome
from thermoforming.steps.upstream import Upstream
from thermoforming.units import shown_unit, to_shown

# The chart library, 5 MB, would otherwise travel with every single figure.
SERVED = "extensions/thermoforming/static/charts.js"
BUNDLE = Path(sys.prefix) / "share" / "jupyter" / f"lab{SERVED}"
LOAD_ONCE = f"""
const data = document.getElementById("jupyter-config-data");
const base = data ? JSON.parse(data.textContent).baseUrl || "/" : "/";
const bundle = await import(new URL(base + "lab/{SERVED}", document.location.origin).href);
// A chart is drawn before it has its place; tell it when its width is known or changes.
export default async () => {{
  const chart = typeof bundle.default === "function" ? await bundle.default() : bundle.default;
  return {{ ...chart, async render(context) {{
    const done = await chart.render(context);
    let width = 0, waiting = 0;
    const watch = new ResizeObserver(() => {{
      if (context.el.clientWidth === width) return;
      width = context.el.clientWidth;
      clearTimeout(waiting);
      waiting = setTimeout(() => window.dispatchEvent(new Event("resize")), 60);
    }});
    watch.observe(context.el);
    return () => {{ watch.disconnect(); if (typeof done === "function") done(); }};
  }} }};
}};
"""


@dataclass(frozen=True)
class Scene:
    """What a figure shows: the inputs in force, what they led to, and the reader's units."""

    inputs: Mapping[str, Any]
    outcome: Outcome
    upstream: Upstream
    inches: bool = False

    def unit(self, shown: str) -> str:
        """The unit to write on an axis, for example "mm" or, in an inch project, "in"."""
        return shown_unit(shown, self.inches)

    def value(self, value, shown: str):
        """SI value or array in the unit that `unit(shown)` names."""
        return to_shown(value, self.unit(shown))


@dataclass(frozen=True)
class Panel:
    """One figure: `make()` gives it with all its traces, `update` puts a scene into them.

    `update` changes traces and layout in place and adds none, so that a figure can follow a
    control for an hour without growing. `caption` says in a line what to see in it. A `wide`
    figure takes the whole row.
    """

    key: str
    title: str
    make: Callable[[], go.Figure]
    update: Callable[[go.Figure, Scene], None]
    caption: str = ""
    height: int = 360
    wide: bool = False


def blank(x: str = "", y: str = "", **layout) -> go.Figure:
    """An empty 2-D figure in the style of the workbook, with axis titles."""
    figure = go.Figure(layout=style.LAYOUT | layout)
    figure.update_xaxes(title_text=x, **style.AXIS)
    figure.update_yaxes(title_text=y, **style.AXIS)
    return figure


def blank_scene(**layout) -> go.Figure:
    """An empty 3-D figure in the style of the workbook, true to scale."""
    return go.Figure(layout=style.LAYOUT | dict(scene=style.SCENE, margin=dict(l=0, r=0, t=6, b=0),
                                                legend=dict(orientation="h", y=0.02)) | layout)


def drawn(panel: Panel, scene: Scene) -> go.Figure:
    """The panel as a plain figure, for export and print."""
    figure = panel.make()
    panel.update(figure, scene)
    figure.update_layout(height=panel.height)
    return figure


def live(panel: Panel) -> go.FigureWidget:
    """The panel as a widget, to be updated with `refresh`."""
    figure = panel.make()
    widget = Chart(figure.data, figure.layout)
    widget.update_layout(height=panel.height, autosize=True)
    return widget


def refresh(widget: go.FigureWidget, panel: Panel, scene: Scene) -> None:
    """Put a scene into a live panel."""
    with widget.batch_update():
        panel.update(widget, scene)


class Chart(go.FigureWidget):
    """A figure widget that loads its front end once a page and offers no upload."""

    if BUNDLE.exists():
        _esm = LOAD_ONCE

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self._config = dict(style.FIGURE_CONFIG)
