"""What heater, contact and friction really were: the earlier pages' models run again.

Each model is run at a few values of one number while the others stay as decided; what was
measured then says which values explain it. This takes a minute, so it runs beside the page.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.spatial import cKDTree

from thermoforming.bands import Band
from thermoforming.physics.learning import grid_update
from thermoforming.reference import rule
from thermoforming.steps import heating, thinning
from thermoforming.steps.base import Cancelled
from thermoforming.steps.material import chosen_sheet
from thermoforming.steps.trial.fields import STARTUP
from thermoforming.steps.trial.measured import sheet_temperature
from thermoforming.steps.upstream import Upstream

STEPS = 7  # values of a number at which the heating page is run
HEATER = Band(0.7, 1.0, 1.3)  # heat given against heat set: wear, dirt, voltage; judgement
COARSER = 3.0  # edge of the sheet's triangles against the thinning page's run
LEAST_NOISE = 0.03  # share of the gauge that a caliper and the model together miss at least


@dataclass(frozen=True)
class Response:
    """One number to learn: its band before and after, and what it was learned from."""

    key: str
    label: str
    shown: str
    before: Band
    after: Band
    count: int


def simulate(inputs: Mapping[str, Any], upstream: Upstream, run) -> dict[str, Any]:
    """Run the earlier models over the bands of what is to be learned; named arrays."""
    found: dict[str, Any] = {"runs": np.array(0)}
    if upstream.has("heating"):
        if _means(inputs, "heating_time", "sheet_temperature"):
            found |= _over("heater", HEATER, _heated(inputs, upstream), run, 0.0)
        if _means(inputs, "cooling_time", "part_temperature"):
            found |= _over("contact", contact_band(upstream), _cooled(inputs, upstream), run, 0.1)
    if upstream.has("thinning") and inputs["gauges"] and upstream.decision("thinning").files:
        found |= _friction(inputs, upstream, run)
    return found


def learned(inputs: Mapping[str, Any], upstream: Upstream) -> tuple[Response, ...]:
    """What the runs and the measurements together say; empty before the run."""
    runs = upstream.simulation
    if runs is None:
        return ()
    responses = []
    if "heater_at" in runs:
        data = _values(inputs, "heating_time", "sheet_temperature", inputs)
        responses.append(_thermal("heater", "Heat given against heat set", "%", HEATER, runs,
                                  data, inputs["thermometer"]))
    if "contact_at" in runs:
        data = _values(inputs, "cooling_time", "part_temperature")
        responses.append(_thermal("contact", "Contact conductance", "W/(m²·K)",
                                  contact_band(upstream), runs, data, inputs["thermometer"]))
    if "friction_at" in runs:
        data = np.array([row["gauge"] for row in inputs["gauges"]])
        middle = np.asarray(runs["friction_gives"])[1]
        noise = float(np.hypot(np.std(data - middle), LEAST_NOISE * np.mean(data)))
        band = friction_band(upstream)
        after = grid_update(band, runs["friction_at"], runs["friction_gives"], data, noise)
        responses.append(Response("friction", "Friction, hot sheet on tool", "-", band, after,
                                  data.size))
    return tuple(responses)


def contact_band(upstream: Upstream) -> Band:
    """Conductance between sheet and tool, widened to hold what the heating page assumed."""
    band, typed = rule("contact", "conductance, sheet on tool, vacuum").band, upstream.input(
        "heating", "contact")
    return Band(min(band.low, typed), typed, max(band.high, typed))


def friction_band(upstream: Upstream) -> Band:
    """Friction of the hot sheet on the tool, as the sheet's table has it."""
    return chosen_sheet(upstream).band("friction_tool")


# ---------------------------------------------------------------------------- running

def _over(key: str, band: Band, model: Callable[[float], np.ndarray], run, begin: float) -> dict:
    values = np.linspace(band.low, band.high, STEPS)
    rows = []
    for i, value in enumerate(values):
        if run.report(begin + 0.1 * i / STEPS, f"heating page again, {key}"):
            raise Cancelled()
        rows.append(model(float(value)))
    return {f"{key}_at": values, f"{key}_gives": np.array(rows)}


