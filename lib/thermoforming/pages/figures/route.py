"""Figures of the route page: cost and days against quantity, where the money goes, nest, life."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from thermoforming.pages import style
from thermoforming.pages.charts import Panel, Scene, blank
from thermoforming.physics.toollife import surviving
from thermoforming.steps.route.life import shots_of_a_place

MOST = 8  # routes that a page compares
ITEMS = ("tools", "fixture and set-up", "sheet", "forming machine", "operator", "trimming",
         "rejects")


def panels() -> tuple[Panel, ...]:
    return (
        Panel("cost", "Cost for each part against quantity", _make_lines("Cost for each part"),
              _update_cost, "Bands hold nine of ten samples of the rates and of tool life; steps "
              "are tools bought whole. The dotted line is the quantity wanted.", 400),
        Panel("days", "Days until the part of a number", _make_lines("Days"), _update_days,
              "Queue, making the tool, then forming; the band as above."),
        Panel("life", "Will the tool last?", _make_life, _update_life,
              "Chance that one tool outlives so many shots, as believed now; the band holds nine "
              "of ten characteristic lives. Marks on the axis are runs that count."),
        Panel("money", "Where the money goes at the quantity wanted", _make_money, _update_money,
              "All parts and all tools ordered, typical rates.", 330, wide=True),
        Panel("nest", "Blanks in the stock sheet", _make_nest, _update_nest,
              "Edge-to-edge cuts; extrusion runs along x.", 300),
    )


# ---------------------------------------------------------------------------- against quantity

def _make_lines(y: str):
    def make() -> go.Figure:
        figure = blank("Good parts", y)
        for i in range(MOST):
            colour = style.SEQUENCE[i]
            figure.add_scatter(mode="none", fillcolor=_faint(colour), fill="toself",
                               hoverinfo="skip", showlegend=False)
            figure.add_scatter(mode="lines", line=dict(
                color=colour, dash=style.DASHES[i % len(style.DASHES)], width=2))
        figure.add_scatter(mode="lines", line=dict(color=style.GREY, dash="dot", width=1.5),
                           hoverinfo="skip", showlegend=False)
        figure.update_xaxes(type="log", dtick=1)
        figure.update_yaxes(type="log", dtick="D2")
        figure.update_layout(hovermode="x unified", margin=dict(t=70))
        return figure
    return make


def _update_cost(figure, scene: Scene):
    routes = scene.outcome.arrays["routes"]
    figure.layout.yaxis.title.text = f"Cost for each part, {scene.inputs['currency']}"
    _lines(figure, routes, [np.where(r.enough, r.money / routes.quantities, np.nan)
                            for r in routes.all])


def _update_days(figure, scene: Scene):
    routes = scene.outcome.arrays["routes"]
    figure.layout.yaxis.title.text = "Days from now"
    _lines(figure, routes, [np.where(r.enough, scene.value(r.days, "d"), np.nan)
                            for r in routes.all])


def _lines(figure, routes, values):
    x = routes.quantities
    for i in range(MOST):
        area, line = figure.data[2 * i], figure.data[2 * i + 1]
        shown = i < len(values)
        area.visible = line.visible = shown
        if not shown:
            continue
        usable = np.isfinite(values[i][0])
        low, high = np.percentile(values[i][1:, usable], [5, 95], axis=0)
        area.x = np.concatenate([x[usable], x[usable][::-1]])
        area.y = np.concatenate([low, high[::-1]])
        line.x, line.y = x, values[i][0]
        line.name = routes.all[i].name
        line.line.width = 3.5 if i == routes.chosen else 1.8
    finite = np.concatenate([v[:, np.isfinite(v[0])].ravel() for v in values])
    wanted = figure.data[2 * MOST]
    wanted.x = [x[routes.place]] * 2
    wanted.y = [finite.min(), finite.max()]


def _faint(colour: str) -> str:
    red, green, blue = (int(colour[i:i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.13)"


# ---------------------------------------------------------------------------- money

def _make_money() -> go.Figure:
    figure = blank("", "", barmode="stack")
    for i, item in enumerate(ITEMS):
        figure.add_bar(name=item, orientation="h", marker=dict(
            color=style.SEQUENCE[i], pattern=dict(shape=("", "/", "", "\\", "", "x", ".")[i])))
    figure.update_yaxes(autorange="reversed")
    figure.update_layout(margin=dict(t=60), legend_traceorder="normal")
    return figure


def _update_money(figure, scene: Scene):
    routes, quantity = scene.outcome.arrays["routes"], scene.inputs["quantity"]
    names = [_folded(route.name) for route in routes.all]
    rows = {item: [] for item in ITEMS}
    for route in routes.all:
        made = {name: float(values[0]) for name, values in route.part.items.items()}
        rows["tools"].append(float(routes.at(route.tools)[0] * route.tool.cost[0]))
        rows["fixture and set-up"].append(float(route.fixed[0]))
        for name in ("forming machine", "operator", "trimming"):
            rows[name].append(quantity * made[name])
        rows["sheet"].append(quantity * (made["sheet"] + made["offcuts sold"]))
        rows["rejects"].append(quantity * (float(route.part.total[0]) - sum(made.values())))
    for trace in figure.data:
        trace.x, trace.y = rows[trace.name], names
    figure.layout.xaxis.title.text = f"Cost of {quantity:.0f} parts, {scene.inputs['currency']}"


def _folded(name: str) -> str:
    """A route's name on two lines at its comma."""
    return name.replace(", ", ",<br>", 1)


