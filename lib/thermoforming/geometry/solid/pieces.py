"""Splitting a tool into pieces that fit the build volume, joined by registered pegs."""

from __future__ import annotations

import manifold3d as m3
import numpy as np

from thermoforming.geometry.nest import pieces_to_build
from thermoforming.geometry.solid.plan import MM

PEG = 6.0   # mm, bore of a registering peg
LONG = 10.0  # mm, on each side of the joint


def split(tool: m3.Manifold, build, clearance: float) -> tuple[list[m3.Manifold], list[str]]:
    """Pieces of a tool and, in words, what could not be done.

    Cuts are upright planes across x and y, evenly spaced; pegs stand on one side and fit, with
    `clearance` [m] all round, into sockets of the other, where the tool is solid on both sides.
    """
    low, high = np.array(tool.bounding_box()).reshape(2, 3)
    count, parts = pieces_to_build(tuple((high - low) / MM), build)
    problems = []
    if count == 0 or parts[2] > 1:
        problems.append(f"The tool is {high[2] - low[2]:.0f} mm high and stands in no build "
                        f"volume of {', '.join(f'{b * MM:.0f}' for b in build)} mm.")
        return [tool], problems
    pieces = [tool]
    for axis in (0, 1):
        for k in range(1, parts[axis]):
            at = low[axis] + (high[axis] - low[axis]) * k / parts[axis]
            pieces, found = _cut(pieces, axis, at, clearance * MM)
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
    low, high = np.array(piece.bounding_box()).reshape(2, 3)
    other = 1 - axis
    fits = []
    for across in np.linspace(low[other], high[other], 41)[1:-1]:
        for up in np.linspace(low[2], high[2], 21)[1:-1]:
            place = np.zeros(3)
            place[axis], place[other], place[2] = at, across, up
            proof = _peg(axis, place, PEG + 4.0, LONG + 2.0)
            if (proof - piece).volume() < 1e-3:
                fits.append(place)
                break
    return [fits[0], fits[-1]] if len(fits) > 1 else fits


def _peg(axis: int, place, bore: float, reach: float = LONG) -> m3.Manifold:
    made = m3.Manifold.cylinder(2 * reach, bore / 2, circular_segments=24, center=True)
    turn = (0.0, 90.0, 0.0) if axis == 0 else (90.0, 0.0, 0.0)
    return made.rotate(turn).translate([float(c) for c in place])
