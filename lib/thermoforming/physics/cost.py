"""What a tool and its parts cost and how long they take; money is a label, rates are the user's.

All functions take floats or arrays, so that a sample of uncertain rates passes through at once.
"""

from __future__ import annotations

import numpy as np

from thermoforming.guard import Refused, finite, within


def print_time(volume, height, build_rate, layer_height, layer_time, setup_time):
    r"""Machine time of a printed tool.

    .. math:: t = t_0 + \frac{V}{\dot V} + \frac{H}{h} t_h

    In words: setting up, making the solid, and a fixed time for every layer. A process that
    exposes a whole layer at once has its time in the layers, one that draws it in the volume.

    Parameters
    ----------
    volume : float or array
        Solid volume made, supports included, > 0. [m3]
    height : float or array
        Height as built, > 0. [m]
    build_rate : float or array
        Volume made in a time, > 0. [m3/s]
    layer_height : float or array
        Layer, > 0. [m]
    layer_time : float or array
        Time lost at each layer (recoat, lift), >= 0. [s]
    setup_time : float or array
        Start and end of a job, >= 0. [s]

    Returns
    -------
    float or array
        Machine time. [s]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    for name, value in (("volume", volume), ("height", height), ("build rate", build_rate),
                        ("layer height", layer_height)):
        within(name, value, 0.0, above=True)
    within("layer time", layer_time, 0.0)
    within("setup time", setup_time, 0.0)
    return setup_time + volume / build_rate + height / layer_height * layer_time


def milling_time(removed_volume, removal_rate, finished_area, stepover, feed, setup_time):
    r"""Machine time of a milled tool.

    .. math:: t = t_0 + \frac{V_-}{Q} + \frac{A}{s\,v}

    In words: setting up, roughing the volume away, and finishing the face line by line.

    Parameters
    ----------
    removed_volume : float or array
        Volume milled away, >= 0. [m3]
    removal_rate : float or array
        Volume removed in a time when roughing, > 0. [m3/s]
    finished_area : float or array
        Face finished, >= 0. [m2]
    stepover : float or array
        Distance between finishing lines, > 0. [m]
    feed : float or array
        Feed when finishing, > 0. [m/s]
    setup_time : float or array
        Programming at the machine, clamping and probing, >= 0. [s]

    Returns
    -------
    float or array
        Machine time. [s]

    Raises
    ------
    Refused
        If out of range or not finite.

    Notes
    -----
    Air moves, tool changes and a second finishing pass are not in it; put them into the set-up.
    """
    for name, value in (("removal rate", removal_rate), ("stepover", stepover), ("feed", feed)):
        within(name, value, 0.0, above=True)
    for name, value in (("removed volume", removed_volume), ("finished area", finished_area),
                        ("setup time", setup_time)):
        within(name, value, 0.0)
    return setup_time + removed_volume / removal_rate + finished_area / (stepover * feed)


def tool_cost(material_mass, price, machine_time, machine_rate, hand_time, labour_rate,
              finishing=0.0):
    r"""Cost of one tool made here.

    .. math:: F = m\,p + t_m r_m + t_h r_h + c_f

    Parameters
    ----------
    material_mass : float or array
        Material bought for it, waste included, >= 0. [kg]
    price : float or array
        Price of the material, >= 0. [money/kg]
    machine_time, hand_time : float or array
        Machine time and hands-on time, >= 0. [s]
    machine_rate, labour_rate : float or array
        Rates of machine and labour, >= 0. [money/s]
    finishing : float or array
        Bought finishing, inserts and fittings, >= 0. [money]

    Returns
    -------
    float or array
        Cost of the tool. [money]

    Raises
    ------
    Refused
        If negative or not finite.
    """
    for name, value in (("material mass", material_mass), ("price", price),
                        ("machine time", machine_time), ("machine rate", machine_rate),
                        ("hand time", hand_time), ("labour rate", labour_rate),
                        ("finishing", finishing)):
        within(name, value, 0.0)
    return (material_mass * price + machine_time * machine_rate + hand_time * labour_rate
            + finishing)


def sheet_cost(stock_area, gauge, density, price, blanks_per_stock, forms_per_blank):
    r"""Sheet bought for one formed part, offcuts included.

    .. math:: c = \frac{A\,t\,\rho\,p}{n_b n_f}

    Parameters
    ----------
    stock_area : float or array
        Area of a stock sheet, > 0. [m2]
    gauge : float or array
        Gauge, > 0. [m]
    density : float or array
        Density, > 0. [kg/m3]
    price : float or array
        Price of the sheet, >= 0. [money/kg]
    blanks_per_stock, forms_per_blank : float or array
        Blanks in a stock sheet and parts in a blank, >= 1. [1]

    Returns
    -------
    float or array
        Cost of sheet for a part before scrap. [money]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    for name, value in (("stock area", stock_area), ("gauge", gauge), ("density", density)):
        within(name, value, 0.0, above=True)
    within("price", price, 0.0)
    within("blanks per stock sheet", blanks_per_stock, 1)
    within("forms per blank", forms_per_blank, 1)
    return stock_area * gauge * density * price / (blanks_per_stock * forms_per_blank)


