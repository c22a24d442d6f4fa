"""Ledger closed, solid built, audit and what it means."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from thermoforming.geometry.surface import Surface
from thermoforming.steps.base import (
    CAUTION,
    PASS,
    STOP,
    Check,
    Column,
    Grid,
    Outcome,
    Result,
    Step,
    Worked,
    as_band,
    graded,
)
from thermoforming.steps.material import chosen_tool
from thermoforming.steps.tool.closing import Closed, closed
from thermoforming.steps.tool.fields import BUILT_BY, FIELDS
from thermoforming.steps.tool.making import simulate
from thermoforming.steps.upstream import Upstream
from thermoforming.units import with_unit

MEASURES = ("volume", "area", "triangles", "bodies", "vents_open", "vents", "face_error",
            "least_wall", "least_gap")


@dataclass(frozen=True)
class Solid:
    """The built tool as the page reads it from the run."""

    surface: Surface
    measures: Mapping[str, float]
    faults: tuple[str, ...]
    places: np.ndarray
    notes: tuple[str, ...]
    pieces: tuple[Surface, ...]
    draft: tuple[float, float]
    formed: np.ndarray | None


def solid_of(upstream: Upstream) -> Solid | None:
    """The tool as last built, or None."""
    kept = upstream.simulation
    if kept is None:
        return None
    pieces = tuple(Surface(kept[f"piece_{k}_vertices"], kept[f"piece_{k}_faces"])
                   for k in range(int(kept["pieces"])))
    faults = tuple(str(text) for text in kept["faults"] if str(text))
    return Solid(Surface(kept["vertices"], kept["faces"]),
                 dict(zip(MEASURES, np.asarray(kept["measures"], float), strict=True)), faults,
                 np.asarray(kept["fault_places"], float),
                 tuple(str(text) for text in kept["notes"] if str(text)), pieces,
                 tuple(float(v) for v in kept["built_draft"]), kept.get("formed_again"))


def compute(inputs: Mapping[str, Any], upstream: Upstream) -> Outcome:
    """What the decisions close to, and what the built solid is."""
    ledgers = closed(upstream)
    solid = solid_of(upstream)
    density = chosen_tool(upstream).band("density")
    return Outcome(
        results=_results(ledgers, solid, inputs, density),
        checks=tuple(_ledger_checks(ledgers, inputs) + _solid_checks(solid, inputs, upstream)),
        worked=_worked(ledgers, inputs, solid, density),
        tables=_tables(ledgers, solid, upstream.input("brief", "dimensions")),
        arrays={"solid": solid, "ledgers": ledgers},
    )


def _results(ledgers: Closed, solid: Solid | None, inputs, density) -> tuple[Result, ...]:
    scale = ledgers.scale(inputs["scale_from"])
    measured = solid.measures if solid else {}
    volume = measured.get("volume")
    return (
        Result("joint", "All in tolerance, as found", ledgers.found.joint, "%"),
        Result("mass", "Mass of the tool", density.scaled(volume) if volume else None, "kg"),
        Result("least_wall", "Least wall, measured", _number(measured.get("least_wall")), "mm"),
        Result("vents_open", "Vents proven open", _of(measured, "vents_open", "vents")),
        Result("pieces", "Pieces to build", len(solid.pieces) if solid else None),
        Result("face_error", "Face off by at most", measured.get("face_error"), "µm"),
        Result("joint_assumed", "All in tolerance, as assumed", ledgers.assumed.joint, "%"),
        *(Result(f"scale_{axis}", f"Scale along {axis}", factor, significant=6)
          for axis, factor in zip("xyz", scale, strict=True)),
        Result("volume", "Volume of material", volume, "cm³"),
        Result("surface_area", "Whole surface", measured.get("area"), "cm²"),
        Result("least_gap", "Narrowest room between ribs", _number(measured.get("least_gap")),
               "mm"),
        Result("bodies", "Bodies", _whole(measured.get("bodies"))),
        Result("triangles", "Triangles", _whole(measured.get("triangles"))),
        Result("built_draft", "Draft of the built face, least 1 % of area",
               solid.draft[0] if solid else None, "°"),
        Result("formed_again", "Least gauge, formed on it again",
               float(solid.formed[0]) if solid is not None and solid.formed is not None else None,
               "mm"),
    )


def _ledger_checks(ledgers: Closed, inputs) -> list[Check]:
    checks = []
    missing = [move.by for move in ledgers.moves if move.found is None]
    if missing:
        checks.append(Check(
            "open", "The ledger is open", CAUTION, f"{', '.join(dict.fromkeys(missing))} has not "
            "been decided, so its assumption stands.", source="the shrinkage page",
            advice="Decide that page, then come back."))
    for line in ledgers.found.lines:
        use = ledgers.use(line) + ledgers.bowed(line)
        name = line.row["name"]
        checks.append(Check(
            f"moved_{name}", f"{name}: assumed against found",
            graded(use, inputs["caution_share"], 1.0),
            f"The tool is drawn {with_unit(ledgers.shift(name), 'mm')} away from what was assumed"
            f", and the warm wall distorts by {with_unit(ledgers.distortion, 'mm')}; "
            f"{line.probability:.0%} of parts are in tolerance.",
            use, inputs["caution_share"], "%", "ledger of the shrinkage page, closed",
            "" if use <= inputs["caution_share"] else
            "Put what was found into the shrinkage page and save it, or build by this page's "
            "scale; stiffen or cool the wall if distortion is the larger part."))
    return checks


def _solid_checks(solid: Solid | None, inputs, upstream: Upstream) -> list[Check]:
    if solid is None:
        return [Check("not_built", "The tool is built", CAUTION, "Nothing has been built with "
                      "these inputs yet.", advice="Press Run; it takes some ten seconds.")]
    m = solid.measures
    checks = [
        Check("bodies", "One watertight body", PASS if m["bodies"] == 1 else STOP,
              f"The tool is {int(m['bodies'])} closed body(ies) of {int(m['triangles']):,} "
              "triangles.", int(m["bodies"]), 1, "-", "measured on the solid",
              "" if m["bodies"] == 1 else "A wall is cut through; look at the section."),
        Check("face", "The face is where it was drawn",
              graded(m["face_error"], inputs["face_error"], 4 * inputs["face_error"]),
              "Corners of the scaled face against the built tool, vents apart.",
              m["face_error"], inputs["face_error"], "mm", "measured on the solid",
              "" if m["face_error"] <= inputs["face_error"] else "A bore or channel has cut the "
              "face; move it or set it deeper."),
    ]
    if inputs["hollow"] and np.isfinite(m["least_wall"]):
        checks.append(Check(
            "wall", "Least wall", PASS if m["least_wall"] >= inputs["wall"] - 1e-6 else STOP,
            "Between the face and the room below, measured.", m["least_wall"], inputs["wall"],
            "mm", "the wall page", ""))
    closed_vents = int(m["vents"] - m["vents_open"])
    checks.append(Check(
        "vents", "Every vent leads to the room below", PASS if closed_vents == 0 else STOP,
        f"A rod of half the bore passes through {int(m['vents_open'])} of {int(m['vents'])} vents.",
        int(m["vents_open"]), int(m["vents"]), "-", "measured on the solid",
        "" if closed_vents == 0 else "Move the vents named below on the vents page, or give them "
        "a smaller relief."))
    checks += [Check(f"fault_{k}", "Could not be built", STOP, text, source="the build")
               for k, text in enumerate(solid.faults) if not text.startswith("Vent ")]
    if solid.notes:
        checks.append(Check("notes", "Built otherwise than planned", CAUTION,
                            " ".join(solid.notes), source="the build",
                            advice="Look at the evacuation on the vents page with these bores."))
    return checks + _loop_checks(solid, upstream)


def _loop_checks(solid: Solid, upstream: Upstream) -> list[Check]:
    """The loop closed: draft and thinning of what was built against what was decided."""
    undercut = solid.draft[1]
    small = 1e-6  # m2, what rounding leaves
    checks = [Check("undercut", "The built face releases",
                    PASS if undercut <= small + float(upstream.result("shrinkage",
                                                                      "undercut_area")) else STOP,
                    "Undercut of the built face along the pull, against the part's own.",
                    undercut, float(upstream.result("shrinkage", "undercut_area")), "cm²",
                    "measured on the solid")]
    if solid.formed is not None and upstream.has("thinning"):
        least, valid = float(solid.formed[0]), bool(solid.formed[4])
        before = as_band(upstream.result("thinning", "least_gauge"))
        inside = before.low * 0.9 <= least <= before.high * 1.1
        checks.append(Check(
            "formed", "The sheet formed on the tool again",
            STOP if not valid else PASS if inside else CAUTION,
            "Coarse run on the scaled face; least gauge against the band of the thinning page"
            + ("." if valid else ", but the run failed its own checks."),
            least, before, "mm", "the thinning page",
            "" if valid and inside else "Look at the thinning page again with the scaled part."))
    return checks


def _worked(ledgers: Closed, inputs, solid, density) -> tuple[Worked, ...]:
    lines = []
    scaled = [line for line in ledgers.found.lines if line.scale]
    if scaled:
        line = max(scaled, key=ledgers.use)
        name, use = line.row["name"], ledgers.use(line) + ledgers.bowed(line)
        lines.append(Worked(
            f"Share of the tolerance of {name} that the closed ledger uses",
            r"u = \frac{|L_\mathrm{found} - L_\mathrm{assumed}| + d}{(L_\mathrm{max} - "
            r"L_\mathrm{min})/2}",
            rf"\frac{{|{line.drawn * 1e3:.3f} - {(line.drawn - ledgers.shift(name)) * 1e3:.3f}| + "
            rf"{ledgers.distortion * 1e3:.3f}}}{{{line.half * 1e3:.3f}}}",
            f"{use:.1%}", "definition"))
    if solid is not None:
        volume = solid.measures["volume"]
        lines.append(Worked("Mass", r"m = \rho V",
                            rf"{density.typical:.0f}\,\mathrm{{kg/m^3}} \cdot "
                            rf"{volume * 1e6:.1f}\,\mathrm{{cm^3}}",
                            with_unit(density.typical * volume, "kg"), "definition"))
    return tuple(lines)


def _tables(ledgers: Closed, solid: Solid | None, rows) -> tuple[Grid, ...]:
    before = {line.row["name"]: line for line in ledgers.assumed.lines}
    dimensions = tuple(
        {"name": line.row["name"], "what": line.row["what"], "nominal": line.row["nominal"],
         "assumed": before[line.row["name"]].drawn, "found": line.drawn,
         "shift": ledgers.shift(line.row["name"]), "use": ledgers.use(line) + ledgers.bowed(line),
         "before": before[line.row["name"]].probability, "after": line.probability}
        for line in ledgers.found.lines)
    moves = tuple({"what": move.label, "unit": move.shown, "by": move.by,
                   "assumed": _words(move.assumed, move.shown),
                   "found": _words(move.found, move.shown)} for move in ledgers.moves)
    grids = [
        Grid("moves", "Assumed and found", (
            Column("what", "What"), Column("assumed", "Assumed on the shrinkage page"),
            Column("found", "Found since"), Column("by", "By")), moves),
        Grid("closed", "Dimensions of the tool, the ledger closed", (
            Column("name", "No."), Column("what", "Dimension"), Column("nominal", "Part", "mm"),
            Column("assumed", "Drawn, assumed", "mm"), Column("found", "Drawn, found", "mm"),
            Column("shift", "Moves by", "mm"), Column("use", "Tolerance used", "%"),
            Column("before", "In tolerance before", "%"),
            Column("after", "In tolerance now", "%")), dimensions),
    ]
    if solid is not None and solid.faults:
        grids.append(Grid("faults", "What could not be built, with its place", (
            Column("what", "What"), Column("x", "x", "mm"), Column("y", "y", "mm"),
            Column("z", "z", "mm")), tuple(
                {"what": text} | {axis: _number(place[k]) for k, axis in enumerate("xyz")}
                for text, place in zip(solid.faults, solid.places, strict=True))))
    return tuple(grids)


def _words(band, shown: str) -> str:
    if band is None:
        return "not yet"
    text = with_unit(band.typical, shown)
    return text if band.is_exact else (f"{text} ({with_unit(band.low, shown)} to "
                                       f"{with_unit(band.high, shown)})")


def _number(value) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)


def _whole(value) -> int | None:
    return None if value is None else int(value)


def _of(measured, key: str, whole: str) -> str | None:
    if not measured:
        return None
    return f"{int(measured[key])} of {int(measured[whole])}"


STEP = Step(
    key="tool", number=8, title="The tool",
    question="Do the dimensions still close with what was found, and is the solid ready to build?",
    fields=FIELDS, compute=compute, simulate=simulate, simulated_by=BUILT_BY,
    needs=("brief", "material", "shrinkage"), uses=("thinning", "vents", "wall"),
    cautions=("resin", "dust"),
)
