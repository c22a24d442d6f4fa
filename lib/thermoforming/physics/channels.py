"""Coolant in channels through the wall: heat transfer, pressure, unevenness, what can be printed.

Properties of the coolant are arguments; `data/reference` holds those of water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermoforming.guard import Refused, within

LAMINAR = 2300.0  # Reynolds number up to which flow is laminar
TURBULENT = 4000.0  # and from which it is taken as fully turbulent


@dataclass(frozen=True)
class Coolant:
    """Density [kg/m3], viscosity [Pa s], conductivity [W/(m K)], specific heat [J/(kg K)]."""

    density: float
    viscosity: float
    conductivity: float
    specific_heat: float

    def __post_init__(self):
        for name in ("density", "viscosity", "conductivity", "specific_heat"):
            within("coolant's " + name.replace("_", " "), getattr(self, name), 0.0, above=True)

    @property
    def prandtl(self):
        """Prandtl number. [1]"""
        return self.viscosity * self.specific_heat / self.conductivity


def reynolds(flow, bore, coolant: Coolant):
    """Reynolds number in a round channel.

    .. math:: Re = \\frac{4 \\rho \\dot V}{\\pi d \\mu}

    Parameters
    ----------
    flow : float or array
        Volume flow through one channel, > 0. [m3/s]
    bore : float or array
        Diameter, > 0. [m]
    coolant : Coolant
        Its properties at the mean temperature.

    Returns
    -------
    float or array
        Reynolds number. [1]

    Raises
    ------
    Refused
        If a value is not finite or not above zero.

    References
    ----------
    Definition.
    """
    within("flow", flow, 0.0, unit="m3/s", above=True)
    within("bore", bore, 0.0, unit="m", above=True)
    return 4.0 * coolant.density * flow / (np.pi * bore * coolant.viscosity)


def nusselt(reynolds, prandtl, length_ratio):
    """Nusselt number in a round channel, laminar, turbulent and between.

    .. math:: Nu = \\frac{(f/8)(Re - 1000) Pr}{1 + 12.7 \\sqrt{f/8} (Pr^{2/3} - 1)}, \\quad
        f = (0.79 \\ln Re - 1.64)^{-2}

    and, up to Re = 2300, with Gz = Re Pr d / L,

    .. math:: Nu = 3.66 + \\frac{0.0668\\, Gz}{1 + 0.04\\, Gz^{2/3}}

    Parameters
    ----------
    reynolds : float or array
        Reynolds number, above 0 to 5e6. [1]
    prandtl : float or array
        Prandtl number, 0.5 to 2000. [1]
    length_ratio : float or array
        Heated length over bore, >= 1. [1]

    Returns
    -------
    float or array
        Nusselt number, mean over the length. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Gnielinski with Petukhov's smooth friction; Hausen for laminar flow that develops; a straight
    line in Re between 2300 and 4000, where either may hold.

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, internal flow (from memory).
    """
    within("Reynolds number", reynolds, 0.0, 5e6, above=True)
    within("Prandtl number", prandtl, 0.5, 2000.0)
    within("length over bore", length_ratio, 1.0)
    re = np.asarray(reynolds, dtype=float)
    share = np.clip((re - LAMINAR) / (TURBULENT - LAMINAR), 0.0, 1.0)
    laminar = _hausen(np.minimum(re, LAMINAR) * prandtl / length_ratio)
    return (1.0 - share) * laminar + share * _gnielinski(np.maximum(re, TURBULENT), prandtl)


def film(flow, bore, length, coolant: Coolant):
    """Film coefficient in a round channel.

    .. math:: h = Nu \\, k / d

    Parameters
    ----------
    flow : float or array
        Volume flow through one channel, > 0. [m3/s]
    bore : float or array
        Diameter, > 0. [m]
    length : float or array
        Heated length, >= bore. [m]
    coolant : Coolant
        Its properties at the mean temperature.

    Returns
    -------
    float or array
        Film coefficient. [W/(m2 K)]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    See `nusselt`.
    """
    re = reynolds(flow, bore, coolant)
    return nusselt(re, coolant.prandtl, np.asarray(length) / bore) * coolant.conductivity / bore


def friction(reynolds, relative_roughness):
    """Darcy friction factor of a round channel.

    .. math:: f = 8 \\left[(8/Re)^{12} + (A + B)^{-1.5}\\right]^{1/12}

    with A = [2.457 ln(1/((7/Re)^0.9 + 0.27 e/d))]^16 and B = (37530/Re)^16.

    Parameters
    ----------
    reynolds : float or array
        Reynolds number, above 0. [1]
    relative_roughness : float or array
        Height of roughness over bore, 0 to 0.05. [1]

    Returns
    -------
    float or array
        Friction factor. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    One formula for laminar, turbulent and between; printed bores are rough by their layers.

    References
    ----------
    Churchill, Chem. Eng. 84 (1977) 91 (from memory).
    """
    within("Reynolds number", reynolds, 0.0, above=True)
    within("relative roughness", relative_roughness, 0.0, 0.05)
    re = np.asarray(reynolds, dtype=float)
    a = (2.457 * np.log(1.0 / ((7.0 / re) ** 0.9 + 0.27 * relative_roughness))) ** 16
    b = (37530.0 / re) ** 16
    return 8.0 * ((8.0 / re) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)


def pressure_drop(flow, bore, length, roughness, bends, bend_loss, coolant: Coolant):
    """Pressure lost along a channel, with its bends, entry and exit.

    .. math:: \\Delta p = \\left(f \\frac{L}{d} + n \\zeta + 1.5\\right) \\frac{\\rho u^2}{2}

    Parameters
    ----------
    flow : float or array
        Volume flow, > 0. [m3/s]
    bore : float or array
        Diameter, > 0. [m]
    length : float or array
        Length run through, >= 0. [m]
    roughness : float or array
        Height of roughness of the bore, >= 0. [m]
    bends : float or array
        Number of turns, >= 0. [1]
    bend_loss : float or array
        Loss factor of one turn, >= 0: about 1.1 for a sharp right angle. [1]
    coolant : Coolant
        Its properties at the mean temperature.

    Returns
    -------
    float or array
        Pressure drop. [Pa]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Darcy and Weisbach; loss factors from any handbook of pipe flow (from memory).
    """
    within("channel length", length, 0.0, unit="m")
    within("roughness", roughness, 0.0, unit="m")
    within("bends", bends, 0.0)
    within("bend loss", bend_loss, 0.0)
    f = friction(reynolds(flow, bore, coolant), np.asarray(roughness) / bore)
    speed = flow / (np.pi * bore**2 / 4.0)
    return (f * length / bore + bends * bend_loss + 1.5) * coolant.density * speed**2 / 2.0


def pump_power(flow, drop, efficiency):
    """Power that a pump takes.

    .. math:: P = \\dot V \\Delta p / \\eta

    Parameters
    ----------
    flow : float or array
        Whole volume flow, >= 0. [m3/s]
    drop : float or array
        Pressure drop, >= 0. [Pa]
    efficiency : float or array
        Pump and motor, above 0 to 1. [1]

    Returns
    -------
    float or array
        Power. [W]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Definition.
    """
    within("flow", flow, 0.0, unit="m3/s")
    within("pressure drop", drop, 0.0, unit="Pa")
    within("efficiency", efficiency, 0.0, 1.0, above=True)
    return flow * drop / efficiency


def shape_factor(bore: float, depth: float, pitch: float, terms: int = 8) -> float:
    """Conduction shape factor from a flat isothermal face to a row of equal channels.

    .. math:: q' = S k (T_{face} - T_{channel})

    Per channel and length. Periodic line sources with images in the face meet the channel's wall
    where it is: sources and multipoles at its middle, least squares around the bore.

    Parameters
    ----------
    bore : float
        Channel diameter, > 0. [m]
    depth : float
        Depth of the channels' middles, above half the bore. [m]
    pitch : float
        Distance between middles, above the bore. [m]
    terms : int
        Multipoles besides the source, 0 to 20; none gives the handbook formula. [1]

    Returns
    -------
    float
        S. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range: the channels would touch each other or the face.

    Notes
    -----
    The handbook's 2 pi / ln(2 w / (pi d) sinh(2 pi z / w)) reads 4 to 9 % low at usual pitches.

    References
    ----------
    Method of fundamental solutions, derived here; handbook formula: Incropera and DeWitt, table
    4.1 (from memory).
    """
    _apart(bore, depth, pitch)
    within("terms", terms, 0, 20)
    angle = 2.0 * np.pi * (np.arange(4 * terms + 4) + 0.5) / (4 * terms + 4)
    z = bore / 2.0 * np.exp(1j * angle)  # x along the face, y downward from the channel's middle
    if terms == 0:
        log = 0.5 * np.log(_potential(0.0, 2.0 * depth, pitch) / (np.pi * bore / pitch) ** 2)
        return float(2.0 * np.pi / log)
    columns = [_source(z, depth, pitch)]
    columns += [_multipole(z, depth, pitch, n, bore / 2.0, -1.0) for n in range(1, terms + 1)]
    strength = np.linalg.lstsq(np.stack(columns, axis=1), np.ones(z.size), rcond=None)[0]
    return float(2.0 * np.pi * strength[0])


def ripple(heat_flux, conductivity, bore: float, depth: float, pitch: float, terms: int = 8):
    """Unevenness of a face above a row of channels that take away an even heat flux.

    .. math:: \\Delta T = \\frac{q w}{k} \\, r(d/w, z/w), \\quad
        r \\to \\frac1\\pi \\ln \\coth \\frac{\\pi z}{w} \\text{ for thin channels}

    Row of line sinks and multipoles with images in the face that let no heat through, channels at
    one temperature, back face without heat loss.

    Parameters
    ----------
    heat_flux : float or array
        Heat that enters the face, mean over the cycle, >= 0. [W/m2]
    conductivity : float or array
        Of the wall, > 0. [W/(m K)]
    bore : float
        Channel diameter, > 0. [m]
    depth : float
        Depth of the channels' middles, above half the bore. [m]
    pitch : float
        Distance between middles, above the bore. [m]
    terms : int
        Multipoles besides the source, 0 to 20; none gives the thin-channel formula. [1]

    Returns
    -------
    float or array
        Face between two channels above face over a channel. [dK]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    The thin-channel formula reads a third low when the bore is a third of the pitch.

    References
    ----------
    Method of fundamental solutions, derived here; held against two-dimensional finite elements.
    """
    within("heat flux", heat_flux, 0.0, unit="W/m2")
    within("conductivity", conductivity, 0.0, unit="W/(m K)", above=True)
    _apart(bore, depth, pitch)
    within("terms", terms, 0, 20)
    rim = bore / 2.0 * np.exp(2j * np.pi * (np.arange(4 * terms + 4) + 0.5) / (4 * terms + 4))
    face = np.array([0.0, pitch / 2.0]) - 1j * depth
    orders = range(1, terms + 1)

    def shapes(z):
        return np.stack([_multipole(z, depth, pitch, n, bore / 2.0, 1.0) for n in orders]
                        + [np.ones(z.size)], axis=1)

    strength = np.linalg.lstsq(shapes(rim), _drained(rim, depth, pitch), rcond=None)[0]
    strength[-1] = 0.0  # the channels' own temperature
    over, between = _drained(face, depth, pitch) - shapes(face) @ strength
    return heat_flux * pitch / conductivity * (between - over)


def sink_conductance(bore: float, depth: float, pitch: float, film: float,
                     conductivity: float) -> float:
    """Conductance per area from the plane of the channels' middles to the coolant.

    .. math:: \\frac1U = \\frac{w}{k S} - \\frac{z}{k} + \\frac{w}{\\pi d h}

    What narrows the flow toward the channels, and the film; the plain conduction down to the
    plane of their middles is left to the wall.

    Parameters
    ----------
    bore, depth, pitch : float
        Channel diameter, depth of middles, distance between them, as in `shape_factor`. [m]
    film : float
        Film coefficient in the channel, > 0. [W/(m2 K)]
    conductivity : float
        Of the wall, > 0. [W/(m K)]

    Returns
    -------
    float
        Conductance. [W/(m2 K)]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Wide bores at close pitch shorten the path: the sum is then kept above a tenth of the film's
    share, so that it stays positive.

    References
    ----------
    See `shape_factor`.
    """
    within("film coefficient", film, 0.0, unit="W/(m2 K)", above=True)
    within("conductivity", conductivity, 0.0, unit="W/(m K)", above=True)
    factor = shape_factor(bore, depth, pitch)
    wet = pitch / (np.pi * bore * film)
    narrow = (pitch / factor - depth) / conductivity
    return 1.0 / max(narrow + wet, 0.1 * wet)


def warming(heat_flow, flow, coolant: Coolant):
    """Rise of the coolant's temperature from inlet to outlet.

    .. math:: \\Delta T = \\frac{\\dot Q}{\\rho c \\dot V}

    Parameters
    ----------
    heat_flow : float or array
        Heat taken away, >= 0. [W]
    flow : float or array
        Whole volume flow, > 0. [m3/s]
    coolant : Coolant
        Its properties.

    Returns
    -------
    float or array
        Rise. [dK]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Energy balance.
    """
    within("heat flow", heat_flow, 0.0, unit="W")
    within("flow", flow, 0.0, unit="m3/s", above=True)
    return heat_flow / (coolant.density * coolant.specific_heat * flow)


def _gnielinski(re, pr):
    f8 = (0.79 * np.log(re) - 1.64) ** -2 / 8.0
    return f8 * (re - 1000.0) * pr / (1.0 + 12.7 * np.sqrt(f8) * (pr ** (2.0 / 3.0) - 1.0))


def _hausen(graetz):
    return 3.66 + 0.0668 * graetz / (1.0 + 0.04 * graetz ** (2.0 / 3.0))


def _apart(bore, depth, pitch):
    within("bore", bore, 0.0, unit="m", above=True)
    within("pitch", pitch, bore, unit="m", above=True)
    within("depth of channels", depth, bore / 2.0, unit="m", above=True)
    if not np.isscalar(bore):
        raise Refused("bore", "The shape factor is worked out for one row at a time.")


def _potential(x, y, pitch):
    """4 (sinh^2 + sin^2) of half the phase: square of the distance from a row of sources."""
    return 2.0 * (np.cosh(2.0 * np.pi * y / pitch) - np.cos(2.0 * np.pi * x / pitch))


def _source(z, depth, pitch):
    """Row of sources less its image: zero at the face. z from the middle of a channel."""
    here = _potential(z.real, z.imag, pitch)
    image = _potential(z.real, z.imag + 2.0 * depth, pitch)
    return 0.5 * np.log(image / here)


def _drained(z, depth, pitch):
    """Row of sinks with like images, and the even flux they drain; times k / (q w)."""
    here = _potential(z.real, z.imag, pitch)
    image = _potential(z.real, z.imag + 2.0 * depth, pitch)
    return (np.log(here) + np.log(image)) / (4.0 * np.pi) - z.imag / pitch


def _multipole(z, depth, pitch, order, radius, image):
    """Row of multipoles of an order, symmetric about the channel's vertical, and `image` times
    the same reflected in the face."""
    half = np.pi / pitch
    scale = (radius * half) ** order
    mirrored = np.conj(z + 2.0j * depth)
    return scale * (_row(z * half, order) + image * _row(mirrored * half, order))


def _row(point, order):
    """Sum of (i / (point - n pi))^order over all n, its real part."""
    if order == 1:  # converges too slowly to add up
        return (1j / np.tan(point)).real
    n = np.arange(-60, 61)[:, None]
    return ((1j / (point - n * np.pi)) ** order).real.sum(axis=0)
