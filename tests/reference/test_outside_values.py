"""Values of the tables against sources outside the project, each said with how it was read.

An outside value must lie within our band and near our typical value. What we know to disagree is
listed, not hidden.
"""

import pytest
from ht import insulation

from thermoforming.reference import properties, sheets, tool_materials

C = 273.15

# ISO 10456 design values, asked live of the open-source library ht (tests' requirement).
ISO_10456 = [
    ("gpps", "Plastics, polystyrene", "density conductivity specific_heat"),
    ("pmma_extruded", "Plastics, polymethylmethacrylate (PMMA)",
     "density conductivity specific_heat"),
    ("pmma_cast", "Plastics, polymethylmethacrylate (PMMA)",
     "density conductivity specific_heat"),
    ("pc", "Plastics, polycarbonates", "density conductivity specific_heat"),
    ("pvc_rigid", "Plastics, Polyvinylchloride (PVC)", "density conductivity specific_heat"),
    ("pp_homopolymer", "Plastics, polypropylene", "density conductivity specific_heat"),
    ("pp_copolymer", "Plastics, polypropylene", "density conductivity specific_heat"),
    ("hdpe", "Plastics, polyethylene / polythene, high density", "conductivity specific_heat"),
    ("ldpe", "Plastics, polyethylene / polythene, low density",
     "density conductivity specific_heat"),
    ("mdf", "Wood, fibreboard, 800 kg/m^3", "density conductivity specific_heat"),
    ("hardwood", "Timber, 700 kg/m^3", "density conductivity specific_heat"),
    ("plaster", "Gypsum, 1500 kg/m^3", "density conductivity specific_heat"),
    ("plaster", "Gypsum, 1200 kg/m^3", "density conductivity specific_heat"),
    ("aluminium_machined", "Metals, aluminium alloys", "conductivity"),
    ("aluminium_cast", "Metals, aluminium alloys", "conductivity specific_heat"),
]
_ASK = {"density": insulation.rho_material, "conductivity": insulation.k_material,
        "specific_heat": insulation.Cp_material}

# Crawford, Plastics Engineering, 3rd ed. 1998, Table 1.8, read in a university library's page
# scan turned to text; garbled cells left out. SI; expansion in 1/K, Tg in °C.
CRAWFORD = [
    ("abs", "density", 1040), ("abs", "specific_heat", 1300), ("abs", "conductivity", 0.25),
    ("abs", "expansion", 90e-6), ("abs", "glass_transition", 115 + C),
    ("pmma_extruded", "density", 1180), ("pmma_extruded", "specific_heat", 1500),
    ("pmma_extruded", "conductivity", 0.20), ("pmma_extruded", "expansion", 70e-6),
    ("pmma_extruded", "glass_transition", 105 + C),
    ("apet", "conductivity", 0.20), ("apet", "glass_transition", 75 + C),
    ("pc", "specific_heat", 1200), ("pc", "conductivity", 0.20), ("pc", "expansion", 65e-6),
    ("pc", "glass_transition", 149 + C),
    ("pp_homopolymer", "density", 905), ("pp_homopolymer", "specific_heat", 2000),
    ("pp_homopolymer", "conductivity", 0.20), ("pp_homopolymer", "glass_transition", -10 + C),
    ("gpps", "density", 1050), ("gpps", "specific_heat", 1300), ("gpps", "conductivity", 0.15),
    ("gpps", "expansion", 80e-6), ("gpps", "glass_transition", 100 + C),
    ("ldpe", "density", 920), ("ldpe", "specific_heat", 2200), ("ldpe", "expansion", 200e-6),
    ("hdpe", "density", 950), ("hdpe", "specific_heat", 2200), ("hdpe", "expansion", 120e-6),
    ("hdpe", "glass_transition", -120 + C),
    ("pvc_rigid", "density", 1400), ("pvc_rigid", "specific_heat", 900),
    ("pvc_rigid", "conductivity", 0.16), ("pvc_rigid", "expansion", 70e-6),
    ("pvc_rigid", "glass_transition", 80 + C),
]

