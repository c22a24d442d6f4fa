"""The same cup by a general finite-element library and by the workbook, in one run.

    python tests/benchmarks/bench_thinning_paired.py

Cup of radius 50, depth 25 and corner radius 5 mm, clamped at the rim, sticking. The library
(scikit-fem) solves a quarter on its analytic shape: neo-Hookean membrane, Newton's method,
control by volume, points held where they land. The workbook solves the whole on a mesh. Seconds
are of the processor; the settled value is that of the membrane of revolution.
"""

from __future__ import annotations

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import logging
import sys
import time
from pathlib import Path

import numpy as np
from scipy.sparse import bmat, csc_matrix
from scipy.sparse.linalg import splu
from skfem import (Basis, BilinearForm, ElementTriP1, ElementVector, LinearForm, MeshTri, asm)

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "physics"))

from membrane_shapes import revolve  # noqa: E402

from thermoforming.physics.thinning import axisymmetric, membrane  # noqa: E402
from thermoforming.physics.thinning.hyperelastic import neo_hookean  # noqa: E402
from thermoforming.physics.thinning.sheet import ring  # noqa: E402

RADIUS, DEPTH, CORNER = 0.05, 0.025, 0.005
MODULUS, GAUGE, PRESSURE = 3e5, 2e-3, 3e5


def cup_profile():
    arc = np.radians(np.linspace(0.0, 90.0, 46))
    return np.vstack([[[0.0, -DEPTH]], np.c_[RADIUS - CORNER + CORNER * np.sin(arc),
                                             CORNER - DEPTH - CORNER * np.cos(arc)],
                      [[RADIUS, 0.0]]])


def depth_inside(points):
    """How far points are in the cup's material, and where they would rest."""
    r = np.hypot(points[0], points[1])
    corner = (r > RADIUS - CORNER) & (points[2] < CORNER - DEPTH)
    dr, dz = r - (RADIUS - CORNER), points[2] - (CORNER - DEPTH)
    away = np.hypot(dr, dz)
    inside = np.where(corner, away - CORNER, np.maximum(r - RADIUS, -DEPTH - points[2]))
    scale = CORNER / np.where(away > 0.0, away, 1.0)
    at_r = np.where(corner, RADIUS - CORNER + dr * scale, np.minimum(r, RADIUS))
    at_z = np.where(corner, CORNER - DEPTH + dz * scale, np.maximum(points[2], -DEPTH))
    turn = at_r / np.where(r > 0.0, r, 1.0)
    return inside, np.stack([points[0] * turn, points[1] * turn, at_z])


def _parts(w):
    f = w["x"].grad
    c = np.einsum("ki...,kj...->ij...", f, f)
    det = c[0, 0] * c[1, 1] - c[0, 1] ** 2
    inverse = np.stack([np.stack([c[1, 1], -c[0, 1]]), np.stack([-c[0, 1], c[0, 0]])]) / det
    return f, inverse, det


@LinearForm
def force(v, w):
    """Internal virtual work per starting gauge and modulus."""
    f, inverse, det = _parts(w)
    stress = np.eye(2)[:, :, None, None] - inverse / det
    return np.einsum("ki...,ij...,kj...->...", f, stress, v.grad)


@LinearForm
def area(v, w):
    """Area vector, upward."""
    f = w["x"].grad
    return np.einsum("k...,k...->...", np.cross(f[:, 0], f[:, 1], axis=0), v.value)


@BilinearForm
def tangent(u, v, w):
    """Derivative of the internal work and of the pressure's."""
    f, inverse, det = _parts(w)
    stress = np.eye(2)[:, :, None, None] - inverse / det
    change = np.einsum("ki...,kj...->ij...", f, u.grad)
    change = change + np.swapaxes(change, 0, 1)
    both = np.einsum("ij...,jk...,kl...->il...", inverse, change, inverse)
    trace = np.einsum("ij...,ij...->...", inverse, change)
    second = (both + inverse * trace) / det
    inner = np.einsum("ki...,ij...,kj...->...", u.grad, stress, v.grad)
    inner = inner + np.einsum("ki...,ij...,kj...->...", f, second, v.grad)
    turned = (np.cross(u.grad[:, 0], f[:, 1], axis=0) + np.cross(f[:, 0], u.grad[:, 1], axis=0))
    return inner + w["p"] * np.einsum("k...,k...->...", turned, v.value)


