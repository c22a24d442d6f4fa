"""Input files of a project: kept under the hash of their content, with the names they had."""

from __future__ import annotations

import re
from pathlib import Path

from thermoforming.guard import Refused
from thermoforming.record import files, schema, spelling
from thermoforming.record.chain import now
from thermoforming.record.errors import Damaged, Missing, not_read, not_saved
from thermoforming.record.rules import named

SHA256 = re.compile(r"[0-9a-f]{64}")
EXTENSION = re.compile(r"[a-z0-9]{1,10}")
ABOUT = ".about.json"


class Inputs:
    """The folder `inputs` of a project."""

    def __init__(self, root: Path):
        self.root, self.folder = root, root / "inputs"

    def hashes(self) -> list[str]:
        """Hashes of all files there are, sorted."""
        first = {name.split(".")[0] for name in self._names()}
        return sorted(filter(SHA256.fullmatch, first))

    def add(self, data: bytes, name: str, author: str = "") -> str:
        """Keep a file and return its hash.

        Raises
        ------
        NotSaved
            If it cannot be written.
        Damaged
            If this file was added before and was changed on disk since.
        """
        sha256 = spelling.digest(data)
        name = named("file name", Path(name.replace("\\", "/")).name)
        about = {"schema": schema.CURRENT, "kind": "input", "sha256_of": sha256, "name": name,
                 "bytes": len(data), "author": " ".join(author.split()),
                 "added_utc": now().isoformat("T", "seconds")}
        self._keep(f"{sha256}{ABOUT}", spelling.seal(about))
        if self.is_there(sha256):
            self.read(sha256)
        else:
            self._keep(f"{sha256}.{_extension(name)}", data)
        return sha256

    def is_there(self, sha256: str) -> bool:
        """Whether there is a file of that name (its content is not checked)."""
        return self._name(sha256) is not None

    def path(self, sha256: str) -> Path:
        """Where a file lies (its content is not checked; see `read`)."""
        name = self._name(sha256)
        if name is None:
            raise Missing(self.folder / sha256, "is missing: decisions stand on this file. Add "
                                                "the same file again, or put it back from a "
                                                "backup.")
        return self.folder / name

    def read(self, sha256: str) -> bytes:
        """Content of a file, its hash checked.

        Raises
        ------
        Missing, Damaged
            If it is not there, or not what was added.
        """
        path = self.path(sha256)
        try:
            data = files.read(path)
        except OSError as error:
            raise not_read(path, error) from error
        if spelling.digest(data) != sha256:
            raise Damaged(path, "was changed after it was added. Move it out of the project, then "
                                "add the original file again.")
        return data

    def about(self, sha256: str) -> dict:
        """Name, bytes, author and time of a file."""
        path = self.folder / f"{sha256}{ABOUT}"
        try:
            content, _ = spelling.unseal(files.read(path), path)
        except FileNotFoundError:
            raise Missing(path, "is missing: it holds the name of an input file. Add the same "
                                "file again.") from None
        except OSError as error:
            raise not_read(path, error) from error
        return schema.migrated(content, "input", path)

    def _names(self) -> list[str]:
        try:
            return files.names(self.root, self.folder)
        except OSError as error:
            raise not_read(self.folder, error) from error

    def _name(self, sha256: str) -> str | None:
        if not SHA256.fullmatch(sha256):
            raise Refused("sha256", f"{sha256!r} is not the hash of a file.")
        return next((name for name in self._names()
                     if name.startswith(sha256) and not name.endswith(ABOUT)), None)

    def _keep(self, name: str, data: bytes) -> None:
        path = self.folder / name
        try:
            files.make_folder(self.root, "inputs")
            files.publish(path, data)
        except FileExistsError:
            pass
        except OSError as error:
            raise not_saved(path, error) from error


def _extension(name: str) -> str:
    extension = Path(name).suffix.lower().lstrip(".")
    return extension if EXTENSION.fullmatch(extension) else "bin"
