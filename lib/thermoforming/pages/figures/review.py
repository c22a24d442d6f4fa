"""The picture of a review: how far each result moved, against the band it had."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from thermoforming.pages import style
from thermoforming.pages.charts import blank
from thermoforming.record.changes import Change, is_band, typical

MOST = 14


def make() -> go.Figure:
    """The old bands as bars, the new values as marks with their bands."""
    figure = blank("change, % of the value before", "", barmode="overlay", bargap=0.45)
    figure.add_traces([
        go.Bar(orientation="h", name="band before", hoverinfo="skip",
               marker=dict(color=style.SKY, opacity=0.55, line=dict(color=style.GREY, width=1))),
        go.Scatter(mode="markers", name="now, with its band",
                   marker=dict(size=10, color=style.ORANGE, symbol="diamond"),
                   error_x=dict(color=style.ORANGE, thickness=2)),
    ])
    figure.add_shape(type="line", yref="paper", x0=0, x1=0, y0=0, y1=1,
                     line=dict(color=style.GREY, width=1.5))
    figure.update_yaxes(type="category", autorange="reversed", showgrid=False)
    return figure


def pictured(changes: Sequence[Change]) -> list[Change]:
    """The changes that can be put into the picture, the largest first."""
    found = [change for change in changes if change.part == "Results" and change.shift
             and typical(change.old) and change.shown != "°C"]
    return sorted(found, key=lambda c: -abs(c.shift / typical(c.old)))[:MOST]


def update(figure: go.Figure, changes: Sequence[Change]) -> None:
    """Put changes into the picture; temperatures and zeros are in the table only."""
    shown = pictured(changes)
    names = [change.label for change in shown]
    old = np.array([_percent(change.old, change) for change in shown]).reshape(-1, 3)
    new = np.array([_percent(change.new, change) for change in shown]).reshape(-1, 3)
    bar, mark = figure.data
    bar.update(y=names, base=old[:, 0], x=old[:, 2] - old[:, 0])
    mark.update(y=names, x=new[:, 1], text=[change.sentence() for change in shown],
                hovertemplate="%{text}<extra></extra>",
                error_x=dict(type="data", symmetric=False, array=new[:, 2] - new[:, 1],
                             arrayminus=new[:, 1] - new[:, 0]))
    figure.layout.height = 110 + 26 * max(len(shown), 1)
    figure.layout.yaxis.categoryarray = names


def _percent(value, change: Change) -> tuple[float, float, float]:
    """Low, typical, high as a change relative to the old typical value, in percent."""
    before = typical(change.old)
    ends = (value["low"], value["typical"], value["high"]) if is_band(value) else (value,) * 3
    shares = [100.0 * (end - before) / abs(before) for end in ends]
    return shares[0], shares[1], shares[2]
