"""How long the heat and vent pages take to answer a control, and how exact the solvers are.

    .venv/bin/python tests/benchmarks/bench_heating.py

Times are of this machine, the best of several runs (others may be busy), without drawing.
"""

import time

import numpy as np

from thermoforming.physics.conduction import Layer, Side, Solid, conduct
from thermoforming.physics.evacuation import Machine, Pocket, Pump, Vents, evacuate
from thermoforming.physics.gasflow import bore
from thermoforming.steps.brief import STEP as BRIEF
from thermoforming.steps.heating import STEP as HEATING
from thermoforming.steps.material import STEP as MATERIAL
from thermoforming.steps.upstream import Decision, Upstream
from thermoforming.steps.vents import STEP as VENTS


def milliseconds(function, runs: int = 25) -> float:
    """Shortest time of a call, after one to warm up."""
    function()
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        function()
        times.append(1e3 * (time.perf_counter() - began))
    return min(times)


def sheet_on_wall(cells: int, steps: int):
    """3 mm sheet on a 6 mm printed wall, for which an independent result is known."""
    sheet, wall, air = (Solid.constant(1050, 1500, 0.18), Solid.constant(1180, 1500, 0.20),
                        Side(298.15, 15.0))
    return conduct([Layer(sheet, 3e-3, cells), Layer(wall, 6e-3, cells)], [433.15, 313.15], air,
                   air, 100.0, steps=steps)


def conduction() -> None:
    print("sheet and wall together (independent: mean at 85 °C after 68.74 s)")
    for cells, steps in ((12, 80), (24, 160), (48, 320), (96, 1280)):
        found = sheet_on_wall(cells, steps)
        at = found.when(found.mean(0), 358.15, False)
        took = milliseconds(lambda c=cells, s=steps: sheet_on_wall(c, s))
        print(f"  {cells:3d} cells a layer, {steps:4d} steps: {at:7.3f} s, "
              f"{100 * (at / 68.74 - 1):+.3f} %, {took:6.2f} ms")


def evacuation() -> None:
    print("four spaces, 40 vents, plenum, line, tank and pump")
    pull = np.array([0, 2e3, 4e3, 8e3, 2e4, 6e4, 1e5])
    spaces = [Pocket(pull, v * np.array([1, 0.8, 0.5, 0.2, 0.05, 0.02, 0.01]), c)
              for v, c in ((1e-3, 0.0), (3e-4, 3e3), (2e-4, 4e3), (5e-5, 6e3))]
    vents = [Vents(i, bore(0.8e-3, 4e-3), np.linspace(4e3, 9e4, 10)) for i in range(4)]
    box = Machine(4e-3, (4e-7, 0.3), 0.15, 12e3, Pump([5e3, 1e4, 1e5], [0, 0.008, 0.011]))
    exact = evacuate(spaces, vents, box, 5.0, 1e-5).time_to_pull(7e4)
    for tolerance in (1e-2, 2e-3, 5e-4):
        found = evacuate(spaces, vents, box, 5.0, tolerance)
        took = milliseconds(lambda t=tolerance: evacuate(spaces, vents, box, 5.0, t))
        print(f"  step error {tolerance:.0e}: {len(found.time):4d} steps, "
              f"{100 * (found.time_to_pull(7e4) / exact - 1):+.2f} %, {took:6.2f} ms")


def saved(step, upstream: Upstream, **values) -> Decision:
    """A step decided at its defaults."""
    inputs = step.checked(values, upstream)
    outcome = step.compute(inputs, upstream)
    return Decision(inputs, {r.key: r.value for r in outcome.results}, hash=step.key)


def pages() -> None:
    print("one answer of a page, computing only")
    brief = saved(BRIEF, Upstream(), part="shape")
    material = saved(MATERIAL, Upstream({"brief": brief}))
    upstream = Upstream({"brief": brief, "material": material})
    for step in (HEATING, VENTS):
        inputs = step.checked({}, upstream)
        took = milliseconds(lambda s=step, i=inputs: s.compute(i, upstream))
        print(f"  {step.title}: {took:.1f} ms")


if __name__ == "__main__":
    conduction()
    evacuation()
    pages()
