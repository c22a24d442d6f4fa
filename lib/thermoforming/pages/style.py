"""Colours and type of pages and figures: readable in light and dark, without relying on colour."""

from __future__ import annotations

# Eight colours that people with any colour vision tell apart (Okabe and Ito, 2008, from memory),
# in an order that keeps neighbours apart in lightness too.
BLUE, ORANGE, GREEN, PURPLE = "#0072B2", "#D55E00", "#009E73", "#CC79A7"
SKY, AMBER, YELLOW, GREY = "#56B4E9", "#E69F00", "#B8A900", "#808080"
SEQUENCE = (BLUE, ORANGE, GREEN, PURPLE, SKY, AMBER, YELLOW, GREY)
DASHES = ("solid", "dash", "dot", "dashdot", "longdash", "longdashdot")
MAP = "Cividis"  # even in lightness, the same to all kinds of colour vision

VERDICT_COLOUR = {"pass": GREEN, "caution": AMBER, "stop": ORANGE}
VERDICT_SIGN = {"pass": "✓", "caution": "!", "stop": "✕"}
VERDICT_WORD = {"pass": "pass", "caution": "caution", "stop": "stop"}

SHEET = """
<style>
.tf-page { font-size: var(--jp-ui-font-size1, 13px); color: var(--jp-ui-font-color1, #222);
  line-height: 1.45; }
.tf-page h3, .tf-group { font-size: 1.05em; font-weight: 600; margin: 10px 0 2px; }
.tf-thread { display: flex; flex-wrap: wrap; gap: 4px 6px; align-items: center; margin: 2px 0 6px; }
.tf-thread a, .tf-thread b { padding: 1px 9px; border-radius: 2px; text-decoration: none;
  border-left: 4px solid var(--jp-border-color1, #bbb); background: var(--jp-layout-color2, #eee);
  color: var(--jp-ui-font-color1, #222); white-space: nowrap; cursor: pointer; }
.tf-thread b { outline: 2px solid var(--jp-ui-font-color2, #555); cursor: default; }
.tf-thread a:hover, .tf-thread a:focus { outline: 2px solid #56B4E9; }
.tf-note { color: var(--jp-ui-font-color2, #555); }
.tf-table { border-collapse: collapse; font-variant-numeric: tabular-nums; margin: 4px 0; }
.tf-table th { text-align: left; font-weight: 600; border-bottom: 2px solid
  var(--jp-border-color1, #bbb); padding: 2px 12px 2px 0; vertical-align: bottom; }
.tf-table td { padding: 2px 12px 2px 0; border-bottom: 1px solid var(--jp-border-color2, #ddd);
  vertical-align: top; }
.tf-table td.tf-number { text-align: right; white-space: nowrap; }
.tf-wide { overflow-x: auto; }
.tf-scroll { overflow-x: auto; max-height: 420px; overflow-y: auto; }
.tf-verdict { white-space: nowrap; font-weight: 600; padding-left: 8px; }
.tf-pass { border-left: 5px solid #009E73; }
.tf-caution { border-left: 5px solid #E69F00; }
.tf-stop { border-left: 5px solid #D55E00; }
.tf-message { padding: 4px 10px; margin: 4px 0; background: var(--jp-layout-color2, #f2f2f2); }
.tf-key { display: flex; flex-wrap: wrap; gap: 4px 26px; margin: 2px 0 6px; }
.tf-key div { min-width: 110px; }
.tf-key .tf-name { display: block; color: var(--jp-ui-font-color2, #555); }
.tf-key .tf-value { font-size: 1.35em; font-weight: 600; font-variant-numeric: tabular-nums; }
.tf-key .tf-range { display: block; color: var(--jp-ui-font-color2, #555); font-size: 0.92em; }
.tf-row { align-items: center; margin: 0; min-height: 30px; overflow: visible; }
.tf-label { line-height: 1.2; }
.tf-label small { display: block; color: var(--jp-ui-font-color2, #555); }
.tf-workspace { display: flex; flex-flow: row wrap; gap: 18px; align-items: flex-start; }
.tf-inputs { flex: 1 1 330px; max-width: 460px; min-width: 300px; }
.tf-outputs { flex: 3 1 460px; min-width: 320px; display: flex; flex-flow: row wrap;
  gap: 0 18px; align-items: flex-start; }
.tf-outputs > * { flex: 1 1 100%; min-width: 0; }
.tf-outputs > .tf-figure.tf-half { flex: 1 1 380px; }
.tf-figure { border-top: 1px solid var(--jp-border-color2, #ddd); padding-top: 2px;
  margin-bottom: 10px; }
.tf-caption { color: var(--jp-ui-font-color2, #555); margin: 0 0 2px; }
.tf-worked { margin: 8px 0; padding: 2px 10px; border-left: 3px solid
  var(--jp-border-color1, #bbb); overflow-x: auto; }
.tf-worked .tf-source { color: var(--jp-ui-font-color2, #555); }
.tf-page details > summary { cursor: pointer; }
.widget-text.tf-wrong input { outline: 2px solid #D55E00; }
.js-plotly-plot .main-svg text:not(.hovertext text) { fill: var(--jp-ui-font-color1, #222)
  !important; }
.js-plotly-plot .hoverlayer text { fill: #222 !important; }
.js-plotly-plot .annotation-text-g rect.bg { fill: var(--jp-layout-color1, #fff) !important; }
.js-plotly-plot .gridlayer path, .js-plotly-plot .zerolinelayer path {
  stroke: var(--jp-border-color2, #ddd) !important; }
</style>
"""

LAYOUT = dict(
    paper_bgcolor="rgba(0,0,0,0)",
    plot_bgcolor="rgba(0,0,0,0)",
    font=dict(size=13),
    margin=dict(l=60, r=16, t=30, b=48),
    colorway=list(SEQUENCE),
    hoverlabel=dict(bgcolor="#f4f4f4", font=dict(color="#222")),
    legend=dict(orientation="h", yanchor="bottom", y=1.0, xanchor="left", x=0.0),
    hovermode="closest",
    uirevision="kept",  # zoom and camera stay while a control moves
)
AXIS = dict(showline=True, linecolor=GREY, gridcolor="#dddddd", zerolinecolor="#bbbbbb",
            ticks="outside", tickcolor=GREY, automargin=True)
SCENE_AXIS = dict(showbackground=False, gridcolor=GREY, color=GREY, zeroline=False)
SCENE = dict(aspectmode="data", xaxis=SCENE_AXIS, yaxis=SCENE_AXIS, zaxis=SCENE_AXIS,
             camera=dict(eye=dict(x=0.9, y=-1.5, z=1.2)))

# The plotting library offers, unless told otherwise, to upload a chart to a third party.
FIGURE_CONFIG = {"displaylogo": False, "showSendToCloud": False, "plotlyServerURL": "",
                 "showEditInChartStudio": False, "responsive": True,
                 "modeBarButtonsToRemove": ["select2d", "lasso2d", "autoScale2d"]}
