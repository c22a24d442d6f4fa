"""One trace of a chart for paper."""

from __future__ import annotations

import numpy as np

from thermoforming.pages.paper.look import (
    HATCHES,
    POINTS,
    STROKES,
    colour,
    dash,
    each,
    marker,
    numbered,
    plain,
    scale,
    span,
)


def draw(figure, index: int, trace, plot) -> None:
    """Draw a trace on its axes; a kind that is not known is left out."""
    kinds = {"scatter": _scatter, "scattergl": _scatter, "bar": _bar, "heatmap": _heatmap,
             "contour": _contour, "image": _image}
    if trace.type in kinds:
        kinds[trace.type](figure, index, trace, plot)


def _label(figure, trace):
    wanted = trace.showlegend is not False and trace.name
    return plain(trace.name) if wanted else None


# ---------------------------------------------------------------------- lines and markers

def _scatter(figure, index, trace, plot) -> None:
    if trace.y is None and trace.x is None:
        return
    count = len(trace.y if trace.y is not None else trace.x)
    x = plot.numbers("x", trace.x if trace.x is not None else range(count))
    y = plot.numbers("y", trace.y if trace.y is not None else range(count))
    if not len(x):
        return
    own = trace.line.color or (trace.marker.color if isinstance(trace.marker.color, str) else None)
    base = numbered(figure, index, own)
    mode = trace.mode or ("lines+markers" if count < 20 else "lines")
    label = _label(figure, trace)
    _fill(figure, index, trace, plot, x, y, base)
    if "lines" in mode and trace.line.width != 0:
        step = {"hv": "steps-post", "vh": "steps-pre", "hvh": "steps-mid"}
        plot.axes.plot(x, y, color=colour(base, trace.opacity), linestyle=dash(trace.line.dash),
                       linewidth=(trace.line.width or 2) * POINTS, label=label,
                       drawstyle=step.get(trace.line.shape, "default"), zorder=3)
        label = None
    _errors(trace, plot, x, y, base)
    if "markers" in mode:
        _markers(trace, plot, x, y, base, label)
    if "text" in mode and trace.text is not None:
        _texts(trace, plot, x, y)


def _fill(figure, index, trace, plot, x, y, base) -> None:
    if trace.fill in (None, "none"):
        return
    face = colour(trace.fillcolor) if trace.fillcolor else colour(base, 0.3)
    look = dict(facecolor=face, linewidth=0, zorder=1.8)
    if trace.fill == "toself":
        plot.axes.fill(x, y, **look)
    elif trace.fill == "tozeroy":
        plot.axes.fill_between(x, y, 0.0, **look)
    elif trace.fill == "tozerox":
        plot.axes.fill_betweenx(y, x, 0.0, **look)
    elif trace.fill in ("tonexty", "tonextx") and (before := _before(figure, index, trace)):
        across, up = plot.numbers("x", before.x), plot.numbers("y", before.y)
        plot.axes.fill(np.r_[x, across[::-1]], np.r_[y, up[::-1]], **look)


def _before(figure, index, trace):
    """The trace drawn before on the same axes."""
    for other in reversed(figure.data[:index]):
        if (other.type, other.xaxis, other.yaxis) == (trace.type, trace.xaxis, trace.yaxis):
            return other if other.x is not None and len(other.x) else None
    return None


def _errors(trace, plot, x, y, base) -> None:
    for direction in ("x", "y"):
        error = getattr(trace, f"error_{direction}")
        if error.array is None or error.visible is False:
            continue
        plus = np.asarray(error.array, dtype=float)
        minus = plus if error.arrayminus is None else np.asarray(error.arrayminus, dtype=float)
        plot.axes.errorbar(x, y, **{f"{direction}err": [minus, plus]}, fmt="none",
                           ecolor=colour(error.color or base),
                           elinewidth=(error.thickness or 2) * POINTS, capsize=2.0, zorder=2.8)


