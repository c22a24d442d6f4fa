"""Splitting a tool into pieces that fit the build volume, joined by registered pegs."""

from __future__ import annotations

import manifold3d as m3
import numpy as np

from thermoforming.geometry.solid.plan import MM

PEG = 6.0   # mm, bore of a registering peg
LONG = 10.0  # mm, on each side of the joint
MOST = 50  # pieces along one axis


def joints(low, high, size, build) -> tuple[tuple[tuple[int, float], ...], str]:
    """Upright cuts (axis, place in m), evenly spaced, and what cannot be done, in words.

    The tool stands upright in the machine, turned in plan where that takes fewer pieces.
    """
    ways = [(_counts(size[:2], plan), plan) for plan in (build[:2], build[1::-1])]
    counts, _ = min(ways, key=lambda way: way[0][0] * way[0][1])
    if size[2] > build[2] + 1e-9 or max(counts) > MOST:
        return (), (f"The tool of {' x '.join(f'{s * MM:.0f}' for s in size)} mm does not fit a "
                    f"build volume of {' x '.join(f'{b * MM:.0f}' for b in build)} mm by upright "
                    f"cuts; lay it down or build it in layers by hand.")
    cuts = [(axis, low[axis] + (high[axis] - low[axis]) * k / counts[axis])
            for axis in (0, 1) for k in range(1, counts[axis])]
    return tuple(cuts), ""


def _counts(size, plan) -> tuple[int, int]:
    """Pieces along x and y, with room for the pegs that stand out of a cut."""
    return tuple(next((n for n in range(1, MOST + 1)
                       if length / n + (LONG / MM if n > 1 else 0.0) <= room + 1e-9), MOST + 1)
                 for length, room in zip(size, plan, strict=True))


def split(tool: m3.Manifold, cuts, clearance: float) -> tuple[list[m3.Manifold], list[str]]:
    """Pieces of a tool and, in words, what could not be done.

    Pegs stand on one side of a cut and fit, with `clearance` [m] all round, into sockets of the
    other, where the tool is solid on both sides.
    """
    pieces, problems = [tool], []
    for axis, at in cuts:
        pieces, found = _cut(pieces, axis, at * MM, clearance * MM)
        problems += found
    return pieces, problems


def _cut(pieces, axis: int, at: float, clearance: float):
    normal = [0.0, 0.0, 0.0]
    normal[axis] = 1.0
    made, problems = [], []
    for piece in pieces:
        beyond, before = piece.split_by_plane(normal, at)
        if beyond.is_empty() or before.is_empty():
            made.append(piece)
            continue
        pegs = _pegs(piece, axis, at)
        if not pegs:
            problems.append(f"The joint at {'xy'[axis]} = {at:.1f} mm has no room for a "
                            f"registering peg of {PEG:.0f} mm; glue it in a jig.")
        for place in pegs:
            before = before + _peg(axis, place, PEG)
            beyond = beyond - _peg(axis, place, PEG + 2 * clearance)
        made += [before, beyond]
    return made, problems


def _pegs(piece, axis: int, at: float) -> list[np.ndarray]:
    """Up to two places far apart where a peg, and 2 mm around it, lies in the material."""
    turned = piece.rotate((0.0, -90.0, 0.0) if axis == 0 else (90.0, 0.0, 0.0))
    # the cut is now level: for x, (x, y, z) is (-z, y, x); for y, (x, y, z) is (x, -z, y)
    solid = turned.slice(at)
    for level in (at - LONG - 2.0, at - LONG / 2, at + LONG / 2, at + LONG + 2.0):
        solid = solid ^ turned.slice(level)
    room = solid.offset(-(PEG / 2 + 2.0), m3.JoinType.Round)
    corners = [point for polygon in room.to_polygons() for point in np.asarray(polygon)]
    if not corners:
        return []
    corners = np.array(corners)
    along = corners[:, 1] if axis == 0 else corners[:, 0]
    ends = [corners[int(np.argmin(along))], corners[int(np.argmax(along))]]
    if np.ptp(along) < 3 * PEG:
        ends = ends[:1]
    return [np.array([at, y, -x]) if axis == 0 else np.array([x, at, -y])
            for x, y in ends]


def _peg(axis: int, place, bore: float, reach: float = LONG) -> m3.Manifold:
    made = m3.Manifold.cylinder(2 * reach, bore / 2, circular_segments=24, center=True)
    turn = (0.0, 90.0, 0.0) if axis == 0 else (90.0, 0.0, 0.0)
    return made.rotate(turn).translate([float(c) for c in place])
