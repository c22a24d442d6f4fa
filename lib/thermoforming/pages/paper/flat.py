"""Charts on axes for paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from matplotlib.patches import Ellipse, Rectangle
from matplotlib.ticker import FixedLocator, NullLocator

from thermoforming.pages.paper import traces
from thermoforming.pages.paper.look import POINTS, colour, dash, plain

WIDEST = 5.0  # points, of a line in the legend


@dataclass
class Plot:
    """A pair of axes with the categories of each direction."""

    axes: object
    x: object  # the layout of the screen axis
    y: object
    categories: dict[str, list] = field(default_factory=dict)

    def numbers(self, direction: str, values) -> np.ndarray:
        """Coordinates; words become the number of their category."""
        values = list(values if values is not None else [])
        words = self.categories.get(direction)
        if words is None:
            return np.array([np.nan if v is None else v for v in values], dtype=float)
        return np.array([words.index(v) if v in words else np.nan for v in values], dtype=float)


def draw_axes(drawn, figure, width: float, height: float) -> None:
    """Draw a figure's traces, shapes and notes on as many axes as it has."""
    plots = _plots(drawn, figure, width, height)
    for index, trace in enumerate(figure.data):
        if trace.visible not in (False, "legendonly"):
            traces.draw(figure, index, trace, plots[_place(trace)])
    for plot in plots.values():
        _finish(plot)
    for shape in figure.layout.shapes:
        _shape(plots, shape)
    for note in figure.layout.annotations:
        _note(plots, note)
    _legend(drawn, figure, plots)


def _place(item) -> tuple[str, str]:
    return getattr(item, "xaxis", None) or "x", getattr(item, "yaxis", None) or "y"


def _layout(figure, ref: str):
    return figure.layout[f"{ref[0]}axis{ref[1:]}"]


def _plots(drawn, figure, width, height) -> dict[tuple[str, str], Plot]:
    margin = figure.layout.margin
    left, right = (margin.l or 60) / width, 1 - (margin.r or 20) / width
    low, high = (margin.b or 50) / height, 1 - (margin.t or 30) / height
    plots: dict[tuple[str, str], Plot] = {}
    for place in dict.fromkeys(_place(trace) for trace in figure.data) or [("x", "y")]:
        x, y = _layout(figure, place[0]), _layout(figure, place[1])
        over = next((plots[other] for other in plots
                     if other[0] == place[0] and y.overlaying == other[1]), None)
        across, up = x.domain or (0, 1), (y.domain if over is None else over.y.domain) or (0, 1)
        box = (left + across[0] * (right - left), low + up[0] * (high - low),
               (across[1] - across[0]) * (right - left), (up[1] - up[0]) * (high - low))
        axes = over.axes.twinx() if over else drawn.add_axes(box)
        plots[place] = Plot(axes, x, y, _categories(figure, place, x, y))
    return plots


def _categories(figure, place, x, y) -> dict[str, list]:
    found = {}
    for direction, ref, axis in (("x", place[0], x), ("y", place[1], y)):
        values = [value for trace in figure.data if getattr(trace, f"{direction}axis", None)
                  in (ref, None) and getattr(trace, direction, None) is not None
                  for value in getattr(trace, direction)]
        if axis.type == "category" or any(isinstance(value, str) for value in values):
            given = list(axis.categoryarray) if axis.categoryarray is not None else []
            found[direction] = list(dict.fromkeys([*given, *values]))
    return found


# ---------------------------------------------------------------------- axes

def _finish(plot: Plot) -> None:
    axes = plot.axes
    for side in ("top", "right"):
        axes.spines[side].set_visible(plot.y.side == side)
    for direction, layout in (("x", plot.x), ("y", plot.y)):
        _axis(plot, direction, layout)
    if plot.y.scaleanchor or plot.x.scaleanchor:
        axes.set_aspect("equal", adjustable="box")


def _axis(plot: Plot, direction: str, layout) -> None:
    axes = plot.axes
    axis = getattr(axes, f"{direction}axis")
    getattr(axes, f"set_{direction}label")(plain(layout.title.text))
    if layout.type == "log":
        getattr(axes, f"set_{direction}scale")("log")
        axis.set_major_formatter(lambda value, _: f"{value:g}")
        axis.set_minor_formatter(_between_decades)
    if layout.showgrid is not False and not layout.overlaying:
        axes.grid(True, axis=direction, color="#dddddd", linewidth=0.5)
    _ticks(plot, direction, layout, axis)
    _limits(plot, direction, layout)
    if layout.showticklabels is False or layout.matches and layout.showticklabels is None:
        axis.set_tick_params(labelleft=False, labelbottom=False)
    if layout.visible is False:
        axis.set_visible(False)


def _between_decades(value, _) -> str:
    """Numbers at twice and five times a power of ten."""
    first = f"{value:.0e}"[0]
    return f"{value:g}" if first in "25" else ""


def _ticks(plot: Plot, direction: str, layout, axis) -> None:
    words = plot.categories.get(direction)
    if layout.tickvals is not None:
        axis.set_major_locator(FixedLocator(plot.numbers(direction, layout.tickvals)))
        axis.set_minor_locator(NullLocator())
        if layout.ticktext is not None:
            axis.set_ticklabels([plain(text) for text in layout.ticktext])
    elif words is not None:
        axis.set_major_locator(FixedLocator(range(len(words))))
        axis.set_ticklabels([plain(word) for word in words])


