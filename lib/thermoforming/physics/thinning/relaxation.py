"""Compiled march of the membrane: forces, fictitious masses, damping, volume control, contact.

The quasi-static path is followed by dynamic relaxation in steps of unit time. Each node's mass is
the least that keeps the central-difference step stable; only the velocity relative to its running
mean is damped, so that the steady advance of the sheet is not held back. The pressure is the
multiplier that gives the sheet its rate of enclosed volume in that very step, up to a limit: the
pressure maximum of a blown sheet is passed without a jump.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from thermoforming.physics.thinning.contact import closest
from thermoforming.physics.thinning.hyperelastic import nominal_stress, stiffness, tension_field

FREE, TOOL, PLUG, CLAMP = 0, 1, 2, 3
# entries of the control array of `march`
(RATE, MOST, LEAST, DAMPING, MEMORY, CLAMP_STEP, PRESSURE, VOLUME, SPEED, RESIDUAL, LANDED,
 FRAME_AREA, PLUG_AT, PLUG_STEP, TOLERANCE, FRICTION, PLUG_FRICTION, TOP) = range(18)
STICKING = 1e9
_FAST = {"contract", "reassoc", "arcp", "nsz"}


@njit(cache=True, fastmath=_FAST, error_model="numpy", inline="always")
def _mooney(c11, c12, c22, c1, c2):
    """Second Piola-Kirchhoff stress of c1 (I1 - 3) + c2 (I2 - 3)."""
    det = c11 * c22 - c12 * c12
    one = 1.0 / det
    a = 2.0 * (c1 + c2 * one)
    b = 2.0 * (c2 - (c1 + c2 * (c11 + c22)) * one * one)
    return a + b * c22, -b * c12, a + b * c11


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def _principal(c11, c12, c22, terms, folds):
    """Second Piola-Kirchhoff stress from principal stretches, folding rather than compressed."""
    mean, half = 0.5 * (c11 + c22), 0.5 * (c11 - c22)
    r = np.sqrt(half * half + c12 * c12)
    l1, l2 = np.sqrt(mean + r), np.sqrt(max(mean - r, 1e-12))
    w1, w2 = tension_field(l1, l2, terms) if folds else nominal_stress(l1, l2, terms)
    s1, s2 = w1 / l1, w2 / l2
    m = 0.5 * (s1 + s2)
    d = 0.5 * (s1 - s2) / r if r > 1e-9 * mean else 0.0
    return m + d * half, d * c12, m - d * half


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def stress(c11, c12, c22, c1, c2, terms):
    """Second Piola-Kirchhoff stress of the sheet at a right Cauchy-Green tensor.

    c1, c2 are the Mooney-Rivlin constants; c1 < 0 says that the law has other powers.
    """
    if c1 >= 0.0:
        s11, s12, s22 = _mooney(c11, c12, c22, c1, c2)
        if s11 + s22 >= 0.0 and s11 * s22 >= s12 * s12:
            return s11, s12, s22
    return _principal(c11, c12, c22, terms, True)


@njit(cache=True, nogil=True, fastmath=_FAST, error_model="numpy")
def forces(x, tri, inverse, volume, skin, c1, c2, terms, f, a):
    """Add up the internal force f and the area vector a of each node of the listed triangles.

    Triangles from number `skin` on are second layers of earlier ones (chilled skin): they pull but
    carry no pressure.
    """
    f[:] = 0.0
    a[:] = 0.0
    for e in range(tri.shape[0]):
        i, j, k = tri[e, 0], tri[e, 1], tri[e, 2]
        ux, uy, uz = x[j, 0] - x[i, 0], x[j, 1] - x[i, 1], x[j, 2] - x[i, 2]
        wx, wy, wz = x[k, 0] - x[i, 0], x[k, 1] - x[i, 1], x[k, 2] - x[i, 2]
        b00, b01, b10, b11 = inverse[e, 0], inverse[e, 1], inverse[e, 2], inverse[e, 3]
        f00, f01 = ux * b00 + wx * b10, ux * b01 + wx * b11
        f10, f11 = uy * b00 + wy * b10, uy * b01 + wy * b11
        f20, f21 = uz * b00 + wz * b10, uz * b01 + wz * b11
        s11, s12, s22 = stress(f00 * f00 + f10 * f10 + f20 * f20,
                               f00 * f01 + f10 * f11 + f20 * f21,
                               f01 * f01 + f11 * f11 + f21 * f21, c1, c2, terms)
        q = volume[e]
        # columns of -V S B^T, so that the force of corner j is F times the first, of k the second
        g00, g01 = -q * (s11 * b00 + s12 * b01), -q * (s11 * b10 + s12 * b11)
        g10, g11 = -q * (s12 * b00 + s22 * b01), -q * (s12 * b10 + s22 * b11)
        jx, kx = f00 * g00 + f01 * g10, f00 * g01 + f01 * g11
        jy, ky = f10 * g00 + f11 * g10, f10 * g01 + f11 * g11
        jz, kz = f20 * g00 + f21 * g10, f20 * g01 + f21 * g11
        f[j, 0] += jx
        f[j, 1] += jy
        f[j, 2] += jz
        f[k, 0] += kx
        f[k, 1] += ky
        f[k, 2] += kz
        f[i, 0] -= jx + kx
        f[i, 1] -= jy + ky
        f[i, 2] -= jz + kz
        if e >= skin:
            continue
        ax = (uy * wz - uz * wy) / 6.0
        ay = (uz * wx - ux * wz) / 6.0
        az = (ux * wy - uy * wx) / 6.0
        # the vacuum is below: the load points against the upward normal
        a[i, 0] -= ax
        a[i, 1] -= ay
        a[i, 2] -= az
        a[j, 0] -= ax
        a[j, 1] -= ay
        a[j, 2] -= az
        a[k, 0] -= ax
        a[k, 1] -= ay
        a[k, 2] -= az


@njit(cache=True)
def masses(x, tri, inverse, volume, terms, margin, m):
    """Fictitious masses for which a step of unit time is stable, with a margin.

    Each triangle gives each of its corners a quarter of the largest eigenvalue of its stiffness:
    the largest tangent of the law times that of the sum of its shape gradients.
    """
    m[:] = 0.0
    for e in range(tri.shape[0]):
        i, j, k = tri[e, 0], tri[e, 1], tri[e, 2]
        b00, b01, b10, b11 = inverse[e, 0], inverse[e, 1], inverse[e, 2], inverse[e, 3]
        c11 = c12 = c22 = 0.0
        for d in range(3):
            u, w = x[j, d] - x[i, d], x[k, d] - x[i, d]
            p, r = u * b00 + w * b10, u * b01 + w * b11
            c11 += p * p
            c12 += p * r
            c22 += r * r
        top = _largest_tangent(c11, c12, c22, terms)
        z0, z1 = b00 + b10, b01 + b11
        g11 = b00 * b00 + b10 * b10 + z0 * z0
        g22 = b01 * b01 + b11 * b11 + z1 * z1
        g12 = b00 * b01 + b10 * b11 + z0 * z1
        wide = 0.5 * (g11 + g22) + np.sqrt(0.25 * (g11 - g22) ** 2 + g12 * g12)
        share = 0.25 * margin * top * wide * volume[e]
        m[i] += share
        m[j] += share
        m[k] += share


@njit(cache=True)
def _largest_tangent(c11, c12, c22, terms):
    """Bound on the eigenvalues of the second derivative of the energy by the gradient."""
    mean = 0.5 * (c11 + c22)
    r = np.sqrt(0.25 * (c11 - c22) ** 2 + c12 * c12)
    l1 = max(np.sqrt(mean + r), 1.0)
    l2 = max(np.sqrt(max(mean - r, 0.0)), 1.0 / np.sqrt(l1))
    w11, w12, w22 = stiffness(l1, l2, terms)
    w1, w2 = nominal_stress(l1, l2, terms)
    shear = (w1 - w2) / (l1 - l2) if l1 - l2 > 1e-6 else w11 - w12
    return max(max(w11, w22) + abs(w12), abs(shear), (w1 + w2) / (l1 + l2))


@njit(cache=True, nogil=True, fastmath=_FAST, error_model="numpy")
def march(steps, x, v, w, m, state, gap, gone, near, normal, landed, free, tri, inverse, volume,
          skin, c1, c2, terms, f, a, tool, plug, control):
    """Advance the sheet by some steps of unit time.

    `control` holds, by the names of this module: the mean normal travel a step asked for, most and
    least pressure, damping, memory of the running mean, travel of clamp and plug a step, and what
    the march returns: running mean of the pressure, volume evacuated, mean normal travel and
    relative residual of the last step, nodes landed, where the plug is, height of the sheet's top.
    """
    damping, memory = control[DAMPING], 1.0 / control[MEMORY]
    for _ in range(steps):
        forces(x, tri, inverse, volume, skin, c1, c2, terms, f, a)
        swept, gain, area = _sweep(v, w, m, state, free, f, a, damping, control)
        p = control[MOST]
        if gain > 0.0:
            p = min(max((control[RATE] * area - swept) / gain, control[LEAST]), control[MOST])
        control[PRESSURE] += (p - control[PRESSURE]) * memory
        control[PLUG_AT] += control[PLUG_STEP]
        rest, load, moved, top = 0.0, 0.0, 0.0, -1e300
        for q in range(free.shape[0]):
            i = free[q]
            if state[i] == CLAMP:
                x[i, 2] += control[CLAMP_STEP]
                continue
            if state[i] != FREE:
                if state[i] == PLUG or control[FRICTION] < STICKING:
                    _ride(i, x, v, f, a, p, m, state, gap, gone, near, normal, tool, plug, control)
                continue
            s = 1.0 / m[i]
            step2 = 0.0
            for d in range(3):
                rest += (f[i, d] + control[PRESSURE] * a[i, d]) ** 2
                load += f[i, d] ** 2
                u = v[i, d] + (f[i, d] + p * a[i, d]) * s - damping * (v[i, d] - w[i, d])
                v[i, d] = u
                w[i, d] += (u - w[i, d]) * memory
                x[i, d] += u
                moved += a[i, d] * u
                step2 += u * u
            top = max(top, x[i, 2])
            far = np.sqrt(step2)
            gone[i, 0] += far
            gone[i, 1] += far + abs(control[PLUG_STEP])
            if gone[i, 1] >= gap[i, 1]:
                _touch(i, PLUG, x, v, w, state, gap, gone, near, normal, landed, plug, control)
            if gone[i, 0] >= gap[i, 0]:
                _touch(i, TOOL, x, v, w, state, gap, gone, near, normal, landed, tool, control)
        control[VOLUME] += moved
        control[SPEED] = moved / max(area, 1e-300)
        control[RESIDUAL] = np.sqrt(rest / max(load, 1e-300))
        control[TOP] = top


@njit(cache=True, fastmath=_FAST, error_model="numpy")
def _sweep(v, w, m, state, free, f, a, damping, control):
    """Volume swept in this step without pressure, what a unit of pressure adds, and the free area.

    Volumes are below the plane of the clamp, which may move itself.
    """
    swept, gain, area = control[CLAMP_STEP] * control[FRAME_AREA], 0.0, 0.0
    for q in range(free.shape[0]):
        i = free[q]
        if state[i] == FREE:
            s = 1.0 / m[i]
            for d in range(3):
                u = v[i, d] + f[i, d] * s - damping * (v[i, d] - w[i, d])
                swept += a[i, d] * u
                gain += a[i, d] * a[i, d] * s
            area += np.sqrt(a[i, 0] ** 2 + a[i, 1] ** 2 + a[i, 2] ** 2)
        elif state[i] == CLAMP:
            swept += a[i, 2] * control[CLAMP_STEP]
        else:
            swept += a[i, 0] * v[i, 0] + a[i, 1] * v[i, 1] + a[i, 2] * v[i, 2]
    return swept, gain, area


@njit(cache=True)
def _touch(i, body, x, v, w, state, gap, gone, near, normal, landed, surface, control):
    """Ask for the distance of a node that may have reached a body; land it if it has."""
    k = body - TOOL
    shift = control[PLUG_AT] if body == PLUG else 0.0
    away, cx, cy, cz, face = closest(surface, x[i, 0], x[i, 1], x[i, 2] - shift, near[i, k])
    near[i, k] = face
    gone[i, k] = 0.0
    gap[i, k] = max(away - control[TOLERANCE], 0.5 * control[TOLERANCE])
    if away <= control[TOLERANCE]:
        x[i, 0], x[i, 1], x[i, 2] = cx, cy, cz + shift
        gone[i, 1 - k] += abs(away)
        for d in range(3):
            v[i, d] = 0.0
            w[i, d] = 0.0
            normal[i, d] = surface.face_normals[face, d]
        if body == PLUG:
            v[i, 2] = control[PLUG_STEP]
            w[i, 2] = control[PLUG_STEP]
        else:
            landed[i] = control[VOLUME]
            control[LANDED] += 1.0
        state[i] = body


@njit(cache=True)
def _ride(i, x, v, f, a, p, m, state, gap, gone, near, normal, tool, plug, control):
    """A node on a body: hold, slide within Coulomb's cone, or lift off."""
    on_plug = state[i] == PLUG
    k = 1 if on_plug else 0
    carry = control[PLUG_STEP] if on_plug else 0.0
    friction = control[PLUG_FRICTION] if on_plug else control[FRICTION]
    nx, ny, nz = normal[i, 0], normal[i, 1], normal[i, 2]
    fx, fy, fz = f[i, 0] + p * a[i, 0], f[i, 1] + p * a[i, 1], f[i, 2] + p * a[i, 2]
    press = -(fx * nx + fy * ny + fz * nz)
    if press < 0.0:
        state[i] = FREE
        gap[i, k] = gone[i, k] = 0.0
        return
    # the impulse that would stop the node on the body within this step, within the friction cone
    jx, jy = m[i] * v[i, 0] + fx + press * nx, m[i] * v[i, 1] + fy + press * ny
    jz = m[i] * (v[i, 2] - carry) + fz + press * nz
    pull = np.sqrt(jx * jx + jy * jy + jz * jz)
    grip = friction * press
    if pull <= grip:
        v[i, 0], v[i, 1], v[i, 2] = 0.0, 0.0, carry
        x[i, 2] += carry
    else:
        s = 0.9 * (1.0 - grip / pull) / m[i]
        v[i, 0], v[i, 1], v[i, 2] = jx * s, jy * s, jz * s + carry
        _glide(i, k, x, v, near, normal, plug if on_plug else tool,
               control[PLUG_AT] if on_plug else 0.0)
    for d in range(2):
        gone[i, d] += np.sqrt(v[i, 0] ** 2 + v[i, 1] ** 2 + v[i, 2] ** 2)


@njit(cache=True)
def _glide(i, k, x, v, near, normal, surface, shift):
    """Move a sliding node along the surface."""
    _, cx, cy, cz, face = closest(surface, x[i, 0] + v[i, 0], x[i, 1] + v[i, 1],
                                  x[i, 2] + v[i, 2] - shift, near[i, k])
    near[i, k] = face
    x[i, 0], x[i, 1], x[i, 2] = cx, cy, cz + shift
    for d in range(3):
        normal[i, d] = surface.face_normals[face, d]
