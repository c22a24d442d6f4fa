"""Where values come from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from thermoforming.guard import one_of
from thermoforming.reference.tables import read

#: How far a value can be trusted: seen in the named source; what shops do, without a source;
#: recalled from the named source or from general knowledge; measured by the user.
BASES = ("published", "common practice", "from memory", "measured")


@dataclass(frozen=True)
class Source:
    """One cited source: id, full citation, kind, and how it was read."""

    id: str
    citation: str
    kind: str
    read: str


@cache
def sources() -> dict[str, Source]:
    """All cited sources by id."""
    return {row["id"]: Source(**row) for row in read("sources")}


def source(id: str) -> Source:
    """The source with this id.

    Raises
    ------
    Refused
        If there is none.
    """
    return sources()[one_of("source", id, tuple(sources()))]
