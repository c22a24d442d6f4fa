"""Figures for paper: what a screen figure shows, as a drawing that prints everywhere.

look    colours, dashes, markers and text of the screen, for paper
flat    charts on axes
space   views in space, drawn from the same side as on the screen
"""

from __future__ import annotations

import io

import matplotlib
import plotly.graph_objects as go
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from thermoforming.pages.paper.flat import draw_axes
from thermoforming.pages.paper.look import POINTS, SETTINGS
from thermoforming.pages.paper.space import draw_scene, in_space

WIDTH = 720.0  # pixels of the screen figure that become the width of a page
DOTS = 220  # per inch, for what is drawn as an image (shaded surfaces, maps)


def shows_something(figure: go.Figure) -> bool:
    """Whether there is anything in a figure to be printed."""
    return any(getattr(trace, name, None) is not None
               and len(getattr(trace, name)) > (trace.type == "image")  # one dot is a placeholder
               for trace in figure.data for name in ("x", "y", "z"))


def as_svg(figure: go.Figure) -> str:
    """A figure as an SVG drawing for print.

    Scatter, bar, heatmap, contour, mesh and lines and markers in space are drawn; anything else
    is left out. Text is turned into outlines, so that no font is needed.
    """
    height = float(figure.layout.height or 360)
    with matplotlib.rc_context(SETTINGS):
        drawn = Figure(figsize=(WIDTH * POINTS / 72, height * POINTS / 72))
        FigureCanvasSVG(drawn)
        if in_space(figure):
            draw_scene(drawn, figure)
        else:
            draw_axes(drawn, figure, WIDTH, height)
        stream = io.StringIO()
        drawn.savefig(stream, format="svg", bbox_inches="tight", pad_inches=0.08, dpi=DOTS)
    return stream.getvalue()
