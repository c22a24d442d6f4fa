"""From the dimension a drawing asks of the part to the dimension the tool is drawn with, and back.

Shrinkage S is the share of the hot tool's dimension that the part loses between leaving the tool
and being measured at the reference temperature. Everything else that changes a length is kept
apart from it: the tool's growth as it warms, its build process, the gauge of the sheet where the
measured face is not the one that touched the tool, and the part's own expansion when measured warm.
"""

from __future__ import annotations

import numpy as np

from thermoforming.guard import Refused, finite, within

_S = dict(low=-0.05, high=0.2)  # growth of oriented sheet to the strongest shrinking polymers


def tool_dimension(part_dimension, shrinkage, expansion=0.0, temperature_rise=0.0):
    r"""Tool dimension when cold from the part dimension.

    .. math:: L_{tool} = \frac{L_{part}}{(1 - S)\,(1 + \alpha\,\Delta T)}

    Parameters
    ----------
    part_dimension : float or array
        Dimension of the part at the reference temperature, on the side that touches the tool. [m]
    shrinkage : float or array
        Share of the hot tool's dimension, -0.05 to 0.2. [1]
    expansion : float or array
        Linear expansion of the tool, 0 to 3e-4. [1/K]
    temperature_rise : float or array
        Running less reference temperature of the tool, -100 to 400. [dK]

    Returns
    -------
    float or array
        Dimension of the tool at the reference temperature. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    S must come from a hot tool (see `shrinkage_from_cold_tool`), or the tool's expansion is
    counted twice.

    References
    ----------
    ISO 294-4 defines moulding shrinkage on the mould's dimension (from memory); the growth of the
    warm tool is the definition of linear expansion.

    Examples
    --------
    >>> round(tool_dimension(0.300, 0.006, 9e-5, 37.0), 7)
    0.3008092
    """
    finite("part dimension", part_dimension)
    within("shrinkage", shrinkage, **_S)
    return part_dimension / ((1.0 - shrinkage) * _growth(expansion, temperature_rise))


def shrinkage_on_tool(shrinkage_on_part):
    r"""Shrinkage on the tool's dimension from shrinkage on the part's: S = s / (1 + s).

    Parameters
    ----------
    shrinkage_on_part : float or array
        (Tool less part) by part, -0.05 to 0.25. [1]

    Returns
    -------
    float or array
        (Tool less part) by tool. [1]

    Raises
    ------
    Refused
        If a value is not finite or outside the range given.
    """
    within("shrinkage on the part", shrinkage_on_part, -0.05, 0.25)
    return shrinkage_on_part / (1.0 + shrinkage_on_part)


def shrinkage_on_part(shrinkage):
    r"""Shrinkage on the part's dimension from shrinkage on the tool's: s = S / (1 - S).

    Parameters
    ----------
    shrinkage : float or array
        (Tool less part) by tool, -0.05 to 0.2. [1]

    Returns
    -------
    float or array
        (Tool less part) by part. [1]

    Raises
    ------
    Refused
        If a value is not finite or outside the range given.
    """
    within("shrinkage", shrinkage, **_S)
    return shrinkage / (1.0 - shrinkage)


def tool_growth(dimension, expansion, temperature_rise):
    r"""How much longer a tool is when it runs warm: alpha L dT.

    Parameters
    ----------
    dimension : float or array
        Cold. [m]
    expansion : float or array
        Linear expansion, 0 to 3e-4. [1/K]
    temperature_rise : float or array
        Running less reference temperature, -100 to 400. [dK]

    Returns
    -------
    float or array
        Growth. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.
    """
    finite("dimension", dimension)
    return dimension * (_growth(expansion, temperature_rise) - 1.0)


def shrinkage_from_cold_tool(shrinkage_cold, expansion, temperature_rise):
    r"""Shrinkage on the hot tool from one that was found against a cold tool.

    .. math:: S = 1 - \frac{1 - S_{cold}}{1 + \alpha\,\Delta T}

    Parameters
    ----------
    shrinkage_cold : float or array
        (Cold tool less part) by cold tool, -0.05 to 0.2. [1]
    expansion : float or array
        Linear expansion of the tool it was found with, 0 to 3e-4. [1/K]
    temperature_rise : float or array
        How far that tool ran above the reference temperature, -100 to 400. [dK]

    Returns
    -------
    float or array
        (Hot tool less part) by hot tool. [1]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.
    """
    within("shrinkage on the cold tool", shrinkage_cold, **_S)
    return 1.0 - (1.0 - shrinkage_cold) / _growth(expansion, temperature_rise)


def partly_restrained(free, restrained, restraint):
    """Shrinkage of a dimension that the tool holds in part: linear between the two.

    Parameters
    ----------
    free, restrained : float or array
        Shrinkage when the part is free to shrink, and when the tool holds it, -0.05 to 0.2. [1]
    restraint : float or array
        0 free (female), 1 held (male), between for a dimension held at places. [1]

    Returns
    -------
    float or array
        Shrinkage. [1]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.

    Notes
    -----
    A linear blend is an assumption; trial shots decide (common practice, no source).
    """
    within("free shrinkage", free, **_S)
    within("restrained shrinkage", restrained, **_S)
    within("restraint", restraint, 0.0, 1.0)
    return free + restraint * (restrained - free)


