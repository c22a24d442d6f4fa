"""Level 1: draw ratios and the mean gauge, which follow from areas alone."""

from __future__ import annotations

import numpy as np

from thermoforming.guard import Refused, within


def areal_draw_ratio(formed_area, sheet_area):
    """Areal draw ratio: formed surface inside the clamp over the flat sheet it came from.

    .. math:: R_A = A_{formed} / A_{sheet}

    Parameters
    ----------
    formed_area : float or array
        Surface of the formed sheet inside the clamp, walls and floors both, > 0. [m2]
    sheet_area : float or array
        Flat area inside the clamp, > 0 and at most the formed area. [m2]

    Returns
    -------
    float or array
        At least 1. [1]

    Raises
    ------
    Refused
        If an area is not finite or not above zero, or the formed area is the smaller.

    Notes
    -----
    It says nothing of where the sheet is thin.

    References
    ----------
    Definition.
    """
    within("formed area", formed_area, 0.0, unit="m2", above=True)
    within("sheet area", sheet_area, 0.0, unit="m2", above=True)
    ratio = np.asarray(formed_area, float) / sheet_area
    if np.any(ratio < 1.0 - 1e-9):
        raise Refused("formed area", f"formed area is {np.min(formed_area):.6g} m2, less than the "
                                     f"flat sheet of {np.max(sheet_area):.6g} m2 it came from; is "
                                     "the surface cut off, or in the wrong unit?")
    return ratio[()]


def cup_area_ratio(rim_radius: float, floor_radius: float, depth: float) -> float:
    """Areal draw ratio of a round cup with straight walls and a flat floor.

    .. math:: R_A = ((R + r) \\sqrt{(R - r)^2 + h^2} + r^2) / R^2

    Parameters
    ----------
    rim_radius : float
        R, > 0. [m]
    floor_radius : float
        r, 0 (a cone) to R (a cylinder). [m]
    depth : float
        h, >= 0. [m]

    Returns
    -------
    float
        Areal draw ratio. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Geometry of the truncated cone.
    """
    within("rim radius", rim_radius, 0.0, unit="m", above=True)
    within("floor radius", floor_radius, 0.0, rim_radius, unit="m")
    within("depth", depth, 0.0, unit="m")
    slant = np.hypot(rim_radius - floor_radius, depth)
    return float(((rim_radius + floor_radius) * slant + floor_radius**2) / rim_radius**2)


def box_area_ratio(length: float, width: float, depth: float) -> float:
    """Areal draw ratio of a box with upright walls.

    .. math:: R_A = 1 + 2 h (L + W) / (L W)

    Parameters
    ----------
    length, width : float
        Sides of the opening, > 0. [m]
    depth : float
        h, >= 0. [m]

    Returns
    -------
    float
        Areal draw ratio. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Geometry of the box.
    """
    within("length", length, 0.0, unit="m", above=True)
    within("width", width, 0.0, unit="m", above=True)
    within("depth", depth, 0.0, unit="m")
    return float(1.0 + 2.0 * depth * (length + width) / (length * width))


def hemisphere_area_ratio() -> float:
    """Areal draw ratio of a hemisphere: 2, whatever its radius. [1]"""
    return 2.0


def linear_draw_ratio(width: float, depth: float) -> float:
    """Linear draw ratio across a form with upright walls.

    .. math:: R_L = (W + 2 h) / W

    Parameters
    ----------
    width : float
        W, > 0. [m]
    depth : float
        h, >= 0. [m]

    Returns
    -------
    float
        Length of the formed line over its length in the flat sheet. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Definition.
    """
    within("width", width, 0.0, unit="m", above=True)
    within("depth", depth, 0.0, unit="m")
    return float((width + 2.0 * depth) / width)


def depth_to_width(width: float, depth: float) -> float:
    """Depth over width of a form, the draw ratio of the shop floor.

    .. math:: R_H = h / W

    Parameters
    ----------
    width : float
        W, the lesser side of the opening, > 0. [m]
    depth : float
        h, >= 0. [m]

    Returns
    -------
    float
        Depth to width. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Definition.
    """
    within("width", width, 0.0, unit="m", above=True)
    within("depth", depth, 0.0, unit="m")
    return float(depth / width)


def mean_gauge(starting_gauge, area_ratio):
    """Mean gauge of the formed sheet inside the clamp.

    .. math:: \\bar t = t_0 / R_A

    Parameters
    ----------
    starting_gauge : float or array
        t0, > 0. [m]
    area_ratio : float or array
        Areal draw ratio, >= 1. [1]

    Returns
    -------
    float or array
        Mean gauge. [m]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Plastic keeps its volume, so this mean is right for every process; the least gauge lies below.

    References
    ----------
    Conservation of volume.
    """
    within("starting gauge", starting_gauge, 0.0, unit="m", above=True)
    within("areal draw ratio", area_ratio, 1.0)
    return starting_gauge / np.asarray(area_ratio, float)[()]
