"""Air through holes, long bores, slots, lines and valves, choked or not.

One model carries every bore, from a drilled hole to a suction hose: a loss at the sharp inlet and
friction along the length, adiabatic at constant area (Fanno), the exit choking when it must.
A short hole comes out with the discharge coefficient that tables give for it.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from thermoforming.guard import Refused, within

# Dry air. ISO 2533 (standard atmosphere): R, gamma and Sutherland's constants (from memory).
GAS_CONSTANT = 287.05287  # J/(kg K)
GAMMA = 1.4
SUTHERLAND_FACTOR = 1.458e-6  # kg/(m s K^0.5)
SUTHERLAND_TEMPERATURE = 110.4  # K
STANDARD_PRESSURE = 101325.0  # Pa
# Reference state of ISO 6358: 293.15 K, 100 kPa, 65 % relative humidity (from memory).
REFERENCE_TEMPERATURE = 293.15  # K
REFERENCE_DENSITY = 1.185  # kg/m3

THIN_PLATE_COEFFICIENT = 0.61  # free streamline value pi/(pi+2) = 0.611 of a sharp edge
SHARP_INLET_LOSS = 0.5  # sharp-edged inlet, flow reattached
REATTACHED = 1.5  # length to diameter from which the jet fills the bore; common practice
_CREEPING = 2e-4  # below this share of the root of ISO 6358 the flow is taken as laminar
_STILL = -21.0  # log Mach number below which nothing flows
ROUND, SLOT = 64.0, 96.0  # laminar f Re of a round bore and of a wide flat slot


def critical_pressure_ratio(gamma: float = GAMMA) -> float:
    r"""Pressure ratio p2/p1 at and below which an ideal nozzle is choked.

    .. math:: r^* = \left(\frac{2}{\gamma+1}\right)^{\gamma/(\gamma-1)}

    Parameters
    ----------
    gamma : float
        Ratio of specific heats, > 1. [1]

    Returns
    -------
    float
        Critical ratio of static outlet to stagnation inlet pressure. [1]

    Raises
    ------
    Refused
        If gamma is not above 1 or not finite.

    References
    ----------
    One-dimensional isentropic flow, any gas dynamics text; ISO 9300 (from memory).
    """
    within("gamma", gamma, 1.0, above=True)
    return (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))


def critical_flow_factor(gamma: float = GAMMA) -> float:
    r"""Critical flow factor C* of an ideal gas.

    .. math:: C^* = \sqrt\gamma\,\left(\frac{2}{\gamma+1}\right)^{(\gamma+1)/(2(\gamma-1))}

    Parameters
    ----------
    gamma : float
        Ratio of specific heats, > 1. [1]

    Returns
    -------
    float
        Mass flux times sqrt(R T1) over p1 when choked. [1]

    Raises
    ------
    Refused
        If gamma is not above 1 or not finite.

    References
    ----------
    ISO 9300, the ideal-gas limit of its critical flow function (from memory).
    """
    within("gamma", gamma, 1.0, above=True)
    return math.sqrt(gamma) * (2.0 / (gamma + 1.0)) ** ((gamma + 1.0) / (2.0 * (gamma - 1.0)))


def nozzle_mass_flux(upstream_pressure, downstream_pressure, temperature,
                     gamma: float = GAMMA, gas_constant: float = GAS_CONSTANT):
    r"""Mass flux of an ideal gas through a lossless hole.

    .. math:: G = p_1\sqrt{\frac{2\gamma}{(\gamma-1)RT_1}
        \left(r^{2/\gamma}-r^{(\gamma+1)/\gamma}\right)},\qquad r=\max(p_2/p_1,\,r^*)

    In words: the pressure ratio is held at its critical value once the hole chokes.

    Parameters
    ----------
    upstream_pressure : float or array
        Absolute stagnation pressure p1 on the side the gas leaves, > 0. [Pa]
    downstream_pressure : float or array
        Absolute pressure p2 on the other side, 0 to p1. [Pa]
    temperature : float or array
        Absolute stagnation temperature of the gas that leaves, > 0. [K]
    gamma : float
        Ratio of specific heats, > 1. [1]
    gas_constant : float
        Specific gas constant, > 0. [J/(kg K)]

    Returns
    -------
    float or array
        Mass flow per area of hole. [kg/(m2 s)]

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the pressure is reversed.

    References
    ----------
    Isentropic nozzle flow, any gas dynamics text.
    """
    _pressures(upstream_pressure, downstream_pressure)
    within("temperature", temperature, 0.0, unit="K", above=True)
    within("gas_constant", gas_constant, 0.0, unit="J/(kg K)", above=True)
    ratio = np.maximum(np.divide(downstream_pressure, upstream_pressure),
                       critical_pressure_ratio(gamma))
    bracket = np.maximum(ratio ** (2.0 / gamma) - ratio ** ((gamma + 1.0) / gamma), 0.0)
    return upstream_pressure * np.sqrt(
        2.0 * gamma / ((gamma - 1.0) * gas_constant * temperature) * bracket)


def orifice_mass_flow(diameter, upstream_pressure, downstream_pressure, temperature,
                      discharge_coefficient=THIN_PLATE_COEFFICIENT):
    r"""Mass flow of air through one small hole of known discharge coefficient.

    .. math:: \dot m = C_d\,\frac{\pi d^2}{4}\,G(p_1, p_2, T_1)

    Parameters
    ----------
    diameter : float or array
        Bore of the hole, > 0. [m]
    upstream_pressure : float or array
        Absolute pressure p1 on the side the gas leaves, > 0. [Pa]
    downstream_pressure : float or array
        Absolute pressure p2 on the other side, 0 to p1. [Pa]
    temperature : float or array
        Absolute temperature of the air that leaves, > 0. [K]
    discharge_coefficient : float or array
        Actual over ideal flow, above 0 to 1. [1]

    Returns
    -------
    float or array
        Mass flow. [kg/s]

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the pressure is reversed.

    Notes
    -----
    A thin sharp-edged plate does not choke as cleanly as a nozzle: its coefficient rises from
    0.61 towards 0.84 as the pressure ratio falls. The low value errs on the slow side.

    Examples
    --------
    >>> round(1e3 * orifice_mass_flow(1e-3, 1e5, 0.2e5, 293.15), 3)
    0.113
    """
    within("diameter", diameter, 0.0, unit="m", above=True)
    within("discharge_coefficient", discharge_coefficient, 0.0, 1.0, above=True)
    area = math.pi / 4.0 * np.square(diameter)
    return discharge_coefficient * area * nozzle_mass_flux(
        upstream_pressure, downstream_pressure, temperature)


def short_bore_discharge_coefficient(length_to_diameter: float, reynolds: float) -> float:
    r"""Discharge coefficient of a sharp-inlet bore, 2 to 10 diameters long, small pressure drop.

    .. math:: \frac1{C_d} = \frac1{C_{du}} + \frac{20}{Re}\left(1+2.25\frac Ld\right)
        - \frac{0.005\,L/d}{1+7.5\,(\log_{10}0.00015\,Re)^2},\quad
        C_{du} = 0.827-0.0085\frac Ld

    Parameters
    ----------
    length_to_diameter : float
        Length over bore, 2 to 10. [1]
    reynolds : float
        Reynolds number with the ideal velocity, 10 to 20000. [1]

    Returns
    -------
    float
        Discharge coefficient. [1]

    Raises
    ------
    Refused
        If outside the range of the correlation.

    Notes
    -----
    Plausible to about 5 %. `bore_mass_flow` does not use it and is compared with it.

    References
    ----------
    Lichtarowicz, Duggins and Markland, J. Mech. Eng. Sci. 7 (1965) 210 (from memory).
    """
    ratio = within("length_to_diameter", length_to_diameter, 2.0, 10.0)
    within("reynolds", reynolds, 10.0, 20000.0)
    ultimate = 0.827 - 0.0085 * ratio
    transition = 0.005 * ratio / (1.0 + 7.5 * math.log10(0.00015 * reynolds) ** 2)
    return 1.0 / (1.0 / ultimate + 20.0 / reynolds * (1.0 + 2.25 * ratio) - transition)


def inlet_loss(length_to_diameter: float) -> float:
    r"""Loss factor at the sharp inlet of a bore, from a thin plate to a long one.

    .. math:: K = \frac1{0.61^2}-1 \ \text{(thin plate)},\qquad K = 0.5\ (L/d \ge 1.5)

    In words: straight line between the two; the jet fills the bore once it is long enough.

    Parameters
    ----------
    length_to_diameter : float
        Length over bore (hydraulic diameter), >= 0. [1]

    Returns
    -------
    float
        Loss as a multiple of the dynamic pressure in the bore. [1]

    Raises
    ------
    Refused
        If negative or not finite.

    References
    ----------
    Sharp edge 0.61: free streamline theory; 0.5: handbooks of fluid flow (from memory);
    1.5 diameters: common practice, no source.
    """
    within("length_to_diameter", length_to_diameter, 0.0)
    thin = 1.0 / THIN_PLATE_COEFFICIENT**2 - 1.0
    share = min(length_to_diameter / REATTACHED, 1.0)
    return thin + (SHARP_INLET_LOSS - thin) * share


@njit(cache=True)
def _viscosity(temperature):
    return SUTHERLAND_FACTOR * temperature**1.5 / (temperature + SUTHERLAND_TEMPERATURE)


def air_viscosity(temperature):
    r"""Dynamic viscosity of air by Sutherland's law.

    .. math:: \mu = \frac{\beta_s T^{3/2}}{T+S}

    Parameters
    ----------
    temperature : float or array
        Absolute temperature, 150 to 1000. [K]

    Returns
    -------
    float or array
        Dynamic viscosity. [Pa s]

    Raises
    ------
    Refused
        If outside the range.

    References
    ----------
    ISO 2533 standard atmosphere (constants from memory).
    """
    within("temperature", temperature, 150.0, 1000.0, "K")
    return _viscosity(temperature)


@njit(cache=True)
def _friction(reynolds, roughness, laminar):
    """Churchill's Darcy factor; `laminar` is f Re at low Reynolds number."""
    roughly = (7.0 / reynolds) ** 0.9 + 0.27 * roughness
    a = (2.457 * math.log(1.0 / roughly)) ** 16
    b = (37530.0 / reynolds) ** 16
    return 8.0 * ((laminar / 8.0 / reynolds) ** 12 + 1.0 / (a + b) ** 1.5) ** (1.0 / 12.0)


