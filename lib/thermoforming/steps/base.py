"""How a decision is declared: its inputs, its results, its checks and its worked calculation.

A step is data and pure functions: no widget, no file handle, no project. A page turns the
declaration into controls, a record saves what it holds, a script or a test calls `compute`.

Numbers written in a declaration (low, high, default) are in the unit shown to the reader, which
is how an engineer reads them; every value that leaves this module is in SI. A default that is a
function of the upstream decisions returns SI.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np

from thermoforming.bands import Band
from thermoforming.guard import Refused, one_of, within
from thermoforming.steps.upstream import Upstream
from thermoforming.units import shown_unit, si_unit, to_shown, to_si

PASS, CAUTION, STOP = "pass", "caution", "stop"


@dataclass(frozen=True, kw_only=True)
class Field:
    """What every input has.

    `origin` says where the default comes from; `help` is one line for the reader. A field with
    `group` is shown under that heading; one that is `advanced` is folded away at first.
    `only_if` (a function of the other values) hides what does not apply.
    """

    key: str
    label: str
    default: Any = None
    origin: str = ""
    help: str = ""
    group: str = ""
    advanced: bool = False
    only_if: Callable[[Mapping[str, Any]], bool] | None = None

    def start(self, upstream: Upstream):
        """The default value in SI, worked out from upstream decisions where it depends on them."""
        if callable(self.default):
            return self.default(upstream)
        return self.default

    def checked(self, value, upstream: Upstream):
        """The value, or `Refused` naming the field, the value and what is permitted."""
        return value

    def applies(self, values: Mapping[str, Any]) -> bool:
        return self.only_if is None or bool(self.only_if(values))


@dataclass(frozen=True, kw_only=True)
class Number(Field):
    """A number with symbol, unit and permitted range; `whole` for counts."""

    shown: str
    low: float
    high: float
    symbol: str = ""
    step: float | None = None
    whole: bool = False
    optional: bool = False

    def start(self, upstream):
        value = super().start(upstream)
        if value is None or callable(self.default):
            return value
        return to_si(float(value), self.shown)

    @property
    def unit(self) -> str:
        """SI unit of the value."""
        return si_unit(self.shown)

    def checked(self, value, upstream):
        if value is None and self.optional:
            return None
        if value is None:
            raise Refused(self.key, f"{self.label} is empty, but a number is needed "
                                    f"({self.low:g} to {self.high:g} {shown_unit(self.shown)}).")
        shown = to_shown(_number(self.label, value), self.shown)
        slack = 1e-9 * max(1.0, abs(self.low), abs(self.high))  # unit conversion rounds
        inside = min(max(shown, self.low), self.high)
        within(self.label, inside if abs(inside - shown) <= slack else shown, self.low, self.high,
               _unit_text(self.shown))
        return int(round(value)) if self.whole else float(value)


@dataclass(frozen=True, kw_only=True)
class Choice(Field):
    """One of several; `options` is ((value, label), ...) or a function of upstream giving that."""

    options: Any = ()

    def choices(self, upstream: Upstream) -> tuple[tuple[str, str], ...]:
        return tuple(self.options(upstream) if callable(self.options) else self.options)

    def checked(self, value, upstream):
        return one_of(self.label, value, [option for option, _ in self.choices(upstream)])


@dataclass(frozen=True, kw_only=True)
class Flag(Field):
    """Yes or no."""

    default: Any = False

    def checked(self, value, upstream):
        return bool(one_of(self.label, value, [True, False]))


@dataclass(frozen=True, kw_only=True)
class Text(Field):
    """Words; shown as text wherever they appear, never run or rendered."""

    default: Any = ""
    longest: int = 2000
    lines: int = 1

    def checked(self, value, upstream):
        text = "" if value is None else str(value)
        if len(text) > self.longest:
            raise Refused(self.key, f"{self.label} has {len(text)} characters, but at most "
                                    f"{self.longest} are kept.")
        return text


@dataclass(frozen=True, kw_only=True)
class Rows(Field):
    """A table typed by the user: a list of dicts, its columns declared as fields."""

    columns: tuple[Field, ...] = ()
    default: Any = ()
    most: int = 200
    fewest: int = 0

    def start(self, upstream):
        rows = self.default(upstream) if callable(self.default) else self.default
        return [dict(row) for row in rows]

    def blank(self, upstream) -> dict:
        """A new row with every column at its default."""
        return {column.key: column.start(upstream) for column in self.columns}

    def checked(self, value, upstream):
        rows = list(value or [])
        within(f"number of rows in {self.label}", len(rows), self.fewest, self.most)
        return [self._checked_row(i, row, upstream) for i, row in enumerate(rows, start=1)]

    def _checked_row(self, number, row, upstream):
        try:
            return {column.key: column.checked(row.get(column.key, column.start(upstream)),
                                               upstream) for column in self.columns}
        except Refused as refused:
            raise Refused(self.key, f"{self.label}, row {number}: {refused}") from None


@dataclass(frozen=True, kw_only=True)
class File(Field):
    """A file kept in the project: {"sha256": ..., "name": ...}, or None."""

    kinds: tuple[str, ...] = ()
    largest: int = 500_000_000

    def checked(self, value, upstream):
        if value is None:
            return None
        if not (isinstance(value, Mapping) and {"sha256", "name"} <= set(value)):
            raise Refused(self.key, f"{self.label} must name a file kept in the project, "
                                    f"but it is {value!r}.")
        return dict(value)


@dataclass(frozen=True)
class Result:
    """One result: SI value (float, int, Band, str, bool or None) and the unit it is shown in.

    `significant` digits: more than three for a factor near one or a dimension to be built.
    """

    key: str
    label: str
    value: Any
    shown: str = "-"
    symbol: str = ""
    help: str = ""
    significant: int = 3


@dataclass(frozen=True)
class Check:
    """A verdict with the value, its limit and where the limit comes from.

    `message` states the finding in a sentence; `advice` says what to change when it is not a pass.
    `value` and `limit` are SI numbers (or Bands, or text) shown in the unit `shown`.
    """

    key: str
    title: str
    verdict: str
    message: str
    value: Any = None
    limit: Any = None
    shown: str = "-"
    source: str = ""
    advice: str = ""

    def __post_init__(self):
        one_of("verdict", self.verdict, (PASS, CAUTION, STOP))


def graded(value: float, caution: float, stop: float) -> str:
    """Verdict of a value that should stay small: pass up to `caution`, stop beyond `stop`.

    For a value that should stay large give `caution` above `stop`.
    """
    if caution <= stop:
        return PASS if value <= caution else CAUTION if value <= stop else STOP
    return PASS if value >= caution else CAUTION if value >= stop else STOP


@dataclass(frozen=True)
class Worked:
    """One line of the worked calculation.

    `formula` and `numbers` are LaTeX: the formula, and the same with this project's numbers put
    in; `result` is the outcome with its unit as text.
    """

    title: str
    formula: str
    numbers: str
    result: str
    source: str = ""


@dataclass(frozen=True)
class Column:
    """A column of a result table; `significant` digits, more than three for dimensions."""

    key: str
    label: str
    shown: str = "-"
    significant: int = 3


@dataclass(frozen=True)
class Grid:
    """A table of results: rows are dicts of SI values by column key."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True)
