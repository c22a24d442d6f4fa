"""Tables that sort by a click on a heading and filter by what is typed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import anywidget
import traitlets

from thermoforming.bands import Band
from thermoforming.pages.render import words
from thermoforming.reference import Material, properties
from thermoforming.units import shown_unit

OVERVIEW = {
    "sheet": ("forming_low", "forming_normal", "forming_high", "set_temperature",
              "tool_temperature", "shrinkage_free_along", "shrinkage_restrained",
              "areal_draw_limit", "service_temperature", "impact_strength", "flexural_modulus",
              "price", "clear", "outdoor", "food_contact", "needs_drying", "drying"),
    "tool": ("process", "usable_limit", "hdt_low_load", "modulus", "strength", "conductivity",
             "expansion", "shots", "roughness", "tolerance_fixed", "tolerance_relative",
             "smallest_bore", "smallest_wall", "lead_time", "relative_cost", "channels",
             "porous", "release", "care"),
}


def overview(page, kind: str) -> Table:
    """One row a material ("sheet" or "tool"), the project's own among them."""
    keys = OVERVIEW[kind]
    heads = ["material", *(_head(key, page.session.inches) for key in keys)]
    return Table.of(heads, [[_named(m), *(_cell(m, key, page.session.inches) for key in keys)]
                            for m in _materials(page, kind)])


def every_value(page) -> Table:
    """One row a value of every sheet and tool material, with its source, basis and note."""
    heads = ["material", "property", "at", "value", "basis", "source", "note"]
    rows = []
    for material in (*_materials(page, "sheet"), *_materials(page, "tool")):
        for key, values in material.values.items():
            for value in values:
                rows.append([_named(material), _text(properties()[key].label),
                             _at(value.temperature), _value(key, value, page.session.inches),
                             _text(value.basis), _text(value.source.citation),
                             _text(value.note)])
    return Table.of(heads, rows)


