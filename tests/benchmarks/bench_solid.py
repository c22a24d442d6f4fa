"""The tool as a solid: seconds, error of the face and memory for the demo and harder shapes.

    .venv/bin/python tests/benchmarks/bench_solid.py

Goal: under 60 s on one core at a face error of 0.05 mm, peak memory under 2 GB.
"""

import resource
import sys
import time
from math import radians
from pathlib import Path

import numpy as np

from thermoforming.geometry.mesh import read_mesh
from thermoforming.geometry.shapes import Form, tray
from thermoforming.geometry.solid import ToolPlan, Vent, build
from thermoforming.geometry.surface import Surface

MM = 1e-3
DEMO = Path(__file__).parents[2] / "data" / "demo" / "tray.stl"


def several_deep_forms() -> Surface:
    forms = [Form((x * MM, y * MM), (44 * MM, 44 * MM), 45 * MM, 8 * MM, (radians(4),) * 4,
                  4 * MM, 5 * MM) for x in (-56, 0, 56) for y in (-28, 28)]
    return tray((190 * MM, 130 * MM), 10 * MM, forms)


def shallow_shell_with_fine_relief() -> Surface:
    """450 x 300 mm, 12 mm deep, with ribs of 0.6 mm every 6 mm: 540,000 triangles."""
    nx, ny = 600, 450
    x, y = np.meshgrid(np.linspace(-225, 225, nx), np.linspace(-150, 150, ny))
    edge = np.clip(np.minimum(225 - abs(x), 150 - abs(y)) / 40, 0, 1)
    z = -12 * edge**2 * (3 - 2 * edge) + 0.3 * np.sin(2 * np.pi * x / 6) * (edge > 0.999)
    index = np.arange(nx * ny).reshape(ny, nx)
    a, b, c, d = (index[:-1, :-1].ravel(), index[:-1, 1:].ravel(), index[1:, 1:].ravel(),
                  index[1:, :-1].ravel())
    faces = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return Surface(np.column_stack([x.ravel(), y.ravel(), z.ravel()]) * MM, faces)


def male_form_with_undercut() -> Surface:
    """A raised block whose lower half is drawn in by 3 mm under its upper half."""
    form = Form((0.0, 0.0), (90 * MM, 60 * MM), 40 * MM, 10 * MM, (radians(4),) * 4, 4 * MM, 4 * MM)
    surface = tray((160 * MM, 130 * MM), 10 * MM, [form], raised=True)
    points = surface.vertices.copy()
    height = points[:, 2] / (40 * MM)
    waist = np.exp(-(((height - 0.45) / 0.18) ** 2)) * (height > 0.05)
    radius = np.linalg.norm(points[:, :2], axis=1)
    points[:, :2] *= (1 - 6 * MM * waist / np.maximum(radius, 1e-6))[:, None]
    return Surface(points, surface.faces)


def vents_at_the_lowest(surface: Surface, count: int = 12) -> tuple[Vent, ...]:
    flat = np.flatnonzero(surface.normals[:, 2] > 0.999)
    chosen = flat[np.linspace(0, len(flat) - 1, count).astype(int)]
    return tuple(Vent(k, *surface.centres[i], 0.8 * MM, 4 * MM, 5 * MM)
                 for k, i in enumerate(chosen, start=1))


def main() -> None:
    shapes = {"demo tray": read_mesh(str(DEMO), "mm").surface,
              "several deep forms": several_deep_forms(),
              "shallow shell, fine relief": shallow_shell_with_fine_relief(),
              "male form, undercut": male_form_with_undercut()}
    print(f"{'shape':28}{'triangles':>10}{'s':>8}{'CPU s':>8}{'face µm':>9}{'wall mm':>9}"
          f"{'vents':>8}{'bodies':>7}  faults")
    for name, surface in shapes.items():
        plan = ToolPlan(wall=6 * MM, below=20 * MM, ribs=(4, 3), rib_thickness=4 * MM,
                        vents=vents_at_the_lowest(surface))
        began, cpu = time.perf_counter(), time.process_time()
        report = build(surface, plan).audit
        wall = f"{report.least_wall * 1e3:.2f}" if report.least_wall else "-"
        print(f"{name:28}{len(surface.faces):10}{time.perf_counter() - began:8.1f}"
              f"{time.process_time() - cpu:8.1f}{report.face_error * 1e6:9.1f}{wall:>9}"
              f"{report.vents_open:4}/{report.vents:<3}{report.bodies:7}  "
              f"{'; '.join(f.text for f in report.faults) or 'none'}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1 if sys.platform == "darwin"
                                                                 else 1024)
    print(f"peak memory {peak:.0f} MB" if sys.platform != "darwin" else f"{peak / 1e6:.0f} MB")


if __name__ == "__main__":
    main()