def _heated(inputs, upstream) -> Callable[[float], np.ndarray]:
    """Temperature of the sheet's hottest face after the mean time measured, by heat given."""
    decided = dict(upstream.decision("heating").inputs)
    times = [t for t, _ in _pairs(inputs, "heating_time", "sheet_temperature")]
    mean = float(np.mean(times))

    def model(share: float) -> np.ndarray:
        given = decided | {"power": share * decided["power"], "typed_time": mean}
        outcome = heating.STEP.compute(given, upstream)
        return np.full(len(times), outcome["surface_end"])
    return model


def _cooled(inputs, upstream) -> Callable[[float], np.ndarray]:
    """Temperature of the part's hottest face after the times on the tool, by conductance."""
    decided = dict(upstream.decision("heating").inputs)
    times = np.array([t for t, _ in _pairs(inputs, "cooling_time", "part_temperature")])

    def model(conductance: float) -> np.ndarray:
        given = decided | {"contact": conductance}
        on_tool = heating.STEP.compute(given, upstream).arrays["shot"].on_tool
        hottest = on_tool.of(0)[:, [0, -1]].max(axis=1)
        return np.interp(times - given["evacuate"], on_tool.time, hottest)
    return model


def _friction(inputs, upstream, run) -> dict:
    decided = dict(upstream.decision("thinning").inputs)
    coarse = decided | {"sticks": False, "verify": False, "search": False,
                        "mesh_size": COARSER * decided["mesh_size"]}
    if inputs["sheet_gauge"] is not None:
        coarse["gauge"] = inputs["sheet_gauge"]
    band = friction_band(upstream)
    places = np.array([[row["x"], row["y"], row["z"]] for row in inputs["gauges"]])
    values, rows = np.array([band.low, band.typical, band.high]), []
    for i, value in enumerate(values):
        part = _Part(run, 0.2 + 0.8 * i / 3, 0.8 / 3, f"sheet formed with friction {value:.2g}")
        formed = thinning.STEP.simulate(coarse | {"friction": float(value)}, upstream, part)
        _, nearest = cKDTree(formed["points"]).query(places)
        rows.append(np.asarray(formed["node_gauge"], float)[nearest])
    return {"friction_at": values, "friction_gives": np.array(rows)}


class _Part:
    """A share of a run's progress."""

    def __init__(self, run, begin: float, share: float, text: str):
        self.run, self.begin, self.share, self.text = run, begin, share, text

    def report(self, fraction: float, text: str = "") -> bool:
        return self.run.report(self.begin + self.share * fraction, self.text)

    def preview(self, simulation) -> None:
        pass


# ---------------------------------------------------------------------------- measured

def _thermal(key, label, shown, band, runs, data, thermometer) -> Response:
    """From the mean of the readings: what is wrong with the thermometer is wrong in all of them."""
    scatter = data.std(ddof=1) / np.sqrt(data.size) if data.size > 1 else 0.0
    gives = np.asarray(runs[f"{key}_gives"]).mean(axis=1, keepdims=True)
    after = grid_update(band, runs[f"{key}_at"], gives, data.mean(),
                        float(np.hypot(thermometer, scatter)))
    return Response(key, label, shown, band, after, data.size)


def _pairs(inputs, time: str, temperature: str) -> list[tuple[float, Mapping]]:
    """Time and row of every shot but start-up where both were measured."""
    return [(row[time], row) for row in inputs["shots"] if row["verdict"] != STARTUP
            and row[time] is not None and row[temperature] is not None]


def _means(inputs, time: str, temperature: str) -> bool:
    return bool(_pairs(inputs, time, temperature))


def _values(inputs, time: str, temperature: str, camera: Mapping | None = None) -> np.ndarray:
    return np.array([row[temperature] if camera is None else sheet_temperature(row, camera)
                     for _, row in _pairs(inputs, time, temperature)])
