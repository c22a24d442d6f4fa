"""A material as a set of sourced values: bands, curves over temperature, flags and text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType

import numpy as np

from thermoforming.bands import Band
from thermoforming.guard import Refused, finite, one_of
from thermoforming.reference.check import problems
from thermoforming.reference.properties import Property, properties
from thermoforming.reference.sources import Source, sources
from thermoforming.reference.tables import read

ROOM = 296.15  # K, 23 °C: the standard atmosphere of ISO 291, to which table values refer


@dataclass(frozen=True)
class Value:
    """One row of a material table."""

    property: str
    temperature: float | None
    band: Band | None
    text: str
    source: Source
    basis: str
    note: str
    user: bool = False


@dataclass(frozen=True)
class Curve:
    """A property against temperature: linear between table temperatures.

    Outside them it refuses, or holds the end value where `outside="hold"` is asked for.
    A property known at one temperature only is `constant` and holds everywhere.
    """

    property: str
    temperature: np.ndarray
    low: np.ndarray
    typical: np.ndarray
    high: np.ndarray

    @property
    def constant(self) -> bool:
        return len(self.temperature) == 1

    def __call__(self, temperature, outside: str = "refuse"):
        """Low, typical and high at absolute temperatures [K], each shaped like the input.

        Raises
        ------
        Refused
            If a temperature is not finite, or outside the table and `outside` is "refuse".
        """
        self._inside(temperature, outside)
        return tuple(np.interp(temperature, self.temperature, values)
                     for values in (self.low, self.typical, self.high))

    def at(self, temperature: float, outside: str = "refuse") -> Band:
        """The band at one absolute temperature [K]; refuses like a call."""
        return Band(*self(float(temperature), outside))

    def line(self, position: float) -> np.ndarray:
        """One curve of the band at the table temperatures, by its quantile 0 to 1.

        A sampled material takes the same quantile at every temperature.
        """
        bands = map(Band, self.low, self.typical, self.high)
        return np.array([float(band.quantile(position)) for band in bands])

    def _inside(self, temperature, outside: str):
        one_of("outside", outside, ("refuse", "hold"))
        kelvin = np.asarray(finite(f"temperature of {self.property}", temperature), dtype=float)
        first, last = self.temperature[0], self.temperature[-1]
        wrong = (kelvin < first - 1e-6) | (kelvin > last + 1e-6)
        if outside == "refuse" and not self.constant and np.any(wrong):
            worst = float(kelvin[wrong].ravel()[0]) if kelvin.ndim else float(kelvin)
            raise Refused(self.property, f"{self.property} is known from {first - 273.15:.0f} to "
                                         f"{last - 273.15:.0f} °C, but was asked for at "
                                         f"{worst - 273.15:.0f} °C.")


@dataclass(frozen=True)
class Material:
    """A sheet or tool material: every value with its unit, source and basis.

    `user` marks a material that a project brought along; `base` names the shared material from
    which it takes what the user did not give.
    """

    key: str
    values: Mapping[str, tuple[Value, ...]] = field(repr=False)
    user: bool = False
    base: str = ""

    @classmethod
    def from_rows(cls, rows: Iterable[Mapping], base: Material | None = None) -> Material:
        """A user's own material from rows like those of the shared tables.

        Parameters
        ----------
        rows : iterable of mapping
            Cells material, property, temperature, low, typical, high, text, unit, source, basis,
            note; blank or missing where not used. `source` is free text, such as a data sheet's
            title and date.
        base : Material, optional
            Supplies the properties that the rows do not give.

        Raises
        ------
        Refused
            If a row breaks the rules of the shared tables; the message lists every problem.
        """
        rows = [dict(row) for row in rows]
        keys = {str(row.get("material", "")) for row in rows}
        if len(keys) != 1:
            raise Refused("material", "The rows of one material must all carry its one name.")
        wrong = problems(rows, own_sources=True)
        if wrong:
            raise Refused("material", "\n".join(wrong))
        inherited = dict(base.values) if base else {}
        return cls(keys.pop(), MappingProxyType(inherited | _by_property(rows, user=True)),
                   user=True, base=base.key if base else "")

    def __contains__(self, key: str) -> bool:
        return key in self.values

    @property
    def name(self) -> str:
        return self.text("name") if "name" in self else self.key

    def band(self, key: str, temperature: float | None = None) -> Band:
        """Low, typical, high of a property in its SI unit.

        Without `temperature` [K], a property that depends on it is given at 23 °C.

        Raises
        ------
        Refused
            If the material has no such value, or none at that temperature.
        """
        values = self._values(key, "value")
        if values[0].temperature is None:
            return values[0].band
        return self.curve(key).at(ROOM if temperature is None else temperature)

    def curve(self, key: str) -> Curve:
        """A property against temperature; constant where only one value is known.

        Raises
        ------
        Refused
            If the material has no such value.
        """
        values = self._values(key, "value")
        table = [(value.temperature or ROOM, value.band.low, value.band.typical, value.band.high)
                 for value in values]
        return Curve(key, *np.array(sorted(table)).T)

    def flag(self, key: str) -> bool:
        """Whether the material has a yes-or-no property; refuses if nothing is known."""
        return self._values(key, "flag")[0].band.typical == 1.0

    def text(self, key: str) -> str:
        """What the table says in words; refuses if it says nothing."""
        return self._values(key, "text")[0].text

    def source(self, key: str) -> Source:
        """Where a property's value comes from; refuses if there is no value."""
        return self._values(key)[0].source

    def basis(self, key: str) -> str:
        """On what basis a property's value stands; refuses if there is no value."""
        return self._values(key)[0].basis

    def _values(self, key: str, kind: str | None = None) -> tuple[Value, ...]:
        known: Property = properties()[one_of("property", key, tuple(properties()))]
        if kind is not None and known.kind != kind:
            raise Refused(key, f"{key} is a {known.kind}, not a {kind}.")
        if key not in self.values:
            raise Refused(key, f"{self.key} has no value for {known.label} ({key}).")
        return self.values[key]


@cache
def sheets() -> dict[str, Material]:
    """The shared sheet materials by key."""
    return _materials("sheets")


@cache
def tool_materials() -> dict[str, Material]:
    """The shared tool materials by key."""
    return _materials("tool_materials")


def _materials(table: str) -> dict[str, Material]:
    rows = read(table)
    wrong = problems(rows)
    if wrong:
        raise Refused(table, "\n".join(wrong[:20]))
    keys = dict.fromkeys(row["material"] for row in rows)
    return {key: Material(key, MappingProxyType(_by_property(
        [row for row in rows if row["material"] == key]))) for key in keys}


def _by_property(rows, user: bool = False) -> dict[str, tuple[Value, ...]]:
    found: dict[str, list[Value]] = {}
    for row in rows:
        found.setdefault(row["property"], []).append(_value(row, user))
    return {key: tuple(sorted(values, key=lambda value: value.temperature or 0.0))
            for key, values in found.items()}


def _value(row: Mapping, user: bool) -> Value:
    cells = {name: row.get(name, "") for name in ("low", "typical", "high")}
    band = None
    if properties()[row["property"]].kind != "text":
        band = Band(*(float(cell) for cell in cells.values()))
    temperature = row.get("temperature", "")
    cited = Source("user", row["source"], "user's own", "typed by the user") if user \
        else sources()[row["source"]]
    return Value(row["property"], None if temperature in ("", None) else float(temperature),
                 band, row.get("text", "") or "", cited, row["basis"], row.get("note", "") or "",
                 user)