# Material cards of the FreeCAD project (open source, Material workbench, Thermoplast), read.
CARDS = [
    ("abs", "density", 1060), ("abs", "flexural_modulus", 2300e6), ("abs", "poisson", 0.37),
    ("abs", "yield_strength", 44.1e6), ("abs", "expansion", 93e-6),
    ("pmma_extruded", "density", 1170), ("pmma_extruded", "flexural_modulus", 2930e6),
    ("pmma_extruded", "specific_heat", 1490), ("pmma_extruded", "conductivity", 0.199),
    ("pmma_extruded", "expansion", 70.7e-6),
    ("pp_homopolymer", "flexural_modulus", 1470e6), ("pp_homopolymer", "poisson", 0.44),
    ("pp_homopolymer", "yield_strength", 32.8e6), ("pp_homopolymer", "specific_heat", 1920),
    ("pp_homopolymer", "expansion", 123e-6),
    ("pvc_rigid", "density", 1380), ("pvc_rigid", "poisson", 0.38),
    ("pvc_rigid", "flexural_modulus", 2800e6), ("pvc_rigid", "yield_strength", 50e6),
    ("pvc_rigid", "specific_heat", 1000), ("pvc_rigid", "conductivity", 0.15),
    ("pvc_rigid", "expansion", 75e-6),
    ("apet", "specific_heat", 1140), ("apet", "expansion", 72e-6),
    ("pc", "density", 1200), ("pc", "poisson", 0.37), ("pc", "flexural_modulus", 2200e6),
    ("pc", "specific_heat", 1250), ("pc", "conductivity", 0.20), ("pc", "expansion", 68e-6),
    ("aluminium_machined", "density", 2700), ("aluminium_machined", "poisson", 0.33),
    ("aluminium_machined", "modulus", 69e9), ("aluminium_machined", "conductivity", 167),
    ("print_pla", "density", 1240), ("print_pla", "poisson", 0.36),
    ("print_pla", "specific_heat", 1800), ("print_pla", "conductivity", 0.13),
]

# Open-access paper PMC9088909, Table 1, read; ranges, so overlap is asked.
PMC9088909 = [
    ("hdpe", "melting_peak", 130 + C, 137 + C), ("hdpe", "density", 952, 965),
    ("hdpe", "hdt_low_load", 79 + C, 91 + C), ("ldpe", "density", 914, 940),
    ("pp_homopolymer", "density", 900, 910), ("pp_homopolymer", "expansion", 81e-6, 100e-6),
    ("pp_homopolymer", "melting_peak", 168 + C, 175 + C),
    ("pp_homopolymer", "hdt_low_load", 107 + C, 121 + C),
    ("gpps", "glass_transition", 74 + C, 105 + C), ("gpps", "expansion", 50e-6, 83e-6),
    ("gpps", "hdt_low_load", 68 + C, 96 + C), ("gpps", "density", 1040, 1050),
    ("pvc_rigid", "glass_transition", 75 + C, 105 + C), ("pvc_rigid", "density", 1300, 1580),
    ("pvc_rigid", "hdt_low_load", 57 + C, 82 + C), ("pvc_rigid", "expansion", 50e-6, 100e-6),
    ("pmma_extruded", "density", 1170, 1200), ("pmma_extruded", "expansion", 50e-6, 90e-6),
    ("pmma_extruded", "hdt_low_load", 79 + C, 107 + C), ("pc", "expansion", 68e-6, 68e-6),
    ("pc", "hdt_low_load", 138 + C, 138 + C), ("pc", "glass_transition", 150 + C, 150 + C),
    # General page on polycarbonate, read (secondary source).
    ("pc", "density", 1200, 1220), ("pc", "flexural_modulus", 2.0e9, 2.4e9),
    ("pc", "oxygen_index", 0.25, 0.27), ("pc", "hdt_high_load", 128 + C, 138 + C),
    ("pc", "conductivity", 0.19, 0.22), ("pc", "service_temperature", 115 + C, 130 + C),
    # Lange's Handbook of Chemistry, 15th ed., Table 10.2, cast acrylic sheet, read and converted
    # from thousand psi (6.894757 MPa): flexural modulus 390 to 475.
    ("pmma_cast", "flexural_modulus", 390 * 6.894757e6, 475 * 6.894757e6),
    ("pmma_cast", "expansion", 50e-6, 90e-6), ("pmma_cast", "hdt_high_load", 71 + C, 102 + C),
    ("pmma_cast", "conductivity", 0.17, 0.25),
    # Springer Handbook of Condensed Matter and Materials Data (2005), Table 3.3-6, read as text:
    # polypropylene at 20 and at 100 °C.
    ("pp_homopolymer", "specific_heat", 1680, 1680),
    ("pp_homopolymer", "conductivity", 0.22, 0.22),
    # Collins, Harkin-Jones and Martin, Int. Polym. Process. 17 (2002), abstract: friction on plugs.
    ("hips", "friction_plug", 0.1, 0.3), ("pp_homopolymer", "friction_plug", 0.1, 0.3),
    # Note of a fabricator (name withheld), read: polystyrene 260, 300 and 360 °F.
    ("gpps", "forming_low", (260 - 32) / 1.8 + C, (260 - 32) / 1.8 + C),
    ("gpps", "forming_normal", (300 - 32) / 1.8 + C, (300 - 32) / 1.8 + C),
    ("gpps", "forming_high", (360 - 32) / 1.8 + C, (360 - 32) / 1.8 + C),
    # Study of impact polystyrene in drape forming at 130 and 140 °C, abstract read.
    ("hips", "forming_low", 130 + C, 140 + C),
    # Table of thermoforming temperatures, re-hosted, read in part.
    ("abs", "set_temperature", 85 + C, 85 + C), ("abs", "forming_normal", 149 + C, 154 + C),
    # Page of a trade association on hard maple, read: green to dry, 1.65 to 1.88 million psi,
    # rupture 15 800 psi dry; a timber merchant's page: 12.62 GPa, 109.0 MPa, 0.71.
    ("hardwood", "modulus", 1.65e6 * 6894.757, 1.88e6 * 6894.757),
    ("hardwood", "strength", 15_800 * 6894.757, 15_800 * 6894.757),
    ("hardwood", "modulus", 12.62e9, 12.62e9), ("hardwood", "density", 710, 710),
    # EN 573/485 and common tables for 6061-T6 (from memory): 68.9 GPa, 276 MPa, 23.6e-6/K.
    ("aluminium_machined", "modulus", 68.9e9, 68.9e9),
    ("aluminium_machined", "strength", 276e6, 276e6),
    ("aluminium_machined", "expansion", 23.6e-6, 23.6e-6),
]

