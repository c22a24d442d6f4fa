"""Critical dimensions measured on the mesh, between the faces on both sides of a place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from thermoforming.geometry.pick import across, depth_below
from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused
from thermoforming.steps.base import CAUTION, PASS, Check, Column, Grid
from thermoforming.steps.brief.part import kept

DIRECTIONS = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


def place_of(text: str) -> tuple[float, float, float] | None:
    """A place typed as three numbers in millimetres, in metres; None if nothing is typed.

    >>> place_of("-54; 0; -5,5")
    (-0.054, 0.0, -0.0055)
    """
    if not text.strip():
        return None
    parts = text.replace(",", ".").split(";") if ";" in text else text.replace(",", " ").split()
    try:
        x, y, z = (float(part) * 1e-3 for part in parts)
    except ValueError:
        raise Refused("at", f"“{text}” is not a place: type x, y, z in millimetres, such as "
                            "-54, 0, -5.") from None
    return x, y, z


def measured(surface: Surface, row: Mapping[str, Any]) -> float | None:
    """A dimension on the mesh, None where no place is given. [m]"""
    place = place_of(row["at"])
    if place is None:
        return None
    try:
        if row["kind"] == "depth":
            return depth_below(surface, place)
        return across(surface, place, DIRECTIONS[row["direction"]]).distance
    except Refused as refused:
        raise Refused("dimensions", f"{row['name']}: {refused}") from None


def all_measured(surface: Surface, rows: Sequence[Mapping[str, Any]]) -> list[float | None]:
    """Every dimension on the mesh, found once for the same places. [m]"""
    key = tuple((row["name"], row["at"], row["kind"], row["direction"]) for row in rows)
    return kept("picked", surface, lambda: [measured(surface, row) for row in rows], key)


def picked_table(surface: Surface, rows: Sequence[Mapping[str, Any]]) -> Grid:
    """What the mesh has for each dimension with a place."""
    found = list(zip(rows, all_measured(surface, rows), strict=True))
    return Grid("picked", "Dimensions on the mesh", (
        Column("name", "Name"), Column("what", "What"), Column("nominal", "Nominal", "mm"),
        Column("mesh", "On the mesh", "mm"), Column("difference", "Difference", "mm"),
        Column("side", "Measured on")),
        tuple({"name": row["name"], "what": row["what"], "nominal": row["nominal"], "mesh": value,
               "difference": value - row["nominal"],
               "side": "tool side" if row["side"] == "tool" else "free side: the mesh is a gauge "
               "away on each wall"} for row, value in found if value is not None))


def picked_checks(surface: Surface, rows: Sequence[Mapping[str, Any]]) -> list[Check]:
    """Whether nominal and mesh agree within the tolerance, for dimensions of the tool side."""
    pairs = [(row, value) for row, value in zip(rows, all_measured(surface, rows), strict=True)
             if value is not None and row["side"] == "tool"]
    wrong = [row["name"] for row, value in pairs
             if not -row["minus"] <= value - row["nominal"] <= row["plus"]]
    if not pairs:
        return []
    if not wrong:
        return [Check("picked", "Drawing and mesh", PASS,
                      f"{len(pairs)} dimensions of the mesh are within tolerance of nominal.",
                      source="the mesh")]
    return [Check("picked", "Drawing and mesh", CAUTION,
                  f"The mesh differs from the drawing by more than the tolerance: "
                  f"{', '.join(wrong)}.", source="the mesh",
                  advice="Correct the nominal, the place, or the mesh: the tool is made from it.")]
