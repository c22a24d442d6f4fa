"""The only place that touches the disk: whole files or none, flushed, never overwritten.

Nothing here leaves a lock that outlives its process. A kill at any moment may leave a file ending
in `.part`; nobody reads those and they may be deleted.
"""

from __future__ import annotations

import errno
import os
import secrets
from pathlib import Path

from thermoforming.record.errors import NotConfirmed, NotSaved

PART = ".part"
LOCK = ".lock"
_BINARY = getattr(os, "O_BINARY", 0)  # Windows would otherwise rewrite line ends
_NO_LINKS = {errno.EPERM, errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOTSUP, errno.EMLINK,
             errno.EXDEV}


def read(path: Path) -> bytes:
    """All bytes of a file."""
    descriptor = os.open(path, os.O_RDONLY | _BINARY)
    try:
        pieces = []
        while piece := os.read(descriptor, 1 << 20):
            pieces.append(piece)
        return b"".join(pieces)
    finally:
        os.close(descriptor)


def names(root: Path, folder: Path) -> list[str]:
    """Names in a folder below `root`, sorted; none if there is no such folder.

    If `root` itself is gone that is an error: a lost share must not look like an empty project.
    """
    try:
        return sorted(os.listdir(folder))
    except FileNotFoundError:
        os.listdir(root)
        return []


def make_root(folder: Path) -> None:
    """The folder of a new project, with those above it."""
    os.makedirs(folder, exist_ok=True)


def make_folder(root: Path, *parts: str) -> Path:
    """The folder `parts` below an existing `root`, made if need be and never through a link."""
    folder = root
    for part in parts:
        folder = folder / part
        if os.path.islink(folder):
            raise NotSaved(f"Nothing was saved: {folder} is a link to another place. Replace it "
                           "by a real folder, then save again.")
        try:
            os.mkdir(folder)
        except FileExistsError:
            continue
        sync_folder(folder.parent)
    return folder


def publish(path: Path, data: bytes) -> None:
    """Create `path` holding `data`, all or nothing.

    Raises
    ------
    FileExistsError
        If the name is taken; the file there is untouched.
    OSError
        If it cannot be written; then there is no `path`.
    NotConfirmed
        If it is in place but the folder could not be flushed.
    """
    part = _write_part(path, data)
    try:
        _place(part, path)
        _confirm(path)
    finally:
        _forget(part)


def replace(path: Path, data: bytes) -> None:
    """Replace `path` by `data`: readers see the old or the new file, never a mixture."""
    part = _write_part(path, data)
    try:
        os.replace(part, path)
        _confirm(path)
    finally:
        _forget(part)


def sync_folder(folder: Path) -> None:
    """Flush the names in a folder (Windows does so by itself)."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno != errno.EINVAL:  # some shares cannot flush a folder at all
            raise
    finally:
        os.close(descriptor)


def _write_part(path: Path, data: bytes) -> Path:
    part = path.with_name(f".{path.name}.{os.getpid()}.{secrets.token_hex(4)}{PART}")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o644)
    try:
        try:
            rest = memoryview(data)
            while rest:
                rest = rest[os.write(descriptor, rest):]
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
    except OSError:
        _forget(part)
        raise
    return part


def _place(part: Path, path: Path) -> None:
    try:
        os.link(part, path)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        _rename_exclusively(part, path)


def _rename_exclusively(part: Path, path: Path) -> None:
    """For file systems without hard links (memory sticks, some shares)."""
    if os.name == "nt":
        os.rename(part, path)  # refuses by itself if the name is taken
        return
    import fcntl

    descriptor = os.open(path.with_name(LOCK), os.O_RDWR | os.O_CREAT, 0o644)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)  # the system drops it when the process ends
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
        os.rename(part, path)
    finally:
        os.close(descriptor)


def _confirm(path: Path) -> None:
    try:
        sync_folder(path.parent)
    except OSError as error:
        raise NotConfirmed(
            f"{path} was written whole, but the disk did not confirm that it would survive a "
            f"power cut ({error.strerror}). Look after the disk or share, then open the project "
            "again: if this revision is there, it is saved.") from error


def _forget(part: Path) -> None:
    try:
        os.unlink(part)
    except OSError:
        pass  # gone already (renamed), or left as a `.part` that nobody reads
