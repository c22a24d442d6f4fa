"""Colours, dashes, markers and text of the screen, for paper."""

from __future__ import annotations

import re
from html import unescape

import numpy as np
from matplotlib.colors import LinearSegmentedColormap, Normalize, to_rgba
from plotly.colors import get_colorscale

from thermoforming.pages import style

POINTS = 0.67  # points on paper for a pixel on the screen
SETTINGS = {"font.size": 13 * POINTS, "text.parse_math": False, "svg.fonttype": "path",
            "svg.hashsalt": "thermoforming", "axes.linewidth": 0.6, "axes.edgecolor": "#555555",
            "axes.axisbelow": True, "xtick.color": "#333333", "ytick.color": "#333333",
            "legend.frameon": False, "hatch.linewidth": 0.6, "path.simplify": True}
DASHES = {"solid": "-", "dash": (0, (5, 2.5)), "dot": (0, (1.2, 1.8)),
          "dashdot": (0, (5, 2, 1.2, 2)), "longdash": (0, (9, 3)),
          "longdashdot": (0, (9, 2.5, 1.2, 2.5))}
MARKERS = {"circle": "o", "square": "s", "diamond": "D", "cross": "P", "x": "X", "star": "*",
           "triangle-up": "^", "triangle-down": "v", "triangle-left": "<", "triangle-right": ">",
           "hexagon": "h", "pentagon": "p", "line-ns": "|", "line-ew": "_", "asterisk": "x"}
STROKES = {"|", "_", "x"}  # markers without an inside
HATCHES = {"/": "////", "x": "xxxx", "\\": "\\\\\\\\", "-": "---", "|": "|||", "+": "+++",
           ".": "..."}
_TAG = re.compile(r"<[^<>]{0,200}>")


def plain(text) -> str:
    """Text of a figure without its markup."""
    text = re.sub(r"<br\s*/?>", "\n", str(text or ""))
    return unescape(_TAG.sub("", text))


def colour(value, opacity=None):
    """A colour of the screen as red, green, blue and opacity; black if it cannot be read."""
    if isinstance(value, str) and value.startswith("rgb"):
        parts = [float(part) for part in re.findall(r"[0-9.]+", value)]
        rgba = (*(part / 255 for part in parts[:3]), parts[3] if len(parts) > 3 else 1.0)
    else:
        try:
            rgba = to_rgba(value or "black")
        except ValueError:
            rgba = (0.0, 0.0, 0.0, 1.0)
    return (*rgba[:3], rgba[3] * (1.0 if opacity is None else float(opacity)))


def numbered(figure, index: int, own):
    """The colour of a trace: its own, or the next of the figure's colours."""
    ways = figure.layout.colorway or style.SEQUENCE
    return own if isinstance(own, str) else ways[index % len(ways)]


def dash(name):
    """A dash pattern."""
    return DASHES.get(name or "solid", "-")


def marker(name):
    """A marker, and whether it is filled."""
    name = str(name or "circle")
    base = name.removesuffix("-open").removesuffix("-dot").removesuffix("-open")
    sign = MARKERS.get(base, "o")
    return sign, "-open" not in name and sign not in STROKES


def each(value, count: int, default=None) -> list:
    """A value for each of `count` points: given one by one, or one for all."""
    if value is None or isinstance(value, str) or np.ndim(value) == 0:
        return [default if value is None else value] * count
    return list(value)[:count] + [default] * (count - len(value))


def scale(colours) -> LinearSegmentedColormap:
    """A colour scale of the screen."""
    if isinstance(colours, str):
        colours = [[i / 8, c] for i, c in enumerate(np.array(get_colorscale(colours), object)[
            np.linspace(0, len(get_colorscale(colours)) - 1, 9).astype(int), 1])]
    if not colours:
        return scale(style.MAP)
    stops = [(float(at), colour(shade)) for at, shade in colours]
    return LinearSegmentedColormap.from_list("screen", stops)


def span(values, low, high) -> Normalize:
    """The range of a colour scale: as given, or that of the values."""
    finite = np.asarray(values, dtype=float)
    finite = finite[np.isfinite(finite)]
    ends = (finite.min(), finite.max()) if finite.size else (0.0, 1.0)
    return Normalize(ends[0] if low is None else low, ends[1] if high is None else high)
