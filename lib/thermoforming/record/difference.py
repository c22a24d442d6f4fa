"""What changed between two records, number by number."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

ABSENT = object()


@dataclass(frozen=True)
class Difference:
    """One value that differs; `old` or `new` is None where it was not there."""

    where: tuple[str, ...]
    old: object
    new: object

    @property
    def change(self) -> float | None:
        """New minus old where both are numbers."""
        if _is_number(self.old) and _is_number(self.new):
            return self.new - self.old
        return None

    @property
    def ratio(self) -> float | None:
        """Change relative to the old value where that can be said."""
        return self.change / abs(self.old) if self.change is not None and self.old else None

    def __str__(self) -> str:
        return f"{' '.join(self.where)}: {_shown(self.old)} → {_shown(self.new)}"


def differences(old, new, where: tuple[str, ...] = ()) -> list[Difference]:
    """All values that differ between two pieces of plain data, in reading order.

    >>> [str(d) for d in differences({"gauge": 2.0}, {"gauge": 2.5})]
    ['gauge: 2 → 2.5']
    """
    return list(_walk(old, new, where))


def _walk(old, new, where) -> Iterator[Difference]:
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        for key in [*old, *(key for key in new if key not in old)]:
            yield from _walk(old.get(key, ABSENT), new.get(key, ABSENT), (*where, str(key)))
    elif isinstance(old, list) and isinstance(new, list):
        for i in range(max(len(old), len(new))):
            yield from _walk(old[i] if i < len(old) else ABSENT,
                             new[i] if i < len(new) else ABSENT, (*where, str(i + 1)))
    elif old is ABSENT or new is ABSENT or not _same(old, new):
        yield Difference(where, None if old is ABSENT else old, None if new is ABSENT else new)


def _same(old, new) -> bool:
    return old == new and isinstance(old, bool) == isinstance(new, bool)


def _is_number(value) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _shown(value) -> str:
    if value is None:
        return "nothing"
    return f"{value:.6g}" if isinstance(value, float) else str(value)
