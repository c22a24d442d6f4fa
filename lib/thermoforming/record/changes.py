"""What changed between two decisions, as an engineer reads it: names, numbers and units.

`difference` compares any plain data by key; this module knows what a decision holds (inputs,
results, checks, tables, reason, input files) and speaks in its labels and shown units.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from thermoforming.units import shown_unit, to_shown, with_unit

EXACT = 0.0
COUNTS = ("-", "shots", "parts")
BAND = {"low", "typical", "high"}


@dataclass(frozen=True)
class Change:
    """One value that differs.

    Attributes
    ----------
    part : str
        Inputs, Results, Checks, Tables, Reason or Files.
    label : str
        Name of the value, as on the page.
    old, new
        Number (SI), band as a mapping, text or None; None where it was not there.
    shown : str
        Unit in which numbers are shown.
    """

    part: str
    label: str
    old: object
    new: object
    shown: str = "-"

    @property
    def shift(self) -> float | None:
        """New minus old typical value in SI, where both are numbers."""
        old, new = typical(self.old), typical(self.new)
        return None if old is None or new is None else new - old

    @property
    def within_band(self) -> bool | None:
        """Whether the new typical value lies in the old band; None if there was no band."""
        if not is_band(self.old) or self.shift is None or self.old["low"] == self.old["high"]:
            return None
        return self.old["low"] <= typical(self.new) <= self.old["high"]

    @property
    def share_of_band(self) -> float | None:
        """Shift relative to half the width of the old band, where it has a width."""
        if self.within_band is None:
            return None
        return self.shift / (0.5 * (self.old["high"] - self.old["low"]))

    def was(self, inches: bool = False) -> str:
        """The old value in words."""
        return words(self.old, self.shown, inches)

    def now(self, inches: bool = False) -> str:
        """The new value in words."""
        return words(self.new, self.shown, inches)

    def by(self, inches: bool = False) -> str:
        """How much it moved, in its unit and relative to the old value; empty for text."""
        if not self.shift:
            return ""
        unit = shown_unit(self.shown, inches)
        moved = to_shown(typical(self.new), unit) - to_shown(typical(self.old), unit)
        text = f"{moved:+.3g}" if unit == "-" else f"{moved:+.3g} {unit}"
        before = typical(self.old)
        relative = self.shift / abs(before) if before and self.shown != "°C" else None
        return text if relative is None else f"{text} ({100 * relative:+.2g} %)"

    def sentence(self, inches: bool = False) -> str:
        """The change as one sentence."""
        text = f"{self.label}: {self.was(inches)} → {self.now(inches)}"
        if moved := self.by(inches):
            text += f", {moved}"
        if self.within_band is not None:
            text += ", inside its band" if self.within_band else ", outside its band"
        return text + "."


def changes(old: Mapping, new: Mapping, tolerance: float = EXACT) -> list[Change]:
    """Everything that differs between the contents of two revisions, in reading order.

    Parameters
    ----------
    old, new : mapping
        Contents of revisions.
    tolerance : float
        Numbers count as the same if they differ by no more than this share of the larger.
    """
    found = [*_entries("Inputs", "inputs", old, new), *_entries("Results", "results", old, new),
             *_checks(old, new), *_tables(old, new), *_words(old, new)]
    return [change for change in found if not same(change.old, change.new, tolerance)]


def same(old, new, tolerance: float = EXACT) -> bool:
    """Whether two values are the same, numbers within a relative tolerance."""
    if _is_number(old) and _is_number(new):
        return math.isclose(old, new, rel_tol=tolerance, abs_tol=0.0) or old == new
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        return old.keys() == new.keys() and all(same(old[k], new[k], tolerance) for k in old)
    if isinstance(old, list) and isinstance(new, list):
        return len(old) == len(new) and all(map(lambda a, b: same(a, b, tolerance), old, new))
    return type(old) is type(new) and old == new


def count_values(content: Mapping) -> int:
    """How many values of results, checks and tables there are to compare."""
    cells = sum(len(row) for table in content.get("tables", {}).values() for row in table["rows"])
    return len(content.get("results", {})) + 3 * len(content.get("checks", [])) + cells


def words(value, shown: str = "-", inches: bool = False) -> str:
    """A value as people read it, numbers in the unit shown."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if _is_number(value):
        return _number_words(value, shown, inches)
    if is_band(value):
        return _band_words(value, shown, inches)
    if isinstance(value, Mapping):
        return str(value.get("name", ", ".join(f"{k} {v}" for k, v in value.items())))
    if isinstance(value, list):
        if value and isinstance(value[0], Mapping):
            return f"{len(value)} row{'s' * (len(value) > 1)}"
        return ", ".join(words(item, shown, inches) for item in value)
    return str(value)