def friction_factor(reynolds: float, relative_roughness: float = 0.0,
                    laminar: float = ROUND) -> float:
    r"""Darcy friction factor from laminar through transition to turbulent, smooth or rough.

    .. math:: f = 8\left[(8/Re)^{12}+(A+B)^{-3/2}\right]^{1/12},\quad
        A=\left[2.457\ln\frac1{(7/Re)^{0.9}+0.27\,\epsilon/d}\right]^{16},\quad
        B=(37530/Re)^{16}

    Parameters
    ----------
    reynolds : float
        Reynolds number on the hydraulic diameter, > 0. [1]
    relative_roughness : float
        Roughness height over hydraulic diameter, 0 to 0.1. [1]
    laminar : float
        Laminar f times Re: 64 for a round bore, 96 for a wide slot; above 0. [1]

    Returns
    -------
    float
        Darcy friction factor. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Churchill, Chemical Engineering 84 (1977) 91 (from memory).
    """
    within("reynolds", reynolds, 0.0, above=True)
    within("relative_roughness", relative_roughness, 0.0, 0.1)
    within("laminar", laminar, 0.0, above=True)
    return float(_friction(float(reynolds), float(relative_roughness), float(laminar)))


@njit(cache=True)
def _fanno(mach):
    squared = mach * mach
    return ((1.0 - squared) / (GAMMA * squared) + (GAMMA + 1.0) / (2.0 * GAMMA)
            * math.log((GAMMA + 1.0) * squared / (2.0 + (GAMMA - 1.0) * squared)))


