"""A box in a build volume."""

from __future__ import annotations

from itertools import permutations
from math import ceil

from thermoforming.guard import within


def pieces_to_build(size, build) -> tuple[int, tuple[int, int, int]]:
    """Fewest pieces into which a box is cut to fit a build volume, turned in any way.

    Parameters
    ----------
    size, build : tuple of float
        Box and build volume along x, y, z, > 0. [m]

    Returns
    -------
    count : int
        Pieces. [-]
    axes : tuple of int
        Which axis of the box lies along x, y and z of the machine; the box's own way is kept
        where it is as good as another.
    """
    within("size", size, 0.0, unit="m", above=True)
    within("build volume", build, 0.0, unit="m", above=True)

    def pieces(axes):
        counts = [ceil(size[axis] / room - 1e-9) for axis, room in zip(axes, build, strict=True)]
        return counts[0] * counts[1] * counts[2]

    axes = min(permutations(range(3)), key=pieces)
    return pieces(axes), axes
