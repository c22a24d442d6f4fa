"""Sheet on tool: closed forms, and the full solution against them and an independent number."""

import numpy as np
import pytest

from thermoforming.guard import Refused
from thermoforming.physics import cooling
from thermoforming.physics.conduction import Layer, Side, Solid, conduct

C = 273.15


@pytest.mark.parametrize(("sheet", "tool", "ts", "tt", "expected"), [
    ((0.16, 1050, 1900), (167, 2700, 896), 160, 50, 53.0074),
    ((0.16, 1050, 1900), (0.22, 1200, 1500), 160, 50, 102.0384),
    ((0.18, 1050, 2000), (1.0, 1650, 1100), 165, 60, 92.90244)])
def test_contact_temperature(sheet, tool, ts, tt, expected):
    # Two semi-infinite solids (Carslaw and Jaeger; Incropera); computed independently.
    found = cooling.contact_temperature(ts + C, tt + C, cooling.effusivity(*sheet),
                                        cooling.effusivity(*tool))
    assert found - C == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(("depth", "time", "expected"), [(1e-3, 30, 74.83462),
                                                         (3e-3, 60, 55.33954)])
def test_thick_body(depth, time, expected):
    # Semi-infinite solid, 25 to 95 degC, k 0.22, rho 1200, c 1500; computed independently.
    found = cooling.thick_body_temperature(25 + C, 95 + C, depth, time, 0.22 / 1.8e6)
    assert found - C == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(("gauge", "a", "start", "tool", "end", "expected"), [
    (2e-3, 9e-8, 160, 50, 80, 27.75473), (3e-3, 9.5e-8, 165, 60, 90, 57.37521)])
def test_cooling_on_an_ideal_tool(gauge, a, start, tool, end, expected):
    # One term of the slab series; computed independently, and by the full series within 2e-6.
    found = cooling.one_term_cooling_time(gauge, a, start + C, tool + C, end + C)
    assert found == pytest.approx(expected, rel=1e-5)
    sheet = Solid.constant(1000.0, 1500.0, a * 1.5e6)
    whole = conduct([Layer(sheet, gauge, 48)], start + C, Side(tool + C, 1e6), Side(300.0),
                    2 * expected, steps=400)
    assert whole.when(whole.temperature[:, -1], end + C, False) == pytest.approx(expected,
                                                                               rel=2e-3)


def test_mean_heat_to_the_tool():
    # 0.12 m2, 3 mm, 1050 kg/m3, 190 kJ/kg in 90 s: 798 W; computed independently.
    assert cooling.tool_heat_load(0.12, 3e-3, 1050, 190e3, 90) == pytest.approx(798.0)


def _sheet_on_printed_wall(cells, steps):
    sheet, tool = Solid.constant(1050, 1500, 0.18), Solid.constant(1180, 1500, 0.20)
    air = Side(25 + C, 15.0)
    return conduct([Layer(sheet, 3e-3, cells), Layer(tool, 6e-3, cells)], [160 + C, 40 + C], air,
                   air, 100.0, steps=steps)


def test_sheet_and_printed_wall_together():
    # Computed independently: 3 mm sheet at 160 degC (0.18, 1050, 1500), perfect contact with a
    # 6 mm wall at 40 degC (0.20, 1180, 1500), air at 25 degC with 15 W/m2K on both outer sides:
    # mean of the sheet at 85 degC after 68.74 s, interface 96.67 degC at 1 s and 96.40 at 10 s.
    found = _sheet_on_printed_wall(64, 800)
    assert found.when(found.mean(0), 85 + C, False) == pytest.approx(68.74, rel=5e-4)
    face = found.of(0)[:, -1] - C
    assert np.interp([1.0, 10.0], found.time, face) == pytest.approx([96.67, 96.40], abs=0.06)


def test_the_grid_of_the_pages_is_fine_enough():
    found = _sheet_on_printed_wall(24, 160)
    assert found.when(found.mean(0), 85 + C, False) == pytest.approx(68.74, rel=2e-3)


def test_interface_is_the_contact_of_thick_bodies_at_first():
    found = _sheet_on_printed_wall(64, 800)
    expected = cooling.contact_temperature(160 + C, 40 + C, cooling.effusivity(0.18, 1050, 1500),
                                           cooling.effusivity(0.20, 1180, 1500))
    assert np.interp(0.5, found.time, found.of(1)[:, 0]) == pytest.approx(expected, abs=0.1)


def test_poor_contact_and_thick_gauge_are_slower():
    sheet, tool = Solid.constant(1050, 1500, 0.18), Solid.constant(2700, 900, 160.0)

    def time(gauge, contact):
        found = conduct([Layer(sheet, gauge), Layer(tool, 10e-3)], [430.0, 320.0],
                        Side(298.0, 10.0), Side(320.0, 500.0), 400.0, contact=contact)
        return found.when(found.mean(0), 350.0, False)

    assert time(1e-3, 0.0) < time(1e-3, 2e-3) < time(2e-3, 2e-3)


def test_temperature_never_leaves_what_bounds_it():
    found = _sheet_on_printed_wall(24, 160)
    assert found.temperature.max() <= 160 + C + 1e-6
    assert found.temperature.min() >= 25 + C


def test_refusals_name_the_input():
    with pytest.raises(Refused, match="end must lie between"):
        cooling.one_term_cooling_time(1e-3, 1e-7, 430, 320, 310)
    with pytest.raises(Refused, match="density"):
        cooling.effusivity(0.2, -1, 1500)
