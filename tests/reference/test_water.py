"""Water against values worked out with an equation of state."""

import pytest

from thermoforming.guard import Refused
from thermoforming.reference import water, water_source


@pytest.mark.parametrize("celsius, bore, speed, reynolds", [(20.0, 0.008, 1.0, 7973.534),
                                                            (40.0, 0.010, 1.5, 22802.14)])
def test_reynolds_number_of_water(celsius, bore, speed, reynolds):
    """Worked out independently with CoolProp 8.0.0 at 2 bar."""
    w = water(celsius + 273.15)
    assert w["density"] * speed * bore / w["viscosity"] == pytest.approx(reynolds, rel=2e-3)


@pytest.mark.parametrize("celsius, prandtl", [(20.0, 7.00), (40.0, 4.33), (60.0, 2.98)])
def test_prandtl_number_of_water(celsius, prandtl):
    """Handbook tables of water (from memory)."""
    w = water(celsius + 273.15)
    assert w["viscosity"] * w["specific_heat"] / w["conductivity"] == pytest.approx(prandtl,
                                                                                   rel=0.01)


def test_refuses_ice_and_steam():
    for celsius in (0.0, 100.0):
        with pytest.raises(Refused, match="water temperature"):
            water(celsius + 273.15)
    assert water_source().citation
