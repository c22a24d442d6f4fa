"""Cost and days: worked examples, and against sums written out by hand."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermoforming.guard import Refused
from thermoforming.physics import cost

money = st.floats(0.0, 1e5)


def test_break_even_of_two_tools():
    # Definition (2200 - 300) / (6.0 - 4.5), worked out apart.
    assert cost.break_even(300, 6.0, 2200, 4.5) == pytest.approx(1266.667, rel=1e-6)
    assert cost.break_even(300, 4.0, 2200, 4.5) is None
    assert cost.break_even(300, 4.5, 2200, 4.5) is None


def test_break_even_of_a_textbook_kind():
    # Two machines, fixed 1 200 and 3 000, variable 2.40 and 0.90 a piece: at 1 200 pieces both
    # cost 4 080. Arithmetic of any production engineering text.
    quantity = cost.break_even(1200, 2.40, 3000, 0.90)
    assert quantity == pytest.approx(1200)
    assert 1200 + quantity * 2.40 == pytest.approx(4080)
    assert 3000 + quantity * 0.90 == pytest.approx(4080)


def test_unit_cost_with_replaced_tools():
    # Definition u + F ceil(N/L) / N: 5 + 300 * 4 / 250, worked out apart.
    assert cost.unit_cost(250, 80, 300, 5.0) == pytest.approx(9.8)


@given(first=money, second=money, a=st.floats(0, 100), b=st.floats(0, 100))
def test_costs_are_equal_at_the_break_even(first, second, a, b):
    quantity = cost.break_even(first, a, second, b)
    if quantity is not None and quantity < 1e7:
        assert cost.batch_cost(quantity, 1, first, a) == pytest.approx(
            cost.batch_cost(quantity, 1, second, b), rel=1e-6, abs=1e-6)


def test_last_crossing_equals_the_break_even_without_replacement():
    quantity = np.linspace(10, 3000, 40)
    first = 300 + 6.0 * quantity
    second = 2200 + 4.5 * quantity
    assert cost.last_crossing(quantity, first, second)[0] == pytest.approx(1266.667, rel=1e-6)
    assert cost.last_crossing(quantity, second, first)[0] == math.inf
    assert cost.last_crossing(quantity, second + 1e4, first)[0] == 0.0


def test_last_crossing_passes_over_earlier_ones():
    quantity = np.array([1.0, 2.0, 3.0, 4.0])
    first = np.array([[10.0, 10.0, 10.0, 10.0]])
    second = np.array([[9.0, 11.0, 11.0, 9.0]])
    assert cost.last_crossing(quantity, first, second)[0] == pytest.approx(3.5)


def test_print_time_by_hand():
    # 200 cm3 at 100 cm3/h is 2 h; 40 mm in 0.1 mm layers of 9 s is 1 h; half an hour around it.
    hours = cost.print_time(200e-6, 0.04, 100e-6 / 3600, 1e-4, 9.0, 1800.0) / 3600
    assert hours == pytest.approx(3.5)


def test_milling_time_by_hand():
    # 1 L at 10 cm3/s is 100 s; 0.06 m2 at 0.5 mm and 1.2 m/min is 6 000 s; an hour around it.
    seconds = cost.milling_time(1e-3, 1e-5, 0.06, 5e-4, 0.02, 3600.0)
    assert seconds == pytest.approx(100 + 6000 + 3600)


def test_tool_and_part_cost_by_hand():
    assert cost.tool_cost(0.5, 100, 7200, 6 / 3600, 3600, 40 / 3600, 15) == pytest.approx(117)
    # 2 m2 of 2 mm at 1 050 kg/m3 weigh 4.2 kg; at 3 a kilogram 12.60; in 9 blanks of two 0.70.
    assert cost.sheet_cost(2.0, 2e-3, 1050, 3.0, 9, 2) == pytest.approx(0.70)
    assert cost.part_cost(0.7, 0.5, 0.6, 0.1, 0.09) == pytest.approx(1.71 / 0.9)


def test_days_by_hand():
    day = 86400.0
    assert cost.days_to_part(100, 3 * day, 50 / day) / day == pytest.approx(5)
    assert cost.days_to_part(100, 3 * day, 50 / day, 3, 2 * day) / day == pytest.approx(9)


@given(scrap=st.floats(0, 0.9), more=st.floats(0.001, 0.09))
def test_scrap_always_costs(scrap, more):
    assert cost.part_cost(1, 1, 1, scrap + more) > cost.part_cost(1, 1, 1, scrap)


@given(factor=st.floats(0.01, 100.0))
def test_another_currency_changes_the_label_only(factor):
    here = cost.tool_cost(0.5, 100, 7200, 0.002, 3600, 0.01, 15)
    there = cost.tool_cost(0.5, 100 * factor, 7200, 0.002 * factor, 3600, 0.01 * factor,
                           15 * factor)
    assert there == pytest.approx(here * factor)


def test_a_sample_passes_through_at_once():
    prices = np.array([50.0, 100.0, 150.0])
    assert cost.tool_cost(0.5, prices, 0.0, 0.0, 0.0, 0.0) == pytest.approx([25, 50, 75])


@pytest.mark.parametrize("call", [
    lambda: cost.print_time(-1, 1, 1, 1, 1, 1),
    lambda: cost.print_time(1, 1, 0, 1, 1, 1),
    lambda: cost.milling_time(1, 1, 1, math.nan, 1, 1),
    lambda: cost.tool_cost(1, -1, 1, 1, 1, 1),
    lambda: cost.sheet_cost(1, 1, 1, 1, 0, 1),
    lambda: cost.part_cost(1, 1, 1, 1.0),
    lambda: cost.unit_cost(10, 0, 1, 1),
    lambda: cost.batch_cost(0, 1, 1, 1),
    lambda: cost.break_even(-1, 1, 1, 1),
    lambda: cost.last_crossing([1, 2], [[1, 2, 3]], [[1, 2, 3]]),
    lambda: cost.days_to_part(1, 1, 0),
])
def test_refusals(call):
    with pytest.raises(Refused):
        call()
