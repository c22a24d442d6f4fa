"""Checks of the wall page."""

from __future__ import annotations

from dataclasses import replace

from thermoforming.physics.channels import TURBULENT
from thermoforming.reference import rule
from thermoforming.steps.base import CAUTION, PASS, STOP, Check, graded
from thermoforming.steps.wall.findings import Found
from thermoforming.units import with_unit

PLATES = "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed."
BELOW = 0.5  # deflection over thickness: limit of small-deflection theory
THIN = 10.0  # short side over thickness from which thin-plate theory is good to a few percent


def checks_of(found: Found) -> tuple[Check, ...]:
    """All checks, the load first, in the order in which an engineer would ask."""
    checks = (*_stiff(found), *_strong(found), *_theory(found), *_warm(found), *_bent(found),
              *_made(found), *_cooled(found), *_pressed(found))
    return tuple(replace(c, advice="") if c.verdict == PASS else c for c in checks)


def _ruled(topic: str, case: str) -> str:
    known = rule(topic, case)
    return f"{known.source.citation} ({known.basis})"


def _stiff(found: Found) -> list[Check]:
    limit = found.here.limits.deflection
    clamped, supported = found.edges
    known = found.solid
    said = (f"Between {with_unit(clamped, 'mm')} with clamped and {with_unit(supported, 'mm')} "
            f"with supported edges by hand")
    if known is not None:
        said += f", {with_unit(known, 'mm')} by finite elements, which decide"
    verdict = graded(known, limit, limit) if known is not None else graded(
        supported, limit, max(limit, supported) if clamped <= limit else limit)
    checks = [Check("deflection", "Deflection", verdict, said + ".", found.deflection, limit, "mm",
                    _ruled("wall", "share of part tolerance for tool deflection"),
                    "Let the ribs stand on the base, set them closer, or thicken the wall; run "
                    "the finite elements if only the supported edge fails.")]
    return checks + _agreement(found)


def _agreement(found: Found) -> list[Check]:
    if found.simulation is None:
        return []
    by_hand = [float(found.by_edge[e].deflection) for e in ("clamped", "supported")]
    solid = found.solid
    inside = 0.8 * by_hand[0] <= solid <= 1.1 * by_hand[1]
    error = float(found.simulation["error"])
    return [Check("agreement", "Hand calculation and finite elements",
                  PASS if inside and error < 0.05 else CAUTION,
                  f"The solid model gives {with_unit(solid, 'mm')}; by hand it is "
                  f"{with_unit(by_hand[0], 'mm')} to {with_unit(by_hand[1], 'mm')}. The finest "
                  f"mesh is {error:.1%} from its extrapolated limit.", solid, by_hand[1], "mm",
                  "two independent methods on this page",
                  "" if inside else "Find out why before trusting either: few ribs, thick walls "
                  "or soft side walls are the usual reasons.")]


def _strong(found: Found) -> list[Check]:
    here, source = found.here, _ruled("wall", "safety factor on strength, printed tool")
    load = found.here.load
    checks = [Check("stress", "Stress", graded(found.stress, found.allowed, found.allowed),
                    f"{load.name.capitalize()}: {load.why}.", found.stress, found.allowed, "MPa",
                    source, "Closer ribs, a thicker wall, a cooler tool, or fewer shots."),
              Check("fillets", "Stress in the fillets",
                    graded(found.at_fillets, found.allowed, here.warm.strength),
                    "Panel's edge moment with the rise in its fillet; brittle materials feel all "
                    "of it.", found.at_fillets, found.allowed, "MPa", "Peterson (from memory)",
                    "Larger fillets at the ribs."),
              Check("buckling", "Buckling of wall, ribs and sides",
                    graded(found.buckling, here.limits.buckling_factor, 1.0),
                    "Least of the buckling loads over the load.", found.buckling,
                    here.limits.buckling_factor, "-", _ruled("wall", "safety factor on buckling"),
                    "Thicker or lower ribs, thicker side walls.")]
    if found.base_deflection > 0.0:
        checks.append(Check("base", "Base over the machine's opening", graded(
            found.base_deflection, here.limits.deflection, here.inputs["tolerance"]),
            "The wall's load spread over the base, its edges supported; plenum pressure below it "
            "as well.", found.base_deflection, here.limits.deflection, "mm", PLATES,
            "A thicker or stiffer base, or a support under its middle."))
    if found.boss:
        deflection, stress = found.boss["supported"]
        verdict = graded(max(deflection / here.limits.deflection, stress / found.allowed), 1.0, 2.0)
        checks.append(Check("boss", "Largest round flat", verdict,
                            f"Supported all round it bends by {with_unit(deflection, 'mm')} under "
                            f"{with_unit(stress, 'MPa')}.", deflection, here.limits.deflection,
                            "mm", PLATES, "A rib or a pillar under it, or a thicker top."))
    return checks