def _markers(trace, plot, x, y, base, label) -> None:
    given = trace.marker
    colours = _point_colours(given, len(x), base, trace.opacity)
    sizes, symbols = each(given.size, len(x), 6), each(given.symbol, len(x), "circle")
    edge, width = given.line.color, given.line.width
    for kind in dict.fromkeys(map(str, symbols)):
        at = [i for i, symbol in enumerate(symbols) if str(symbol) == kind]
        sign, filled = marker(kind)
        inner = [colours[i] for i in at]
        rim = colour(edge) if isinstance(edge, str) else None
        look = dict(facecolors=inner if filled else "none",
                    edgecolors=rim or inner) if sign not in STROKES else dict(color=rim or inner)
        grown = 1.5 if sign == "*" else 1.0  # a star looks small for its box
        plot.axes.scatter(x[at], y[at], [(float(sizes[i]) * POINTS * grown) ** 2 for i in at],
                          marker=sign, linewidths=max(0.4, (width or 1) * POINTS / grown),
                          zorder=3.5, label=label, **look)
        label = None


def _point_colours(given, count, base, opacity) -> list:
    colours = given.color
    if colours is None or isinstance(colours, str):
        return [colour(colours or base, opacity)] * count
    if all(isinstance(c, int | float | np.number) for c in colours):
        spread = span(colours, given.cmin, given.cmax)
        return [scale(given.colorscale)(spread(float(c))) for c in colours]
    return [colour(c, opacity) for c in each(colours, count, base)]


def _texts(trace, plot, x, y) -> None:
    places = each(trace.textposition, len(x), "top center")
    for at_x, at_y, text, place in zip(x, y, each(trace.text, len(x), ""), places, strict=True):
        up, across = (str(place).split() + ["center"])[:2]
        shift = {"top": 4, "bottom": -4}.get(up, 0)
        plot.axes.annotate(plain(text), (at_x, at_y), xytext=(0, shift),
                           textcoords="offset points", annotation_clip=True,
                           fontsize=(trace.textfont.size or 12) * POINTS,
                           color=colour(trace.textfont.color or "#333333"),
                           ha={"left": "right", "right": "left"}.get(across, "center"),
                           va={"top": "bottom", "bottom": "top"}.get(up, "center"), zorder=4)


# ---------------------------------------------------------------------- bars

def _bar(figure, index, trace, plot) -> None:
    lying = trace.orientation == "h"
    along, across = ("y", "x") if lying else ("x", "y")
    place = plot.numbers(along, getattr(trace, along))
    length = plot.numbers(across, getattr(trace, across))
    if not len(place):
        return
    base, width, shift = _stacked(figure, index, trace, plot, place, length, along, across)
    colours = _point_colours(trace.marker, len(place), numbered(figure, index, None), None)
    opacity = each(trace.marker.opacity, len(place), 1.0 if trace.opacity is None
                   else trace.opacity)
    colours = [(*c[:3], c[3] * float(o)) for c, o in zip(colours, opacity, strict=True)]
    edge = trace.marker.line.color
    look = dict(color=colours, edgecolor=colour(edge) if isinstance(edge, str) else "none",
                linewidth=(trace.marker.line.width or 0) * POINTS, zorder=2.5)
    paint = plot.axes.barh if lying else plot.axes.bar
    bars = paint(place + shift, length, width, base, label=_label(figure, trace), **look)
    for patch, shape in zip(bars, each(trace.marker.pattern.shape, len(place), ""), strict=True):
        if shape:
            patch.set_hatch(HATCHES.get(shape, "///"))
            patch.set_edgecolor("#444444")
    _errors(trace, plot, *((length + base, place + shift) if lying else
                           (place + shift, length + base)), "#444444")
    if trace.text is not None and trace.textposition != "none":
        texts = [plain(text) for text in each(trace.text, len(place), "")]
        outside = trace.textposition == "outside"
        plot.axes.bar_label(bars, texts, padding=2 if outside else 0, fontsize=11 * POINTS,
                            label_type="edge" if outside else "center")


