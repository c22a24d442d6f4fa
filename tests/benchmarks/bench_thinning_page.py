"""Time of the thinning page on the demo's tool: python tests/benchmarks/bench_thinning_page.py

Seconds from the click to the coarse map, the fine one and the verified one, on one thread, after a
first run that compiles; and of the page's own answer while a control moves.
"""

import os

os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import time  # noqa: E402

from thermoforming.pages.session import DEMO, Session  # noqa: E402
from thermoforming.steps import step  # noqa: E402


class Clock:
    """Notes when each map arrives."""

    def __init__(self):
        self.began, self.used, self.maps = time.perf_counter(), time.process_time(), []

    def report(self, fraction, text=""):
        return False

    def preview(self, simulation):
        self.maps.append((str(simulation["level"]), time.perf_counter() - self.began,
                          time.process_time() - self.used))


def main() -> None:
    declared, session = step("thinning"), Session(DEMO)
    upstream = session.upstream(declared)
    inputs = declared.checked(session.saved_inputs("thinning"), upstream)
    for attempt in ("first, compiling", "second"):
        began = time.perf_counter()
        declared.compute(inputs | {"corner": inputs["corner"] * (1.0 if attempt[0] == "f" else 1.1)},
                         upstream)
        answer = time.perf_counter() - began
        clock = Clock()
        simulation = declared.simulate(inputs, upstream, clock)
        total = time.perf_counter() - clock.began
        print(f"{attempt}: level 3 with bands {answer:.2f} s; "
              + "; ".join(f"{name} map {seconds:.1f} s ({used:.1f} s of processor)"
                          for name, seconds, used in clock.maps)
              + f"; verified {total:.1f} s ({time.process_time() - clock.used:.1f} s); "
                f"{len(simulation['triangles'])} triangles, half rate apart "
                f"{float(simulation['difference']):.2%}")


if __name__ == "__main__":
    main()
