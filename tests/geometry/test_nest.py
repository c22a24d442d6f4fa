"""Tools in build volumes, against counts made by hand."""

import pytest

from thermoforming.geometry.nest import pieces_to_build
from thermoforming.guard import Refused


def test_a_tool_is_turned_before_it_is_cut():
    assert pieces_to_build((0.3, 0.18, 0.06), (0.18, 0.1, 0.31))[0] == 1
    assert pieces_to_build((0.3, 0.18, 0.06), (0.2, 0.2, 0.2)) == (2, (0, 1, 2))
    assert pieces_to_build((0.5, 0.5, 0.1), (0.2, 0.2, 0.2))[0] == 9


def test_impossible_sizes_are_refused():
    with pytest.raises(Refused, match="build volume"):
        pieces_to_build((1, 1, 1), (1, 1, float("nan")))