def fanno_length(mach: float) -> float:
    r"""Friction length f L*/d that brings air in a bore from a Mach number to sonic.

    .. math:: \frac{fL^*}{d}=\frac{1-M^2}{\gamma M^2}
        +\frac{\gamma+1}{2\gamma}\ln\frac{(\gamma+1)M^2}{2+(\gamma-1)M^2}

    Parameters
    ----------
    mach : float
        Mach number at the start of the length, above 0 to 1. [1]

    Returns
    -------
    float
        Darcy friction factor times length over diameter. [1]

    Raises
    ------
    Refused
        If not above 0 and at most 1.

    References
    ----------
    Adiabatic flow with friction (Fanno), any gas dynamics text.
    """
    within("mach", mach, 0.0, 1.0, above=True)
    return float(_fanno(float(mach)))


@njit(cache=True)
def _flux(mach, pressure, temperature):
    """Mass flux at a Mach number from stagnation pressure and temperature."""
    return (pressure * math.sqrt(GAMMA / (GAS_CONSTANT * temperature)) * mach
            * (1.0 + 0.5 * (GAMMA - 1.0) * mach * mach)
            ** (-(GAMMA + 1.0) / (2.0 * (GAMMA - 1.0))))


@njit(cache=True)
def _exit_mach(flux, pressure, temperature):
    """Mach number at which a flux leaves at a static pressure; above 1 means it chokes."""
    x = flux / pressure * math.sqrt(GAS_CONSTANT * temperature / GAMMA)
    return math.sqrt(2.0 * x * x / (1.0 + math.sqrt(1.0 + 2.0 * (GAMMA - 1.0) * x * x)))


