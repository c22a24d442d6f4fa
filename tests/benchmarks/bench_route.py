"""How long the route and trial pages take to answer: python tests/benchmarks/bench_route.py

Each is computed on the demo record; the median of some runs is printed, in milliseconds.
"""

import statistics
import time

from thermoforming.pages.session import DEMO, Session
from thermoforming.steps import step

RUNS = 15


def median(call) -> float:
    seconds = []
    for _ in range(RUNS):
        began = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - began)
    return 1e3 * statistics.median(seconds)


def main() -> None:
    session = Session(DEMO)
    for key, moved in (("route", "labour_rate"), ("route", "quantity"), ("trial", "trial_cost")):
        declared = step(key)
        upstream = session.upstream(declared)
        inputs = declared.checked(session.saved_inputs(key) or {}, upstream)
        value = inputs[moved]

        def call(share=[1.0]):
            share[0] += 0.02  # a slider that moves
            declared.compute(inputs | {moved: value * share[0]}, upstream)

        print(f"{key}, {moved} moved: {median(call):.0f} ms")


if __name__ == "__main__":
    main()
