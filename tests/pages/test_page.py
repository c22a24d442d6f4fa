"""A page on a made-up step: controls, figures in place, checks, saving, long runs."""

import sys
import types

import numpy as np
import pytest

from thermoforming.bands import Band
from thermoforming.guard import Refused
from thermoforming.pages import charts, page as page_module, session as session_module
from thermoforming.pages.charts import Panel, blank
from thermoforming.pages.controls import read_count
from thermoforming.pages.page import Page
from thermoforming.pages.session import Session
from thermoforming.record import Project
from thermoforming.steps.base import (
    CAUTION,
    Cancelled,
    Check,
    Choice,
    Column,
    Flag,
    Grid,
    Number,
    Outcome,
    Result,
    Rows,
    Step,
    Text,
    Worked,
)

KEY = "sample"


def compute(inputs, upstream):
    length = inputs["length"]
    long = upstream.simulation["answer"] if upstream.simulation else None
    return Outcome(
        results=(Result("twice", "Twice the length", Band.around(2 * length, 0.001), "mm"),
                 Result("long", "Long answer", float(long) if long is not None else None)),
        checks=(Check("c", "A <check>", CAUTION, "a & b", length, 0.01, "mm", "a source", "do"),),
        worked=(Worked("Doubling", "2 L", r"2 \cdot 10", "20 mm", "arithmetic"),),
        tables=(Grid("t", "Table", (Column("x", "x", "mm"),), ({"x": length},)),),
        arrays={"line": np.linspace(0, length, 5)},
    )


def simulate(inputs, upstream, run):
    for i in range(5):
        if run.report(i / 5, "counting"):
            raise Cancelled
    run.preview({"answer": -1.0})
    return {"answer": inputs["length"] * 3}


SAMPLE = Step(
    key=KEY, number=1, title="Sample", question="How long?", compute=compute, simulate=simulate,
    simulated_by=("length", "rows"),
    fields=(
        Number(key="length", label="Length", symbol="L", shown="mm", low=1, high=100, default=10),
        Choice(key="side", label="Side", options=(("a", "A"), ("b", "B")), default="a"),
        Flag(key="flag", label="Flag"),
        Text(key="note", label="Note"),
        Rows(key="rows", label="Rows", default=({"name": "one", "size": 0.02},),
             columns=(Text(key="name", label="Name"),
                      Number(key="size", label="Size", shown="mm", low=0, high=50, default=1),
                      Number(key="count", label="Count", shown="-", low=0, high=9, default=2))),
    ),
)


def update(figure, scene):
    figure.data[0].y = scene.value(scene.outcome.arrays["line"], "mm")


@pytest.fixture
def session(tmp_path, monkeypatch):
    module = types.ModuleType("thermoforming.steps.sample")
    module.STEP = SAMPLE
    figures = types.ModuleType("thermoforming.pages.figures.sample")
    figures.panels = lambda: (Panel("p", "P", make, update),)
    monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setitem(sys.modules, figures.__name__, figures)
    for place in (page_module, session_module):
        monkeypatch.setattr(place, "ORDER", (KEY,))
    monkeypatch.setattr(session_module, "standing_on", lambda: {KEY: ()})
    monkeypatch.setattr(page_module, "step", lambda key: SAMPLE)
    monkeypatch.setattr(session_module, "step", lambda key: SAMPLE)
    monkeypatch.setitem(page_module.PAGES, KEY, "sample.ipynb")
    Project.create(tmp_path / "p", "Title <b>", "A. Maker")
    return Session(tmp_path / "p")


def make():
    figure = blank("x", "y")
    figure.add_scatter(y=[0, 0])
    return figure


def test_figure_follows_the_control(session):
    page = Page(KEY, session)
    page.controls["length"].slider.value = 20.0
    assert page.outcome["twice"].typical == pytest.approx(0.04)
    assert page.charts[0].data[0].y[-1] == pytest.approx(20.0)
    assert len(page.charts[0].data) == 1


def test_typed_decimal_comma_and_refusal_keep_the_result(session):
    page = Page(KEY, session)
    page.controls["length"].text.value = "12,5"
    assert page.inputs["length"] == pytest.approx(0.0125)
    page.controls["length"].text.value = "500"
    assert page.inputs["length"] == pytest.approx(0.0125)
    assert "at most 100 mm" in page._alert.value
    page.controls["length"].text.value = "abc"
    assert "not a number" in page._alert.value


