"""Tables of the page: ledger, walls short of draft, undercuts, radii, flats, grip, build."""

from __future__ import annotations

from thermoforming.steps.base import Column, Grid

_PLACE = (Column("x", "x", "mm"), Column("y", "y", "mm"), Column("z", "z", "mm"))


def tables(found) -> tuple[Grid, ...]:
    """All tables of the page."""
    made = (_ledger(found), _contributions(found), _short(found), _undercuts(found),
            _tight(found), _flats(found), _holds(found), _build(found))
    return tuple(grid for grid in made if grid.rows)


def _ledger(found) -> Grid:
    wanted = found.inputs["yield_wanted"]
    rows = []
    for line in found.ledger.lines:
        grade = line.grade(wanted)
        rows.append({
            "name": line.row["name"], "what": line.row["what"], "nominal": line.row["nominal"],
            "tolerance": line.half, "drawn": line.drawn, "scale": line.scale,
            "worst": _half(line.stack.worst), "rss": _half(line.stack.rss),
            "low": line.stack.sampled.low - line.target,
            "high": line.stack.sampled.high - line.target, "probability": line.probability,
            "largest": line.largest, "realistic": line.realistic(wanted),
            "grade": f"IT {grade}" if grade else "–"})
    return Grid("ledger", "Ledger of critical dimensions", (
        Column("name", "Name"), Column("what", "What"), Column("nominal", "Nominal", "mm"),
        Column("tolerance", "Tolerance, plus and minus", "mm"),
        Column("drawn", "Tool drawn with", "mm", 6), Column("scale", "Scale", "-", 6),
        Column("worst", "Worst case, ±", "mm"), Column("rss", "Root sum square, ±", "mm"),
        Column("low", "5 % of parts below", "mm"), Column("high", "5 % above", "mm"),
        Column("probability", "In tolerance", "%"), Column("largest", "Mostly"),
        Column("realistic", "Realistic, ±", "mm"), Column("grade", "ISO 286")), tuple(rows))


def _half(band) -> float:
    return (band.high - band.low) / 2


def _contributions(found) -> Grid:
    names = list(dict.fromkeys(name for line in found.ledger.lines for name in line.grouped()))
    rows = tuple({"name": line.row["name"]} | {name: line.grouped().get(name) for name in names}
                 for line in found.ledger.lines)
    return Grid("contributions", "Contributions, plus and minus",
                (Column("name", "Name"), *(Column(name, name.capitalize(), "mm")
                                           for name in names)), rows)


def _short(found) -> Grid:
    grips = found.walls.grips
    rows = tuple({"name": r.name, "area": r.area, "least": r.low, "mean": r.mean,
                  "held": "grips" if grips[r.faces].mean() > 0.5 else "leaves"} | _at(r.centre)
                 for r in found.walls.short)
    return Grid("short", "Walls short of draft", (
        Column("name", "Region"), Column("area", "Area", "cm²"), Column("least", "Least", "°"),
        Column("mean", "Mean", "°"), Column("held", "The part"), *_PLACE), rows)


def _undercuts(found) -> Grid:
    rows = tuple({"name": r.name, "area": r.area, "volume": r.volume,
                  "depth": None if r.depth == float("inf") else r.depth} | _at(r.centre)
                 for r in found.walls.undercuts)
    return Grid("undercuts", "Undercuts", (
        Column("name", "Region"), Column("area", "Area", "cm²"),
        Column("volume", "Volume", "cm³"), Column("depth", "Depth", "mm"), *_PLACE), rows)


def _tight(found) -> Grid:
    rows = tuple({"name": r.name, "sort": "external" if r.name[0] == "E" else "internal",
                  "radius": r.low, "area": r.area} | _at(r.centre) for r in found.details.tight)
    return Grid("tight", "Radii tighter than the gauge asks for", (
        Column("name", "Region"), Column("sort", "Sort"), Column("radius", "Radius", "mm"),
        Column("area", "Area", "cm²"), *_PLACE), rows)


def _holds(found) -> Grid:
    release = found.release
    rows = tuple({"name": hold.name, "draft": hold.draft, "size": hold.size, "normal": normal,
                  "pressure": normal / hold.area, "low": force.low, "force": force.typical,
                  "high": force.high} for hold, normal, force in
                 zip(release.holds, release.normals, release.forces, strict=True))
    return Grid("holds", "What the part grips when it is stripped", (
        Column("name", "Wall"), Column("draft", "Mean draft", "°"),
        Column("size", "Height or length", "mm"), Column("normal", "Normal force", "N"),
        Column("pressure", "Contact pressure", "kPa"), Column("low", "Release, low", "N"),
        Column("force", "typical", "N"), Column("high", "high", "N")), rows)


def _flats(found) -> Grid:
    rows = tuple({"name": r.name, "area": r.area} | _at(r.centre) for r in found.details.flats)
    return Grid("flats", "Flats that face the sheet", (
        Column("name", "Region"), Column("area", "Area", "cm²"), *_PLACE), rows)


def _build(found) -> Grid:
    if found.inputs["layer_height"] == 0.0:
        return Grid("build", "", (), ())
    rows = tuple({"axis": f"built along {axis}", "walls": walls, "all": whole}
                 for axis, (walls, whole) in found.steps.items())
    return Grid("build", "Ra of layer steps by build direction", (
        Column("axis", "Way"), Column("walls", "Walls", "µm"), Column("all", "Whole part", "µm")),
        rows)


def _at(centre) -> dict[str, float]:
    return {axis: round(float(value), 4) for axis, value in zip("xyz", centre, strict=True)}
