"""Blanks in sheets and tools in build volumes, against counts made by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermoforming.geometry.nest import blanks_in_sheet, pieces_to_build
from thermoforming.guard import Refused


@pytest.mark.parametrize("stock, blank, turn, count", [
    ((2.0, 1.0), (0.5, 0.5), True, 8),     # drawn by hand
    ((2.0, 1.0), (0.6, 0.4), False, 6),    # 3 x 2
    ((2.0, 1.0), (0.6, 0.4), True, 8),     # five upright, three lying beside them
    ((1.0, 1.0), (1.1, 0.5), True, 0),
    ((1.0, 0.6), (0.6, 0.5), True, 2),     # two upright, 0.5 wide each
])
def test_counts_made_by_hand(stock, blank, turn, count):
    assert blanks_in_sheet(stock, blank, turn=turn).count == count


def test_a_cut_takes_its_width():
    assert blanks_in_sheet((1.0, 0.5), (0.5, 0.5)).count == 2
    assert blanks_in_sheet((1.0, 0.5), (0.5, 0.5), kerf=0.003).count == 1


sizes = st.floats(0.1, 1.0)


@given(blank=st.tuples(sizes, sizes), kerf=st.floats(0, 0.01))
def test_blanks_stay_inside_and_apart(blank, kerf):
    nest = blanks_in_sheet((2.0, 1.2), blank, kerf)
    for i, (x, y, a, b) in enumerate(nest.places):
        assert x >= 0 and y >= 0 and x + a <= 2.0 + 1e-6 and y + b <= 1.2 + 1e-6
        for u, v, c, d in nest.places[i + 1:]:
            assert x + a <= u + 1e-6 or u + c <= x + 1e-6 or y + b <= v + 1e-6 or v + d <= y + 1e-6
    assert nest.used <= 1.0 + 1e-9
    straight = int(2.0 // (blank[0] + kerf)) * int(1.2 // (blank[1] + kerf))
    assert nest.count >= straight


def test_a_tool_is_turned_before_it_is_cut():
    assert pieces_to_build((0.3, 0.18, 0.06), (0.18, 0.1, 0.31))[0] == 1
    assert pieces_to_build((0.3, 0.18, 0.06), (0.2, 0.2, 0.2)) == (2, (0, 1, 2))
    assert pieces_to_build((0.5, 0.5, 0.1), (0.2, 0.2, 0.2))[0] == 9


def test_impossible_sizes_are_refused():
    with pytest.raises(Refused, match="blank"):
        blanks_in_sheet((1.0, 1.0), (0.0, 1.0))
    with pytest.raises(Refused, match="build volume"):
        pieces_to_build((1, 1, 1), (1, 1, float("nan")))
