"""Blanks in a stock sheet: against brute force on small cases and known layouts."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thermoforming.guard import Refused
from thermoforming.physics.nest import nest


@cache
def every_cut(length: int, width: int, a: int, b: int, turn: bool) -> int:
    """Most blanks by trying every edge-to-edge cut at every whole unit, and nothing clever."""
    fits = (a <= length and b <= width) or (turn and b <= length and a <= width)
    best = int(fits)
    for x in range(1, length):
        best = max(best, every_cut(x, width, a, b, turn) + every_cut(length - x, width, a, b, turn))
    for y in range(1, width):
        best = max(best, every_cut(length, y, a, b, turn)
                   + every_cut(length, width - y, a, b, turn))
    return best


@settings(max_examples=60, deadline=None)
@given(length=st.integers(1, 13), width=st.integers(1, 11), a=st.integers(1, 6),
       b=st.integers(1, 6), turn=st.booleans())
def test_equals_brute_force(length, width, a, b, turn):
    found = nest(length, width, a, b, turn=turn)
    assert found.best
    assert found.count == every_cut(length, width, a, b, turn)


sizes = st.floats(0.05, 0.6)


@settings(max_examples=60, deadline=None)
@given(length=st.floats(0.3, 2.5), width=st.floats(0.3, 1.5), a=sizes, b=sizes,
       kerf=st.floats(0, 0.006), edge=st.floats(0, 0.02), turn=st.booleans())
def test_blanks_lie_inside_apart_and_whole(length, width, a, b, kerf, edge, turn):
    found = nest(length, width, a, b, kerf, edge, turn)
    for i, (x, y, u, v) in enumerate(found.blanks):
        assert sorted((u, v)) == pytest.approx(sorted((a, b)), abs=1e-9)
        if not turn:
            assert (u, v) == pytest.approx((a, b), abs=1e-9)
        assert x >= edge - 1e-9 and y >= edge - 1e-9
        assert x + u <= length - edge + 1e-7 and y + v <= width - edge + 1e-7
        for x2, y2, u2, v2 in found.blanks[i + 1:]:
            assert (x + u + kerf <= x2 + 1e-7 or x2 + u2 + kerf <= x + 1e-7
                    or y + v + kerf <= y2 + 1e-7 or y2 + v2 + kerf <= y + 1e-7)


@pytest.mark.parametrize(("sheet", "blank", "count"), [
    ((5, 4), (3, 2), 3), ((7, 6), (3, 2), 7), ((8, 6), (5, 3), 3), ((8, 7), (5, 3), 3),
])
def test_first_cut_near_the_middle_is_looked_for(sheet, blank, count):
    # By brute force, and by hand: 5 x 4 holds two lying 3 x 2 beside one standing.
    assert nest(*sheet, *blank).count == count == every_cut(*sheet, *blank, True)


def test_mixed_directions_beat_straight_rows():
    # Straight rows give 3 x 2 = 6 or 2 x 4 = 8 of 3 by 2 in 9 by 5... one band of each is best:
    # 5 = 3 + 2, so nine rows of threes and twos fill all 45 but 3 units of area.
    assert nest(9, 5, 3, 2).count == 7
    assert nest(9, 5, 3, 2, turn=False).count == 6


def test_kerf_counts_between_blanks_only():
    assert nest(0.803, 0.4, 0.4, 0.4, kerf=0.003).count == 2
    assert nest(0.802, 0.4, 0.4, 0.4, kerf=0.003).count == 1


def test_many_small_blanks_are_quick_and_near_the_area_bound():
    found = nest(2.0, 1.0, 0.047, 0.031, kerf=0.002)
    assert not found.best
    assert found.count >= 0.93 * 2.002 * 1.002 / (0.049 * 0.033)


def test_nothing_fits():
    found = nest(0.5, 0.5, 0.6, 0.1)
    assert found.count == 0 and found.blanks.shape == (0, 4)


def test_refusals():
    for wrong in ((0, 1, 1, 1), (1, np.nan, 1, 1), (1, 1, -1, 1)):
        with pytest.raises(Refused):
            nest(*wrong)
    with pytest.raises(Refused, match="kerf"):
        nest(1, 1, 1, 1, kerf=-0.001)
