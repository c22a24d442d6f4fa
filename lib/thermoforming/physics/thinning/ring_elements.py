"""Compiled kernels of the membrane of revolution: forces, stiffness, gaps to a profile.

Nodes lie on the meridian of the sheet, two coordinates each (across, up). The stiffness is kept
as a band of three each side, in the layout of LAPACK's banded solver.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from thermoforming.physics.thinning.hyperelastic import natural_width, nominal_stress, stiffness

BAND = 3
FREE, FIXED, ON_AXIS, SLIDES = 0, 1, 2, 3


@njit(cache=True)
def folded_derivatives(l1, l2, terms):
    """Nominal stresses and their derivatives, with the hoop stress let go when it would push."""
    p1, p2 = nominal_stress(l1, l2, terms)
    w11, w12, w22 = stiffness(l1, l2, terms)
    if p2 >= 0.0 or l1 <= 1.0:
        return p1, p2, w11, w12, w22
    width = natural_width(l1)
    p1, _ = nominal_stress(l1, width, terms)
    a11, a12, a22 = stiffness(l1, width, terms)
    return p1, 0.0, a11 - a12 * a12 / a22, 0.0, 1e-3 * a22


@njit(cache=True)
def assemble(x, rest, weight, set_stress, terms, pressure):
    """Out-of-balance force, banded stiffness, volume below the clamp plane and its gradient.

    `rest` are the nodes' radii in the flat sheet, `weight` is gauge times relative stiffness of
    each element; `set_stress` is nominal stress that set when the sheet was chilled and no longer
    pulls (both directions, in units of the law). Rows of the band matrix follow LAPACK: entry
    (i, j) at [2 * BAND + i - j, j].
    """
    count = len(rest)
    force = np.zeros(2 * count)
    band = np.zeros((3 * BAND + 1, 2 * count))
    gradient = np.zeros(2 * count)
    volume = 0.0
    d1 = np.zeros(4)
    d2 = np.zeros(4)
    third = np.pi / 3.0
    for e in range(count - 1):
        length = rest[e + 1] - rest[e]
        middle = 0.5 * (rest[e + 1] + rest[e])
        dr = x[e + 1, 0] - x[e, 0]
        dz = x[e + 1, 1] - x[e, 1]
        now = np.sqrt(dr * dr + dz * dz)
        c, s = dr / now, dz / now
        l1 = now / length
        l2 = max(0.5 * (x[e, 0] + x[e + 1, 0]) / middle, 1e-6)
        p1, p2, w11, w12, w22 = folded_derivatives(l1, l2, terms)
        p1 -= set_stress[e, 0]
        p2 -= set_stress[e, 1]
        amount = 2.0 * np.pi * middle * length * weight[e]
        d1[0], d1[1], d1[2], d1[3] = -c / length, -s / length, c / length, s / length
        d2[0], d2[1], d2[2], d2[3] = 0.5 / middle, 0.0, 0.5 / middle, 0.0
        bend = p1 / (length * now)
        for i in range(4):
            row = 2 * e + i
            force[row] += amount * (p1 * d1[i] + p2 * d2[i])
            for j in range(4):
                sign = 1.0 if (i < 2) == (j < 2) else -1.0
                if i % 2 == 0 and j % 2 == 0:
                    turn = s * s
                elif i % 2 == 1 and j % 2 == 1:
                    turn = c * c
                else:
                    turn = -s * c
                value = amount * (w11 * d1[i] * d1[j] + w22 * d2[i] * d2[j]
                                  + w12 * (d1[i] * d2[j] + d2[i] * d1[j]) + bend * sign * turn)
                band[2 * BAND + row - (2 * e + j), 2 * e + j] += value
        a, b = x[e, 0], x[e + 1, 0]
        square = a * a + a * b + b * b
        volume += third * square * dz
        gradient[2 * e] += third * (2.0 * a + b) * dz
        gradient[2 * e + 1] -= third * square
        gradient[2 * e + 2] += third * (a + 2.0 * b) * dz
        gradient[2 * e + 3] += third * square
        _add_pressure_stiffness(band, 2 * e, a, b, dz, -pressure * third)
    for i in range(2 * count):
        force[i] -= pressure * gradient[i]
    return force, band, gradient, volume


@njit(cache=True)
def _add_pressure_stiffness(band, k, a, b, dz, factor):
    """Second derivatives of an element's volume, times `factor`."""
    first, last = (2.0 * a + b) * factor, (a + 2.0 * b) * factor
    mid = 2 * BAND
    band[mid, k] += 2.0 * dz * factor
    band[mid, k + 2] += 2.0 * dz * factor
    band[mid + 2, k] += dz * factor
    band[mid - 2, k + 2] += dz * factor
    for i, j, value in ((0, 1, -first), (0, 3, first), (2, 1, -last), (2, 3, last)):
        band[mid + i - j, k + j] += value
        band[mid + j - i, k + i] += value


