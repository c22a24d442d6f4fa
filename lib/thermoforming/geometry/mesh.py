"""A mesh file in, a surface in metres out, and every problem reported in words."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import trimesh

from thermoforming.geometry.soundness import KINDS, Finding, merged, put_right, rims
from thermoforming.geometry.surface import Surface
from thermoforming.guard import one_of

UNITS = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254}
FORMATS = ("stl", "obj", "ply", "3mf")
MOST_TRIANGLES = 2_000_000
SMALLEST, LARGEST = 0.01, 3.0  # longest edge of the box of a part that can be meant [m]
MOST_BYTES = 800_000_000
_3MF_UNITS = {"millimeter": "mm", "centimeter": "cm", "meter": "m", "inch": "in"}


@dataclass(frozen=True, eq=False)
class Reading:
    """What a file held.

    Parameters
    ----------
    surface : Surface or None
        The mesh in metres; None when it cannot be used.
    findings : tuple of Finding
        Everything noticed, stops first.
    """

    surface: Surface | None
    findings: tuple[Finding, ...]

    @property
    def usable(self) -> bool:
        """No stop was found."""
        return self.surface is not None


def read_mesh(source, unit: str | None, kind: str = "surface", name: str = "") -> Reading:
    """Read a part from a file or from bytes, check it, and put right what needs no guess.

    Parameters
    ----------
    source : path or bytes
        STL, OBJ, PLY or 3MF.
    unit : str or None
        Length unit of the numbers in the file: mm, cm, m or in. It is asked for, never guessed.
    kind : str
        "surface" (what touches the tool, open at its rim), "solid" (both sides of the part) or
        "block" (the tool).
    name : str
        File name, needed with bytes: its ending tells the format.

    Returns
    -------
    Reading
        The surface in metres and all findings; no exception for a bad file.
    """
    one_of("kind", kind, tuple(KINDS))
    try:
        scale = _scale(unit)
        content, ending = _content(source, name)
        surface, notes = _parse(content, ending, unit, scale)
    except _Stop as stop:
        return Reading(None, (stop.finding,))
    notes += _size(surface, unit)
    surface, found = put_right(surface, kind)
    findings = sorted(notes + found, key=lambda f: ("stop", "caution", "pass").index(f.verdict))
    stopped = any(f.verdict == "stop" for f in findings)
    return Reading(None if stopped else surface, tuple(findings))


def stand(surface: Surface, up: str = "+z") -> Surface:
    """Turn the chosen direction to +z, the middle of the plan to the origin, the rim to z = 0.

    Parameters
    ----------
    surface : Surface
        As read. [m]
    up : str
        Direction in which the part leaves the tool: +x, -x, +y, -y, +z or -z.

    Returns
    -------
    Surface
        The rim is the longest open run of edges at its mean height; a closed body has none and
        is set down by its highest point. [m]
    """
    one_of("up", up, ("+x", "-x", "+y", "-y", "+z", "-z"))
    axis = "xyz".index(up[1])
    sign = 1.0 if up[0] == "+" else -1.0
    rotation = np.roll(np.eye(3), axis + 1, axis=1) * np.array([[1.0], [sign], [sign]])
    turned = surface.moved(rotation)
    loops = rims(turned.edges.open)
    level = turned.vertices[loops[0], 2].mean() if loops else turned.bounds[1, 2]
    middle = turned.bounds.mean(axis=0)
    return turned.moved(np.eye(3), (-middle[0], -middle[1], -level))


class _Stop(Exception):
    def __init__(self, text: str, advice: str):
        super().__init__(text)
        self.finding = Finding("stop", text, advice)


def _scale(unit: str | None) -> float:
    if not unit:
        raise _Stop("The length unit of the file is not stated.",
                    f"Choose the unit the part was drawn in: {', '.join(UNITS)}.")
    if unit not in UNITS:
        raise _Stop(f"The unit {unit!r} is not known.", f"Choose one of {', '.join(UNITS)}.")
    return UNITS[unit]


def _content(source, name: str) -> tuple[bytes, str]:
    if isinstance(source, (bytes, bytearray, memoryview)):
        content = bytes(source)
    else:
        path = Path(source).expanduser()
        name = name or path.name
        if not path.is_file():
            raise _Stop(f"There is no file {path}.", "Check the path, or upload the file.")
        if path.stat().st_size > MOST_BYTES:
            raise _Stop(f"{name} is larger than {MOST_BYTES / 1e6:.0f} MB.",
                        "Export it coarser: 0.05 mm chord height is enough for a formed part.")
        content = path.read_bytes()
    ending = Path(name).suffix.lower().lstrip(".")
    if ending not in FORMATS:
        raise _Stop(f"{name or 'The file'} does not end in one of {', '.join(FORMATS)}.",
                    "Export the part from CAD as STL, OBJ, PLY or 3MF.")
    if not content:
        raise _Stop(f"{name} is empty.", "Export or copy the file again.")
    return content, ending


def _parse(content: bytes, ending: str, unit: str, scale: float):
    if ending == "stl":
        _check_stl(content)
    if ending == "3mf":
        _check_3mf(content)
    if ending == "obj":
        _check_obj(content)
    try:
        loaded = trimesh.load(io.BytesIO(content), file_type=ending, process=False)
        mesh = loaded.to_mesh() if isinstance(loaded, trimesh.Scene) else loaded
        faces = np.asarray(getattr(mesh, "faces", ()))  # a cloud of points has none
    except Exception as problem:  # the readers raise whatever they stumble over
        raise _Stop(f"The file is not a readable {ending.upper()} mesh ({_first_line(problem)}).",
                    "It may be cut off, or another kind of file with the wrong ending; export "
                    "or copy it again.") from None
    if not isinstance(mesh, trimesh.Trimesh) or len(faces) == 0:
        raise _Stop("The file holds no triangles: it is not a mesh, or it is cut off.",
                    "Export the part as a triangle mesh (not a drawing, points or curves).")
    _limit(len(faces))
    if not np.isfinite(mesh.vertices).all():
        raise _Stop("The file holds coordinates that are not numbers.", "Export the part again.")
    points = _points(content) if ending == "obj" else len(mesh.vertices)
    used = int(np.count_nonzero(np.bincount(faces.ravel())))
    if used < 0.95 * points:
        raise _Stop(f"Of {points:,} points only {used:,} belong to a "
                    "triangle: the file is probably cut off.",
                    "Copy or export it again; leave loose points out of the export.")
    vertices, faces = merged(np.asarray(mesh.vertices, dtype=float), faces)
    surface = Surface(vertices * scale, faces)
    return surface, _own_unit(loaded, ending, unit)


def _limit(triangles: int) -> None:
    if triangles > MOST_TRIANGLES:
        raise _Stop(f"The mesh has {triangles:,} triangles; {MOST_TRIANGLES:,} is the most.",
                    "Export it coarser: 0.05 mm chord height is enough for a formed part.")


def _check_stl(content: bytes) -> None:
    if content[:5] == b"solid" and b"facet" in content[:2000]:
        if b"endsolid" not in content[-500:]:
            raise _Stop("The STL file is cut off: its last line, endsolid, is missing.",
                        "Copy or export it again; the transfer was probably interrupted.")
        return
    count = int.from_bytes(content[80:84], "little") if len(content) >= 84 else -1
    expected = 84 + 50 * count
    words = content[:4096].isascii() and b"\0" not in content[:4096]
    if words or count < 0 or len(content) > expected + 10_000 or count == 0:
        raise _Stop("The file is not an STL mesh.",
                    "It is another kind of file with the wrong ending; export the part again.")
    if len(content) < expected:
        raise _Stop(f"The STL file is cut off: it announces {count:,} triangles and has room for "
                    f"{(len(content) - 84) // 50:,}.",
                    "Copy or export it again; the transfer was probably interrupted.")
    _limit(count)


def _check_obj(content: bytes) -> None:
    faces = re.findall(rb"(?m)^f[ \t].*$", content)
    if not faces or not _points(content):
        raise _Stop("The file holds no triangles: it is not a mesh, or it is cut off.",
                    "Export the part as a triangle mesh (not a drawing, points or curves).")
    last = [int(n) for n in re.findall(rb"(?<![\d/])(\d+)", faces[-1])]
    if len(last) < 3 or max(last) > _points(content):
        raise _Stop("The OBJ file is cut off: its last face is not complete.",
                    "Copy or export it again; the transfer was probably interrupted.")


def _points(obj: bytes) -> int:
    return len(re.findall(rb"(?m)^v[ \t]", obj))


def _check_3mf(content: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
    except zipfile.BadZipFile:
        raise _Stop("The 3MF file is cut off or not a 3MF file.",
                    "Copy or export it again.") from None
    if unpacked > MOST_BYTES:
        raise _Stop(f"The 3MF file unpacks to {unpacked / 1e6:.0f} MB.", "Export it coarser.")


def _own_unit(loaded, ending: str, unit: str) -> list[Finding]:
    stated = _3MF_UNITS.get(getattr(loaded, "units", None) or "")
    if ending != "3mf" or stated in (None, unit):
        return []
    return [Finding("caution", f"The file says its unit is {stated}, you chose {unit}.",
                    f"Use {stated} unless you know that the file is wrong.")]


def _size(surface: Surface, unit: str) -> list[Finding]:
    longest = float(surface.size.max())
    if SMALLEST <= longest <= LARGEST:
        text = " x ".join(f"{edge * 1e3:.1f}" for edge in surface.size)
        return [Finding("pass", f"The part is {text} mm, in {len(surface.faces):,} triangles.")]
    likely = [u for u, s in UNITS.items() if 0.02 <= longest / UNITS[unit] * s <= 2.0]
    advice = f"Probably the file is in {' or '.join(likely)}." if likely else "Check the file."
    word = "small" if longest < SMALLEST else "large"
    return [Finding("stop", f"The part would be {longest * 1e3:.4g} mm long, far too {word}.",
                    f"{advice} Change the unit.")]


def _first_line(problem: Exception) -> str:
    return (str(problem).splitlines() or [type(problem).__name__])[0][:120]
