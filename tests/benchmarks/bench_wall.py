"""How long the tool wall's calculations take, and how far the solid model is from its limit.

    .venv/bin/python tests/benchmarks/bench_wall.py

Times are of the process, so that a busy machine shows what an idle one would need.
"""

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import time  # noqa: E402

from thermoforming.physics.toolthermal import Cycle, Layer, Setting  # noqa: E402
from thermoforming.physics.toolwall import fe  # noqa: E402
from thermoforming.steps.material import STEP as MATERIAL  # noqa: E402
from thermoforming.steps.upstream import Decision, Upstream  # noqa: E402
from thermoforming.steps.wall import STEP  # noqa: E402
from thermoforming.steps.wall.alternatives import lightest  # noqa: E402
from thermoforming.steps.wall.decide import situation  # noqa: E402


def timed(name: str, work, target: float, times: int = 5):
    """Run once to warm up, then take the middle of several."""
    work()
    taken = []
    for _ in range(times):
        start = time.process_time()
        result = work()
        taken.append(time.process_time() - start)
    middle = sorted(taken)[times // 2]
    print(f"{name:58s} {middle * 1e3:9.1f} ms   target {target * 1e3:6.0f} ms   "
          f"{'met' if middle <= target else 'MISSED'}")
    return result


def upstream() -> Upstream:
    inputs = MATERIAL.checked({"tool_material": "photopolymer_heat", "sheet": "hips"}, Upstream())
    outcome = MATERIAL.compute(inputs, Upstream())
    return Upstream({"brief": Decision({}, {}), "material": Decision(
        inputs, {r.key: r.value for r in outcome.results})})


def demo_wall():
    """The demo's wall, in the terms of the physics."""
    given = upstream()
    inputs = STEP.checked({"tolerance": 0.3e-3, "depth": 0.05}, given)
    return given, inputs, situation(inputs, given)


def main() -> None:
    given, inputs, here = demo_wall()
    timed("hand calculation of the whole page", lambda: STEP.compute(inputs, given), 0.050)
    setting = Setting(Layer(2e-3, 0.16, 2e6, 20), 433.0, 600.0, (Layer(6e-3, 0.22, 1.8e6, 24),),
                      296.0, 9.0, 35.0, 9.0, 45.0, 45.0)

    def shots():
        cycle = Cycle(setting)
        return cycle.shots(cycle.walls(296.0, 200))

    timed("200 shots of the thermal cycle", shots, 1.0)
    timed("search, standing ribs", lambda: lightest(here, True), 1.0, 3)
    timed("search, hanging ribs", lambda: lightest(here, False), 2.0, 1)

    def solid(edge, fines, wall=here.wall):
        found = [fe.solve(wall, here.load.pressure, here.warm.modulus, here.warm.poisson, edge,
                          n).deflection for n in fines]
        return fe.converged(found, fines)

    print("\nSolid model of the demo's ribbed wall, two meshes and their extrapolation")
    for edge in ("walls", "supported", "clamped"):
        (limit, _) = timed(f"  {edge}", lambda edge=edge: solid(edge, (2, 3)), 5.0, 1)
        fine, error = solid(edge, (4, 5))
        print(f"     {limit * 1e3:.5f} mm; two finer meshes say {fine * 1e3:.5f} mm "
              f"(the last {error:.1%} from it): off by {abs(limit / fine - 1):.2%}, target 3 %")


if __name__ == "__main__":
    main()