@njit(cache=True)
def _surplus(mach, bore, p1, p2, temperature):
    """Friction length available from inlet Mach to exit, less what the bore takes."""
    length, hydraulic, roughness, laminar, loss = bore[1], bore[2], bore[3], bore[4], bore[5]
    flux = _flux(mach, p1, temperature)
    leaving = min(_exit_mach(flux, p2, temperature), 1.0)
    reynolds = flux * hydraulic / _viscosity(temperature)
    taken = loss + _friction(reynolds, roughness / hydraulic, laminar) * length / hydraulic
    return _fanno(mach) - _fanno(leaving) - taken


@njit(cache=True)
def _inlet_mach(bore, p1, p2, temperature):
    """Inlet Mach number of a bore by bracketing in log Mach (Illinois)."""
    ratio = p2 / p1
    top = 1.0
    if ratio > 0.5282817877:  # no bore passes more than the lossless hole
        top = math.sqrt(5.0 * (ratio ** (-2.0 / 7.0) - 1.0))
    high = math.log(max(top, 2e-9))
    f_high = _capped(high, bore, p1, p2, temperature)
    if f_high > 0.0:
        return math.exp(high)
    low, f_low = high, f_high
    while f_low <= 0.0:  # mostly the root is near the lossless hole
        high, f_high = low, f_low
        low -= 1.0
        if low < _STILL:
            return 0.0
        f_low = _capped(low, bore, p1, p2, temperature)
    return math.exp(_illinois(low, f_low, high, f_high, bore, p1, p2, temperature))


@njit(cache=True)
def _illinois(low, f_low, high, f_high, bore, p1, p2, temperature):
    """Root of the surplus between two ends where its signs differ."""
    side = 0
    middle = low
    for _ in range(80):
        middle = (f_low * high - f_high * low) / (f_low - f_high)
        f = _capped(middle, bore, p1, p2, temperature)
        if high - low < 1e-8 or abs(f) < 1e-11:
            break
        if f > 0.0:
            low, f_low = middle, f
            if side == 1:
                f_high *= 0.5
            side = 1
        else:
            high, f_high = middle, f
            if side == -1:
                f_low *= 0.5
            side = -1
    return middle


@njit(cache=True)
def _capped(log_mach, bore, p1, p2, temperature):
    """The surplus on a scale that does not run away at small Mach numbers."""
    surplus = _surplus(math.exp(log_mach), bore, p1, p2, temperature)
    return surplus / (1.0 + abs(surplus))


@njit(cache=True)
def _bore_flow(bore, p1, p2, temperature):
    """Mass flow through one bore, negative when the pressure is reversed."""
    if p1 == p2:
        return 0.0
    if p1 < p2:
        return -_bore_flow(bore, p2, p1, temperature)
    mach = _inlet_mach(bore, p1, p2, temperature)
    return bore[0] * _flux(mach, p1, temperature) if mach > 0.0 else 0.0


