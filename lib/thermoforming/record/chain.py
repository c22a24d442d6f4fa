"""A folder of numbered records, each sealed and each naming the hash of the one before."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path

from thermoforming.guard import Refused
from thermoforming.record import files, schema, spelling
from thermoforming.record.errors import Damaged, Missing, not_read, not_saved

OWN = {"schema", "kind", "author", "place", "number", "saved_utc", "previous", "sha256"}
NUMBERED = re.compile(r"([0-9]{4,})\.json")


def now() -> datetime:
    """The time of the computer's clock, in UTC."""
    return datetime.now(timezone.utc)


@dataclass(frozen=True)
class Record:
    """One record as it was read: never changed, named by its hash."""

    number: int
    sha256: str
    content: dict
    path: Path

    @property
    def author(self) -> str:
        return self.content["author"]

    @property
    def saved(self) -> datetime:
        """When, by the clock of the computer that saved it (UTC)."""
        return datetime.fromisoformat(self.content["saved_utc"])

    @property
    def previous(self) -> str | None:
        """Hash of the record before this one in its folder."""
        return self.content["previous"]


class Chain:
    """The records of one kind in one folder: 0001.json, 0002.json and so on."""

    def __init__(self, root: Path, parts: tuple[str, ...], kind: str, record: type = Record):
        self.root, self.parts, self.kind, self.record = root, parts, kind, record
        self.folder = root.joinpath(*parts)

    def numbers(self) -> list[int]:
        """Numbers that are taken, in order."""
        try:
            found = (NUMBERED.fullmatch(name) for name in files.names(self.root, self.folder))
        except OSError as error:
            raise not_read(self.folder, error) from error
        return sorted({int(match[1]) for match in found if match})

    def path(self, number: int) -> Path:
        return self.folder / f"{number:04d}.json"

    def read(self, number: int) -> Record:
        """One record, its hash and its place checked.

        Raises
        ------
        Damaged, NewerSchema
            If it is not there, not what was written, or from a newer version.
        """
        path = self.path(number)
        try:
            data = files.read(path)
        except FileNotFoundError:
            raise Missing(path, f"is not there. {spelling.ADVICE}") from None
        except OSError as error:
            raise not_read(path, error) from error
        return self._opened(data, number)

    def _opened(self, data: bytes, number: int) -> Record:
        path = self.path(number)
        content, sha256 = spelling.unseal(data, path)
        content = schema.migrated(content, self.kind, path)
        if content.get("number") != number or content.get("place") != "/".join(self.parts):
            raise Damaged(path, "belongs elsewhere: it is record "
                                f"{content.get('number')} of {content.get('place')}. Move it back.")
        return self.record(number, sha256, content, path)

    def all(self) -> list[Record]:
        """Every record in order, each checked."""
        return [self.read(number) for number in self.numbers()]

    def latest(self) -> Record | None:
        """The record with the highest number, or None."""
        numbers = self.numbers()
        return self.read(numbers[-1]) if numbers else None

    def append(self, content: Mapping, author: str, accept=lambda latest: None) -> Record:
        """Write the next record.

        `accept(latest)` is asked before each attempt, so again when somebody else took the
        number meanwhile; it raises to give up.

        Raises
        ------
        Refused
            If `content` has a key of the record's own.
        NotSaved
            If it cannot be written; everything before is untouched.
        NotConfirmed
            If it is in place but the disk did not confirm it.
        """
        if reserved := sorted(OWN & content.keys()):
            raise Refused("content", f"{', '.join(reserved)} may not be given: the record writes "
                                     "that itself.")
        while True:
            latest = self.latest()
            accept(latest)
            number = latest.number + 1 if latest else 1
            data = spelling.seal({
                **content, "schema": schema.CURRENT, "kind": self.kind, "author": author,
                "place": "/".join(self.parts), "number": number,
                "saved_utc": now().isoformat(timespec="milliseconds"),
                "previous": latest.sha256 if latest else None})
            try:
                files.make_folder(self.root, *self.parts)
                files.publish(self.path(number), data)
            except FileExistsError:
                continue
            except OSError as error:
                raise not_saved(self.path(number), error) from error
            return self._opened(data, number)
