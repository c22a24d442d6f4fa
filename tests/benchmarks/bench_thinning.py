"""How fast and how right the 3-D membrane is: run it with the project's Python, one thread.

    python tests/benchmarks/bench_thinning.py [--quick] [--tray PATH]

Seconds are of the processor, after compilation. Errors are against the membrane of revolution with
400 elements, over the formed area; the tray's and the square's against the finest run of the list.
"""

from __future__ import annotations

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import argparse
import resource
import sys
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve()
sys.path.insert(0, str(HERE.parents[1] / "physics"))

from membrane_shapes import errors, revolve  # noqa: E402

from thermoforming.geometry.mesh import read_mesh  # noqa: E402
from thermoforming.physics.thinning import axisymmetric, membrane, verdict  # noqa: E402
from thermoforming.physics.thinning.hyperelastic import neo_hookean  # noqa: E402
from thermoforming.physics.thinning.sheet import rectangle, ring  # noqa: E402

MODULUS, GAUGE, CLAMP, PRESSURE = 3e5, 2e-3, 0.06, 3e4
LAW = neo_hookean(MODULUS)
ARC = np.radians(np.linspace(0.0, 90.0, 61))
DRAPE = membrane.Method(membrane.DRAPE)


def cases():
    """Profile, rise and method of the round cases."""
    nose = np.vstack([[[0.0, 0.0]], np.c_[0.012 + 0.01 * np.sin(ARC), 0.01 - 0.01 * np.cos(ARC)],
                      [[0.022, 0.04]]])
    plug = membrane.Plug(*revolve(nose + [0.0, -0.03]), friction=0.2)
    upright = np.radians(89.9)
    cup = axisymmetric.cup_profile
    return {
        "cone frustum, 60 degrees, 40 deep": (cup(0.05, 0.04, np.radians(60), 5e-3, 3e-3, CLAMP),
                                              {}, membrane.Method()),
        "cylinder cup, 25 deep": (cup(0.05, 0.025, upright, 5e-3, 3e-3, CLAMP), {},
                                  membrane.Method()),
        "hemisphere, sharp rim": (np.vstack([np.c_[0.05 * np.sin(ARC), -0.05 * np.cos(ARC)],
                                             [[CLAMP, 0.0]]]), {}, membrane.Method()),
        "drape over a dome": (np.vstack([np.c_[0.03 * np.sin(ARC), 0.03 * np.cos(ARC)],
                                         [[CLAMP, 0.0]]]), {"rise": 0.03}, DRAPE),
        "plug-assisted cup, friction 0.2": (cup(0.05, 0.04, np.radians(80), 8e-3, 4e-3, CLAMP),
                                            {"plug": axisymmetric.Plug(nose, 0.03, 0.2)},
                                            membrane.Method(plug=plug)),
    }


def timed(run):
    """Result and processor seconds of a call."""
    start = time.process_time()
    result = run()
    return result, time.process_time() - start


def line(*cells):
    print("| " + " | ".join(str(cell) for cell in cells) + " |", flush=True)


def heading(*cells):
    line(*cells)
    line(*["---"] * len(cells))


def verdict_of(formed):
    return "valid" if formed.valid else ", ".join(c.name for c in formed.checks if not c.passed)


def round_cases(sizes):
    """Accuracy table, order of convergence and growth of time."""
    heading("case", "mesh mm", "triangles", "steps", "s", "rms %", "least %", "verdict")
    for name, (profile, more, method) in cases().items():
        reference = axisymmetric.form(axisymmetric.Sheet(CLAMP, GAUGE, LAW, 400), profile,
                                      PRESSURE, **more)
        tool, frame, seen = revolve(profile, 240), ring((0, 0), 2 * CLAMP), []
        for size in sizes:
            formed, seconds = timed(lambda: membrane.form(*tool, frame, GAUGE, LAW, PRESSURE, size,
                                                          method=method))
            rms, least = errors(formed, reference, GAUGE)
            seen.append((size, seconds, rms))
            line(name, f"{size * 1e3:g}", len(formed.triangles), formed.steps, f"{seconds:.2f}",
                 f"{rms * 100:.2f}", f"{least * 100:+.2f}", verdict_of(formed))
        size, seconds, rms = (np.log(np.array(column)) for column in zip(*seen))
        # triangles to calculate with go as the inverse square of the mesh size
        order, growth = np.polyfit(size, rms, 1)[0], -np.polyfit(size, seconds, 1)[0] / 2.0
        print(f"{name}: error falls with mesh size to the power {order:.1f}, "
              f"time grows with triangles to the power {growth:.1f}\n")


def half_rates():
    """What half the loading rate changes."""
    heading("case", "rate", "gauge against half the rate, rms %")
    for name, (profile, _, method) in cases().items():
        runs = [membrane.form(*revolve(profile), ring((0, 0), 2 * CLAMP), GAUGE, LAW, PRESSURE,
                              0.004, method=method, rate=rate) for rate in (0.01, 0.005, 0.0025)]
        for fast, slow in zip(runs, runs[1:]):
            line(name, fast.rate, f"{verdict.half_rate(fast, slow).value * 100:.2f}")
    print()