class Table(anywidget.AnyWidget):
    """Rows of cells; a cell is [text, what it sorts by, tooltip]."""

    heads = traitlets.List().tag(sync=True)
    rows = traitlets.List().tag(sync=True)

    @classmethod
    def of(cls, heads: Sequence[str], rows: Iterable[Sequence]) -> Table:
        return cls(heads=list(heads), rows=[list(row) for row in rows])

    _esm = """
const most = 150;
function render({ model, el }) {
  el.classList.add("tf-page");
  const heads = model.get("heads"), rows = model.get("rows");
  let by = -1, up = true, wanted = "";
  const find = document.createElement("input");
  find.type = "search"; find.className = "tf-find";
  find.placeholder = "Filter: words that must all occur";
  find.setAttribute("aria-label", "Filter the table");
  const said = document.createElement("span"); said.className = "tf-note";
  const box = document.createElement("div"); box.className = "tf-scroll tf-browse";
  const table = document.createElement("table"); table.className = "tf-table";
  box.append(table);
  const bar = document.createElement("div"); bar.append(find, " ", said);
  el.append(bar, box);
  const text = (cell) => cell[0];
  const key = (cell) => cell[1];
  function order(a, b) {
    const x = key(a[by]), y = key(b[by]);
    if (x === null || y === null) return (x === null) - (y === null);
    const way = typeof x === "number" && typeof y === "number" ? x - y
      : String(x).localeCompare(String(y));
    return up ? way : -way;
  }
  function draw() {
    const parts = wanted.toLowerCase().split(/\\s+/).filter(Boolean);
    const left = rows.filter((row) => {
      const all = row.map((cell) => cell[0] + " " + cell[2]).join(" ").toLowerCase();
      return parts.every((part) => all.includes(part));
    });
    if (by >= 0) left.sort(order);
    table.replaceChildren();
    const head = table.createTHead().insertRow();
    heads.forEach((name, i) => {
      const th = document.createElement("th"), button = document.createElement("button");
      button.className = "tf-sort";
      button.textContent = name + (i === by ? (up ? " ▲" : " ▼") : "");
      th.setAttribute("aria-sort", i !== by ? "none" : up ? "ascending" : "descending");
      button.onclick = () => { up = by === i ? !up : true; by = i; draw(); };
      th.append(button); head.append(th);
    });
    const body = table.createTBody();
    for (const row of left.slice(0, most)) {
      const tr = body.insertRow();
      row.forEach((cell, i) => {
        const td = tr.insertCell();
        const inside = document.createElement("div");
        inside.textContent = text(cell);
        td.append(inside);
        if (typeof key(cell) === "number") td.className = "tf-number";
        if (i === 0) td.classList.add("tf-first");
        td.title = cell[2] || (text(cell).length > 60 ? text(cell) : "");
      });
    }
    said.textContent = left.length > most ? `${most} of ${left.length} rows shown; filter for more`
      : `${left.length} of ${rows.length} rows`;
  }
  find.oninput = () => { wanted = find.value; draw(); };
  draw();
}
export default { render };
"""
    _css = """
.tf-browse { max-height: 460px; overflow: auto; }
.tf-browse th { position: sticky; top: 0; background: var(--jp-layout-color0, #fff); z-index: 1; }
.tf-browse td.tf-first { position: sticky; left: 0; background: var(--jp-layout-color0, #fff);
  font-weight: 600; white-space: nowrap; }
.tf-browse td div { display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 2;
  overflow: hidden; }
.tf-browse td:not(.tf-number):not(.tf-first) { min-width: 90px; max-width: 280px; }
.tf-sort { all: unset; cursor: pointer; font-weight: 600; display: block; min-width: 62px;
  max-width: 120px; }
.tf-sort:hover, .tf-sort:focus { text-decoration: underline; }
.tf-find { width: min(320px, 100%); padding: 3px 6px; font: inherit; color: inherit;
  background: var(--jp-layout-color1, #fff);
  border: 1px solid var(--jp-border-color1, #bbb); }
"""


def _materials(page, kind: str) -> list[Material]:
    return list(page.outcome.arrays[kind].materials.values())


def _named(material: Material) -> list:
    own = " (own)" if material.user else ""
    return [material.text("short") + own, material.text("short"), material.name]


def _head(key: str, inches: bool) -> str:
    known = properties()[key]
    if known.kind != "value" or known.shown == "-":
        return known.label
    return f"{known.label} [{_unit(known.shown, inches)}]"


def _cell(material: Material, key: str, inches: bool) -> list:
    if key not in material:
        return ["–", None, ""]
    known = properties()[key]
    about = f"{material.source(key).citation} ({material.basis(key)})"
    if known.kind == "text":
        return [material.text(key), material.text(key), about]
    if known.kind == "flag":
        yes = material.flag(key)
        return ["yes" if yes else "no", "yes" if yes else "no", about]
    band = material.band(key)
    return [_numbers(band, known.shown, inches), band.typical, about]


def _value(key: str, value, inches: bool) -> list:
    known = properties()[key]
    if known.kind == "text":
        return _text(value.text)
    if known.kind == "flag":
        return _text("yes" if value.band.typical else "no")
    return [words(value.band, known.shown, inches), value.band.typical, ""]


def _numbers(band: Band, shown: str, inches: bool) -> str:
    """Typical (low to high), without the unit, which stands in the heading."""
    tail = words(band, shown, inches)
    unit = _unit(shown, inches)
    return tail.replace(f" {unit}", "").replace(f"\u202f{unit}", "") if unit != "-" else tail


def _at(kelvin: float | None) -> list:
    return ["", None, ""] if kelvin is None else [words(kelvin, "°C"), kelvin, ""]


def _text(text: str) -> list:
    return [text, text, ""]


def _unit(shown: str, inches: bool) -> str:
    return shown_unit(shown, inches)