def _theory(found: Found) -> list[Check]:
    hand = found.by_edge["supported"]
    slender = float(hand.slenderness)
    short = float(found.here.wall.panel[0]) / found.here.inputs["skin"]
    known = found.solid is not None
    checks = []
    if slender > BELOW:
        checks.append(Check("large", "Small-deflection theory", CAUTION,
                            f"Panels bend by {slender:.2g} of their thickness: the stated "
                            f"deflection is an upper bound; with membrane action about "
                            f"{with_unit(float(hand.large), 'mm')}.", slender, BELOW, "-", PLATES,
                            "Closer ribs: a wall that bends so far is too soft anyway."))
    if short < THIN:
        checks.append(Check("thick", "Thin-plate theory", PASS if known else CAUTION,
                            f"Panels are only {short:.1f} thicknesses wide; shear is included by "
                            "hand, but the corners are not.", short, THIN, "-", PLATES,
                            "" if known else "Run the finite elements, which have no such limit."))
    return checks


def _warm(found: Found) -> list[Check]:
    here, heat = found.here, found.here.heat
    limit = here.tool.band("usable_limit").typical
    count = heat.before_rest(here.temperature_limit)
    said = f"Highest mean of the wall in a run of {len(heat.walls)} shots."
    if count is not None:
        said += (f" The margin is used up after {count} shots from cold." if count else
                 " Already the first shot from cold uses up the margin.")
    checks = [Check("temperature", "Wall temperature", graded(heat.warmest, here.temperature_limit,
                                                              limit), said, heat.warmest,
                    here.temperature_limit, "°C", here.tool.source("usable_limit").citation,
                    "See the table of what would help: fan, longer cycle, thicker wall, filling, "
                    "channels, rest.")]
    if "hdt_low_load" in here.tool:
        bend = here.tool.band("hdt_low_load")
        peak = float(heat.last.peak[0])
        checks.append(Check("face", "Face against heat deflection", graded(
            peak, bend.typical - here.inputs["margin"], bend.typical),
            "Highest temperature of the forming face, against heat deflection at 0.45 MPa.", peak,
            bend, "°C", here.tool.source("hdt_low_load").citation,
            "A cooler sheet, a cooler tool before the shot, or a tougher resin."))
    return checks + _part_off(found) + _known(found)


def _part_off(found: Found) -> list[Check]:
    cold = found.here.sheet.band("set_temperature")
    part = float(found.here.heat.last.part[0])
    return [Check("part_off", "Part when it is taken off", graded(part, cold.typical, cold.high),
                  "Hottest point of the sheet at the end of contact, last shot of the run, "
                  "against its set temperature.", part, cold, "°C",
                  found.here.sheet.source("set_temperature").citation,
                  "Leave it longer on the tool, blow on it, or keep the tool cooler.")]


def _known(found: Found) -> list[Check]:
    table, at = found.here.tool.curve("modulus"), found.here.heat.warmest
    if table.constant or at <= table.temperature[-1]:
        return []
    return [Check("modulus", "Modulus at this temperature", STOP,
                  "The table of the modulus ends below the wall's temperature; its last value "
                  "was used and is too high.", at, float(table.temperature[-1]), "°C",
                  found.here.tool.source("modulus").citation, "Cool the tool, or measure.")]


def _bent(found: Found) -> list[Check]:
    limit = found.here.inputs["tolerance"] * found.here.inputs["share"]
    both = found.stress + found.thermal_stress
    ends = found.here.inputs["held"] == "ends"
    return [Check("distortion", "Distortion at temperature", graded(
        found.distortion, limit, found.here.inputs["tolerance"]),
        f"Bowing through the wall {with_unit(found.bow, 'mm')}"
        + (f", against the base {with_unit(found.base_bow, 'mm')}" if ends else "")
        + f"; growth beyond the base {with_unit(found.growth, 'mm')} "
        + ("is prevented at the ends." if ends else "must be free to slide.") + _solid_bow(found),
        found.distortion, limit, "mm",
        _ruled("wall", "share of part tolerance for tool deflection"),
        "Fix it in the middle and slot the rest, choose a base that grows alike, or keep the "
        "wall's temperature even."),
        Check("thermal_stress", "Load and temperature together",
              graded(both, found.allowed, found.here.warm.strength),
              "Bending stress and that of a wall held flat against its own temperature "
              "difference, added.", both, found.allowed, "MPa",
              "Timoshenko and Goodier (from memory)", "A thinner wall or a slower start.")]


def _solid_bow(found: Found) -> str:
    if found.simulation is None or "bow" not in found.simulation:
        return ""
    held = {"slots": "held down in slots", "middle": "held in the middle",
            "ends": "fast on a rigid base"}[found.here.inputs["held"]]
    bow = with_unit(abs(float(found.simulation["bow"])), "mm")
    return f" The solid model, {held}, bows by {bow} from middle to corner."


