"""A project as one zip file, out and in: hashes checked, nothing written outside its folder."""

from __future__ import annotations

import io
import re
import secrets
import shutil
import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from thermoforming.record import files, spelling
from thermoforming.record.check import check
from thermoforming.record.errors import NotSaved, RecordError, not_saved
from thermoforming.record.store import Project

ENTRY = re.compile(
    r"project\.json"
    r"|inputs/[0-9a-f]{64}\.[a-z0-9]{1,10}|inputs/[0-9a-f]{64}\.about\.json"
    r"|(decisions|reviews)/[a-z][a-z0-9_-]{0,40}/[0-9]{4,8}\.json"
    r"|(releases|trials|exports)/[0-9]{4,8}\.json"
    r"|exports/[0-9]{4,8}/[a-z0-9][a-z0-9-]{0,40}\.[a-z]{2,5}")
_NOT_WHOLE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OverflowError,
              RuntimeError, ValueError)
LIST = "contents.json"  # hash of every file in the zip: a chain cannot miss its newest record
MOST_FILES = 50_000
MOST_BYTES = 4 << 30
WHEN = (1980, 1, 1, 0, 0, 0)  # so that the same project gives the same zip


def to_zip(project: Project) -> bytes:
    """Everything that belongs to the project, and nothing else.

    Raises
    ------
    RecordError
        If the project is damaged: a copy must not carry that on unseen.
    """
    report = check(project.folder)
    if not report.whole:
        raise RecordError(f"{project.title} is damaged and was not packed. {report}")
    held = {name: files.read(path) for path in sorted(project.folder.rglob("*"))
            if ENTRY.fullmatch(name := path.relative_to(project.folder).as_posix())
            and path.is_file()}
    hashes = {name: spelling.digest(data) for name, data in held.items()}
    listed = spelling.seal({"schema": 1, "kind": "contents", "files": hashes})
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in {LIST: listed, **held}.items():
            archive.writestr(zipfile.ZipInfo(name, WHEN), data, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def from_zip(data: bytes, folder, most_bytes: int = MOST_BYTES) -> Project:
    """Unpack a project into a folder that does not exist yet; all of it or nothing.

    Raises
    ------
    RecordError
        If it is no zip, holds anything but a project, would write elsewhere, is larger than
        `most_bytes`, or if any hash in it is wrong.
    """
    folder = Path(folder)
    if folder.exists():
        raise NotSaved(f"{folder} exists already. Choose another folder.")
    beside = folder.with_name(f".{folder.name}.{secrets.token_hex(4)}{files.PART}")
    try:
        files.make_root(beside)
        _unpack(data, beside, most_bytes)
        report = check(beside)
        if not report.whole:
            raise RecordError("The zip holds a damaged project and was not unpacked. "
                              f"{str(report).replace(str(beside), folder.name)}")
        beside.rename(folder)
    except OSError as error:
        raise not_saved(folder, error) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return Project.open(folder)


def _unpack(data: bytes, folder: Path, most_bytes: int) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries, left = _entries(archive), most_bytes
            listed, hashes = entries.pop(LIST, None), {}
            for name, info in entries.items():
                content = _content(archive, info, left)
                left -= len(content)
                hashes[name] = spelling.digest(content)
                files.make_folder(folder, *PurePosixPath(name).parts[:-1])
                files.publish(folder / name, content)
            if listed:
                _compare(spelling.unseal(_content(archive, listed, left), Path(LIST))[0], hashes)
    except _NOT_WHOLE as error:
        raise RecordError(f"This is not a whole zip file ({error}). Have it sent again.") from None
    except FileExistsError as error:
        raise RecordError(f"The zip holds {error.filename} twice and was not unpacked.") from None


def _compare(listed: dict, found: dict[str, str]) -> None:
    """Refuse a zip that does not hold exactly the files that were packed."""
    wrong = sorted(set(listed["files"].items()) ^ set(found.items()))
    if wrong:
        raise RecordError(f"{wrong[0][0]} in the zip is missing or not what was packed. Have the "
                          "zip sent again.")


def _entries(archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """The files of the project by their place; the one folder around them may have any name."""
    found = [info for info in archive.infolist() if not info.is_dir()]
    if len(found) > MOST_FILES:
        raise RecordError(f"The zip holds {len(found)} files, more than a project has.")
    for info in found:
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise RecordError(f"{info.filename!r} is packed in an unusual way. Have the project "
                              "packed again by this workbook.")
        kind = stat.S_IFMT(info.external_attr >> 16)
        if kind not in (0, stat.S_IFREG):
            raise RecordError(f"{info.filename!r} in the zip is a link, not a file. Nothing was "
                              "unpacked.")
    around = _folder_around([info.filename for info in found])
    entries = {info.filename.removeprefix(around): info for info in found}
    for name in entries:
        if name != LIST and not ENTRY.fullmatch(name):
            raise RecordError(f"{name!r} in the zip is no part of a project. Nothing was unpacked.")
    if "project.json" not in entries or len(entries) != len(found):
        raise RecordError("The zip holds no project (project.json must be there once). Nothing "
                          "was unpacked.")
    return entries


def _folder_around(names: list[str]) -> str:
    """`tray/` for a zip somebody made of the folder itself; nothing for our own."""
    first = names[0].split("/")[0] + "/" if names else ""
    return first if all(name.startswith(first) for name in names) else ""


def _content(archive: zipfile.ZipFile, info: zipfile.ZipInfo, left: int) -> bytes:
    with archive.open(info) as stream:
        content = stream.read(left + 1)  # what it says about its own size is not believed
    if len(content) > left:
        raise RecordError("The zip unpacks to more than a project may hold. Nothing was unpacked.")
    return content
