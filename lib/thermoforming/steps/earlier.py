"""Defaults and values taken from earlier decisions where they exist."""

from __future__ import annotations

from collections.abc import Callable

from thermoforming.bands import Band
from thermoforming.steps.upstream import Upstream


def found(upstream: Upstream, step: str, *keys: str):
    """The first of these inputs or results that a saved decision holds, or None."""
    if not upstream.has(step):
        return None
    decision = upstream.decision(step)
    for key in keys:
        value = decision.results.get(key, decision.inputs.get(key))
        if value is not None:
            return value
    return None


def earlier(step: str, *keys: str, otherwise) -> Callable[[Upstream], object]:
    """A field's default: what an earlier decision found (SI), else `otherwise`.

    `otherwise` is an SI value, or a function of upstream that gives one.
    """
    def start(upstream: Upstream):
        value = found(upstream, step, *keys)
        if value is None:
            return otherwise(upstream) if callable(otherwise) else otherwise
        return value.typical if isinstance(value, Band) else value
    return start


def rows_found(upstream: Upstream, step: str, table: str) -> list[dict]:
    """Rows of a result table or typed table of a saved decision; none where there is none."""
    if not upstream.has(step):
        return []
    decision = upstream.decision(step)
    return list(decision.tables.get(table) or decision.inputs.get(table) or [])
