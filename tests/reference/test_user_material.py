"""A project's own materials: the same rules, the base behind them, marked as the user's."""

import pytest

from thermoforming.guard import Refused
from thermoforming.reference import Material, sheets

ROW = dict(material="HIPS 486", property="flexural_modulus", low=1.9e9, typical=2.0e9, high=2.1e9,
           unit="Pa", source="supplier's data sheet, 2026-03", basis="published")


def test_own_value_stands_before_the_base():
    base = sheets()["hips"]
    own = Material.from_rows([ROW], base)
    assert own.user and own.base == "hips" and own.key == "HIPS 486"
    assert own.band("flexural_modulus").typical == 2.0e9
    assert own.band("density") == base.band("density")
    assert own.source("flexural_modulus").kind == "user's own"
    assert own.source("density") == base.source("density")
    assert base.band("flexural_modulus").typical != 2.0e9  # the shared table is untouched


def test_without_a_base_what_is_not_given_is_refused_by_name():
    own = Material.from_rows([ROW])
    with pytest.raises(Refused, match="density"):
        own.band("density")


def test_every_problem_is_told_at_once():
    bad = [ROW | {"source": ""}, ROW | {"property": "density", "unit": "Pa"}]
    with pytest.raises(Refused) as refused:
        Material.from_rows(bad)
    assert "no source" in str(refused.value) and "unit is 'Pa'" in str(refused.value)


def test_rows_of_two_materials_are_refused():
    with pytest.raises(Refused, match="one name"):
        Material.from_rows([ROW, ROW | {"material": "other"}])


def test_measured_is_a_basis_for_the_user():
    own = Material.from_rows([ROW | {"basis": "measured"}])
    assert own.basis("flexural_modulus") == "measured"


def test_text_is_kept_as_typed():
    evil = "<script>alert(1)</script>"
    own = Material.from_rows([ROW | {"note": evil, "source": evil}])
    assert own.source("flexural_modulus").citation == evil


def test_one_point_is_a_constant_curve():
    curve = Material.from_rows([ROW | dict(property="conductivity", unit="W/(m K)", low=0.1,
                                           typical=0.2, high=0.3)]).curve("conductivity")
    assert curve.constant and curve.at(500.0).typical == 0.2
