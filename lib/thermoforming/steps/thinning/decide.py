"""The thinning decision: all levels side by side, what follows from them, checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.bands import Band
from thermoforming.geometry.section import section
from thermoforming.physics.thinning import design
from thermoforming.physics.thinning.area import mean_gauge
from thermoforming.steps.base import Column, Grid, Outcome, Result, Step
from thermoforming.steps.brief.part import kept, part_surface
from thermoforming.steps.thinning import hot_sheet, prints
from thermoforming.steps.thinning.fields import FIELDS, SIMULATED_BY, corner_limit
from thermoforming.steps.thinning.findings import checks
from thermoforming.steps.thinning.levels import Levels, find_levels
from thermoforming.steps.thinning.reading import Reading, read, section_of
from thermoforming.steps.thinning.whole import simulate
from thermoforming.steps.thinning.working import worked
from thermoforming.steps.upstream import Upstream


@dataclass(frozen=True, eq=False)
class Found:
    """Everything found, before it is put into words. Gauges [m] unless over t0 [1]."""

    levels: Levels
    reading: Reading | None
    ratio: Band | None
    starting: Band
    least: Band | None
    needed: Band | None
    tolerance: Band
    smallest: float

    @property
    def mean(self) -> float:
        return float(mean_gauge(self.starting.typical, self.levels.area_ratio))

    @property
    def formed_radius(self) -> float:
        """Radius that the end pressure forms: from the mesh run, else from level 3. [m]"""
        if self.reading is not None:
            return self.reading.formed_radius
        return 0.0 if self.levels.membrane is None else self.levels.membrane.free_radius


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """The four levels, the least gauge with its band, the starting gauge, and the checks."""
    found = find(inputs, upstream)
    return Outcome(_results(found, inputs), checks(found, inputs, upstream),
                   worked(found, inputs, upstream), _tables(found, inputs),
                   _arrays(found, inputs, upstream))


def find(inputs: Mapping[str, Any], upstream: Upstream) -> Found:
    """What the levels and the run, where there is one, say."""
    levels = find_levels(inputs, upstream)
    reading = _reading(upstream)
    ratio = _ratio(levels, reading, inputs)
    tolerance = hot_sheet.tolerance_band(upstream)
    gauge = inputs["gauge"]
    starting = Band.around(gauge, gauge * tolerance.typical)
    least = design.least_gauge(starting, ratio) if ratio else None
    needed = (design.starting_gauge(inputs["minimum_wall"], ratio, tolerance) if ratio else None)
    return Found(levels, reading, ratio, starting, least, needed, tolerance,
                 corner_limit(upstream))


def _reading(upstream: Upstream) -> Reading | None:
    simulation = upstream.simulation
    if simulation is None or not {"pockets", "gap", "verified"} <= set(simulation):
        return None  # none yet, or one of an older edition: form the sheet again
    mark = (float(np.sum(simulation["node_gauge"])), len(simulation["points"]),
            int(simulation["verified"]), str(simulation["level"]))
    return kept("thinning run", part_surface(upstream), lambda: read(simulation), mark)


def _ratio(levels: Levels, reading: Reading | None, inputs) -> Band | None:
    """Least gauge over starting gauge with its band: level 4, spread as level 3 answers."""
    if reading is None or levels.ratio is None:
        return levels.ratio
    typical = min(1.0, reading.least / inputs["gauge"])
    scale = typical / levels.ratio.typical
    return Band(levels.ratio.low * scale, typical, min(1.0, levels.ratio.high * scale))


def _results(found: Found, inputs) -> tuple[Result, ...]:
    levels, reading = found.levels, found.reading
    place = reading.least_at if reading else (None, None, None)
    return (
        Result("least_gauge", "Least gauge", found.least, "mm", "t_min",
               "Band from the sheet's tolerance, its stiffness, its law and friction."),
        Result("starting_needed", "Starting gauge that keeps the least wall", found.needed, "mm",
               "t_0", "Its high end keeps it in nearly all cases."),
        Result("mean_gauge", "Mean gauge", found.mean, "mm", "t_m"),
        Result("formed_radius", "Radius this pressure forms", found.formed_radius, "mm", "ρ",
               "Tension of the last free sheet over the pressure."),
        Result("level", "Least gauge from", "level 4, the tool's mesh" if reading
               else "level 3, a round form"),
        Result("verified", "Verified at half the rate", reading.verified if reading else None),
        Result("end_pressure", "Pressure at the end", _end_pressure(found), "kPa", "p"),
        Result("pressure_needed", "Pressure that fills the smallest radius",
               _pressure_needed(found), "kPa"),
        Result("area_ratio", "Area draw ratio in the frame", levels.area_ratio, "-", "R_A"),
        Result("least_x", "Least gauge at x", place[0], "mm"),
        Result("least_y", "Least gauge at y", place[1], "mm"),
        Result("least_z", "Least gauge at z", place[2], "mm"),
        Result("elements_least", "Least gauge by elements", levels.elements_least
               * inputs["gauge"], "mm"),
        Result("membrane_least", "Least gauge by the round membrane",
               _times(levels.membrane_least, inputs["gauge"]), "mm"),
        Result("mesh_least", "Least gauge on the mesh", reading.least if reading else None, "mm"),
        Result("evacuated_volume", "Air drawn out", float(reading.arrays["curve"][-1, 0])
               if reading else None, "L"),
        Result("pockets", "Spaces of air", len(reading.pockets) if reading else None),
        Result("best_setting", "Best plug share or bubble height", *_best(found, inputs)),
    )


def _times(ratio, gauge):
    return None if ratio is None else ratio * gauge


def _end_pressure(found: Found) -> float | None:
    if found.reading is not None:
        return float(found.reading.arrays["end_pressure"])
    return None if found.levels.membrane is None else found.levels.membrane.pressure


def _pressure_needed(found: Found) -> float | None:
    """Pressure for the smallest internal radius at the tension of the last free sheet. [Pa]

    None fills a sharp edge, whose radius is zero.
    """
    end = _end_pressure(found)
    if not end or not 0.0 < found.smallest < np.inf or found.formed_radius == 0.0:
        return None
    return float(end * found.formed_radius / found.smallest)


def _best(found: Found, inputs):
    arrays = found.reading.arrays if found.reading else {}
    if "best_setting" not in arrays:
        return None, "-"
    return float(arrays["best_setting"]), "%" if inputs["method"] == "plug assist" else "mm"


def _tables(found: Found, inputs) -> tuple[Grid, ...]:
    return (_levels_table(found, inputs), *_run_tables(found), _answers_table(found))


def _levels_table(found: Found, inputs) -> Grid:
    gauge, levels, reading = inputs["gauge"], found.levels, found.reading
    best = reading.least if reading else _times(levels.membrane_least, gauge)
    thin = min(levels.elements, key=levels.elements.get)
    rows = [("1 area ratio", found.mean, found.mean, "everywhere the same"),
            ("2 geometric elements", None, levels.elements_least * gauge, thin)]
    if levels.membrane is not None:
        middle = levels.membrane.middle[int(np.argmin(levels.membrane.gauge))]
        rows.append(("3 round membrane", None, levels.membrane_least * gauge,
                     f"{middle[0] * 1e3:.1f} mm from the axis, z {middle[1] * 1e3:.1f} mm"))
    if reading is not None:
        x, y, z = (1e3 * value for value in reading.least_at)
        rows.append(("4 the tool's mesh", reading.mean, reading.least,
                     f"x {x:.1f}, y {y:.1f}, z {z:.1f} mm"))
    return Grid("levels", "The levels side by side",
                (Column("level", "Level"), Column("mean", "Mean gauge", "mm"),
                 Column("least", "Least gauge", "mm"), Column("apart", "Off the best level", "%"),
                 Column("where", "Least where")),
                tuple({"level": name, "mean": mean, "least": least, "where": where,
                       "apart": None if best is None else least / best - 1.0}
                      for name, mean, least, where in rows))


def _run_tables(found: Found) -> tuple[Grid, ...]:
    if found.reading is None:
        return ()
    xyz = (Column("x", "x", "mm"), Column("y", "y", "mm"), Column("z", "z", "mm"))
    pockets = tuple({"name": f"A{i}", **dict(zip("xyz", p.place, strict=True)),
                     "cut": p.cut_at, "closes": p.closes_at, "air": p.air,
                     "area": p.area}
                    for i, p in enumerate(found.reading.pockets, start=1))
    last = tuple(dict(zip(("x", "y", "z", "gone", "gap"), row, strict=True))
                 for row in found.reading.last)
    return (Grid("pockets", "Spaces of air and where each ends",
                 (Column("name", "Space"), *xyz, Column("cut", "Cut off at air drawn", "cm³"),
                  Column("closes", "Empty at air drawn", "cm³"), Column("air", "Air in it", "cm³"),
                  Column("area", "Sheet over it", "cm²")), pockets),
            Grid("last_contacts", "Last contacts, and what stays empty",
                 (*xyz, Column("gone", "Air gone by then", "%"),
                  Column("gap", "Gap left", "mm")), last), *_search_table(found))


def _search_table(found: Found) -> tuple[Grid, ...]:
    arrays = found.reading.arrays
    if "search" not in arrays:
        return ()
    rows = tuple({"setting": float(setting), "ratio": float(ratio)}
                 for setting, ratio in np.asarray(arrays["search"]))
    shown = "%" if float(arrays["search"][-1][0]) > 0.19 else "mm"
    return (Grid("search", "Heights tried (round form)",
                 (Column("setting", "Plug share" if shown == "%" else "Bubble", shown),
                  Column("ratio", "Least gauge over starting gauge")), rows),)


def _answers_table(found: Found) -> Grid:
    names = {"shear": "stiffness of the hot sheet", "shape": "constant of its law",
             "friction": "friction on the tool"}
    rows = [{"what": names[key], "low": each.low - 1.0, "high": each.high - 1.0}
            for key, each in found.levels.responses.items()]
    tolerance = found.tolerance.typical
    rows.append({"what": "gauge tolerance of the sheet", "low": -tolerance, "high": tolerance})
    return Grid("answers", "How the least gauge answers (level 3)",
                (Column("what", "From"), Column("low", "At its low end", "%"),
                 Column("high", "At its high end", "%")), tuple(rows))


def _arrays(found: Found, inputs, upstream: Upstream) -> dict[str, Any]:
    surface = part_surface(upstream)
    arrays = {"surface": surface, "levels": found.levels, "reading": found.reading,
              "gauge": inputs["gauge"], "minimum_wall": inputs["minimum_wall"],
              "tool_section": tool_section(surface, inputs)}
    if found.reading is None:
        return arrays
    last = len(found.reading.arrays["frames"]) - 1
    frame = int(round(inputs["moment"] * last))
    arrays |= {"frame": None if frame == last else frame,
               "section": section_of(found.reading, inputs["section_along"],
                                     inputs["section_at"], None if frame == last else frame),
               "print": prints.image(found.reading, inputs, upstream)}
    return arrays


def tool_section(surface, inputs):
    """Runs of the tool's section: distance along the axis and height. [m]"""
    axis = 0 if inputs["section_along"] == "x" else 1
    normal = np.eye(3)[1 - axis]
    return [(run[:, axis], run[:, 2]) for run in section(surface, normal * inputs["section_at"],
                                                         normal)]


STEP = Step(
    key="thinning", number=4, title="Sheet thinning",
    question="How thick is the sheet everywhere on the formed part, and how thick must it start?",
    fields=FIELDS, compute=compute, needs=("brief", "material"),
    cautions=("machine", "hot surfaces", "pressure"),
    simulate=simulate, simulated_by=SIMULATED_BY,
)
