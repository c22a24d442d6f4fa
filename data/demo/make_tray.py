"""Makes tray.stl, the part of the demo project: an invented instrument tray.

Run with the workbook's Python from any folder:  python data/demo/make_tray.py
"""

from math import radians
from pathlib import Path

import trimesh

from thermoforming.geometry.shapes import Form, tray

MM = 1e-3


def form(x, y, depth, drafts, corner, upper=4.0, lower=4.0, on_floor=()):
    """A form between two x and two y positions, all in millimetres and degrees."""
    return Form(centre=(sum(x) / 2 * MM, sum(y) / 2 * MM),
                size=((x[1] - x[0]) * MM, (y[1] - y[0]) * MM), height=depth * MM,
                corner=corner * MM, drafts=tuple(map(radians, drafts)),
                upper=upper * MM, lower=lower * MM, on_floor=on_floor)


def demo_tray():
    """Rim 240 x 160 mm; cavities 35, 24 and 16 mm deep; a boss of 20 mm in the deepest.

    The wall on the +x side of the deepest cavity (at x = -4 mm) has a draft of only 0.5 degrees.
    """
    boss = form((-66, -42), (-12, 12), 20, (5, 5, 5, 5), corner=12, upper=3, lower=4)
    deep = form((-104, -4), (-64, 64), 35, (0.5, 4, 4, 4), corner=16, on_floor=(boss,))
    middle = form((12, 104), (-64, 12), 24, (3, 3, 3, 5), corner=12)
    shallow = form((12, 104), (28, 64), 16, (3, 3, 3, 3), corner=11)
    return tray((240 * MM, 160 * MM), 8 * MM, (deep, middle, shallow))


def main():
    surface = demo_tray()
    mesh = trimesh.Trimesh(surface.vertices / MM, surface.faces, process=False)
    path = Path(__file__).with_name("tray.stl")
    mesh.export(path)
    print(f"{path.name}: {len(mesh.faces)} triangles, {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
