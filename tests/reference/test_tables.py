"""The tables hold what they promise, and the rules for them refuse what is wrong."""

import csv
from collections import Counter

import numpy as np
import pytest

from thermoforming import reference
from thermoforming.guard import Refused
from thermoforming.reference.check import problems
from thermoforming.reference.material import Material
from thermoforming.reference.sources import BASES
from thermoforming.reference.tables import FOLDER, read
from thermoforming.units import SHOWN

SHEETS = ("hips gpps abs asa pmma_extruded pmma_cast petg apet pc pc_abs pp_homopolymer "
          "pp_copolymer hdpe ldpe pvc_rigid tpo").split()
TOOLS = ("photopolymer_general photopolymer_heat photopolymer_glass print_pla print_petg "
         "print_abs print_pc print_pa_carbon sintered_pa12 board_light board_dense mdf hardwood "
         "plaster epoxy_cast epoxy_aluminium aluminium_cast aluminium_machined").split()
GOOD = dict(material="mine", property="density", temperature="", low="1000", typical="1010",
            high="1020", text="", unit="kg/m3", source="data sheet, rev. 2", basis="published",
            note="")


def both():
    return [*reference.sheets().values(), *reference.tool_materials().values()]


def test_every_named_material_is_there():
    assert set(SHEETS) <= set(reference.sheets())
    assert set(TOOLS) <= set(reference.tool_materials())


@pytest.mark.parametrize("material", both(), ids=lambda m: m.key)
def test_no_needed_property_is_missing(material):
    kind = "sheet" if material.key in reference.sheets() else "tool"
    needed = [p.key for p in reference.properties().values() if p.needed and p.of in (kind, "both")]
    assert [key for key in needed if key not in material] == []


def test_shared_tables_break_no_rule():
    assert problems(read("sheets")) == []
    assert problems(read("tool_materials")) == []


@pytest.mark.parametrize("cell, value, said", [
    ("unit", "", "unit"),
    ("unit", "g/cm3", "unit"),
    ("source", "", "no source"),
    ("basis", "", "basis"),
    ("basis", "hearsay", "basis"),
    ("low", "1015", "out of order"),
    ("high", "1005", "out of order"),
    ("typical", "", "must all be numbers"),
    ("typical", "nan", "finite"),
    ("high", "inf", "finite"),
    ("low", "-5", "outside what physics allows"),
    ("high", "25000", "outside what physics allows"),
    ("temperature", "-3", "absolute zero"),
    ("property", "charm", "not a property"),
    ("material", "", "no name"),
])
def test_bad_cell_is_refused_in_words(cell, value, said):
    assert problems([GOOD], own_sources=True) == []
    found = problems([GOOD | {cell: value}], own_sources=True)
    assert len(found) == 1 and said in found[0]
    with pytest.raises(Refused, match=said):
        Material.from_rows([GOOD | {cell: value}])


@pytest.mark.parametrize("key, value", [
    ("poisson", "0.51"), ("emissivity", "1.01"), ("light_transmission", "1.0"),
    ("shrinkage_free_along", "0.4"), ("oxygen_index", "0.1")])
def test_impossible_share_is_refused(key, value):
    unit = reference.properties()[key].unit
    row = GOOD | dict(property=key, unit=unit, low=value, typical=value, high=value)
    assert "physics" in problems([row], own_sources=True)[0]


def test_shared_table_refuses_unknown_source_and_measured_basis():
    row = GOOD | {"source": "nobody"}
    assert "not in the source table" in problems([row])[0]
    measured = problems([GOOD | {"source": "handbooks", "basis": "measured"}])
    assert "belong to a project" in measured[0]
    published = problems([GOOD | {"source": "handbooks", "basis": "published"}])
    assert "of the kind memory" in published[0]


def test_duplicate_rows_are_refused():
    assert "two rows" in problems([GOOD, GOOD], own_sources=True)[0]
    warm = GOOD | {"temperature": "300"}
    assert "two rows" in problems([warm, warm], own_sources=True)[0]
    assert "no temperature" in problems([GOOD, warm], own_sources=True)[0]


def test_modulus_that_rises_with_temperature_is_refused():
    row = GOOD | dict(property="modulus", unit="Pa", low="1e9", typical="2e9", high="3e9")
    warm = row | dict(temperature="350", typical="2.5e9")
    assert "must fall" in problems([row | {"temperature": "296"}, warm], own_sources=True)[0]


def test_window_out_of_order_is_refused():
    kelvin = dict(unit="K", low="400", typical="400", high="400")
    low = GOOD | kelvin | {"property": "forming_low"}
    normal = GOOD | kelvin | dict(property="forming_normal", low="390", typical="390", high="390")
    assert "must not be below" in problems([low, normal], own_sources=True)[0]


def test_every_source_is_cited_and_complete():
    used = {row["source"] for name in ("sheets", "tool_materials", "rules", "cautions")
            for row in read(name)}
    assert set(reference.sources()) == used
    for source in reference.sources().values():
        assert len(source.citation) > 20 and source.kind and source.read


def test_no_two_rows_alike_anywhere():
    for name, keys in (("sources", ("id",)), ("properties", ("key",)), ("rules", ("topic", "case")),
                       ("cautions", ("topic", "text"))):
        count = Counter(tuple(row[key] for key in keys) for row in read(name))
        assert [row for row, times in count.items() if times > 1] == []