class Outcome:
    """What a step found. `arrays` are for its figures and are not saved."""

    results: tuple[Result, ...] = ()
    checks: tuple[Check, ...] = ()
    worked: tuple[Worked, ...] = ()
    tables: tuple[Grid, ...] = ()
    arrays: Mapping[str, Any] = field(default_factory=dict)

    def __getitem__(self, key: str):
        """Value of the result with this key."""
        for result in self.results:
            if result.key == key:
                return result.value
        raise KeyError(key)

    def table(self, key: str) -> Grid:
        """The result table with this key."""
        for table in self.tables:
            if table.key == key:
                return table
        raise KeyError(key)

    @property
    def verdict(self) -> str:
        """The worst verdict among the checks."""
        verdicts = {check.verdict for check in self.checks}
        return STOP if STOP in verdicts else CAUTION if CAUTION in verdicts else PASS


class Run(Protocol):
    """A long computation's way to speak to whoever waits for it."""

    def report(self, fraction: float, text: str = "") -> bool:
        """Say how far it is (0..1); True means: stop now, raise `Cancelled`."""

    def preview(self, simulation: Mapping[str, Any]) -> None:
        """Hand over a first, coarse simulation while the fine one goes on."""


class Cancelled(Exception):
    """The user stopped a long computation."""


@dataclass(frozen=True, kw_only=True)
class Step:
    """A decision of the thread.

    `compute(inputs, upstream)` returns the `Outcome` quickly enough to follow a slider.
    `simulate(inputs, upstream, run)`, where a step has one, does the long part beside the page
    and returns named arrays and numbers; `compute` finds them in `upstream.simulation` (None until
    there is one). `simulated_by` names the inputs that the long part depends on. `needs` are the
    decisions that must be saved first; `uses` are taken into account when they exist.
    """

    key: str
    number: int
    title: str
    question: str
    fields: tuple[Field, ...]
    compute: Callable[[Mapping[str, Any], Upstream], Outcome]
    needs: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    simulate: Callable[[Mapping[str, Any], Upstream, Run], Mapping[str, Any]] | None = None
    simulated_by: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()  # topics of the cautions table shown on the page

    @property
    def upstream(self) -> tuple[str, ...]:
        """Every decision this one may stand on."""
        return self.needs + self.uses

    def field(self, key: str) -> Field:
        return next(field for field in self.fields if field.key == key)

    def defaults(self, upstream: Upstream) -> dict[str, Any]:
        """Every input at its default, in SI."""
        return {field.key: field.start(upstream) for field in self.fields}

    def checked(self, values: Mapping[str, Any], upstream: Upstream) -> dict[str, Any]:
        """All inputs, checked; those not given are at their defaults.

        Raises
        ------
        Refused
            Naming the first field that cannot be used, its value and the permitted range.
        """
        unknown = sorted(set(values) - {field.key for field in self.fields})
        if unknown:
            raise Refused(unknown[0], f"{self.title} has no input named {', '.join(unknown)}.")
        full = self.defaults(upstream) | dict(values)
        return {f.key: f.checked(full[f.key], upstream) if f.applies(full) else full[f.key]
                for f in self.fields}

    def run(self, values: Mapping[str, Any], upstream: Upstream) -> Outcome:
        """Check the inputs, then compute."""
        return self.compute(self.checked(values, upstream), upstream)


def typical(value) -> float:
    """The number to use where a range is not carried: a band's typical value, or the number."""
    return value.typical if isinstance(value, Band) else float(value)


def as_band(value) -> Band:
    """A number as a band without width; a band as it is."""
    return value if isinstance(value, Band) else Band.exact(float(value))


def _number(label: str, value) -> float:
    if isinstance(value, (bool, np.bool_)) or not isinstance(value, (int, float, np.number)):
        raise Refused(label, f"{label} must be a number, but it is {value!r}.")
    return float(value)


def _unit_text(shown: str) -> str:
    return "" if shown == "-" else shown