# Where an outside value lies beyond our band, with what we make of it.
DISAGREE = [
    ("hdpe", "conductivity", 0.25, "Crawford; ISO 10456 gives 0.50; 0.25 is that of the melt"),
    ("pc", "density", 1150, "Crawford; ISO 10456 and the card give 1200"),
    ("apet", "specific_heat", 1000, "Crawford, for PET; the card gives 1140"),
    ("abs", "specific_heat", 2050, "FreeCAD card; Crawford gives 1300; it would suit the melt"),
    ("abs", "conductivity", 0.158, "FreeCAD card; Crawford gives 0.25"),
    ("pp_homopolymer", "conductivity", 0.249, "FreeCAD card; three others give 0.20 to 0.22"),
    ("print_pla", "expansion", 41e-6, "FreeCAD card; handbooks as remembered 65 to 90"),
    ("apet", "density", 1380, "FreeCAD card and Crawford (1360), for semi-crystalline PET"),
    ("hdpe", "density", 980, "ISO 10456; higher than any sheet grade"),
]


def band(key: str, prop: str):
    return ({**sheets(), **tool_materials()})[key].band(prop)


def near(outside: float, ours, prop: str) -> bool:
    """Within 15 K of a typical temperature, within 40 % of another typical value."""
    kelvin = properties()[prop].unit == "K"
    return abs(outside - ours.typical) <= (15.0 if kelvin else 0.4 * ours.typical)


@pytest.mark.parametrize("key, name, props", ISO_10456)
def test_iso_10456_as_carried_by_ht(key, name, props):
    for prop in props.split():
        outside, ours = _ASK[prop](name), band(key, prop)
        assert ours.low <= outside <= ours.high, (prop, outside, ours)
        assert near(outside, ours, prop), (prop, outside, ours)


