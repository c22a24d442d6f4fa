"""Design rules and cautions: what the trade does, with its source and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from thermoforming.bands import Band
from thermoforming.guard import one_of
from thermoforming.reference.sources import Source, source
from thermoforming.reference.tables import read


@dataclass(frozen=True)
class Rule:
    """One design rule: a band in an SI unit, where it comes from, and on what basis."""

    topic: str
    case: str
    band: Band
    unit: str
    source: Source
    basis: str
    note: str


@dataclass(frozen=True)
class Caution:
    """One caution: what it says, for which materials (empty for all), and where it comes from."""

    topic: str
    materials: tuple[str, ...]
    text: str
    source: Source
    basis: str


@cache
def rules(topic: str) -> dict[str, Rule]:
    """The rules of one topic by case, in the order of the table.

    Raises
    ------
    Refused
        If there is no such topic.
    """
    table = read("rules")
    one_of("rule topic", topic, tuple(dict.fromkeys(row["topic"] for row in table)))
    return {row["case"]: _rule(row) for row in table if row["topic"] == topic}


def rule(topic: str, case: str) -> Rule:
    """The rule of one topic for one case.

    Raises
    ------
    Refused
        If there is no such topic or case.
    """
    found = rules(topic)
    return found[one_of(f"case of rule {topic!r}", case, tuple(found))]


@cache
def cautions(topic: str) -> tuple[Caution, ...]:
    """The cautions of one topic.

    Raises
    ------
    Refused
        If there is no such topic.
    """
    one_of("caution topic", topic, tuple(dict.fromkeys(row["topic"] for row in read("cautions"))))
    return tuple(each for each in _cautions() if each.topic == topic)


def cautions_for(material: str) -> tuple[Caution, ...]:
    """The cautions that name a material by its key."""
    return tuple(each for each in _cautions() if material in each.materials)


@cache
def _cautions() -> tuple[Caution, ...]:
    return tuple(Caution(row["topic"], tuple(row["materials"].split()), row["text"],
                         source(row["source"]), row["basis"]) for row in read("cautions"))


def _rule(row: dict[str, str]) -> Rule:
    band = Band(*(float(row[name]) for name in ("low", "typical", "high")))
    return Rule(row["topic"], row["case"], band, row["unit"], source(row["source"]),
                row["basis"], row["note"])
