"""Ribs as T-sections, and a skin with ribs in two directions as an orthotropic plate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermoforming.guard import within
from thermoforming.physics.toolwall.plates import rigidity


@dataclass(frozen=True)
class Section:
    """A T-section: a rib (web) with the skin it works with (flange). SI, floats or arrays."""

    area: np.ndarray
    centroid: np.ndarray  # from the rib's tip
    second_moment: np.ndarray  # about the centroid
    tip_modulus: np.ndarray  # second moment / distance of the rib's tip
    face_modulus: np.ndarray  # second moment / distance of the skin's outer face


def t_section(flange_width, flange_thickness, web_thickness, web_height) -> Section:
    """Section properties of a rib with its share of the skin.

    .. math:: I = \\sum \\frac{b h^3}{12} + A (y - \\bar y)^2

    Parameters
    ----------
    flange_width : float or array
        Width of skin that works with the rib, > 0. [m]
    flange_thickness : float or array
        Skin thickness, > 0. [m]
    web_thickness : float or array
        Rib thickness, > 0. [m]
    web_height : float or array
        Rib height below the skin, >= 0. [m]

    Returns
    -------
    Section
        Area [m2], centroid from the tip [m], second moment [m4], section moduli [m3].

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    References
    ----------
    Parallel-axis theorem; any textbook of statics.
    """
    within("flange width", flange_width, 0.0, unit="m", above=True)
    within("flange thickness", flange_thickness, 0.0, unit="m", above=True)
    within("rib thickness", web_thickness, 0.0, unit="m", above=True)
    within("rib height", web_height, 0.0, unit="m")
    flange, web = flange_width * flange_thickness, web_thickness * web_height
    depth = web_height + flange_thickness
    at_flange, at_web = web_height + flange_thickness / 2.0, web_height / 2.0
    area = flange + web
    centroid = (flange * at_flange + web * at_web) / area
    second = (flange * (flange_thickness**2 / 12.0 + (at_flange - centroid) ** 2)
              + web * (web_height**2 / 12.0 + (at_web - centroid) ** 2))
    return Section(area, centroid, second, second / centroid, second / (depth - centroid))


def effective_width(pitch, span, poisson):
    """Share of the skin between equal parallel ribs that works as their flange (shear lag).

    .. math:: \\lambda = \\frac{f'(b)}{f''(b) + \\nu k^2 f(b)}, \\quad
        f = A \\cosh ky + B k y \\sinh ky, \\quad k = \\pi / L

    f is Airy's stress function of a flange under a moment that varies as a sine over the span L,
    y from the middle between two ribs, b half the pitch; A and B follow from no sideways movement
    at the ribs.

    Parameters
    ----------
    pitch : float or array
        Distance between ribs, > 0. [m]
    span : float or array
        Length over which the moment keeps its sign, > 0: the span between supported ends, 0.58 of
        it between clamped ends. [m]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]

    Returns
    -------
    float or array
        Effective width over pitch, at most 1. [1]

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Ribs far apart tend to 4 L / (pi (3 + 2 nu - nu^2)) of flange each, 0.363 L for nu = 0.3.

    References
    ----------
    Timoshenko & Goodier, Theory of Elasticity, effective width of wide beam flanges (from memory).
    """
    within("rib pitch", pitch, 0.0, unit="m", above=True)
    within("span", span, 0.0, unit="m", above=True)
    within("Poisson's ratio", poisson, 0.0, 0.5, below=True)
    k = np.pi / np.asarray(span, dtype=float)
    half = np.asarray(pitch, dtype=float) / 2.0
    x = np.minimum(k * half, 20.0)  # wider is the same: nothing reaches so far from a rib
    sh, ch = np.sinh(x), np.cosh(x)
    b = -(1.0 + poisson) * sh
    a = (1.0 + poisson) * x * ch - (1.0 - poisson) * sh
    first = a * sh + b * (sh + x * ch)
    second = a * ch + b * (2.0 * ch + x * sh)
    value = a * ch + b * x * sh
    return np.minimum(1.0, first / (second + poisson * value) / (k * half))


@dataclass(frozen=True)
class Smeared:
    """A ribbed skin as one orthotropic plate; z from the skin's middle toward the rib tips.

    `bend_x`, `bend_y`, `coupling`, `twist` are the stiffnesses (twist is H); `shear_x`, `shear_y`
    those of shear; `shift_xx` etc. give the strain of the skin's middle plane when free of net
    force: e_x = shift_xx k_x + shift_xy k_y (and likewise e_y) from the curvatures -w_xx, -w_yy.
    """

    bend_x: np.ndarray
    bend_y: np.ndarray
    coupling: np.ndarray
    twist: np.ndarray
    shear_x: np.ndarray
    shear_y: np.ndarray
    shift_xx: np.ndarray
    shift_xy: np.ndarray
    shift_yx: np.ndarray
    shift_yy: np.ndarray


def smeared(skin, rib_thickness, rib_height, along, across, modulus, poisson,
            working_x=1.0, working_y=1.0) -> Smeared:
    """Stiffness of a skin with ribs on one side in two directions, spread over the pitch.

    .. math:: D_{eff} = D - B A^{-1} B

    A, B and D are the stretching, coupling and bending stiffness of skin and ribs about the skin's
    middle; the plate is free to stretch in its plane, so the neutral plane finds its own place.

    Parameters
    ----------
    skin : float or array
        Skin thickness, > 0. [m]
    rib_thickness, rib_height : float or array
        Rib section, > 0 and >= 0. [m]
    along, across : float or array
        Ribs per metre: those that run along x (counted over y), those along y, >= 0. [1/m]
    modulus : float or array
        Young's modulus at temperature, > 0. [Pa]
    poisson : float or array
        Poisson's ratio, 0 to below 0.5. [1]
    working_x, working_y : float or array
        Share of the skin that works as flange of the ribs along x, along y, above 0 to 1. [1]

    Returns
    -------
    Smeared
        Stiffness per width [N m], [N/m]; shifts [m].

    Raises
    ------
    Refused
        If a value is not finite or out of range.

    Notes
    -----
    Good for three or more ribs in a direction; reduces to the plain plate without ribs. Crossings
    are counted in neither rib's favour: they are a little stiffer than taken.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 86 (from memory);
    the elimination of the in-plane strains is derived here.
    """
    within("ribs per metre along", along, 0.0, unit="1/m")
    within("ribs per metre across", across, 0.0, unit="1/m")
    for name, share in (("working share x", working_x), ("working share y", working_y)):
        within(name, share, 0.0, 1.0, above=True)
    within("rib thickness", rib_thickness, 0.0, unit="m", above=True)
    within("rib height", rib_height, 0.0, unit="m")
    d = rigidity(modulus, skin, poisson)
    plane = modulus * skin / (1.0 - poisson**2)
    offset = (skin + rib_height) / 2.0
    area, own = rib_thickness * rib_height, rib_thickness * rib_height**3 / 12.0
    axx, ayy = (plane * s + modulus * area * n for s, n in ((working_x, along),
                                                           (working_y, across)))
    axy = poisson * plane * np.sqrt(np.asarray(working_x) * working_y)
    bx, by = modulus * area * offset * along, modulus * area * offset * across
    dx, dy = (d + modulus * (own + area * offset**2) * n for n in (along, across))
    det = axx * ayy - axy**2
    shear_modulus = modulus / (2.0 * (1.0 + poisson))
    torsion = shear_modulus * _torsion(rib_thickness, rib_height) * (along + across) / 2.0
    coupling = poisson * d + bx * by * axy / det
    return Smeared(dx - bx**2 * ayy / det, dy - by**2 * axx / det, coupling,
                   coupling + (1.0 - poisson) * d + torsion,
                   shear_modulus * _shear_area(skin, rib_thickness, rib_height, along),
                   shear_modulus * _shear_area(skin, rib_thickness, rib_height, across),
                   -ayy * bx / det, axy * by / det, axy * bx / det, -axx * by / det)


def _torsion(thickness, height):
    """Torsion constant of a rectangle, thin or square (Roark's approximation, from memory)."""
    long = np.maximum(np.maximum(thickness, height), 1e-12)
    short = np.minimum(thickness, height)
    ratio = short / long
    return long * short**3 * (1.0 / 3.0 - 0.21 * ratio * (1.0 - ratio**4 / 12.0))


def _shear_area(skin, thickness, height, count):
    """Shear area per width of the T-section by its energy, I^2 / int S^2/b dz; 5/6 t if plain."""
    web = np.asarray(count * thickness, dtype=float)  # width of web per width of plate
    section = t_section(1.0, skin, np.maximum(web, 1e-12), height)
    nodes, weights = np.polynomial.legendre.leggauss(5)
    nodes, weights = (nodes + 1.0) / 2.0, weights / 2.0
    up = section.centroid
    energy = 0.0
    for node, weight in zip(nodes, weights, strict=True):
        z = node * height  # in the web, from the tip
        moment = z * (up - z / 2.0)  # per width of web
        energy = energy + weight * height * web * moment**2
        z = node * skin  # in the flange, from the outer face
        moment = z * (height + skin - z / 2.0 - up)
        energy = energy + weight * skin * moment**2
    return section.second_moment**2 / energy
