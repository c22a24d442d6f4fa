"""A plug's shape from the tool it works in: the tool's surface moved off by a clearance."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import grey_dilation

from thermoforming.geometry.columns import columns, top
from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused, within


def plug_surface(surface: Surface, clearance: float, share: float, cells: int = 140) -> Surface:
    """Underside of a plug that fills the cavities of a tool to a share of their depth.

    The tool's heights are lifted by a ball of the clearance's radius, which is the surface that
    keeps that distance, and the depth below the rim is then taken times the share.

    Parameters
    ----------
    surface : Surface
        Tool side, rim at z = 0, cavities below. [m]
    clearance : float
        Distance of the plug to the tool at full depth, > 0. [m]
    share : float
        Depth of the plug over that of the lifted surface, above 0 to 1. [-]
    cells : int
        Places of the plan grid along the longer side, 20 to 1000.

    Returns
    -------
    Surface
        Facing down, in the place it has at the end of its stroke; it runs a little above the rim.

    Raises
    ------
    Refused
        If nothing is left of the plug at this clearance.
    """
    within("plug clearance", clearance, 0.0, unit="m", above=True)
    within("plug depth share", share, 0.0, 1.0, above=True)
    within("cells", cells, 20, 1000)
    low, high = surface.bounds[:, :2]
    cell = float((high - low).max()) / cells
    xs, ys = (np.arange(low[i] + 0.5 * cell, high[i], cell) for i in (0, 1))
    heights = top(columns(surface), xs, ys)
    rim = float(surface.bounds[1, 2])
    lifted = _lifted(np.where(np.isfinite(heights), heights, rim), clearance, cell)
    depth = (rim - lifted) * share
    inside = depth > max(0.02 * depth.max(), 1e-4)
    if not inside.any():
        raise Refused("plug clearance", f"A clearance of {clearance:.4g} m leaves nothing of the "
                                        "plug; make it smaller.")
    return _underside(xs, ys, rim - depth, inside)


def _lifted(heights, radius, cell):
    """Upper envelope of balls of this radius rolled over the heights."""
    reach = int(np.ceil(radius / cell))
    y, x = np.mgrid[-reach:reach + 1, -reach:reach + 1] * cell
    far = x**2 + y**2
    ball = np.sqrt(np.maximum(radius**2 - far, 0.0))
    return grey_dilation(heights, footprint=far <= radius**2 * (1 + 1e-9), structure=ball)


def _underside(xs, ys, heights, inside) -> Surface:
    """Triangles over the cells with all corners on the plug, facing down."""
    number = np.full(heights.shape, -1)
    number[inside] = np.arange(inside.sum())
    x, y = np.meshgrid(xs, ys)
    points = np.column_stack([x[inside], y[inside], heights[inside]])
    a, b, c, d = number[:-1, :-1], number[:-1, 1:], number[1:, 1:], number[1:, :-1]
    whole = (a >= 0) & (b >= 0) & (c >= 0) & (d >= 0)
    if not whole.any():
        raise Refused("plug clearance", "The plug is too slender for its grid; make the "
                                        "clearance smaller.")
    faces = np.concatenate([np.column_stack([a[whole], c[whole], b[whole]]),
                            np.column_stack([a[whole], d[whole], c[whole]])])
    return Surface(points, faces).part(slice(None))
