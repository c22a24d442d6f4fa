"""Results, checks and worked calculations as HTML and as plain text; user text is escaped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

from thermoforming.bands import Band
from thermoforming.pages import style
from thermoforming.reference import cautions
from thermoforming.steps.base import (
    Check,
    Choice,
    Column,
    Field,
    File,
    Flag,
    Grid,
    Number,
    Outcome,
    Result,
    Rows,
    Step,
    Worked,
)
from thermoforming.steps.upstream import Upstream
from thermoforming.units import digits, shown_unit, to_shown

LONG_TEXT = 40  # characters; longer results are shown as a paragraph

STATE_COLOUR = {"missing": style.GREY, "damaged": style.ORANGE, "stale": style.AMBER,
                "returned": style.PURPLE, "current": style.SKY, "accepted": style.GREEN}
STATE_WORD = {"missing": "to decide", "damaged": "damaged", "stale": "stale",
              "returned": "returned", "current": "to review", "accepted": "accepted"}


def words(value, shown: str = "-", inches: bool = False, significant: int = 3) -> str:
    """A value as text with its unit; a band as typical (low to high)."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    unit = shown_unit(shown, inches)
    tail = "" if unit == "-" else f"\u202f{unit}" if unit in ("%", "°") else f" {unit}"
    if isinstance(value, Band):
        main = f"{_digits(value.typical, unit, significant)}{tail}"
        return main if value.is_exact else (
            f"{main} ({range_words(value, shown, inches, significant)})")
    return f"{_digits(value, unit, significant)}{tail}"


def range_words(band: Band, shown: str, inches: bool = False, significant: int = 3) -> str:
    """Low to high of a band, without unit."""
    unit = shown_unit(shown, inches)
    return f"{_digits(band.low, unit, significant)} to {_digits(band.high, unit, significant)}"


def _digits(value, unit: str, significant: int = 3) -> str:
    if isinstance(value, int) and unit in ("-", "shots", "parts"):
        return str(value)
    return digits(float(to_shown(value, unit)), significant)


def thread(states: Mapping[str, Any], steps: Mapping[str, Step], here: str,
           pages: Mapping[str, str]) -> str:
    """Where the project stands: one chip a decision, each opening its page."""
    chips = []
    for key, declared in steps.items():
        state = states[key].state
        title = " ".join(states[key].reasons) or STATE_WORD[state]
        text = (f"{declared.number} {escape(declared.title)} "
                f"<span class='tf-note'>{STATE_WORD[state]}</span>")
        look = f'style="border-left-color:{STATE_COLOUR[state]}" title="{escape(title)}"'
        chips.append(f"<b {look}>{text}</b>" if key == here else
                     f"<a {look} {opens(pages[key])}>{text}</a>")
    return f'<nav class="tf-page tf-thread" aria-label="Decisions">{"".join(chips)}</nav>'


def opens(page: str) -> str:
    """Attributes that make a link open another page of the workbook inside JupyterLab."""
    return (f'href="{escape(page)}" tabindex="0" data-commandlinker-command="docmanager:open" '
            f"data-commandlinker-args='{{\"path\": \"{escape(page)}\"}}'")


def message(text: str, verdict: str = "caution") -> str:
    """A sentence the reader should not miss."""
    return f'<div class="tf-page tf-message tf-{verdict}">{escape(text)}</div>' if text else ""


def undecided(title: str, page: str) -> str:
    """An earlier decision that a page cannot do without, with the way to it."""
    return (f'<div class="tf-page tf-message tf-stop">“{escape(title)}” has not been decided yet, '
            "and this page stands on it. Decide and save it, then run the cells of this page "
            f"again. <a {opens(page)}><b>Open {escape(title)}</b></a></div>")


def left_behind(lines: Iterable[tuple[str, str, str]]) -> str:
    """Inputs that no longer agree with the earlier decisions they came from: name, here, there."""
    rows = "".join(f"<tr><td>{escape(name)}</td><td>{escape(here)}</td><td>{escape(there)}</td>"
                   "</tr>" for name, here, there in lines)
    return ('<div class="tf-page"><b>Earlier decisions have changed, and these inputs have not '
            'followed.</b><table class="tf-table"><tr><th>Input</th><th>Here</th><th>They say now'
            f"</th></tr>{rows}</table></div>")