class Quarter:
    """Quarter of the sheet in the library's terms."""

    def __init__(self, size):
        n = int(round(RADIUS / size))
        mesh = MeshTri.init_circle(max(int(round(np.log2(n))), 2))
        points = mesh.p * RADIUS
        keep = np.all(points[:, mesh.t].mean(axis=1) > 0.0, axis=0)
        used = np.unique(mesh.t[:, keep])
        renumber = np.full(points.shape[1], -1)
        renumber[used] = np.arange(len(used))
        self.mesh = MeshTri(points[:, used], renumber[mesh.t[:, keep]])
        self.basis = Basis(self.mesh, ElementVector(ElementTriP1(), 3), intorder=1)
        flat = self.mesh.p
        self.size = np.sqrt(2.3 * 0.25 * np.pi * RADIUS**2 / self.mesh.t.shape[1])
        self.x = np.zeros((3, flat.shape[1]))
        r2 = np.sum(flat**2, axis=0) / RADIUS**2
        self.x[:2], self.x[2] = flat, -0.08 * RADIUS * (1.0 - r2)
        self.held = np.zeros_like(self.x, bool)
        self.held[:, np.hypot(*flat) > RADIUS * (1.0 - 1e-9)] = True
        self.held[0, flat[0] < 1e-12] = True
        self.held[1, flat[1] < 1e-12] = True
        self.p = 0.0
        self.stuck = self.held.all(axis=0)

    def assembled(self):
        """Forces, area vectors, and tangent at the present shape."""
        flat_x = self.x.ravel("F")
        w = {"x": self.basis.interpolate(flat_x)}
        scale = self.p / (MODULUS * GAUGE)
        return (asm(force, self.basis, **w), -asm(area, self.basis, **w),
                asm(tangent, self.basis, p=scale, **w))

    def balance(self, swept):
        """Newton's method for a volume to sweep; True if it converged."""
        start, free = self.x.copy(), np.flatnonzero(~self.held.ravel("F"))
        done = 0.0
        for _ in range(25):
            inner, vector, matrix = self.assembled()
            scale = self.p / (MODULUS * GAUGE)
            rest = inner - scale * vector
            column = csc_matrix(vector[free][:, None])
            system = bmat([[matrix[free][:, free], -column], [column.T, None]], format="csc")
            step = splu(system).solve(np.concatenate([-rest[free], [swept - done]]))
            size = np.abs(step[:-1]).max()
            cut = min(1.0, 0.5 * self.size / size) if size > 0.0 else 1.0
            flat_x = self.x.ravel("F").copy()
            flat_x[free] += cut * step[:-1]
            self.x = flat_x.reshape(self.x.shape, order="F")
            self.p += cut * step[-1] * MODULUS * GAUGE
            done += cut * (swept - done)
            if cut == 1.0 and size < 1e-5 * self.size:
                return True
        self.x = start
        return False

    def catch(self, before):
        """Hold points where they met the cup."""
        inside, rest = depth_inside(self.x)
        new = (inside > -1e-7) & ~self.stuck
        self.x[:, new] = rest[:, new]
        self.held[:, new] = True
        self.stuck |= new
        return new.any()

    def run(self):
        """Sweep volume until the pressure is reached."""
        share = 0.15
        while self.p < PRESSURE and not self.stuck.all():
            loose = ~self.stuck
            _, vector, _ = self.assembled()
            reach = np.abs(vector.reshape(self.x.shape, order="F")[:, loose]).sum()
            keep, pressure = self.x.copy(), self.p
            if not self.balance(share * self.size * reach):
                self.x, self.p, share = keep, pressure, 0.5 * share
                if share < 1e-4:
                    return False
                continue
            self.catch(keep)
            share = min(0.15, 1.3 * share)
        return True

    def gauge(self):
        """Gauge over starting gauge of each triangle."""
        def area_of(points):
            a, b, c = (points[:, self.mesh.t[k]] for k in range(3))
            return 0.5 * np.linalg.norm(np.cross(b - a, c - a, axis=0), axis=0)
        flat = np.vstack([self.mesh.p, np.zeros(self.mesh.p.shape[1])])
        return area_of(flat) / area_of(self.x)


def nodal(triangles, flat, formed, count):
    """Gauge at points: plastic over area around them."""
    return (np.bincount(triangles.ravel(), np.repeat(flat, 3), count)
            / np.bincount(triangles.ravel(), np.repeat(formed, 3), count))


def main():
    logging.disable(logging.WARNING)
    profile = cup_profile()
    law = neo_hookean(MODULUS)
    settled = axisymmetric.form(axisymmetric.Sheet(RADIUS, GAUGE, law, 400), profile, PRESSURE)
    least = settled.gauge.min()
    print(f"settled least gauge / t0: {least:.4f}\n")
    print("| by | mesh mm | triangles | s | least gauge / t0 | error % |")
    print("| --- | --- | --- | --- | --- | --- |", flush=True)
    for size in (6e-3, 3e-3, 1.5e-3):
        start = time.process_time()
        quarter = Quarter(size)
        ended = quarter.run()
        seconds = time.process_time() - start
        found = quarter.gauge().min()
        print(f"| scikit-fem, quarter | {quarter.size * 1e3:.1f} | {quarter.mesh.t.shape[1]} | "
              f"{seconds:.1f} | {found:.4f} | {(found / least - 1) * 100:+.1f} |"
              + ("" if ended else f" stopped at {quarter.p:.0f} Pa"), flush=True)
    tool, frame = revolve(profile, 240), ring((0, 0), 2 * RADIUS)
    membrane.form(*tool, frame, GAUGE, law, PRESSURE, 0.01, rate=0.05)
    for size in (6e-3, 4e-3, 2.5e-3, 1.5e-3):
        start = time.process_time()
        formed = membrane.form(*tool, frame, GAUGE, law, PRESSURE, size)
        seconds = time.process_time() - start
        found = formed.node_gauge.min() / GAUGE
        print(f"| workbook, whole | {size * 1e3:.1f} | {len(formed.triangles)} | {seconds:.1f} | "
              f"{found:.4f} | {(found / least - 1) * 100:+.1f} |", flush=True)


if __name__ == "__main__":
    main()
