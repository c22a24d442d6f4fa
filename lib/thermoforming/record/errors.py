"""What can go wrong with a record, each as a sentence that says what to do."""

from __future__ import annotations

import errno
from pathlib import Path


class RecordError(Exception):
    """Something about the record on disk; `str()` of it is meant for the person at the page."""


class NotSaved(RecordError):
    """Nothing was saved; what the page shows is still there to be saved again."""


class NotConfirmed(RecordError):
    """Written and in its place, but the disk did not confirm that it would survive a power cut."""


class Damaged(RecordError):
    """A file of the record is not what was written."""

    def __init__(self, path: Path, what: str):
        super().__init__(f"{path} {what}")
        self.path = path


class Missing(Damaged):
    """A file the record stands on is not there."""


class NewerSchema(RecordError):
    """The file was written by a newer version than this one can read."""


class SomeoneSavedFirst(RecordError):
    """Another revision was saved since the one this work started from.

    Attributes
    ----------
    latest : Revision
        The one that is there now.
    differences : list of Difference
        From that one to the one that was about to be saved.
    """

    def __init__(self, message: str, latest, differences: list):
        super().__init__(message)
        self.latest = latest
        self.differences = differences


_CAUSES = {
    (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        "the disk is full. Free some space, then try again",
    (errno.EACCES, errno.EPERM, errno.EROFS):
        "access is not permitted. Ask for permission to this folder, or copy the project to a "
        "folder of your own, then try again",
    (errno.ENOENT, errno.ENOTDIR, errno.ESTALE, errno.ENODEV, errno.EIO, errno.ENXIO,
     errno.ENOTCONN, errno.EHOSTDOWN, errno.ETIMEDOUT):
        "the folder is gone, or its disk or share is not answering. Connect it again, then try "
        "again",
    (errno.ENAMETOOLONG,):
        "the name of the folder is too long. Move the project to a shorter path, then try again",
}


def cause(error: OSError) -> str:
    """What an error of the operating system means here and what to do about it."""
    for numbers, text in _CAUSES.items():
        if error.errno in numbers:
            return text
    return f"the system reports: {error.strerror or error}. Try again when that is put right"


def not_saved(path: Path, error: OSError) -> NotSaved:
    """The refusal that goes with a failed write."""
    return NotSaved(f"Nothing was saved to {path}: {cause(error)}. Everything saved before is "
                    "untouched, and your work is still on this page.")


def not_read(path: Path, error: OSError) -> RecordError:
    """The refusal that goes with a failed read."""
    return RecordError(f"{path} cannot be read: {cause(error)}.")