LARGE = 6  # results written large; the rest are a click away
LONG = 48  # characters; longer text is no headline


def mishap(traceback: str) -> str:
    """What to do when a computation failed unexpectedly; the details for whoever asks."""
    return ('<div class="tf-page tf-message tf-stop">This could not be computed with these inputs. '
            "What is saved is untouched. Put the last input back, or run the page's cells again; "
            "if it stays, hand the details to whoever keeps the workbook.<details><summary>Details"
            f"</summary><pre>{escape(traceback)}</pre></details></div>")


def key_results(results: Iterable[Result], inches: bool) -> str:
    """The first results as large numbers with their range below, the rest as a folded table."""
    results = [result for result in results if result.value is not None]
    short = [r for r in results if not (isinstance(r.value, str) and len(r.value) > LONG)]
    large, small = short[:LARGE], [r for r in results if r not in short[:LARGE]]
    cells = "".join(_large(result, inches) for result in large)
    rows = "".join(f"<tr><td>{escape(r.label)}</td><td>{escape(_result(r, inches))}"
                   f"</td></tr>" for r in small)
    more = (f"<details><summary>{len(small)} more results</summary><table class='tf-table'>{rows}"
            "</table></details>" if small else "")
    return f'<div class="tf-page"><div class="tf-key">{cells}</div>{more}</div>'


def _result(result: Result, inches: bool) -> str:
    return words(result.value, result.shown, inches, result.significant)


def _large(result: Result, inches: bool) -> str:
    value, band = result.value, isinstance(result.value, Band)
    main = words(Band.exact(value.typical) if band else value, result.shown, inches,
                 result.significant)
    ends = range_words(value, result.shown, inches, result.significant) if band else ""
    below = (f'<span class="tf-range">{ends}</span>'
             if band and not value.is_exact else "")
    return (f'<div title="{escape(result.help)}"><span class="tf-name">{escape(result.label)}'
            f"</span><span class='tf-value'>{escape(main)}</span>{below}</div>")


def checks(found: Iterable[Check], inches: bool) -> str:
    """Checks as a table, the worst first."""
    order = {"stop": 0, "caution": 1, "pass": 2}
    rows = []
    for check in sorted(found, key=lambda c: order[c.verdict]):
        advice = f'<div class="tf-note">{escape(check.advice)}</div>' if check.advice else ""
        rows.append(
            f'<tr><td class="tf-verdict tf-{check.verdict}">{style.VERDICT_SIGN[check.verdict]} '
            f"{check.verdict}</td><td><b>{escape(check.title)}</b><br>{escape(check.message)}"
            f"{advice}</td><td class='tf-number'>{escape(words(check.value, check.shown, inches))}"
            f"</td><td class='tf-number'>{escape(words(check.limit, check.shown, inches))}</td>"
            f'<td class="tf-note">{escape(check.source)}</td></tr>')
    head = "<tr><th>Verdict</th><th>Check</th><th>Value</th><th>Limit</th><th>Source</th></tr>"
    body = "".join(rows)
    return f'<div class="tf-page tf-wide"><table class="tf-table">{head}{body}</table></div>'


def worked(lines: Iterable[Worked]) -> str:
    """The calculation with this project's numbers put in."""
    return '<div class="tf-page">' + "".join(
        f'<div class="tf-worked"><b>{escape(line.title)}</b><br>${line.formula}$<br>'
        f"${line.numbers}$ = <b>{escape(line.result)}</b>"
        f'<div class="tf-source">{escape(line.source)}</div></div>' for line in lines) + "</div>"


