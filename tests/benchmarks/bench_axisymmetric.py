"""Time and accuracy of the membrane of revolution: python tests/benchmarks/bench_axisymmetric.py

Each case is measured against its own answer with 800 elements; the
tests hold free inflation and a cone to independent shooting of the differential equations.
"""

import time

import numpy as np

from thermoforming.physics.thinning import axisymmetric as ax
from thermoforming.physics.thinning import hyperelastic

LAW = hyperelastic.mooney_rivlin(0.3e6, 0.1)
CUP = ax.cup_profile(0.045, 0.03, np.radians(80), 0.005, 0.002, 0.05)
PUNCH = ax.punch_profile(0.03, 0.03, np.radians(4), 0.005, 0.004, 0.06)
NOSE = ax.fillet([(0.0, 0.0), (0.028, 0.0), (0.032, 0.06)], [0.006])


def sheet(count, radius=0.05):
    return ax.Sheet(radius, 2e-3, LAW, count)


CASES = {
    "free inflation": lambda n: ax.inflate(sheet(n), 0.03),
    "cup, sticking": lambda n: ax.form(sheet(n), CUP, 96e3),
    "cup, friction 0.3": lambda n: ax.form(sheet(n), CUP, 96e3, friction=0.3),
    "cup, plug": lambda n: ax.form(sheet(n), CUP, 96e3, plug=ax.Plug(NOSE, 0.02)),
    "drape": lambda n: ax.form(sheet(n, 0.06), PUNCH, 96e3, rise=0.0301),
}


def main() -> None:
    ax.inflate(sheet(20), 0.02)  # compile
    print(f"{'case':20} {'elements':>8} {'seconds':>8} {'least t/t0':>11} {'rms off':>9}")
    for name, run in CASES.items():
        fine = run(800)
        middle = 0.5 * (fine.rest[1:] + fine.rest[:-1])
        for count in (50, 100, 200, 400):
            began = time.process_time()
            found = run(count)
            spent = time.process_time() - began
            at = 0.5 * (found.rest[1:] + found.rest[:-1])
            off = found.gauge / np.interp(at, middle, fine.gauge) - 1.0
            print(f"{name:20} {count:8d} {spent:8.2f} {found.gauge.min():11.4f} "
                  f"{np.sqrt(np.mean(off**2)):9.1e}")


if __name__ == "__main__":
    main()