def part_cost(sheet, forming, trimming, scrap, regrind=0.0):
    r"""Cost of one good part.

    .. math:: c = \frac{c_s + c_f + c_t - g}{1 - q}

    In words: every part made, good or not, is paid for; the good ones carry it. Rejects are
    found after trimming.

    Parameters
    ----------
    sheet, forming, trimming : float or array
        Cost for each part made, >= 0. [money]
    scrap : float or array
        Share of parts rejected, 0 to below 1. [1]
    regrind : float or array
        Value of offcuts and rejects for each part made, >= 0. [money]

    Returns
    -------
    float or array
        Cost of a good part. [money]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    for name, value in (("sheet", sheet), ("forming", forming), ("trimming", trimming),
                        ("regrind", regrind)):
        within(name, value, 0.0)
    within("scrap", scrap, 0.0, 1.0, below=True)
    return (sheet + forming + trimming - regrind) / (1.0 - scrap)


def batch_cost(quantity, tools, tool, part, fixed=0.0):
    r"""Cost of a batch with the tools it uses.

    .. math:: C(N) = C_0 + n F + N c

    Parameters
    ----------
    quantity : float or array
        Good parts N, > 0. [parts]
    tools : float or array
        Tools n paid for, >= 0. [1]
    tool : float or array
        Cost of a tool F, >= 0. [money]
    part : float or array
        Cost of a good part c. [money]
    fixed : float or array
        Paid once: fixture, programming, >= 0. [money]

    Returns
    -------
    float or array
        Cost of the batch. [money]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    within("quantity", quantity, 0.0, above=True)
    within("tools", tools, 0.0)
    within("tool", tool, 0.0)
    within("fixed", fixed, 0.0)
    return fixed + tools * tool + quantity * finite("part", part)


def unit_cost(quantity, shots_per_tool, tool, part):
    r"""Cost of a part where a tool lasts a known number of parts.

    .. math:: c_N = c + \frac{F}{N}\left\lceil \frac{N}{L} \right\rceil

    Parameters
    ----------
    quantity : float or array
        Good parts N, > 0. [parts]
    shots_per_tool : float or array
        Good parts that one tool makes L, > 0. [parts]
    tool : float or array
        Cost of a tool F, >= 0. [money]
    part : float or array
        Cost of a part without tools. [money]

    Returns
    -------
    float or array
        Cost of a part with its share of the tools. [money]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    within("shots per tool", shots_per_tool, 0.0, above=True)
    tools = np.ceil(np.asarray(quantity, float) / shots_per_tool)
    return (batch_cost(quantity, tools, tool, part) / quantity)[()]


def break_even(fixed_first: float, part_first: float, fixed_second: float,
               part_second: float) -> float | None:
    r"""Quantity at which a dearer tool with cheaper parts has paid for itself.

    .. math:: N^* = \frac{F_B - F_A}{c_A - c_B}

    Parameters
    ----------
    fixed_first, fixed_second : float
        What each route costs before the first part, >= 0. [money]
    part_first, part_second : float
        Cost of a part by each route. [money]

    Returns
    -------
    float or None
        Quantity; None where one route is the cheaper at every quantity. [parts]

    Raises
    ------
    Refused
        If negative or not finite.
    """
    within("fixed cost of the first", fixed_first, 0.0)
    within("fixed cost of the second", fixed_second, 0.0)
    saved = finite("part of the first", part_first) - finite("part of the second", part_second)
    if saved == 0.0:
        return None
    quantity = (fixed_second - fixed_first) / saved
    return quantity if quantity > 0.0 else None


def last_crossing(quantity, first, second) -> np.ndarray:
    """Quantity from which the second route stays the cheaper, for each sample.

    Parameters
    ----------
    quantity : array, shape (n,)
        Rising quantities. [parts]
    first, second : array, shape (samples, n)
        Cost of the batch by each route. [money]

    Returns
    -------
    array, shape (samples,)
        The quantity, linear between those given; 0 where the second is always the cheaper and
        infinity where it is not the cheaper at the largest quantity. [parts]

    Raises
    ------
    Refused
        If shapes do not fit or a number is not finite.

    Notes
    -----
    Tools are replaced whole, so costs have steps and may cross several times; this is the last.
    """
    n = np.asarray(finite("quantity", quantity), float)
    gap = np.atleast_2d(np.asarray(finite("second", second), float)
                        - np.asarray(finite("first", first), float))
    if gap.shape[1] != n.size:
        raise Refused("quantity", "quantity must have one value for every column of costs.")
    found = np.full(len(gap), np.inf)
    for i, row in enumerate(gap):
        dearer = np.nonzero(row >= 0.0)[0]
        if dearer.size == 0:
            found[i] = 0.0
        elif dearer[-1] < n.size - 1:
            k = dearer[-1]
            found[i] = n[k] + (n[k + 1] - n[k]) * row[k] / (row[k] - row[k + 1])
    return found


def days_to_part(part, first_tool, parts_a_day, tools=1, next_tool=0.0):
    r"""Days from order to the part of a number.

    .. math:: D(N) = D_1 + \frac{N}{r} + (n-1) D_+

    Parameters
    ----------
    part : float or array
        Number of the part N, > 0. [parts]
    first_tool : float or array
        Time until the first tool stands ready, queue included, >= 0. [s]
    parts_a_day : float or array
        Good parts made in a time, > 0. [parts/s]
    tools : float or array
        Tools used until then n, >= 1. [1]
    next_tool : float or array
        Wait for each further tool, 0 where spares are made beforehand. [s]

    Returns
    -------
    float or array
        Time. [s]

    Raises
    ------
    Refused
        If out of range or not finite.
    """
    within("part", part, 0.0, above=True)
    within("first tool", first_tool, 0.0)
    within("parts a day", parts_a_day, 0.0, above=True)
    within("tools", tools, 1)
    within("next tool", next_tool, 0.0)
    return first_tool + part / parts_a_day + (tools - 1) * next_tool