def bore(diameter: float, length: float, roughness: float = 0.0,
         loss: float | None = None) -> np.ndarray:
    """A round bore as the flow functions take it.

    Parameters
    ----------
    diameter : float
        Bore, > 0. [m]
    length : float
        Length of the narrow part, >= 0. [m]
    roughness : float
        Height of the roughness of its wall, 0 to 0.1 diameters. [m]
    loss : float, optional
        Inlet loss and fittings, >= 0; `inlet_loss` when not given. [1]

    Returns
    -------
    array
        Area, length, hydraulic diameter, roughness, laminar constant, loss. [m2]

    Raises
    ------
    Refused
        If a value is not finite or out of range.
    """
    within("diameter", diameter, 0.0, unit="m", above=True)
    return _passage(math.pi / 4.0 * diameter**2, diameter, length, roughness, ROUND, loss)


def slot(width: float, gap: float, length: float, roughness: float = 0.0,
         loss: float | None = None) -> np.ndarray:
    """A flat slot as the flow functions take it.

    Parameters
    ----------
    width : float
        Long side of the opening, at least the gap. [m]
    gap : float
        Short side of the opening, > 0. [m]
    length : float
        Length of the narrow part in the direction of flow, >= 0. [m]
    roughness : float
        Height of the roughness of its wall, 0 to 0.1 hydraulic diameters. [m]
    loss : float, optional
        Inlet loss, >= 0; `inlet_loss` when not given. [1]

    Returns
    -------
    array
        Area, length, hydraulic diameter, roughness, laminar constant, loss. [m2]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    The laminar constant runs from 57 for a square to 96 for a wide slot.

    References
    ----------
    Shah and London, laminar flow in rectangular ducts, fitted polynomial (from memory).
    """
    within("gap", gap, 0.0, unit="m", above=True)
    within("width", width, gap, unit="m")
    shape = gap / width
    laminar = SLOT * (1.0 - 1.3553 * shape + 1.9467 * shape**2 - 1.7012 * shape**3
                      + 0.9564 * shape**4 - 0.2537 * shape**5)
    hydraulic = 2.0 * width * gap / (width + gap)
    return _passage(width * gap, hydraulic, length, roughness, laminar, loss)


def _passage(area, hydraulic, length, roughness, laminar, loss) -> np.ndarray:
    within("length", length, 0.0, unit="m")
    within("roughness", roughness, 0.0, 0.1 * hydraulic, "m")
    if loss is None:
        loss = inlet_loss(length / hydraulic)
    within("loss", loss, 0.0)
    return np.array([area, length, hydraulic, roughness, laminar, loss], dtype=float)


def bore_mass_flow(passage: np.ndarray, upstream_pressure: float, downstream_pressure: float,
                   temperature: float) -> float:
    r"""Mass flow of air through a bore or slot of any length, choked or not.

    .. math:: K + f(Re)\frac Ld = \frac{fL^*}{d}(M_1)-\frac{fL^*}{d}(M_2),\qquad M_2 \le 1

    In words: lossless acceleration to the inlet Mach number M1, then inlet loss and friction on
    the way to M2, at which the air leaves at the back pressure or, once choked, at M2 = 1.

    Parameters
    ----------
    passage : array
        From `bore` or `slot`: area first, then lengths and ratios. [m2]
    upstream_pressure : float
        Absolute stagnation pressure on the side the air leaves, > 0. [Pa]
    downstream_pressure : float
        Absolute pressure on the other side, above 0 to upstream_pressure. [Pa]
    temperature : float
        Absolute stagnation temperature of the air, 150 to 1000. [K]

    Returns
    -------
    float
        Mass flow. [kg/s]

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the pressure is reversed.

    Notes
    -----
    Adiabatic walls, fully developed friction, continuum flow: below some 1 kPa in bores of a
    tenth of a millimetre the air slips and more flows. The kinetic energy of a developing laminar
    profile is left out; it matters for bores shorter than some 0.06 Re diameters.

    Examples
    --------
    >>> round(1e6 * bore_mass_flow(bore(0.5e-3, 10e-3), 101325, 2e4, 293.15), 1)
    34.6
    """
    _pressures(upstream_pressure, downstream_pressure)
    within("downstream_pressure", downstream_pressure, 0.0, unit="Pa", above=True)
    within("temperature", temperature, 150.0, 1000.0, "K")
    return float(_bore_flow(passage, float(upstream_pressure), float(downstream_pressure),
                            float(temperature)))