def is_band(value) -> bool:
    """Whether a piece of plain data is a band."""
    return isinstance(value, Mapping) and set(value) == BAND


def typical(value) -> float | None:
    """The number, or the typical value of a band; None for anything else."""
    if is_band(value):
        return value["typical"]
    return value if _is_number(value) else None


def _number_words(value, shown: str, inches: bool) -> str:
    """Four significant digits, without zeros that say nothing; whole numbers whole."""
    unit = shown_unit(shown, inches)
    if isinstance(value, int) and unit in COUNTS:
        return str(value) if unit == "-" else f"{value} {unit}"
    near_one = unit == "-" and 0.9 < abs(value) < 1.1  # a scale: what counts comes late
    number, _, tail = with_unit(value, shown, 6 if near_one else 4, inches).partition(" ")
    if "." in number and "e" not in number:
        number = number.rstrip("0").rstrip(".")
    return f"{number} {tail}".strip()


def _band_words(band: Mapping, shown: str, inches: bool) -> str:
    if band["low"] == band["high"]:
        return _number_words(band["typical"], shown, inches)
    middle = with_unit(band["typical"], shown, 3, inches)
    unit = shown_unit(shown, inches)
    ends = [with_unit(band[end], shown, 3, inches).removesuffix(unit).strip()
            for end in ("low", "high")]
    return f"{middle} ({ends[0]} to {ends[1]})"


def _is_number(value) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _entries(part: str, key: str, old: Mapping, new: Mapping) -> Iterator[Change]:
    before, after = old.get(key, {}), new.get(key, {})
    for name in [*before, *(name for name in after if name not in before)]:
        was, now = _entry(before, name), _entry(after, name)
        about = now or was
        label, columns = about.get("label", name), about.get("columns")
        if columns:
            yield from _rows(part, label, columns, was.get("value"), now.get("value"))
        else:
            yield Change(part, label, *(entry.get("text", entry.get("value"))
                                        for entry in (was, now)), about.get("shown", "-"))


def _entry(entries: Mapping, name: str) -> Mapping:
    entry = entries.get(name, {})
    return entry if isinstance(entry, Mapping) else {"value": entry}


def _checks(old: Mapping, new: Mapping) -> Iterator[Change]:
    before, after = ({check.get("key") or check.get("title"): check
                      for check in content.get("checks", [])} for content in (old, new))
    for key in [*before, *(key for key in after if key not in before)]:
        was, now = before.get(key, {}), after.get(key, {})
        about = now or was
        title, shown = about.get("title", key), about.get("shown", "-")
        yield Change("Checks", title, was.get("verdict"), now.get("verdict"))
        yield Change("Checks", f"{title}, value", was.get("value"), now.get("value"), shown)
        yield Change("Checks", f"{title}, limit", was.get("limit"), now.get("limit"), shown)


def _tables(old: Mapping, new: Mapping) -> Iterator[Change]:
    before, after = old.get("tables", {}), new.get("tables", {})
    for key in [*before, *(key for key in after if key not in before)]:
        was, now = before.get(key, {}), after.get(key, {})
        about = now or was
        title = about.get("title", key)
        if was and now:
            yield from _rows("Tables", title, about.get("columns", []), was.get("rows"),
                             now.get("rows"))
        else:
            yield Change("Tables", title, was.get("rows"), now.get("rows"))


def _rows(part: str, title: str, columns: list, old, new) -> Iterator[Change]:
    old, new = old or [], new or []
    for i in range(max(len(old), len(new))):
        was, now = (rows[i] if i < len(rows) else {} for rows in (old, new))
        for column in columns:
            yield Change(part, f"{title}, row {i + 1}, {column.get('label', column['key'])}",
                         was.get(column["key"]), now.get(column["key"]), column.get("shown", "-"))


def _words(old: Mapping, new: Mapping) -> Iterator[Change]:
    yield Change("Reason", "Reason", old.get("reason", ""), new.get("reason", ""))
    before, after = old.get("files", {}), new.get("files", {})
    for name in [*before, *(name for name in after if name not in before)]:
        yield Change("Files", f"File {name}", _short(before.get(name)), _short(after.get(name)))


def _short(sha256: str | None) -> str | None:
    return sha256 and f"{sha256[:12]}…"