def table(grid: Grid, inches: bool, most: int = 200) -> str:
    """A result table; beyond `most` rows only their number is said."""
    head = "".join(f"<th>{escape(c.label)}{_unit_in_head(c, inches)}</th>" for c in grid.columns)
    rows = "".join("<tr>" + "".join(_cell(row.get(c.key), c, inches) for c in grid.columns)
                   + "</tr>" for row in grid.rows[:most])
    rest = (f'<p class="tf-note">… and {len(grid.rows) - most} more rows</p>'
            if len(grid.rows) > most else "")
    return (f'<div class="tf-page"><h3>{escape(grid.title)}</h3><div class="tf-scroll">'
            f'<table class="tf-table"><tr>{head}</tr>{rows}</table></div>{rest}</div>')


def step_cautions(topics: Iterable[str]) -> str:
    """The usual cautions of a page, with their sources."""
    items = [c for topic in topics for c in cautions(topic)]
    if not items:
        return ""
    rows = "".join(f"<li>{escape(c.text)} <span class='tf-note'>({escape(c.source.citation)}; "
                   f"{escape(c.basis)})</span></li>" for c in items)
    return (f'<details class="tf-page" open><summary><b>Cautions</b></summary><ul>{rows}</ul>'
            "Local codes and the judgement of licensed people come before this page.</details>")


def input_words(field: Field, value, upstream: Upstream, inches: bool) -> str:
    """The value of an input as text."""
    if isinstance(field, Number):
        return _as_typed(value, field, inches)
    if isinstance(field, Choice):
        return dict(field.choices(upstream)).get(value, str(value))
    if isinstance(field, Flag):
        return words(bool(value))
    if isinstance(field, File):
        return value["name"] if value else "none"
    if isinstance(field, Rows):
        return f"{len(value)} rows"
    return value or "–"


def _as_typed(value, field: Number, inches: bool) -> str:
    """A typed number as people type it: no trailing zeros, counts without a point."""
    if value is None:
        return "–"
    unit = shown_unit(field.shown, inches)
    shown = float(to_shown(value, unit))
    text = f"{shown:.0f}" if field.whole else f"{round(shown, 9):.6g}"
    return text if unit == "-" else f"{text} {unit}"


def values_text(declared: Step, inputs: Mapping[str, Any], outcome: Outcome, upstream: Upstream,
                inches: bool) -> str:
    """Inputs in force and results as plain text, for paper and for comparison."""
    lines = [f"{declared.number} {declared.title}", "", "Inputs"]
    lines += [f"  {f.label}: {input_words(f, inputs[f.key], upstream, inches)}"
              for f in declared.fields if f.applies(inputs)]
    lines += ["", "Results"]
    lines += [f"  {r.label}: {_result(r, inches)}" for r in outcome.results]
    lines += ["", "Checks"]
    lines += [f"  {c.verdict:8}{c.title}" for c in outcome.checks]
    return "\n".join(lines)


def changes(differences: Iterable[tuple[str, str, str]]) -> str:
    """What differs from the last saved revision: name, before, now."""
    rows = "".join(f"<tr><td>{escape(name)}</td><td>{escape(before)}</td><td>→ {escape(after)}"
                   "</td></tr>" for name, before, after in differences)
    if not rows:
        return '<div class="tf-page tf-note">Nothing differs from the revision saved last.</div>'
    return ('<div class="tf-page"><b>What this changes</b><table class="tf-table"><tr><th>Quantity'
            f"</th><th>Saved</th><th>Now</th></tr>{rows}</table></div>")


def _unit_in_head(column: Column, inches: bool) -> str:
    unit = shown_unit(column.shown, inches)
    return "" if unit == "-" else f'<br><small class="tf-note">{escape(unit)}</small>'


def _cell(value, column: Column, inches: bool) -> str:
    unit = shown_unit(column.shown, inches)
    if value is None or isinstance(value, (str, bool)):
        return f"<td>{escape(words(value))}</td>"
    if isinstance(value, Band):
        text = words(value, column.shown, inches, column.significant)
        for gap in " \u202f" if unit != "-" else "":
            text = text.replace(f"{gap}{unit}", "")
        return f'<td class="tf-number">{escape(text)}</td>'
    return f'<td class="tf-number">{escape(_digits(value, unit, column.significant))}</td>'