# ---------------------------------------------------------------------------- life

def _make_life() -> go.Figure:
    figure = blank("Shots on one tool", "Chance of lasting, %")
    figure.add_scatter(mode="none", fill="toself", hoverinfo="skip", fillcolor=_faint(style.BLUE),
                       showlegend=False)
    figure.add_scatter(mode="lines", line=dict(color=style.BLUE, width=3), name="as believed now")
    figure.add_scatter(mode="lines", line=dict(color=style.GREY, dash="dot", width=1.5),
                       name="shots of this batch")
    figure.add_scatter(mode="markers", name="run, still going", marker=dict(
        color=style.GREEN, symbol="triangle-right", size=11))
    figure.add_scatter(mode="markers", name="run, tool ended", marker=dict(
        color=style.ORANGE, symbol="x", size=10))
    figure.update_xaxes(type="log", dtick=1)
    figure.update_yaxes(range=[0, 103])
    return figure


def _update_life(figure, scene: Scene):
    life, shape = scene.outcome.arrays["routes"].route.life, scene.inputs["shape"]
    wanted = float(shots_of_a_place(scene.inputs["quantity"], scene.inputs))
    ends = life.characteristic
    shots = np.geomspace(max(1.0, min(ends.low, wanted) / 10), 2 * max(ends.high, wanted), 90)
    mean = life.probability @ surviving(shots[None, :], life.grid[:, None], shape)
    low, high = surviving(shots, ends.low, shape), surviving(shots, ends.high, shape)
    figure.data[0].x = np.concatenate([shots, shots[::-1]])
    figure.data[0].y = 100 * np.concatenate([low, high[::-1]])
    figure.data[1].x, figure.data[1].y = shots, 100 * mean
    figure.data[2].x, figure.data[2].y = [wanted, wanted], [0, 100]
    for trace, ended in ((figure.data[3], False), (figure.data[4], True)):
        runs = [run.shots for run in life.evidence if run.ended == ended]
        trace.x, trace.y = runs, [2.0] * len(runs)
        trace.visible = bool(runs)


# ---------------------------------------------------------------------------- nest

def _make_nest() -> go.Figure:
    figure = blank()
    figure.add_scatter(mode="lines", line=dict(color=style.GREY, width=2), hoverinfo="skip")
    figure.add_scatter(mode="lines", line=dict(color=style.BLUE, width=1.2), fill="toself",
                       fillcolor=_faint(style.SKY), hoverinfo="skip")
    figure.update_layout(showlegend=False)
    figure.update_yaxes(scaleanchor="x", constrain="domain")
    figure.update_xaxes(constrain="domain")
    return figure


def _update_nest(figure, scene: Scene):
    nest, inputs = scene.outcome.arrays["routes"].nest, scene.inputs
    stock = _outline(np.array([[0.0, 0.0, inputs["stock_x"], inputs["stock_y"]]]))
    for trace, (x, y) in zip(figure.data, (stock, _outline(nest.blanks)), strict=True):
        trace.x, trace.y = scene.value(x, "mm"), scene.value(y, "mm")
    figure.layout.xaxis.title.text = (f"{nest.count} blanks · along extrusion, "
                                      f"{scene.unit('mm')}")
    figure.layout.yaxis.title.text = f"across, {scene.unit('mm')}"


def _outline(rows) -> tuple[np.ndarray, np.ndarray]:
    """Rectangles as one line, parted by gaps."""
    x, y, length, width = rows.T
    gap = np.full_like(x, np.nan)
    return (np.column_stack([x, x + length, x + length, x, x, gap]).ravel(),
            np.column_stack([y, y, y + width, y + width, y, gap]).ravel())