def test_a_slider_put_on_its_notch_by_the_browser_changes_nothing(session):
    page = Page(KEY, session)
    length = page.controls["length"]
    length.text.value = "12.34"
    length.slider.value = 12.4  # nearest notch
    assert page.inputs["length"] == pytest.approx(0.01234)
    length.slider.value = 13.0
    assert page.inputs["length"] == pytest.approx(0.013)


def test_a_row_keeps_what_was_given_until_another_is_typed(session):
    page = Page(KEY, session)
    page.set(rows=[{"name": "one", "size": 0.0123456789012}])
    assert page.inputs["rows"][0]["size"] == 0.0123456789012
    page.controls["rows"].rows[0]["size"].box.value = "12.5"
    assert page.inputs["rows"][0]["size"] == pytest.approx(0.0125)


def test_everything_shown_is_escaped(session):
    page = Page(KEY, session)
    page.header, page.checks
    assert "Title &lt;b&gt;" in page._thread.value
    assert "A &lt;check&gt;" in page._checks.value


def test_save_writes_a_revision_and_says_so(session):
    page = Page(KEY, session)
    page.decide
    page._author.value, page._reason.value = "A. Maker", ""
    page._save.click()
    assert "Reason is empty" in page._said.value
    page._reason.value = "because"
    page._save.click()
    assert "revision 1" in page._said.value
    page.controls["length"].slider.value = 30.0
    assert ("Length", "10.0 mm", "30.0 mm") in page.differences()
    page._save.click()
    assert [r.number for r in session.project.revisions(KEY)] == [1, 2]
    assert Page(KEY, session).inputs["length"] == pytest.approx(0.03)


def test_second_saver_is_told_and_loses_nothing(session):
    first, second = Page(KEY, session), Page(KEY, session)
    for page in (first, second):
        page.decide
        page._author.value, page._reason.value = "A. Maker", "because"
    first._save.click()
    second.controls["length"].slider.value = 30.0
    second._save.click()
    assert "saved revision 1" in second._said.value
    second._save.click()
    assert len(session.project.revisions(KEY)) == 2


def test_long_run_is_kept_with_the_decision(session):
    page = Page(KEY, session)
    assert page.outcome["long"] is None
    page.run()
    assert page.outcome["long"] == pytest.approx(0.03)
    page.decide
    page._author.value, page._reason.value = "A. Maker", "because"
    page._save.click()
    again = Page(KEY, session)
    assert again.outcome["long"] == pytest.approx(0.03)
    again.controls["length"].slider.value = 20.0
    assert again.outcome["long"] is None, "a run belongs to its own inputs"
    again.controls["length"].slider.value = 10.0
    assert again.outcome["long"] == pytest.approx(0.03)


def test_rows_are_edited_added_and_refused(session):
    page = Page(KEY, session)
    rows = page.controls["rows"]
    rows.add.click()
    assert len(page.inputs["rows"]) == 2
    rows.rows[1]["size"].box.value = "7,5"
    assert page.inputs["rows"][1]["size"] == pytest.approx(0.0075)
    rows.rows[1]["size"].box.value = "99"
    assert "row 2" in page._alert.value and "50 mm" in page._alert.value


def test_inch_project_shows_and_takes_inches(session):
    session.project.change(units="inch")
    page = Page(KEY, session)
    assert page.controls["length"].unit == "in"
    page.controls["length"].text.value = "1"
    assert page.inputs["length"] == pytest.approx(0.0254)
    page.controls["length"].text.value = "40"
    assert "at least 0.0394 in and at most 3.94 in" in page.controls["length"].message.value


def test_values_are_plain_text(session, capsys):
    Page(KEY, session).values()
    assert "Twice the length: 20.0 mm (19.0 to 21.0)" in capsys.readouterr().out


def test_charts_never_offer_an_upload():
    config = charts.live(Panel("p", "P", make, update))._config
    assert config["showSendToCloud"] is False and config["plotlyServerURL"] == ""


def test_unknown_input_is_refused():
    with pytest.raises(Refused, match="no input named widht"):
        SAMPLE.checked({"widht": 1}, session_module.Upstream())


@pytest.mark.parametrize("text, meant", [("1,000", 1000), ("1 250", 1250), ("1.000", 1000),
                                         ("80", 80), ("80,0", 80)])
def test_a_count_is_read_with_its_thousands_parted(text, meant):
    assert read_count(text) == meant


@pytest.mark.parametrize("text", ["80.5", "80,5", "abc", "1e400"])
def test_what_is_no_whole_number_is_refused(text):
    with pytest.raises(Refused):
        read_count(text)
