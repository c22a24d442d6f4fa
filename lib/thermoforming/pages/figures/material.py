"""Figures of the material page: windows, comparisons, temperature of the tool, curves."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank
from thermoforming.steps.material.findings import DOUBTFUL, REFUSED

OUTLINE = dict(color=style.GREY, width=1)
PATTERN = {DOUBTFUL: "/", REFUSED: "x"}
LEGEND = dict(yref="container", y=1.0, yanchor="top")  # stays above the bars at any width


def panels() -> tuple[Panel, ...]:
    """Forming windows; comparison of sheets and of tool materials; tool temperature; curves."""
    return (
        Panel("windows", "Forming windows against each other", _make_windows, _windows,
              "Bar: the sheet may be formed; circle: normal; diamond: set, the part may leave; "
              "dotted line: your sheet when formed. Hatched: doubtful; crossed and pale: refused.",
              470),
        Panel("sheets", "Sheets on your weights", _make_comparison, _compare_with("sheet"),
              "Left: how often each comes first when the bands are sampled. Right: score, 5th to "
              "95th percentile; open: cannot be told apart from the chosen one.", 420, wide=True),
        Panel("tools", "Tool materials on your weights", _make_comparison, _compare_with("tool"),
              "As above, for material and build process together.", 440, wide=True),
        Panel("running", "How warm a tool of each material runs", _make_running, _running,
              "Bar: usable limit, low to high, circle typical. Diamond: temperature of the wall "
              "after the shots in a row, 5th to 95th percentile.", 480, wide=True),
        Panel("curves", "The chosen two against temperature", _make_curves, _curves,
              "Left: heat taken up by the sheet, with its forming window. Right: modulus of the "
              "tool material, with its running temperature. Shaded: band.", 340, wide=True),
    )


# ---------------------------------------------------------------- forming windows

def _make_windows() -> go.Figure:
    figure = blank("temperature [°C]", "")
    figure.add_trace(go.Bar(orientation="h", name="forming window", marker=dict(line=OUTLINE)))
    figure.add_trace(_marks("normal", "circle", 9))
    figure.add_trace(_marks("set", "diamond", 9))
    figure.add_shape(type="line", yref="paper", y0=0, y1=1, line=dict(dash="dot", width=2,
                                                                        color=style.GREY))
    figure.update_layout(barmode="overlay", bargap=0.35, margin=dict(l=110, t=40), legend=LEGEND)
    figure.update_yaxes(type="category", showgrid=False, tickmode="linear")
    return figure


def _windows(figure: go.Figure, scene: Scene) -> None:
    side = scene.outcome.arrays["sheet"]
    normal = {key: m.band("forming_normal").typical for key, m in side.materials.items()}
    keys = sorted(normal, key=normal.get)
    low, mid, high, cold = (
        np.array([scene.value(side.materials[key].band(prop).typical, "°C") for key in keys])
        for prop in ("forming_low", "forming_normal", "forming_high", "set_temperature"))
    names = [side.short[key] for key in keys]
    bar, tick, diamond = figure.data
    bar.update(y=names, base=low, x=high - low, hovertemplate=[
        f"{name}: {a:.0f} to {b:.0f} °C<br>{_hover(side, key)}<extra></extra>"
        for name, key, a, b in zip(names, keys, low, high)])
    _dress(bar, side, keys)
    tick.update(x=mid, y=names, marker_color="white")
    diamond.update(x=cold, y=names, marker_color=style.PURPLE)
    hot = scene.value(scene.outcome["sheet_temperature"], "°C")
    figure.layout.shapes[0].update(x0=hot, x1=hot)
    figure.layout.yaxis.categoryarray = names


# ---------------------------------------------------------------- comparison

def _make_comparison() -> go.Figure:
    figure = make_subplots(1, 2, shared_yaxes=True, column_widths=[0.42, 0.58],
                           horizontal_spacing=0.03)
    figure.update_layout(style.LAYOUT | dict(showlegend=False, margin=dict(l=170, r=16, t=10)))
    figure.add_trace(go.Bar(orientation="h", marker=dict(line=OUTLINE), textposition="outside",
                            cliponaxis=False), 1, 1)
    figure.add_trace(go.Scatter(mode="markers", error_x=dict(color=style.GREY, thickness=2)), 1, 2)
    figure.update_xaxes(style.AXIS)
    figure.update_yaxes(style.AXIS | dict(showgrid=False, autorange="reversed", type="category",
                                          tickmode="linear"))
    figure.update_xaxes(title_text="comes first [%]", range=[0, 119], tickvals=[0, 50, 100],
                        col=1)
    figure.update_xaxes(title_text="score (0 worst, 1 best)", col=2)
    return figure


def _compare_with(kind: str):
    def update(figure: go.Figure, scene: Scene) -> None:
        side = scene.outcome.arrays[kind]
        c = side.comparison
        order = c.order() if c else []
        keys = [c.keys[i] for i in order]
        names = [side.short[key] for key in keys]
        share = np.array([100.0 * c.first[i] for i in order])
        bar, dots = figure.data
        bar.update(x=share, y=names, text=[f"{x:.0f}" for x in share], hovertemplate=[
            f"{name}: first in {x:.0f} %<br>{_hover(side, key)}<extra></extra>"
            for name, key, x in zip(names, keys, share)])
        _dress(bar, side, keys)
        alike = _alike(side)
        bands = [c.bands[i] for i in order]
        dots.update(
            x=[b.typical for b in bands], y=names,
            error_x=dict(type="data", symmetric=False, array=[b.high - b.typical for b in bands],
                         arrayminus=[b.typical - b.low for b in bands]),
            marker=dict(size=10, line=dict(width=2, color=style.BLUE),
                        symbol=["star" if key == side.chosen else
                                "circle-open" if key in alike else "circle" for key in keys],
                        color=[style.ORANGE if key == side.chosen else style.BLUE
                               for key in keys]),
            hovertemplate=[f"{name}: {b.typical:.2f} ({b.low:.2f} to {b.high:.2f})<extra></extra>"
                           for name, b in zip(names, bands)])
    return update


# ---------------------------------------------------------------- running temperature

def _make_running() -> go.Figure:
    figure = blank("temperature [°C]", "")
    figure.add_trace(go.Bar(orientation="h", name="usable limit", marker=dict(line=OUTLINE)))
    figure.add_trace(_marks("typical limit", "circle", 9))
    dots = _marks("runs at", "diamond", 10)
    dots.error_x = dict(color=style.PURPLE, thickness=2)
    figure.add_trace(dots)
    figure.update_layout(barmode="overlay", bargap=0.35, margin=dict(l=170, t=40), legend=LEGEND)
    figure.update_yaxes(type="category", showgrid=False, tickmode="linear")
    return figure


def _running(figure: go.Figure, scene: Scene) -> None:
    side, runs = scene.outcome.arrays["tool"], scene.outcome.arrays["runs"]
    reserve = {key: m.band("usable_limit").typical - runs[key].typical
               for key, m in side.materials.items()}
    keys = sorted(reserve, key=reserve.get)
    limit = [_celsius(side.materials[key].band("usable_limit"), scene) for key in keys]
    run = [_celsius(runs[key].band, scene) for key in keys]
    names = [side.short[key] for key in keys]
    bar, tick, dots = figure.data
    low, typical, high = map(np.array, zip(*limit))
    bar.update(y=names, base=low, x=high - low, hovertemplate=[
        f"{name}: usable to {t:.0f} °C, runs at {r[1]:.0f} °C<br>{_hover(side, key)}"
        "<extra></extra>" for name, key, t, r in zip(names, keys, typical, run)])
    _dress(bar, side, keys)
    tick.update(x=typical, y=names, marker_color="white")
    cool, warm, hot = map(np.array, zip(*run))
    dots.update(x=warm, y=names, marker_color=style.PURPLE,
                error_x=dict(type="data", symmetric=False, array=hot - warm,
                             arrayminus=warm - cool))
    figure.layout.yaxis.categoryarray = names


# ---------------------------------------------------------------- curves

def _make_curves() -> go.Figure:
    figure = make_subplots(1, 2, horizontal_spacing=0.14)
    figure.update_layout(style.LAYOUT | dict(showlegend=False, margin=dict(t=10)))
    figure.update_xaxes(style.AXIS | dict(title_text="temperature [°C]"))
    figure.update_yaxes(style.AXIS)
    figure.update_yaxes(title_text="heat from 20 °C [kJ/kg]", col=1)
    ticks = [a * 10.0**k for k in range(-1, 6) for a in (1, 2, 5)]
    figure.update_yaxes(title_text="modulus [MPa]", type="log", tickvals=ticks,
                        ticktext=[f"{tick:g}" for tick in ticks], col=2)
    for column, colour in ((1, style.BLUE), (2, style.GREEN)):
        for _ in range(2):
            figure.add_trace(go.Scatter(mode="lines", line=dict(width=0), hoverinfo="skip"),
                             1, column)
        figure.data[-1].update(fill="tonexty", fillcolor="rgba(86,180,233,0.28)")
        figure.add_trace(go.Scatter(mode="lines+markers", line=dict(color=colour, width=2),
                                    marker=dict(size=5)), 1, column)
    figure.add_shape(type="rect", xref="x", yref="y domain", y0=0, y1=1, line=dict(width=0),
                     fillcolor="rgba(230,159,0,0.22)")
    figure.add_shape(type="line", xref="x2", yref="y2 domain", y0=0, y1=1,
                     line=dict(color=style.ORANGE, width=2, dash="dot"))
    return figure


def _curves(figure: go.Figure, scene: Scene) -> None:
    of_sheet, of_tool = scene.outcome.arrays["sheet"], scene.outcome.arrays["tool"]
    sheet, tool = of_sheet.materials[of_sheet.chosen], of_tool.materials[of_tool.chosen]
    for first, curve, shown in ((0, sheet.curve("enthalpy"), "kJ/kg"),
                                (3, tool.curve("modulus"), "MPa")):
        x = scene.value(curve.temperature, "°C")
        for trace, values in zip(figure.data[first:first + 3],
                                 (curve.low, curve.high, curve.typical)):
            trace.update(x=x, y=scene.value(values, shown))
    window, run = figure.layout.shapes
    window.update(x0=scene.value(sheet.band("forming_low").typical, "°C"),
                  x1=scene.value(sheet.band("forming_high").typical, "°C"))
    warm = scene.value(scene.outcome["running_temperature"].typical, "°C")
    run.update(x0=warm, x1=warm)


# ---------------------------------------------------------------- shared

def _marks(name: str, symbol: str, size: int) -> go.Scatter:
    """Marks with a rim that shows on light, dark and on the bars.

    Their colour is set with every update: a batch that gives one trace many colours takes the
    single colour of the others away.
    """
    return go.Scatter(mode="markers", name=name, hoverinfo="skip",
                      marker=dict(symbol=symbol, size=size, line=dict(width=1.5, color="#555555")))


def _dress(bar: go.Bar, side, keys) -> None:
    """Chosen one orange, others blue; doubtful hatched, refused crossed and pale."""
    states = side.states
    bar.marker.update(
        color=[style.ORANGE if key == side.chosen else style.SKY for key in keys],
        opacity=[0.45 if states[key] == REFUSED else 0.95 for key in keys],
        pattern=dict(shape=[PATTERN.get(states[key], "") for key in keys], size=6,
                     fgcolor="#333333", fillmode="overlay"))


def _alike(side) -> set[str]:
    c = side.comparison
    if c is None or side.chosen not in c.keys:
        return set()
    here = c.keys.index(side.chosen)
    return {c.keys[i + j - here] for i, j in c.alike() if here in (i, j)}


def _hover(side, key: str) -> str:
    words, line, lines = side.why[key].split(), "", []
    for word in words:
        if len(line) + len(word) > 60:
            lines.append(line)
            line = ""
        line = f"{line} {word}".strip()
    return "<br>".join([side.states[key], *lines, line])


def _celsius(band, scene: Scene) -> tuple[float, float, float]:
    return tuple(scene.value(x, "°C") for x in (band.low, band.typical, band.high))