def settled(title, tool, frame, pressure, runs, place=None):
    """Least gauge mesh by mesh, against the finest."""
    found = []
    for size, rate in runs:
        formed, seconds = timed(lambda: membrane.form(*tool, frame, GAUGE, LAW, pressure, size,
                                                      rate=rate))
        gauge = formed.node_gauge if place is None else formed.node_gauge[place(formed)]
        found.append((size, len(formed.triangles), seconds, gauge.min() / GAUGE, formed))
    last = found[-1][3]
    heading(title, "triangles", "s", "least gauge / t0", "against the finest %", "verdict")
    for size, count, seconds, least, formed in found:
        line(f"{size * 1e3:g} mm", count, f"{seconds:.2f}", f"{least:.4f}",
             f"{(least / last - 1) * 100:+.1f}", verdict_of(formed))
    print()


def flat_cup():
    """Radius 50, depth 25, corner radius 5: no rim fillet, clamped at the rim."""
    arc = np.radians(np.linspace(0.0, 90.0, 31))
    profile = np.vstack([[[0.0, -0.025]], np.c_[0.045 + 0.005 * np.sin(arc),
                                                -0.02 - 0.005 * np.cos(arc)], [[0.05, 0.0]]])
    return revolve(profile, 240), ring((0, 0), 0.1)


def square_tray(side=0.1, depth=0.04, draft=np.radians(5), radius=8e-3):
    """Square tray with a flange, drafted walls and one radius: rings of a rounded square."""
    foot = 0.5 * side - (depth - radius * (1.0 - np.sin(draft))) * np.tan(draft)
    angle = np.linspace(draft, 0.5 * np.pi, 13)
    wall = np.linspace(0.0, depth - radius * (1.0 - np.sin(draft)), 12)[:-1]
    half = np.concatenate([[0.6 * side], 0.5 * side - wall * np.tan(draft),
                           foot - radius * np.cos(draft) + radius * np.cos(angle)])
    level = np.concatenate([[0.0], -wall, -depth + radius * (1.0 - np.sin(angle))])
    arc = (np.arange(4)[:, None] * 0.5 * np.pi + np.linspace(0.0, 0.5 * np.pi, 13)).ravel()
    sign = np.repeat([[1, 1], [-1, 1], [-1, -1], [1, -1]], 13, axis=0)
    round_ = radius * np.stack([np.cos(arc), np.sin(arc)], 1)
    n = len(arc)
    points = np.vstack([np.c_[sign * (a - radius) + round_, np.full(n, z)]
                        for a, z in zip(half, level)] + [[[0.0, 0.0, -depth]]])
    i, j = np.meshgrid(np.arange(len(half) - 1), np.arange(n), indexing="ij")
    p, q = (i * n + j).ravel(), (i * n + (j + 1) % n).ravel()
    last = (len(half) - 1) * n + np.arange(n)
    faces = np.vstack([np.stack([p, q, q + n], 1), np.stack([p, q + n, p + n], 1),
                       np.stack([last, np.roll(last, -1), np.full(n, len(points) - 1)], 1)])
    return points, faces


def demo(path, quick):
    """The demo project's tray: coarse and fine, with the time to the map."""
    mesh = read_mesh(Path(path), "mm").surface
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    middle, size = 0.5 * (low + high)[:2], (high - low)[:2]
    frame = rectangle(middle, size[0], size[1], float(high[2]))
    runs = [(7.8e-3, 0.01), (3.9e-3, 0.01), (3e-3, 0.01)] + ([] if quick else [(2e-3, 0.01)])
    settled("demo tray", (mesh.vertices, mesh.faces), frame, 9e4, runs)


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--quick", action="store_true")
    options.add_argument("--tray", default=str(HERE.parents[2] / "data" / "demo" / "tray.stl"))
    chosen = options.parse_args()
    warm = revolve([[0.0, -0.02], [0.05, 0.0], [CLAMP, 0.0]], 24)
    membrane.form(*warm, ring((0, 0), 2 * CLAMP), GAUGE, LAW, 2e4, 0.015, rate=0.05)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    round_cases((6e-3, 4e-3, 3e-3) if chosen.quick else (6e-3, 4e-3, 3e-3, 2e-3))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"memory {peak:.0f} MB, of which {before:.0f} MB before the first case\n")
    if not chosen.quick:
        half_rates()
    cup, frame = flat_cup()
    corner = np.hypot(0.045, 0.0)
    settled("cup 50 x 25, corner 5", cup, frame, 3e5,
            [(6e-3, 0.005), (4e-3, 0.005), (2.5e-3, 0.005)] + ([] if chosen.quick
                                                               else [(1.5e-3, 0.005)]),
            lambda f: np.hypot(f.points[:, 0], f.points[:, 1]) > 0.9 * corner)
    if not chosen.quick:
        settled("square 100 x 100 x 40", square_tray(), rectangle((0, 0), 0.11, 0.11), 1e5,
                [(6e-3, 0.005), (4e-3, 0.005), (2.5e-3, 0.005), (1.5e-3, 0.005)])
    demo(chosen.tray, chosen.quick)


if __name__ == "__main__":
    main()