def _made(found: Found) -> list[Check]:
    v, tool = found.here.inputs, found.here.tool
    least, thin = tool.band("smallest_wall"), min(v["skin"], v["rib_thickness"], v["side"])
    gap, need = float(found.here.wall.panel[0]), v["gap"]
    checks = [Check("thin", "Thinnest wall or rib", graded(thin, least.typical, least.low),
                    "Against what the process makes reliably.", thin, least, "mm",
                    tool.source("smallest_wall").citation, "Thicken it."),
              Check("gap", "Clear between ribs", PASS if gap >= need else CAUTION,
                    "Room to clear support, powder or resin, and for a vent drill.", gap, need,
                    "mm", _ruled("wall", "least clear distance between ribs"), "Fewer ribs.")]
    if found.outward > 0.0:
        checks.append(Check("fixings", "Fixings", graded(found.outward, found.hold, found.hold),
                            "Force that lifts the tool off its base before the sheet touches it.",
                            found.outward, found.hold, "N",
                            _ruled("wall", "safety factor on inserts and threads"),
                            "More or larger inserts, or the hollow at vacuum."))
    return checks


def _cooled(found: Found) -> list[Check]:
    return [*_channels_made(found), *_water(found)] if found.cooling else []


def _channels_made(found: Found) -> list[Check]:
    v, tool = found.here.inputs, found.here.tool
    back = v["channel_depth"] + v["bore"] / 2.0 + tool.band("smallest_wall").typical
    cover = with_unit(v["channel_depth"] - v["bore"] / 2.0, "mm")
    least = tool.band("smallest_bore").typical
    long = "length of a printed channel that can be cleared, by its bore"
    reach = rule("cooling", long).band
    return [
        Check("channels_made", "Channels can be made", PASS if tool.flag("channels") else STOP,
              "Channels inside a wall need a printed, drilled or cast tool.",
              source=tool.source("channels").citation,
              advice="Mill them and close them with a plate."),
        Check("channels_fit", "Channels inside the wall", PASS if v["skin"] >= back else STOP,
              f"Cover {cover} above; middle, half the bore and the least wall behind must fit "
              "into the wall.", v["skin"], back, "mm", "geometry",
              "Thicken the wall or use a smaller bore nearer the face."),
        Check("bore", "Bore", graded(v["bore"], 2.0 * least, least), "Against the smallest bore "
              "the process makes clear through.", v["bore"], least, "mm",
              tool.source("smallest_bore").citation, "A larger bore."),
        Check("clearing", "Clearing the channels",
              graded(v["length"] / v["bore"], reach.typical, reach.high),
              "Length of a straight run over its bore: resin, powder or support must come out.",
              v["length"] / v["bore"], reach, "-", _ruled("cooling", long),
              "A larger bore, or openings half way.")]


def _water(found: Found) -> list[Check]:
    c, v = found.cooling, found.here.inputs
    warmed = rule("cooling", "warming of the coolant").band
    uneven = rule("cooling", "unevenness of the face over channels").band
    film, pump, heat = (with_unit(c[key], unit) for key, unit in (
        ("film", "W/(m²·K)"), ("pump", "W"), ("heat", "W")))
    return [
        Check("turbulent", "Flow in the channels",
              PASS if c["reynolds"] >= TURBULENT else CAUTION,
              f"Film coefficient {film}. Through a poor conductor the wall, not the film, "
              "decides.", c["reynolds"], TURBULENT, "-", "Gnielinski; laminar below 2300",
              "More flow or a smaller bore."),
        Check("drop", "Pressure drop", graded(c["drop"], 0.8 * v["pump"], v["pump"]),
              f"{c['count']:.0f} channels need {pump} at a pump of half efficiency.", c["drop"],
              v["pump"], "kPa", "Churchill's friction factor",
              "A larger bore, fewer turns, channels in parallel."),
        Check("ripple", "Unevenness of the face", graded(c["ripple"], uneven.typical, uneven.high),
              "Between channels less above a channel, at the cycle's mean heat.", c["ripple"],
              uneven, "K", _ruled("cooling", "unevenness of the face over channels"),
              "A smaller pitch or a greater depth."),
        Check("warming", "Warming of the water", graded(c["warming"], warmed.typical, warmed.high),
              f"It takes {heat}.", c["warming"], warmed, "K",
              _ruled("cooling", "warming of the coolant"), "More flow.")]


def _pressed(found: Found) -> list[Check]:
    v = found.here.inputs
    if v["forming_pressure"] <= 0.0:
        return []
    vessel = rule("pressure", "pressure equipment rules apply above")
    return [Check("clamp", "Clamp force", graded(found.clamp, v["clamp"], v["clamp"]),
                  "What the pressure box needs to stay shut, with its factor.", found.clamp,
                  v["clamp"], "kN", _ruled("wall", "safety factor on clamp force"),
                  "Less pressure, a smaller box, a stronger clamp. Never form without it."),
            Check("vessel", "Pressure box",
                  CAUTION if v["forming_pressure"] > vessel.band.typical else PASS,
                  "A box under pressure can burst. Its design, relief valve and inspection follow "
                  "local rules and belong to a licensed practitioner; this page does not do it.",
                  v["forming_pressure"], vessel.band.typical, "kPa",
                  f"{vessel.source.citation} ({vessel.basis})",
                  "Ask the competent person before the first shot.")]