def bore_discharge_coefficient(passage: np.ndarray, upstream_pressure: float,
                               downstream_pressure: float, temperature: float) -> float:
    """Flow of a bore or slot over that of a lossless hole of the same area.

    Parameters
    ----------
    passage : array
        From `bore` or `slot`: area first, then lengths and ratios. [m2]
    upstream_pressure : float
        Absolute stagnation pressure on the side the air leaves, > 0. [Pa]
    downstream_pressure : float
        Absolute pressure on the other side, above 0, below upstream_pressure. [Pa]
    temperature : float
        Absolute stagnation temperature of the air, 150 to 1000. [K]

    Returns
    -------
    float
        Discharge coefficient. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range, or there is no pressure difference.
    """
    within("downstream_pressure", downstream_pressure, 0.0, upstream_pressure, "Pa",
           above=True, below=True)
    flow = bore_mass_flow(passage, upstream_pressure, downstream_pressure, temperature)
    return flow / (passage[0] * nozzle_mass_flux(upstream_pressure, downstream_pressure,
                                                 temperature))


def laminar_bore_mass_flow(diameter: float, length: float, upstream_pressure: float,
                           downstream_pressure: float, temperature: float) -> float:
    r"""Mass flow through a long narrow bore, laminar, isothermal, inertia neglected.

    .. math:: \dot m = \frac{\pi d^4 (p_1^2-p_2^2)}{256\,\mu L R T}

    Parameters
    ----------
    diameter : float
        Bore, > 0. [m]
    length : float
        Length, > 0. [m]
    upstream_pressure : float
        Absolute pressure on the side the air leaves, > 0. [Pa]
    downstream_pressure : float
        Absolute pressure on the other side, above 0 to upstream_pressure. [Pa]
    temperature : float
        Absolute temperature, 150 to 1000. [K]

    Returns
    -------
    float
        Mass flow. [kg/s]

    Raises
    ------
    Refused
        If out of range, or where the formula stops being true: Reynolds number above 2300, or
        exit Mach number above 0.3. Use `bore_mass_flow` there.

    References
    ----------
    Compressible Hagen-Poiseuille flow, any text on viscous flow.
    """
    within("diameter", diameter, 0.0, unit="m", above=True)
    within("length", length, 0.0, unit="m", above=True)
    _pressures(upstream_pressure, downstream_pressure)
    within("downstream_pressure", downstream_pressure, 0.0, unit="Pa", above=True)
    viscosity = air_viscosity(temperature)
    flow = (math.pi * diameter**4 * (upstream_pressure**2 - downstream_pressure**2)
            / (256.0 * viscosity * length * GAS_CONSTANT * temperature))
    reynolds = 4.0 * flow / (math.pi * diameter * viscosity)
    speed = flow * GAS_CONSTANT * temperature / (downstream_pressure
                                                 * math.pi / 4.0 * diameter**2)
    mach = speed / math.sqrt(GAMMA * GAS_CONSTANT * temperature)
    for name, value, limit in (("Reynolds number", reynolds, 2300.0),
                               ("exit Mach number", mach, 0.3)):
        if value > limit:
            raise Refused(name, f"The laminar formula does not hold: {name} {value:.3g} is above "
                                f"{limit:g}. Use the flow with friction and choking.")
    return flow


@njit(cache=True)
def _valve_flow(conductance, critical_ratio, p1, p2, temperature):
    if p1 < p2:
        return -_valve_flow(conductance, critical_ratio, p2, p1, temperature)
    choked = (conductance * p1 * REFERENCE_DENSITY
              * math.sqrt(REFERENCE_TEMPERATURE / temperature))
    excess = max(p2 / p1 - critical_ratio, 0.0) / (1.0 - critical_ratio)
    open_share = 1.0 - excess * excess
    return choked * open_share / math.sqrt(open_share + _CREEPING)


