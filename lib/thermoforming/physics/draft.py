"""Draft a wall needs, what it costs in size, and the steps of a printed wall."""

from __future__ import annotations

import numpy as np

from thermoforming.guard import within


def required_draft(base, texture_depth=0.0, draft_per_depth=0.0, layer_height=0.0):
    r"""Draft that a wall needs, with its texture and the steps of its layers.

    .. math:: \theta = \theta_0 + k\,(d + h \sin\theta)

    A printed wall at draft theta has steps of depth h sin(theta) across the surface, which the
    formed sheet keys into as it keys into a texture; the equation is solved for theta.

    Parameters
    ----------
    base : float or array
        Draft of a smooth wall for this side and sheet, 0 to 0.5. [rad]
    texture_depth : float or array
        Depth of the texture, 0 to 0.002. [m]
    draft_per_depth : float or array
        Draft added by depth of texture, 0 to 2000. [rad/m]
    layer_height : float or array
        Layer of a printed wall, 0 when it is not printed or is smoothed, 0 to 0.001. [m]

    Returns
    -------
    float or array
        Required draft. [rad]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    Adding draft in proportion to the depth of a texture is a rule of the trade; treating layer
    steps as a texture is an extension of it (common practice, no source).
    """
    within("base draft", base, 0.0, 0.5, "rad")
    within("texture depth", texture_depth, 0.0, 0.002, "m")
    within("draft per depth", draft_per_depth, 0.0, 2000.0, "rad/m")
    within("layer height", layer_height, 0.0, 0.001, "m")
    smooth = base + draft_per_depth * texture_depth
    draft = smooth
    for _ in range(40):  # the factor k h is well below one: this settles in a few rounds
        draft = np.minimum(smooth + draft_per_depth * layer_height * np.sin(draft), np.pi / 2)
    return draft if np.ndim(draft) else float(draft)


def base_enlargement(height, draft):
    """How far a drafted wall leans out over its height, by side: h tan(draft).

    Parameters
    ----------
    height : float or array
        Height of the wall, >= 0. [m]
    draft : float or array
        Angle to the pull, 0 to 1.4. [rad]

    Returns
    -------
    float or array
        Enlargement on one side. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.
    """
    within("height", height, 0.0, unit="m")
    within("draft", draft, 0.0, 1.4, "rad")
    return height * np.tan(draft)


def lift_to_clear(width, shrinkage, draft):
    r"""Lift after which a part that shrank onto a male form no longer touches its walls.

    .. math:: z = \frac{S\,W / 2}{\tan\theta}

    Parameters
    ----------
    width : float or array
        Width of the form, >= 0. [m]
    shrinkage : float or array
        Shrinkage that the form held back, 0 to 0.2. [1]
    draft : float or array
        Angle of the walls to the pull, above 0, at most 1.4. [rad]

    Returns
    -------
    float or array
        Lift. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    Rigid bodies, no friction, both walls alike.
    """
    within("width", width, 0.0, unit="m")
    within("shrinkage", shrinkage, 0.0, 0.2)
    within("draft", draft, 0.0, 1.4, "rad", above=True)
    return shrinkage * width / 2.0 / np.tan(draft)


def step_depth(layer_height, draft):
    """Depth of layer steps across a wall: h sin(draft), draft counted from the build direction.

    Parameters
    ----------
    layer_height : float or array
        Layer, 0 to 0.005. [m]
    draft : float or array
        Angle between wall and build direction, 0 to pi/2. [rad]

    Returns
    -------
    float or array
        Peak to valley. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    Square steps. At pi/2 the surface is a layer itself and has no step; the formula's h is then
    the height of the terraces that nearly level surfaces break into.
    """
    within("layer height", layer_height, 0.0, 0.005, "m")
    within("draft", draft, 0.0, np.pi / 2 + 1e-9, "rad")
    return layer_height * np.sin(draft)


def step_roughness(layer_height, draft):
    r"""Mean roughness Ra of square layer steps: a quarter of their depth.

    .. math:: R_a = \frac{h \sin\theta}{4}

    Parameters
    ----------
    layer_height : float or array
        Layer, 0 to 0.005. [m]
    draft : float or array
        Angle between wall and build direction, 0 to pi/2. [rad]

    Returns
    -------
    float or array
        Ra. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    The profile across a stepped wall is a sawtooth, whose mean deviation is a quarter of its
    height. Rounded layer edges are smoother, partly fused grains rougher: see `roughness`.

    References
    ----------
    Reeves and Cobb, Rapid Prototyping Journal 3 (1997) 20-31; Campbell, Martorelli and Lee,
    Computer-Aided Design 34 (2002) 717-725 (both from memory; the geometry is derived again in
    the tests).
    """
    return step_depth(layer_height, draft) / 4.0


def roughness(layer_height, draft, as_made):
    """Ra of a printed wall: layer steps and the roughness of the process, in root sum of squares.

    Parameters
    ----------
    layer_height : float or array
        Layer, 0 to 0.005. [m]
    draft : float or array
        Angle between wall and build direction, 0 to pi/2. [rad]
    as_made : float or array
        Ra of an upright wall of the process, 0 to 0.001. [m]

    Returns
    -------
    float or array
        Ra. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    Independent contributions add by squares for the root mean square; using it for Ra is common
    practice, no source.
    """
    within("roughness as made", as_made, 0.0, 0.001, "m")
    return np.hypot(step_roughness(layer_height, draft), as_made)
