"""What is wrong with the rows of a material table, in words."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from thermoforming.reference.properties import Property, properties
from thermoforming.reference.sources import BASES, sources

#: A number must not be smaller than the one named after it (typical values of one material).
ORDER = (("forming_high", "forming_normal"), ("forming_normal", "forming_low"),
         ("surface_limit", "forming_high"), ("forming_low", "set_temperature"),
         ("hdt_low_load", "hdt_high_load"), ("modulus", "strength"),
         ("gauge_most", "gauge_least"), ("depth_ratio_assisted", "depth_ratio_straight"))


def problems(rows: Iterable[Mapping], own_sources: bool = False) -> list[str]:
    """Everything wrong with material rows, one line each; empty when they can be used.

    Parameters
    ----------
    rows : iterable of mapping
        Cells as in the material tables.
    own_sources : bool
        Sources are free text (a user's data sheet) instead of ids of the source table.
    """
    rows = list(rows)
    found = [line for row in rows for line in _row_problems(row, own_sources)]
    return found or _duplicates(rows) + _trends(rows) + _order(rows)


def _row_problems(row: Mapping, own_sources: bool) -> list[str]:
    where = f"{row.get('material') or 'a material without a name'}, {row.get('property', '')}"
    if not row.get("material"):
        return [f"{where}: the material has no name."]
    known = properties().get(row.get("property", ""))
    if known is None:
        return [f"{where}: not a property the tables know."]
    found = _provenance(row, known, own_sources)
    found += _text(row) if known.kind == "text" else _numbers(row, known)
    return [f"{where}: {line}" for line in found]


def _provenance(row: Mapping, known: Property, own_sources: bool) -> list[str]:
    found = []
    unit = row.get("unit", "")
    if unit != known.unit:
        found.append(f"unit is {unit!r}, but it must be {known.unit!r}.")
    cited = row.get("source", "")
    if not cited:
        found.append("no source.")
    elif not own_sources and cited not in sources():
        found.append(f"source {cited!r} is not in the source table.")
    if row.get("basis", "") not in BASES:
        found.append(f"basis is {row.get('basis', '')!r}, but it must be one of: "
                     f"{', '.join(BASES)}.")
    elif not own_sources and cited in sources():
        found += _basis_fits(row["basis"], sources()[cited].kind)
    return found


def _basis_fits(basis: str, kind: str) -> list[str]:
    unread = kind in ("practice", "memory")
    if basis == "published" and unread:
        return [f"basis is published, but the source is of the kind {kind}."]
    if basis == "measured":
        return ["measured values belong to a project, not to the shared tables."]
    return []


def _text(row: Mapping) -> list[str]:
    return [] if str(row.get("text") or "").strip() else ["no text."]


def _numbers(row: Mapping, known: Property) -> list[str]:
    try:
        low, typical, high = (float(row.get(name, "")) for name in ("low", "typical", "high"))
        kelvin = float(row.get("temperature") or "nan")
    except (TypeError, ValueError):
        return ["low, typical and high must all be numbers, temperature a number or blank."]
    if not all(map(math.isfinite, (low, typical, high))) or math.isinf(kelvin):
        return ["low, typical, high and temperature must be finite."]
    found = []
    if not low <= typical <= high:
        found.append(f"band out of order: {low:g}, {typical:g}, {high:g}.")
    if min(low, typical, high) < known.lowest or max(low, typical, high) > known.highest:
        found.append(f"{low:g} to {high:g} {known.unit} is outside what physics allows, "
                     f"{known.lowest:g} to {known.highest:g}.")
    if kelvin <= 0.0:
        found.append(f"temperature {kelvin:g} K is not above absolute zero.")
    if known.kind == "flag" and {low, typical, high} not in ({0.0}, {1.0}):
        found.append("a flag is 0 or 1 in low, typical and high.")
    return found


def _duplicates(rows: Sequence[Mapping]) -> list[str]:
    seen, found = defaultdict(list), []
    for row in rows:
        seen[row["material"], row["property"]].append(str(row.get("temperature") or ""))
    for (material, key), temperatures in seen.items():
        if len(temperatures) != len(set(temperatures)):
            found.append(f"{material}, {key}: two rows for the same property and temperature.")
        elif "" in temperatures and len(temperatures) > 1:
            found.append(f"{material}, {key}: one row has no temperature, others have.")
    return found


def _trends(rows: Sequence[Mapping]) -> list[str]:
    """Curves that must rise (enthalpy) or fall (modulus, strength) with temperature."""
    curves = defaultdict(list)
    for row in rows:
        trend = properties()[row["property"]].trend
        if trend and row.get("temperature"):
            curves[row["material"], row["property"], trend].append(row)
    return [f"{material}, {key}: {column} must {trend} with temperature."
            for (material, key, trend), points in curves.items()
            for column in ("low", "typical", "high") if not _goes(points, column, trend)]


def _goes(points: Sequence[Mapping], column: str, trend: str) -> bool:
    ordered = sorted(points, key=lambda row: float(row["temperature"]))
    sign = 1.0 if trend == "rise" else -1.0
    values = [sign * float(row[column]) for row in ordered]
    return all(a <= b for a, b in zip(values, values[1:]))


def _order(rows: Sequence[Mapping]) -> list[str]:
    typical = defaultdict(dict)
    for row in rows:
        if row.get("typical") not in ("", None):
            typical[row["material"]].setdefault(row["property"], float(row["typical"]))
    return [f"{material}: {larger} must not be below {smaller}."
            for material, values in typical.items() for larger, smaller in ORDER
            if larger in values and smaller in values and values[larger] < values[smaller]]