def test_rules_and_cautions_have_unit_source_basis():
    units = {unit for unit, _, _ in SHOWN.values()}
    for row in read("rules"):
        assert row["unit"] in units and row["basis"] in BASES, row
        rule = reference.rule(row["topic"], row["case"])
        assert rule.source.citation and rule.band.low <= rule.band.high
    for row in read("cautions"):
        assert row["basis"] in BASES and row["text"], row
        assert set(row["materials"].split()) <= set(SHEETS) | set(TOOLS)


def test_units_of_properties_are_the_pages_units():
    for p in reference.properties().values():
        if p.kind == "value":
            assert SHOWN[p.shown][0] == p.unit, p.key


def test_tables_are_plain_utf8_without_stray_cells():
    for path in FOLDER.glob("*.csv"):
        rows = list(csv.reader(path.open(encoding="utf-8", newline="")))
        assert {len(row) for row in rows} == {len(rows[0])}, path.name


def test_unknown_names_are_refused_by_name():
    hips = reference.sheets()["hips"]
    with pytest.raises(Refused, match="not_a_property"):
        hips.band("not_a_property")
    with pytest.raises(Refused, match="is a flag"):
        hips.band("clear")
    with pytest.raises(Refused, match="melting peak"):
        hips.band("melting_peak")
    with pytest.raises(Refused, match="no_topic"):
        reference.rules("no_topic")


def test_curve_is_linear_between_and_refuses_or_holds_outside():
    curve = reference.sheets()["pc"].curve("solid_modulus")
    first, second = curve.temperature[:2]
    low, typical, high = curve((first + second) / 2)
    assert typical == pytest.approx((curve.typical[0] + curve.typical[1]) / 2)
    assert low < typical < high
    with pytest.raises(Refused, match="is known from"):
        curve(curve.temperature[-1] + 5)
    held = curve(np.array([curve.temperature[-1] + 5]), outside="hold")[1]
    assert held == pytest.approx(curve.typical[-1])
    with pytest.raises(Refused, match="finite"):
        curve(float("nan"))


def test_line_of_a_curve_follows_one_quantile():
    curve = reference.sheets()["hips"].curve("hot_modulus")
    assert curve.line(0.0) == pytest.approx(curve.low)
    assert curve.line(1.0) == pytest.approx(curve.high)


@pytest.mark.parametrize("material", reference.sheets().values(), ids=lambda m: m.key)
def test_a_sheet_agrees_with_itself(material):
    typical = {key: material.band(key).typical for key in
               ("forming_low", "forming_normal", "forming_high", "set_temperature",
                "enthalpy_to_forming", "specific_heat", "conductivity", "density",
                "shrinkage_free_along", "shrinkage_restrained", "flexural_modulus")}
    assert typical["set_temperature"] < typical["forming_low"] < typical["forming_high"]
    assert typical["shrinkage_restrained"] <= typical["shrinkage_free_along"]
    enthalpy = material.curve("enthalpy")
    assert enthalpy.at(typical["forming_normal"]).typical == pytest.approx(
        typical["enthalpy_to_forming"], rel=0.02)
    # the slope of the enthalpy near room temperature is the specific heat
    slope = (enthalpy.typical[1] - enthalpy.typical[0]) / np.diff(enthalpy.temperature)[0]
    assert slope == pytest.approx(typical["specific_heat"], rel=0.12)
    assert material.curve("solid_modulus").typical[0] == typical["flexural_modulus"]
    shear, hot = material.curve("neo_hookean_shear"), material.curve("hot_modulus")
    assert shear.typical * 3 == pytest.approx(hot.typical, rel=1e-3)
    at_normal = shear.at(typical["forming_normal"]).typical
    c1, c2 = (material.band(f"mooney_rivlin_{c}").typical for c in ("c1", "c2"))
    assert 2 * (c1 + c2) == pytest.approx(at_normal, rel=1e-3)
    assert material.band("ogden_mu").typical == pytest.approx(at_normal, rel=1e-3)
    if material.text("structure") == "amorphous":
        assert material.band("glass_transition").typical < typical["forming_low"]


@pytest.mark.parametrize("material", reference.sheets().values(), ids=lambda m: m.key)
def test_thermal_diffusivity_is_that_of_a_solid_polymer(material):
    # Solid polymers lie between about 0.6e-7 and 3e-7 m²/s (Crawford, Plastics Engineering,
    # Table 1.8 as read: 0.6 to 2.7e-7).
    k, rho, c = (material.band(key).typical for key in
                 ("conductivity", "density", "specific_heat"))
    assert 0.6e-7 < k / (rho * c) < 3.0e-7


@pytest.mark.parametrize("material", reference.tool_materials().values(), ids=lambda m: m.key)
def test_a_tool_material_agrees_with_itself(material):
    modulus, strength = material.curve("modulus"), material.curve("strength")
    assert np.all(strength.typical < modulus.typical)
    limit = material.band("usable_limit").typical
    assert modulus.temperature[0] < limit <= modulus.temperature[-1] + 31
    assert ("layer_height" in material) == material.flag("printed")


@pytest.mark.parametrize("key", SHEETS)
def test_window_contains_where_polymers_are_formed(key):
    """Amorphous sheet is formed above its glass transition, semi-crystalline near melting."""
    sheet = reference.sheets()[key]
    normal = sheet.band("forming_normal").typical
    if sheet.text("structure") == "amorphous":
        assert 20 < normal - sheet.band("glass_transition").typical < 80
    else:
        assert abs(normal - sheet.band("melting_peak").typical) < 25
