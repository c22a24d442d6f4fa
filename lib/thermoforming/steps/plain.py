"""A decision as plain data for the record, and back: values with their SI units."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.steps.base import Choice, Field, Number, Outcome, Rows, Step
from thermoforming.steps.upstream import Decision
from thermoforming.units import si_unit


def plain(value):
    """A value of inputs, results or tables as JSON data; a Band as low, typical, high."""
    if isinstance(value, Band):
        return {"low": value.low, "typical": value.typical, "high": value.high}
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value


def unplain(data):
    """The reverse of `plain` for a single value: bands come back as `Band`."""
    if isinstance(data, Mapping):
        if set(data) == {"low", "typical", "high"}:
            return Band(data["low"], data["typical"], data["high"])
        return {key: unplain(item) for key, item in data.items()}
    if isinstance(data, list):
        return [unplain(item) for item in data]
    return data


def content(step: Step, inputs: Mapping[str, Any], outcome: Outcome) -> dict:
    """What a revision of this decision holds, as plain data."""
    return {
        "title": step.title,
        "inputs": {f.key: _plain_input(f, inputs[f.key]) for f in step.fields},
        "results": {r.key: {"label": r.label, "symbol": r.symbol, "shown": r.shown,
                            "unit": si_unit(r.shown), "value": plain(r.value)}
                    for r in outcome.results},
        "checks": [{"key": c.key, "title": c.title, "verdict": c.verdict, "message": c.message,
                    "value": plain(c.value), "limit": plain(c.limit), "shown": c.shown,
                    "unit": si_unit(c.shown), "source": c.source, "advice": c.advice}
                   for c in outcome.checks],
        "worked": [{"title": w.title, "formula": w.formula, "numbers": w.numbers,
                    "result": w.result, "source": w.source} for w in outcome.worked],
        "tables": {t.key: {"title": t.title,
                           "columns": [{"key": c.key, "label": c.label, "shown": c.shown,
                                        "unit": si_unit(c.shown),
                                        "significant": c.significant} for c in t.columns],
                           "rows": plain(list(t.rows))} for t in outcome.tables},
    }


def inputs_from(content: Mapping[str, Any]) -> dict[str, Any]:
    """Input values (SI) of a saved revision."""
    return {key: _unplain_input(entry) for key, entry in content["inputs"].items()}


def decision_from(content: Mapping[str, Any], hash: str = "") -> Decision:
    """A saved revision as later steps see it."""
    return Decision(
        inputs=inputs_from(content),
        results={key: unplain(entry["value"]) for key, entry in content["results"].items()},
        tables={key: unplain(table["rows"]) for key, table in content["tables"].items()},
        files=dict(content.get("files", {})),
        hash=hash,
    )


def _plain_input(field: Field, value) -> dict:
    entry = {"label": field.label, "value": plain(value)}
    if isinstance(field, Number):
        entry |= {"unit": field.unit, "shown": field.shown, "symbol": field.symbol}
    if isinstance(field, Choice) and not callable(field.options):
        entry["text"] = dict(field.options).get(value, value)  # what the reader chose, in words
    if isinstance(field, Rows):
        entry["columns"] = [{"key": c.key, "label": c.label}
                            | ({"unit": c.unit, "shown": c.shown} if isinstance(c, Number) else {})
                            for c in field.columns]
    return entry


def _unplain_input(entry: Mapping[str, Any]):
    return unplain(entry["value"])
