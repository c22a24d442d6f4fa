"""Formulas as drawings: the same on screen and paper, without a typesetter on the reader's side."""

from __future__ import annotations

import re
from functools import lru_cache

from matplotlib.font_manager import FontProperties
from matplotlib.path import Path
from matplotlib.textpath import TextPath

SIZE = 11.0  # points
_SPELLINGS = ((r"\\[td]frac", r"\\frac"),
              (r"\\frac\s*([^\s{\\])\s*([^\s{\\])", r"\\frac{\1}{\2}"),
              (r"\\frac\s*([^\s{\\])\s*\{", r"\\frac{\1}{"),
              (r"\\le(?![a-z])", r"\\leq"),
              (r"\\ge(?![a-z])", r"\\geq"), (r"\\ne(?![a-z])", r"\\neq"),
              (r"\\lvert|\\rvert", "|"), (r"\\[lr]Vert", r"\\|"), (r"\\[bB]igg?[lr]?(?![a-z])", ""),
              (r"\\displaystyle", ""), (r"\\!", ""), (r"\\;|\\:", r"\\ "))
_COMMAND = {Path.MOVETO: "M", Path.LINETO: "L", Path.CURVE3: "Q", Path.CURVE4: "C"}


@lru_cache(maxsize=4096)
def drawing(latex: str) -> str | None:
    """A formula as an SVG drawing, or None if it cannot be set."""
    source = latex.strip().strip("$")
    for pattern, replacement in _SPELLINGS:
        source = re.sub(pattern, replacement, source)
    try:
        path = TextPath((0, 0), f"${source}$", size=SIZE,
                        prop=FontProperties(math_fontfamily="stix"))
    except (ValueError, RuntimeError):
        return None
    return _svg(path) if len(path.vertices) else None


def _svg(path: Path) -> str:
    box = path.get_extents().padded(0.6)
    pieces, at = [], 0
    codes, points = path.codes, path.vertices
    length = {Path.MOVETO: 1, Path.LINETO: 1, Path.CURVE3: 2, Path.CURVE4: 3}
    while at < len(codes):
        if codes[at] == Path.CLOSEPOLY:
            pieces.append("Z")
            at += 1
            continue
        count = length[codes[at]]
        numbers = " ".join(f"{x - box.x0:.2f} {box.y1 - y:.2f}" for x, y in points[at:at + count])
        pieces.append(_COMMAND[codes[at]] + numbers)
        at += count
    size = f"{box.width:.2f}", f"{box.height:.2f}"
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}pt" height="{size[1]}pt" '
            f'viewBox="0 0 {size[0]} {size[1]}"><path d="{"".join(pieces)}"/></svg>')