def _limits(plot: Plot, direction: str, layout) -> None:
    low, high = getattr(plot.axes, f"get_{direction}lim")()
    if plot.categories.get(direction) is not None:
        low, high = -0.6, len(plot.categories[direction]) - 0.4
    if layout.range is not None and layout.range[0] is not None and layout.range[1] is not None:
        low, high = (10.0 ** v if layout.type == "log" else v
                     for v in plot.numbers(direction, layout.range)) \
            if plot.categories.get(direction) is None else layout.range
    if layout.rangemode == "tozero" and layout.range is None:
        low, high = min(low, 0.0), max(high, 0.0)
    if layout.autorange == "reversed":
        low, high = high, low
    getattr(plot.axes, f"set_{direction}lim")(low, high)


# ---------------------------------------------------------------------- shapes and notes

def _transform(plots, ref: str, direction: str):
    """Axes and coordinate system a shape refers to: data, a share of the axes, of the figure."""
    own = ref.removesuffix(" domain")
    place = next((p for p in plots if p[0 if direction == "x" else 1] == own), next(iter(plots)))
    return plots[place], ref == "paper" or ref.endswith(" domain")


def _blended(plots, item):
    """The transform of a shape or note, and the axes it lies on."""
    from matplotlib.transforms import blended_transform_factory

    across, share_x = _transform(plots, item.xref or "x", "x")
    upward, share_y = _transform(plots, item.yref or "y", "y")
    plot = across if (item.xref or "x") != "paper" else upward
    axes = plot.axes
    figure_box = axes.transAxes
    kinds = (figure_box if share_x else axes.transData, figure_box if share_y else axes.transData)
    return plot, blended_transform_factory(*kinds)


def _coordinates(plot: Plot, item, names: Sequence[str]):
    values = []
    for name in names:
        value, direction = getattr(item, name), name[0]
        words = plot.categories.get(direction)
        values.append(words.index(value) if words and value in words else value)
    return values


def _shape(plots, shape) -> None:
    plot, transform = _blended(plots, shape)
    x0, x1, y0, y1 = _coordinates(plot, shape, ("x0", "x1", "y0", "y1"))
    if shape.visible is False or None in (x0, x1, y0, y1):
        return
    line = dict(color=colour(shape.line.color or "#444444", shape.opacity),
                linewidth=(2 if shape.line.width is None else shape.line.width) * POINTS,
                linestyle=dash(shape.line.dash), transform=transform)
    if shape.type == "line":
        plot.axes.plot([x0, x1], [y0, y1], scalex=False, scaley=False, zorder=2.5, **line)
        return
    edge, fill = line.pop("color"), colour(shape.fillcolor or "#ffffff00", shape.opacity)
    kind = Rectangle((min(x0, x1), min(y0, y1)), abs(x1 - x0), abs(y1 - y0), facecolor=fill,
                     edgecolor=edge, zorder=1.5, **line) if shape.type == "rect" else \
        Ellipse(((x0 + x1) / 2, (y0 + y1) / 2), x1 - x0, y1 - y0, facecolor=fill, edgecolor=edge,
                **line)
    plot.axes.add_artist(kind)


def _note(plots, note) -> None:
    plot, transform = _blended(plots, note)
    x, y = _coordinates(plot, note, ("x", "y"))
    if note.visible is False or not note.text or x is None or y is None:
        return
    arrow = note.showarrow is not False
    shift = (note.ax or 0, -(note.ay if note.ay is not None else -30)) if arrow else \
        (note.xshift or 0, note.yshift or 0)
    across = {"left": "left", "right": "right"}.get(note.xanchor, "center")
    up = {"top": "top", "bottom": "bottom"}.get(note.yanchor, "center")
    plot.axes.annotate(
        plain(note.text), (x, y), xycoords=transform, textcoords="offset points",
        rotation=-(note.textangle or 0), rotation_mode="anchor" if note.textangle else "default",
        xytext=[shift[0] * POINTS, shift[1] * POINTS], ha=across, va=up, annotation_clip=False,
        fontsize=(note.font.size or 12) * POINTS, color=colour(note.font.color or "#333333"),
        arrowprops=dict(arrowstyle="-", linewidth=0.6, color="#555555") if arrow and note.ax
        else None)


# ---------------------------------------------------------------------- legend

def _legend(drawn, figure, plots) -> None:
    handles, labels = [], []
    for plot in plots.values():
        for handle, label in zip(*plot.axes.get_legend_handles_labels(), strict=True):
            handles.append(handle)
            labels.append(label)
    asked = figure.layout.showlegend
    if not handles or asked is False or (asked is None and len(handles) < 2):
        return
    top = max(plot.axes.get_position().y1 for plot in plots.values())
    left = min(plot.axes.get_position().x0 for plot in plots.values())
    legend = drawn.legend(handles, labels, loc="lower left", bbox_to_anchor=(left, top + 0.01),
                          ncols=min(len(handles), 4), borderaxespad=0.2, handlelength=2.2,
                          columnspacing=1.4)
    for line in legend.get_lines():
        line.set_linewidth(min(line.get_linewidth(), WIDEST))