def valve_mass_flow(conductance: float, critical_ratio: float, upstream_pressure: float,
                    downstream_pressure: float, temperature: float) -> float:
    r"""Mass flow of air through a valve, fitting or line of known sonic conductance.

    .. math:: \dot m = C\,p_1\,\rho_0\sqrt{\frac{T_0}{T_1}}\,
        \sqrt{1-\left(\frac{p_2/p_1-b}{1-b}\right)^2}\quad(p_2/p_1>b)

    In words: below the critical ratio b the root is 1. Where the flow vanishes the root is bent
    into a straight line, as creeping flow is; elsewhere that changes it by some 0.02 %.

    Parameters
    ----------
    conductance : float
        Sonic conductance C, > 0. [m3/(s Pa)]
    critical_ratio : float
        Critical pressure ratio b, 0 to below 1. [1]
    upstream_pressure : float
        Absolute pressure on the side the air leaves, > 0. [Pa]
    downstream_pressure : float
        Absolute pressure on the other side, 0 to upstream_pressure. [Pa]
    temperature : float
        Absolute temperature of the air that leaves, > 0. [K]

    Returns
    -------
    float
        Mass flow. [kg/s]

    Raises
    ------
    Refused
        If a value is not finite or out of range, or the pressure is reversed.

    References
    ----------
    ISO 6358-1 (equation from memory).
    """
    _pressures(upstream_pressure, downstream_pressure)
    within("conductance", conductance, 0.0, unit="m3/(s Pa)", above=True)
    within("critical_ratio", critical_ratio, 0.0, 1.0, below=True)
    within("temperature", temperature, 0.0, unit="K", above=True)
    return float(_valve_flow(float(conductance), float(critical_ratio), float(upstream_pressure),
                             float(downstream_pressure), float(temperature)))


def passage_conductance(passage: np.ndarray, pressure: float = STANDARD_PRESSURE,
                        temperature: float = REFERENCE_TEMPERATURE) -> tuple[float, float]:
    """Sonic conductance and critical ratio of a bore or line, fitted to its flow with friction.

    Parameters
    ----------
    passage : array
        From `bore` or `slot`: area first, then lengths and ratios. [m2]
    pressure : float
        Upstream pressure at which it is fitted, > 0. [Pa]
    temperature : float
        Temperature at which it is fitted, 150 to 1000. [K]

    Returns
    -------
    tuple of float
        Sonic conductance C [m3/(s Pa)] and critical ratio b. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    C is taken at high vacuum, b so that the flow agrees at p2/p1 = 0.8.
    """
    choked = bore_mass_flow(passage, pressure, 1e-3 * pressure, temperature)
    conductance = choked / (pressure * REFERENCE_DENSITY) * math.sqrt(
        temperature / REFERENCE_TEMPERATURE)
    share = bore_mass_flow(passage, pressure, 0.8 * pressure, temperature) / choked
    root = math.sqrt(max(1.0 - share**2, 0.0))
    return conductance, max((0.8 - root) / (1.0 - root), 0.0)


def in_series(*elements: tuple[float, float]) -> tuple[float, float]:
    r"""Sonic conductance and critical ratio of elements one behind the other.

    .. math:: \frac1{C^3}=\sum\frac1{C_i^3},\qquad 1-b = C^2\sum\frac{1-b_i}{C_i^2}

    Parameters
    ----------
    *elements : tuple of float
        Pairs of C, > 0, and b, 0 to below 1. [m3/(s Pa), 1]

    Returns
    -------
    tuple of float
        C and b of the whole. [m3/(s Pa), 1]

    Raises
    ------
    Refused
        If there is no element, or one is out of range.

    References
    ----------
    ISO 6358-3, approximate composition (from memory).
    """
    if not elements:
        raise Refused("elements", "There must be at least one element in the line.")
    for conductance, ratio in elements:
        within("conductance", conductance, 0.0, unit="m3/(s Pa)", above=True)
        within("critical_ratio", ratio, 0.0, 1.0, below=True)
    whole = sum(c**-3 for c, _ in elements) ** (-1.0 / 3.0)
    ratio = 1.0 - whole**2 * sum((1.0 - b) / c**2 for c, b in elements)
    return whole, min(max(ratio, 0.0), 0.999)


def _pressures(upstream_pressure, downstream_pressure) -> None:
    within("upstream_pressure", upstream_pressure, 0.0, unit="Pa", above=True)
    within("downstream_pressure", downstream_pressure, 0.0, unit="Pa")
    if np.any(np.asarray(downstream_pressure) > np.asarray(upstream_pressure)):
        raise Refused("downstream_pressure",
                      f"downstream_pressure must not exceed upstream_pressure: "
                      f"{np.max(downstream_pressure):g} > {np.min(upstream_pressure):g}.")