@njit(cache=True)
def constrain(band, right, code, drift, normal, lean, scale):
    """Replace the rows of held nodes; `right` has the force and the volume gradient as columns.

    `drift` is how far each node still has to go (to its hold, or along the normal onto the tool
    in the first column); `lean` is friction times the direction of sliding.
    """
    count = len(code)
    for n in range(count):
        if code[n] == FREE:
            continue
        up, out = 2 * n, 2 * n + 1
        if code[n] == FIXED:
            _clear(band, up)
            _clear(band, out)
            band[2 * BAND, up] = scale
            band[2 * BAND, out] = scale
            right[up, 0], right[out, 0] = scale * drift[n, 0], scale * drift[n, 1]
            right[up, 1] = right[out, 1] = 0.0
            continue
        if code[n] == ON_AXIS:
            _clear(band, up)
            band[2 * BAND, up] = scale
            right[up, 0] = right[up, 1] = 0.0
            continue
        nr, nz = normal[n, 0], normal[n, 1]
        wr, wz = nz + lean[n] * nr, -nr + lean[n] * nz
        for j in range(max(0, up - 2), min(2 * count, up + 4)):
            mix = wr * band[2 * BAND + up - j, j] + wz * band[2 * BAND + out - j, j]
            if abs(wr) >= abs(wz):  # keep the stronger row on its own diagonal
                band[2 * BAND + up - j, j] = mix
                band[2 * BAND + out - j, j] = 0.0
            else:
                band[2 * BAND + out - j, j] = mix
                band[2 * BAND + up - j, j] = 0.0
        for k in range(2):
            mix = wr * right[up, k] + wz * right[out, k]
            gap = scale * drift[n, 0] if k == 0 else 0.0
            right[up, k], right[out, k] = (mix, gap) if abs(wr) >= abs(wz) else (gap, mix)
        row = out if abs(wr) >= abs(wz) else up
        band[2 * BAND + row - up, up] = scale * nr
        band[2 * BAND + row - out, out] = scale * nz


@njit(cache=True)
def _clear(band, row):
    for j in range(max(0, row - BAND), min(band.shape[1], row + BAND + 1)):
        band[2 * BAND + row - j, j] = 0.0


@njit(cache=True)
def measure_gaps(x, points, side, shift):
    """Signed distance of each node to a profile, the foot of it and the unit normal there.

    `points` run outward from the axis; `side` is +1 if the free side is on their left (a tool
    below the sheet), -1 if on their right (a plug above). The last segment runs on without end.
    """
    count, segments = len(x), len(points) - 1
    gap = np.empty(count)
    foot = np.empty((count, 2))
    normal = np.empty((count, 2))
    for n in range(count):
        r, z = x[n, 0], x[n, 1] - shift
        best, at, where = np.inf, 0, 0.0
        for k in range(segments):
            er, ez = points[k + 1, 0] - points[k, 0], points[k + 1, 1] - points[k, 1]
            t = ((r - points[k, 0]) * er + (z - points[k, 1]) * ez) / (er * er + ez * ez)
            t = max(t, 0.0) if k == segments - 1 else min(max(t, 0.0), 1.0)
            fr, fz = points[k, 0] + t * er - r, points[k, 1] + t * ez - z
            if fr * fr + fz * fz < best - 1e-30:
                best, at, where = fr * fr + fz * fz, k, t
        er, ez = points[at + 1, 0] - points[at, 0], points[at + 1, 1] - points[at, 1]
        foot[n, 0], foot[n, 1] = points[at, 0] + where * er, points[at, 1] + where * ez
        size = np.sqrt(er * er + ez * ez)
        nr, nz = -side * ez / size, side * er / size
        if (where == 0.0 and at > 0) or (where == 1.0 and at < segments - 1):
            other = at - 1 if where == 0.0 else at + 1
            br, bz = (points[other + 1, 0] - points[other, 0],
                      points[other + 1, 1] - points[other, 1])
            size = np.sqrt(br * br + bz * bz)
            nr, nz = nr - side * bz / size, nz + side * br / size
            size = np.sqrt(nr * nr + nz * nz)
            nr, nz = nr / size, nz / size
        distance = np.sqrt(best)
        sign = 1.0 if (r - foot[n, 0]) * nr + (z - foot[n, 1]) * nz >= 0.0 else -1.0
        gap[n] = sign * distance
        normal[n, 0], normal[n, 1] = nr, nz
        foot[n, 1] += shift
    return gap, foot, normal
