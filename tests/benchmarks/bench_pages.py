"""Speed where it is felt: import, opening a page, from a control to its figure (in the kernel).

    .venv/bin/python tests/benchmarks/bench_pages.py

Prints medians of this run; on a shared machine compare ratios, not seconds.
"""

import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from thermoforming.pages.controls import NumberControl
from thermoforming.pages.page import Page
from thermoforming.pages.session import DEMO, Session
from thermoforming.steps import ORDER

MOVES = 15


def import_seconds() -> float:
    code = "import time; t = time.perf_counter(); import thermoforming.pages; print(time.perf_counter() - t)"
    runs = [float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True,
                                 check=True).stdout) for _ in range(3)]
    return statistics.median(runs)


def moves(page: Page) -> list[float]:
    """Seconds from moving each number's slider until every figure is updated."""
    times = []
    numbers = [c for c in page.controls.values()
               if isinstance(c, NumberControl) and c.field.applies(page.inputs)]
    for made in numbers[:MOVES]:
        slider = made.slider
        before = slider.value
        for target in (before + slider.step, before):
            began = time.perf_counter()
            slider.value = target
            times.append(time.perf_counter() - began)
    return times


def main() -> None:
    print(f"import of thermoforming.pages   {import_seconds():6.2f} s")
    with tempfile.TemporaryDirectory() as folder:
        project = Path(folder) / "demo"
        shutil.copytree(DEMO, project)
        session = Session(project)
        print(f"{'page':12}{'open [s]':>10}{'move, median [ms]':>20}{'move, slowest [ms]':>20}")
        for key in ORDER:
            began = time.perf_counter()
            page = Page(key, session)
            opened = time.perf_counter() - began
            took = moves(page)
            print(f"{key:12}{opened:10.2f}{statistics.median(took) * 1e3:20.0f}"
                  f"{max(took) * 1e3:20.0f}")
    for path in sorted((Path(__file__).parents[2] / "workbook").glob("*.ipynb")):
        print(f"{path.name:24}{path.stat().st_size / 1024:8.1f} kB on disk")


if __name__ == "__main__":
    main()
