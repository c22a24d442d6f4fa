"""Rows from elsewhere: pasted text, CSV and Excel into a typed table."""

import io

import pandas as pd
import pytest

from thermoforming.guard import Refused
from thermoforming.pages.intake import headings, read_rows
from thermoforming.steps.base import Choice, Flag, Number, Rows, Text
from thermoforming.steps.upstream import Upstream

TABLE = Rows(key="rows", label="Rows", columns=(
    Number(key="shot", label="Shot", shown="-", low=1, high=99, whole=True, default=1),
    Text(key="point", label="Point"),
    Number(key="gauge", label="Gauge", shown="mm", low=0.01, high=20, default=1),
    Number(key="heat", label="Sheet at", shown="°C", low=0, high=300, optional=True),
    Choice(key="verdict", label="Part is", options=(("good", "good"), ("bad", "rejected")),
           default="good"),
    Flag(key="dry", label="Dried"),
))


def test_pasted_from_a_spreadsheet_with_decimal_commas():
    rows = read_rows(TABLE, "Shot\tPoint\tGauge\tSheet at\n1\tP1\t0,82\t155\n2\tP2\t0,91\t\n")
    assert [row["gauge"] for row in rows] == pytest.approx([0.82e-3, 0.91e-3])
    assert rows[0]["heat"] == pytest.approx(428.15) and rows[1]["heat"] is None
    assert TABLE.checked(rows, Upstream())


def test_another_unit_stands_in_the_heading():
    rows = read_rows(TABLE, "gauge [in];part is;dried\n0.04;rejected;yes\n")
    assert rows[0]["gauge"] == pytest.approx(1.016e-3)
    assert rows[0]["verdict"] == "bad" and rows[0]["dry"] is True and rows[0]["shot"] == 1.0


def test_inch_project_reads_inches():
    assert read_rows(TABLE, "gauge\n0.04\n", inches=True)[0]["gauge"] == pytest.approx(1.016e-3)


def test_excel_is_read():
    stream = io.BytesIO()
    pd.DataFrame({"Point": ["P1"], "Gauge [mm]": [0.8], "extra": [7]}).to_excel(stream, index=False)
    rows = read_rows(TABLE, stream.getvalue(), "points.xlsx")
    assert rows[0]["point"] == "P1" and rows[0]["gauge"] == pytest.approx(0.8e-3)


def test_headings_on_offer_are_understood():
    line = ";".join(headings(TABLE))
    rows = read_rows(TABLE, f"{line}\n3;P3;0.7;160;good;no\n")
    assert rows[0] == {"shot": 3.0, "point": "P3", "gauge": pytest.approx(7e-4),
                       "heat": pytest.approx(433.15), "verdict": "good", "dry": False}


@pytest.mark.parametrize(("text", "said"), [
    ("a,b\n1,2\n", "None of the headings a, b"),
    ("gauge\nthick\n", "Row 1, Gauge: “thick” is not a number"),
    ("gauge [°C]\n3\n", "Row 1, Gauge: the unit °C does not fit"),
    ("gauge [furlong]\n3\n", "furlong"),
    ("part is\nfine\n", "“fine” is none of good, rejected"),
    ("dried\nperhaps\n", "neither yes nor no"),
    ("", "cannot be read as a table"),
])
def test_refusals_say_where(text, said):
    with pytest.raises(Refused, match=said.replace("(", r"\(")):
        read_rows(TABLE, text)


def test_a_file_that_is_no_table():
    with pytest.raises(Refused, match="not text in UTF-8"):
        read_rows(TABLE, b"\xff\xfe\x00gauge", "x.csv")
    with pytest.raises(Refused, match="x.xlsx cannot be read"):
        read_rows(TABLE, b"no zip", "x.xlsx")
