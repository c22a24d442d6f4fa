"""Where each place of the flat sheet ends, and the image to print so that it looks right there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from scipy.ndimage import map_coordinates

from thermoforming.guard import Refused, finite, within


@dataclass(frozen=True)
class FlatMap:
    """Formed place of each pixel of a picture of the flat sheet.

    Attributes
    ----------
    xs, ys : array
        Middles of the pixels in the flat sheet. [m]
    place : array, shape (len(ys), len(xs), 3)
        Where they end, NaN outside the clamp. [m]
    area_ratio : array, shape (len(ys), len(xs))
        Formed over flat area there: how far the ink is spread. [1]
    """

    xs: np.ndarray
    ys: np.ndarray
    place: np.ndarray
    area_ratio: np.ndarray


def flat_map(flat, points, triangles, pixel: float) -> FlatMap:
    """Map a regular grid of the flat sheet on to the formed part.

    Barycentric interpolation in the triangles of the formed sheet:

    .. math:: x(X) = \\sum_k b_k(X)\\, x_k

    Parameters
    ----------
    flat : array, shape (n, 2)
        Nodes in the flat sheet. [m]
    points : array, shape (n, 3)
        Where they are on the part. [m]
    triangles : array of int, shape (m, 3)
        Triangles of both. [1]
    pixel : float
        Size of a pixel, > 0 and not so small that the picture has over 25 million. [m]

    Returns
    -------
    FlatMap
        The grid covers all nodes.

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    flat = np.ascontiguousarray(finite("flat points", flat), float)
    points = np.ascontiguousarray(finite("formed points", points), float)
    within("pixel size", pixel, 0.0, unit="m", above=True)
    low, high = flat.min(axis=0), flat.max(axis=0)
    count = np.maximum(np.ceil((high - low) / pixel - 1e-9).astype(int), 1)
    if count.prod() > 25_000_000:
        raise Refused("pixel size", f"pixels of {pixel:.3g} m make a picture of {count[0]} by "
                                    f"{count[1]}; choose larger ones.")
    xs, ys = (low[i] + pixel * (np.arange(count[i]) + 0.5) for i in (0, 1))
    triangles = np.ascontiguousarray(triangles, np.int64)
    place = np.full((len(ys), len(xs), 3), np.nan)
    ratio = np.full((len(ys), len(xs)), np.nan)
    _fill(place, ratio, flat, points, triangles, low, pixel)
    return FlatMap(xs, ys, place, ratio)


@njit(cache=True)
def _fill(place, ratio, flat, points, triangles, low, pixel):
    rows, cols = ratio.shape
    for t in range(len(triangles)):
        i, j, k = triangles[t]
        ax, ay = flat[i]
        ux, uy = flat[j, 0] - ax, flat[j, 1] - ay
        vx, vy = flat[k, 0] - ax, flat[k, 1] - ay
        det = ux * vy - uy * vx
        if det == 0.0:
            continue
        formed = np.cross(points[j] - points[i], points[k] - points[i])
        share = np.sqrt(formed @ formed) / abs(det)
        left = max(int(np.floor((min(ax, ax + ux, ax + vx) - low[0]) / pixel - 0.5)), 0)
        right = min(int(np.ceil((max(ax, ax + ux, ax + vx) - low[0]) / pixel)), cols - 1)
        down = max(int(np.floor((min(ay, ay + uy, ay + vy) - low[1]) / pixel - 0.5)), 0)
        up = min(int(np.ceil((max(ay, ay + uy, ay + vy) - low[1]) / pixel)), rows - 1)
        for row in range(down, up + 1):
            for col in range(left, right + 1):
                px = low[0] + pixel * (col + 0.5) - ax
                py = low[1] + pixel * (row + 0.5) - ay
                b = (px * vy - py * vx) / det
                c = (ux * py - uy * px) / det
                if b < -1e-9 or c < -1e-9 or b + c > 1.0 + 1e-9:
                    continue
                for axis in range(3):
                    place[row, col, axis] = ((1.0 - b - c) * points[i, axis]
                                             + b * points[j, axis] + c * points[k, axis])
                ratio[row, col] = share


def distorted(picture, found: FlatMap, corner, size) -> np.ndarray:
    """Image to print on the flat sheet so that a picture looks right from along the pull.

    Each pixel of the flat sheet takes the colour that the picture has where the pixel ends:

    .. math:: I_{flat}(X) = I(x(X))

    Parameters
    ----------
    picture : array, shape (rows, columns, channels), values 0 to 255
        The picture as it shall look on the part seen from above, first row at the top. [1]
    found : FlatMap
        From `flat_map`.
    corner : sequence of float
        Lower left corner of the picture on the part, in plan. [m]
    size : sequence of float
        Width and height of the picture on the part, > 0. [m]

    Returns
    -------
    array of uint8, shape (rows, columns, 4)
        Red, green, blue, opacity, first row at the top; clear where the picture does not reach.

    Raises
    ------
    Refused
        If the picture is not a picture, or a size is not above zero.

    Notes
    -----
    Seen along the pull a steep wall shows little of the picture; on walls the print is drawn out
    and pale. Interpolation is linear between pixels.
    """
    picture = np.asarray(finite("picture", picture), float)
    if picture.ndim != 3 or picture.shape[2] not in (3, 4):
        raise Refused("picture", "The picture must have rows, columns and three or four channels.")
    within("picture size", size, 0.0, unit="m", above=True)
    rows, cols = picture.shape[:2]
    x = (found.place[..., 0] - corner[0]) / size[0] * cols - 0.5
    y = rows - 0.5 - (found.place[..., 1] - corner[1]) / size[1] * rows
    inside = (x >= -0.5) & (x <= cols - 0.5) & (y >= -0.5) & (y <= rows - 0.5)
    at = np.array([np.where(inside, y, 0.0), np.where(inside, x, 0.0)])
    image = np.zeros((*x.shape, 4))
    image[..., 3] = 255.0
    for channel in range(picture.shape[2]):
        image[..., channel] = map_coordinates(picture[..., channel], at, order=1, mode="nearest")
    image[~inside] = 0.0
    return np.clip(np.rint(image[::-1]), 0, 255).astype(np.uint8)