def _stacked(figure, index, trace, plot, place, length, along, across):
    """Where each bar starts, how wide it is, and its shift beside its neighbours."""
    same = [other for other in figure.data if other.type == "bar" and other.visible is not False
            and (other.xaxis, other.yaxis) == (trace.xaxis, trace.yaxis)]
    gap = 0.2 if figure.layout.bargap is None else figure.layout.bargap
    steps = np.diff(np.unique(place[np.isfinite(place)]))
    width = (steps.min() if steps.size else 1.0) * (1 - gap)
    own = trace.width
    if own is not None:
        width = np.asarray(own, dtype=float) if np.ndim(own) else float(own)
    mode, base = figure.layout.barmode or "group", np.zeros(len(place))
    if trace.base is not None:
        base = np.array(each(trace.base, len(place), 0.0), dtype=float)
    elif mode in ("stack", "relative"):
        for other in same[:same.index(trace)]:
            base += _under(plot, other, place, length, along, across)
    if mode != "group" or len(same) < 2:
        return base, width, 0.0
    part = width / len(same)
    return base, part, (same.index(trace) - (len(same) - 1) / 2) * part


def _under(plot, other, place, length, along, across) -> np.ndarray:
    """What another trace of a stack puts under these bars."""
    lengths = dict(zip(plot.numbers(along, getattr(other, along)),
                       plot.numbers(across, getattr(other, across)), strict=True))
    found = np.array([lengths.get(at, 0.0) for at in place])
    return np.where(np.sign(found) == np.sign(np.where(length == 0, 1, length)), found, 0.0)


# ---------------------------------------------------------------------- maps

def _grid(trace, plot):
    z = np.array([[np.nan if v is None else v for v in row] for row in trace.z], dtype=float)
    x = plot.numbers("x", trace.x) if trace.x is not None else np.arange(z.shape[1], dtype=float)
    y = plot.numbers("y", trace.y) if trace.y is not None else np.arange(z.shape[0], dtype=float)
    return x, y, z


def _heatmap(figure, index, trace, plot) -> None:
    if trace.z is None or not len(trace.z):
        return
    x, y, z = _grid(trace, plot)
    image = plot.axes.pcolormesh(x, y, z, cmap=scale(trace.colorscale), shading="auto",
                                 norm=span(z, trace.zmin, trace.zmax), rasterized=True, zorder=1)
    _bar_of_colours(trace, plot, image)


def _image(figure, index, trace, plot) -> None:
    if trace.z is None or not len(trace.z):
        return
    pixels = np.asarray(trace.z, dtype=float)
    scales = np.array([255.0, 255.0, 255.0, 1.0])[:pixels.shape[2]]
    height, width = pixels.shape[:2]
    x0, y0, dx, dy = (default if value is None else value for value, default in (
        (trace.x0, 0), (trace.y0, 0), (trace.dx, 1), (trace.dy, 1)))
    edges = (x0 - dx / 2, x0 + (width - 0.5) * dx, y0 + (height - 0.5) * dy, y0 - dy / 2)
    plot.axes.imshow(np.clip(pixels / scales, 0, 1), extent=edges, aspect="equal", zorder=1)


def _contour(figure, index, trace, plot) -> None:
    if trace.z is None or not len(trace.z):
        return
    x, y, z = _grid(trace, plot)
    norm = span(z, trace.zmin, trace.zmax)
    paint = plot.axes.contour if trace.contours.coloring in ("lines", "none") else \
        plot.axes.contourf
    image = paint(x, y, z, 12, cmap=scale(trace.colorscale), norm=norm, zorder=1)
    _bar_of_colours(trace, plot, image)


def _bar_of_colours(trace, plot, image) -> None:
    if trace.showscale is not False:
        bar = plot.axes.figure.colorbar(image, ax=plot.axes, fraction=0.05, pad=0.03)
        bar.set_label(plain(trace.colorbar.title.text))
        bar.outline.set_linewidth(0.4)
