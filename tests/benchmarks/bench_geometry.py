"""Times of reading and measuring a part of a million triangles and more.

Run with the workbook's Python from any folder:  python tests/benchmarks/bench_geometry.py
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import trimesh

from thermoforming.geometry.curvature import bends, smallest_radius, tight_regions
from thermoforming.geometry.display import coarser
from thermoforming.geometry.draft import best_pull, pull_direction, undercut, undercut_regions
from thermoforming.geometry.forms import flats, forms, gaps, height_map
from thermoforming.geometry.mesh import read_mesh
from thermoforming.geometry.regions import regions
from thermoforming.geometry.section import section
from thermoforming.geometry.surface import Surface

TRAY = Path(__file__).parents[2] / "data" / "demo" / "tray.stl"


def timed(name: str, call):
    start, busy = time.perf_counter(), time.process_time()
    result = call()
    print(f"{name:34s}{time.perf_counter() - start:8.2f} s  "
          f"({time.process_time() - busy:.2f} s of one processor)")
    return result


def all_measures(surface: Surface) -> None:
    timed("edges, areas, normals", lambda: (surface.edges, surface.areas, surface.normals))
    timed("height map", lambda: height_map(surface))
    plan = height_map(surface)
    found = timed("forms", lambda: forms(surface, plan))
    timed("gaps", lambda: gaps(plan, found))
    turned = timed("bends", lambda: bends(surface))
    timed("smallest radius", lambda: smallest_radius(turned, True))
    timed("tight regions", lambda: tight_regions(surface, turned, True, 5e-3))
    up = timed("draft and visibility", lambda: undercut(surface))
    timed("regions short of draft", lambda: regions(surface, up.below(0.052), "W", up.drafts))
    leaning = undercut(surface, pull_direction(0.1, 0.0))
    timed("undercut regions", lambda: undercut_regions(leaning))
    timed("pull with least undercut", lambda: best_pull(surface))
    timed("flats", lambda: flats(surface))
    timed("section", lambda: section(surface, (0, 0, -0.01), (0, 1, 0)))
    timed("coarser copy to show", lambda: coarser(surface))


def main() -> None:
    mesh = trimesh.load(TRAY)
    vertices, faces = np.asarray(mesh.vertices), np.asarray(mesh.faces)
    for _ in range(2):
        print(f"\n{len(faces):,} triangles")
        content = trimesh.Trimesh(vertices, faces, process=False).export(file_type="stl")
        reading = timed("read and check (STL)", lambda: read_mesh(content, "mm", name="a.stl"))
        all_measures(reading.surface)
        for _ in range(3):
            vertices, faces = trimesh.remesh.subdivide(vertices, faces)


if __name__ == "__main__":
    main()