def part_dimension(drawn, *, shrinkage, expansion=0.0, temperature_rise=0.0, build_scale=0.0,
                   build_offset=0.0, faces=0.0, post_cure=0.0, gauge=0.0, gauges=0.0,
                   part_expansion=0.0, measured_above=0.0):
    r"""Dimension of the part from the dimension the tool is drawn with: the whole chain.

    .. math::
        L = \left[(L_d (1+b)(1+c) + n_f o)(1+\alpha\,\Delta T)(1-S) - n_t t\right]
            (1 + \alpha_p\,\Delta T_m)

    Parameters
    ----------
    drawn : float or array
        Dimension in the file the tool is built from. [m]
    shrinkage : float or array
        Share of the hot tool's dimension, -0.05 to 0.2. [1]
    expansion : float or array
        Linear expansion of the tool, 0 to 3e-4. [1/K]
    temperature_rise : float or array
        Running less reference temperature of the tool, -100 to 400. [dK]
    build_scale : float or array
        Relative error of the build process, made by drawn less one, -0.05 to 0.05. [1]
    build_offset : float or array
        How far a built face lies outside the drawn one, -0.005 to 0.005. [m]
    faces : float or array
        How many faces the offset moves the dimension by: +2 between the outsides of a boss, -2
        across a cavity, 0 between like features, -2 to 2. [1]
    post_cure : float or array
        Relative change in curing or annealing after the build, -0.05 to 0.05. [1]
    gauge : float or array
        Local gauge of the formed sheet; for a depth on the free side, gauge of the floor less
        that of the rim; -0.03 to 0.03. [m]
    gauges : float or array
        How many gauges the measured face lies inside the tool's: 2 across a cavity measured on
        the free side, -2 over a male form, 1 for a cavity's depth, -1 for a male form's height,
        0 on the tool side, -2 to 2. [1]
    part_expansion : float or array
        Linear expansion of the sheet, 0 to 3e-4. [1/K]
    measured_above : float or array
        Temperature of the part when measured less the reference temperature, -60 to 100. [dK]

    Returns
    -------
    float or array
        Dimension as measured. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given.
    """
    _check_chain(drawn, shrinkage, build_scale, build_offset, faces, post_cure, gauge, gauges)
    built = drawn * (1.0 + build_scale) * (1.0 + post_cure) + faces * build_offset
    hot = built * _growth(expansion, temperature_rise)
    within("temperature of measuring", measured_above, -60.0, 100.0, "K")
    warm = 1.0 + within("expansion of the sheet", part_expansion, 0.0, 3e-4) * measured_above
    return (hot * (1.0 - shrinkage) - gauges * gauge) * warm


def drawn_dimension(part, *, shrinkage, expansion=0.0, temperature_rise=0.0, build_scale=0.0,
                    build_offset=0.0, faces=0.0, post_cure=0.0, gauge=0.0, gauges=0.0,
                    part_expansion=0.0, measured_above=0.0):
    """Dimension to draw the tool with, so that the part comes out right: `part_dimension` solved.

    Parameters
    ----------
    part : float or array
        Dimension wanted, as measured. [m]
    shrinkage, expansion, temperature_rise, build_scale, build_offset, faces : float or array
        As in `part_dimension`. [any]
    post_cure, gauge, gauges, part_expansion, measured_above : float or array
        As in `part_dimension`. [any]

    Returns
    -------
    float or array
        Dimension for the file. [m]

    Raises
    ------
    Refused
        If a value is not finite or outside the ranges given, or no positive dimension does it.
    """
    _check_chain(part, shrinkage, build_scale, build_offset, faces, post_cure, gauge, gauges)
    within("temperature of measuring", measured_above, -60.0, 100.0, "K")
    warm = 1.0 + within("expansion of the sheet", part_expansion, 0.0, 3e-4) * measured_above
    built = tool_dimension(part / warm + gauges * gauge, shrinkage, expansion, temperature_rise)
    drawn = (built - faces * build_offset) / ((1.0 + build_scale) * (1.0 + post_cure))
    if np.any(np.asarray(drawn) <= 0.0):
        raise Refused("part dimension", "No tool makes this dimension: it is smaller than the "
                                        "gauges that lie between it and the tool.")
    return drawn


def common_scale(scales, weights=None) -> float:
    """The one factor that serves several dimensions with the least sum of squared errors.

    Parameters
    ----------
    scales : array
        Drawn by part dimension that each dimension needs, 0.5 to 2. [1]
    weights : array, optional
        Importance of each, such as (dimension by tolerance) squared, > 0. [1]

    Returns
    -------
    float
        Weighted mean of the factors. [1]

    Raises
    ------
    Refused
        If there is none, or a value is not finite or out of range.
    """
    if np.size(scales) == 0:
        raise Refused("scales", "At least one dimension is needed to find a scale.")
    within("scales", scales, 0.5, 2.0)
    weights = np.ones(np.shape(scales)) if weights is None else np.asarray(weights, dtype=float)
    within("weights", weights, 0.0, above=True)
    return float(np.average(np.asarray(scales, dtype=float), weights=weights))


def _growth(expansion, temperature_rise):
    within("expansion", expansion, 0.0, 3e-4, "1/K")
    within("temperature rise", temperature_rise, -100.0, 400.0, "K")
    return 1.0 + expansion * temperature_rise


def _check_chain(length, shrinkage, build_scale, build_offset, faces, post_cure, gauge, gauges):
    within("dimension", length, 0.0, 10.0, "m", above=True)
    within("shrinkage", shrinkage, **_S)
    within("build scale", build_scale, -0.05, 0.05)
    within("build offset", build_offset, -0.005, 0.005, "m")
    within("faces", faces, -2.0, 2.0)
    within("post-cure change", post_cure, -0.05, 0.05)
    within("gauge", gauge, -0.03, 0.03, "m")
    within("gauges", gauges, -2.0, 2.0)