@pytest.mark.parametrize("key, prop, outside", CRAWFORD + CARDS)
def test_handbook_and_cards_lie_in_the_band(key, prop, outside):
    ours = band(key, prop)
    slack = 1e-6 * abs(outside)
    assert ours.low - slack <= outside <= ours.high + slack, (outside, ours)
    assert near(outside, ours, prop), (outside, ours)


@pytest.mark.parametrize("key, prop, low, high", PMC9088909)
def test_published_range_overlaps_the_band(key, prop, low, high):
    ours = band(key, prop)
    assert ours.low <= high * (1 + 1e-9) and low <= ours.high * (1 + 1e-9), (low, high, ours)
    assert any(near(end, ours, prop) for end in (low, high)) or low <= ours.typical <= high


@pytest.mark.parametrize("key, prop, outside, why", DISAGREE)
def test_known_disagreements_still_stand(key, prop, outside, why):
    """If a table moves to meet one of these, the list must be read again."""
    ours = band(key, prop)
    assert not ours.low <= outside <= ours.high and why


def test_aluminium_as_carried_by_ht_is_near():
    # ISO 10456 averages all alloys: density 2800 and heat 880 against 6061-T6.
    name = "Metals, aluminium alloys"
    assert band("aluminium_machined", "density").typical == pytest.approx(
        insulation.rho_material(name), rel=0.05)
    assert band("aluminium_machined", "specific_heat").typical == pytest.approx(
        insulation.Cp_material(name), rel=0.03)


def test_at_least_sixty_outside_values():
    iso = sum(len(props.split()) for _, _, props in ISO_10456)
    assert iso + len(CRAWFORD) + len(CARDS) + len(PMC9088909) >= 60


def slope(key: str, celsius: float, half: float = 5.0) -> float:
    """Specific heat as the slope of the enthalpy curve. [J/(kg K)]"""
    curve = sheets()[key].curve("enthalpy")
    low, high = (curve.at(celsius + C + step).typical for step in (-half, half))
    return (high - low) / (2.0 * half)


@pytest.mark.parametrize("key, celsius, outside, share", [
    # Springer Handbook of Condensed Matter and Materials Data (2005), Table 3.3-6, read as text.
    ("pp_homopolymer", 50.0, 1920.0, 0.05),
    ("pp_homopolymer", 90.0, 2260.0, 0.15),  # between its values at 50 and at 100 °C
    # Heat capacity of polymer melts after the ATHAS data bank, J/(mol K): polystyrene
    # 87.1 + 0.2711 T, polypropylene 63.24 + 0.0914 T, polyethylene 17.91 + 0.0311 T (from memory),
    # by the molar masses 104.15, 42.08 and 14.03 g/mol of the repeating units.
    ("gpps", 170.0, (87.10 + 0.2711 * 443.15) / 104.15e-3, 0.10),
    ("pp_homopolymer", 180.0, (63.24 + 0.0914 * 453.15) / 42.08e-3, 0.05),
    ("hdpe", 160.0, (17.91 + 0.0311 * 433.15) / 14.03e-3, 0.05),
    ("ldpe", 150.0, (17.91 + 0.0311 * 423.15) / 14.03e-3, 0.05),
])
def test_slope_of_the_enthalpy_is_the_specific_heat(key, celsius, outside, share):
    assert slope(key, celsius) == pytest.approx(outside, rel=share)


@pytest.mark.parametrize("key, whole, low, high", [
    # Heat of fusion of the perfect crystal: polyethylene 293, polypropylene 207 kJ/kg (ATHAS, from
    # memory); crystallinity of the sheet grades as handbooks give it (from memory).
    ("hdpe", 293e3, 0.55, 0.80), ("ldpe", 293e3, 0.30, 0.50),
    ("pp_homopolymer", 207e3, 0.40, 0.60), ("pp_copolymer", 207e3, 0.30, 0.55),
])
def test_heat_of_fusion_gives_a_usual_crystallinity(key, whole, low, high):
    curve = sheets()[key].curve("enthalpy")
    peak = sheets()[key].band("melting_peak").typical
    end = peak + 8.0
    solid = slope(key, 30.0)
    melt = slope(key, end - C + 15.0)
    sensible = 0.5 * (solid + melt) * (end - 293.15)
    assert low < (curve.at(end).typical - sensible) / whole < high
