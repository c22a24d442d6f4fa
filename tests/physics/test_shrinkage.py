"""Shrinkage chain: worked values, round trips, limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermoforming.guard import Refused
from thermoforming.physics.shrinkage import (
    common_scale,
    drawn_dimension,
    part_dimension,
    partly_restrained,
    shrinkage_from_cold_tool,
    shrinkage_on_part,
    shrinkage_on_tool,
    tool_dimension,
    tool_growth,
)

MM = 1e-3


# Shrinkage referred to the mould as ISO 294-4 defines it (from memory); values worked by hand.
@pytest.mark.parametrize("part, shrinkage, tool, relative_on_part",
                         [(250, 0.006, 251.5091, 251.5), (400, 0.02, 408.1633, 408.0)])
def test_both_conventions(part, shrinkage, tool, relative_on_part):
    assert tool_dimension(part * MM, shrinkage) == pytest.approx(tool * MM, rel=1e-6)
    converted = shrinkage_on_tool(shrinkage)  # the same figure, meant on the part's size
    assert tool_dimension(part * MM, converted) == pytest.approx(relative_on_part * MM, rel=1e-9)
    between = part * MM * shrinkage**2 / (1 - shrinkage)
    assert (tool - relative_on_part) * MM == pytest.approx(between, abs=1e-7)


@pytest.mark.parametrize("length, run, alpha, growth", [(300, 60, 9e-5, 0.999),
                                                        (300, 70, 2.36e-5, 0.33276)])
def test_growth_from_the_definition_of_expansion(length, run, alpha, growth):
    assert tool_growth(length * MM, alpha, run - 23.0) == pytest.approx(growth * MM, rel=1e-5)


def test_cold_tool_with_shrinkage_and_growth():
    """300 mm part, S 0.6 % on the tool, 9e-5 /K, 23 to 60 degC: worked by hand."""
    assert tool_dimension(0.300, 0.006, 9e-5, 37.0) == pytest.approx(0.3008092, rel=1e-6)


def test_expansion_is_not_counted_twice():
    """A figure taken against a cold tool, converted, gives that tool again."""
    cold, alpha, rise = 0.006, 9e-5, 37.0
    hot = shrinkage_from_cold_tool(cold, alpha, rise)
    assert hot > cold
    assert tool_dimension(0.3, hot, alpha, rise) == pytest.approx(tool_dimension(0.3, cold))


def test_a_warm_tool_is_built_smaller():
    assert tool_dimension(0.3, 0.006, 9e-5, 37.0) < tool_dimension(0.3, 0.006)


@given(st.floats(-0.04, 0.15))
def test_conventions_are_each_others_inverse(value):
    assert shrinkage_on_tool(shrinkage_on_part(value)) == pytest.approx(value, abs=1e-12)


chain = st.fixed_dictionaries({
    "shrinkage": st.floats(-0.02, 0.05), "expansion": st.floats(0, 2e-4),
    "temperature_rise": st.floats(-20, 120), "build_scale": st.floats(-0.02, 0.02),
    "build_offset": st.floats(-5e-4, 5e-4), "faces": st.sampled_from([-2.0, 0.0, 2.0]),
    "post_cure": st.floats(-0.01, 0.01), "gauge": st.floats(0, 0.004),
    "gauges": st.sampled_from([-2.0, -1.0, 0.0, 1.0, 2.0]), "part_expansion": st.floats(0, 2e-4),
    "measured_above": st.floats(-20, 40)})


@given(part=st.floats(0.02, 1.0), values=chain)
def test_the_drawn_dimension_gives_the_part_again(part, values):
    drawn = drawn_dimension(part, **values)
    assert part_dimension(drawn, **values) == pytest.approx(part, rel=1e-12)


def test_each_link_by_itself():
    assert part_dimension(0.1, shrinkage=0.01) == pytest.approx(0.099)
    assert part_dimension(0.1, shrinkage=0.0, build_scale=0.002) == pytest.approx(0.1002)
    assert part_dimension(0.1, shrinkage=0.0, post_cure=-0.001) == pytest.approx(0.0999)
    across_cavity = part_dimension(0.1, shrinkage=0.0, build_offset=1e-4, faces=-2.0)
    assert across_cavity == pytest.approx(0.0998)
    free_side = part_dimension(0.1, shrinkage=0.0, gauge=1e-3, gauges=2.0)
    assert free_side == pytest.approx(0.098)
    warm = part_dimension(0.1, shrinkage=0.0, part_expansion=1e-4, measured_above=10.0)
    assert warm == pytest.approx(0.1001)


def test_restraint_runs_from_free_to_held():
    assert partly_restrained(0.006, 0.004, 0.0) == 0.006
    assert partly_restrained(0.006, 0.004, 1.0) == pytest.approx(0.004)
    assert partly_restrained(0.006, 0.004, 0.5) == pytest.approx(0.005)


def test_common_scale_is_a_weighted_mean():
    scales, weights = [1.004, 1.006, 1.010], [1.0, 2.0, 1.0]
    assert common_scale(scales, weights) == pytest.approx(np.average(scales, weights=weights))
    assert common_scale([1.005]) == 1.005


@pytest.mark.parametrize("call, field", [
    (lambda: tool_dimension(np.nan, 0.01), "part dimension"),
    (lambda: tool_dimension(0.1, 0.5), "shrinkage"),
    (lambda: tool_dimension(0.1, 0.01, 1e-2, 10), "expansion"),
    (lambda: tool_dimension(0.1, 0.01, 1e-5, 900), "temperature rise"),
    (lambda: part_dimension(0.1, shrinkage=0.01, gauge=np.inf), "gauge"),
    (lambda: part_dimension(-0.1, shrinkage=0.01), "dimension"),
    (lambda: drawn_dimension(0.004, shrinkage=0.01, gauge=0.003, gauges=-2.0), "No tool"),
    (lambda: common_scale([]), "scale"),
])
def test_impossible_values_are_refused_by_name(call, field):
    with pytest.raises(Refused, match=field):
        call()
