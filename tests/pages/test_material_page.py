"""The material page: figures follow the weights, tables list everything, own rows, the reason."""

import pytest

from thermoforming.pages.browse import every_value, overview
from thermoforming.pages.page import Page
from thermoforming.pages.session import Session
from thermoforming.record import Project
from thermoforming.reference import sheets, tool_materials

ROW = dict(name="Our HIPS", kind="sheet", base="hips", property="density", low=1035.0,
           typical=1045.0, high=1055.0, temperature=None, source="data sheet, rev. 3",
           basis="published")


@pytest.fixture
def page(tmp_path):
    Project.create(tmp_path / "p", "Tray", "A. Maker")
    return Page("material", Session(tmp_path / "p"))


def chart(page, key):
    index = next(i for i, panel in enumerate(page.panels) if panel.key == key)
    return page.charts[index]


def test_a_weight_moves_the_figures_in_place(page):
    before = list(chart(page, "sheets").data[0].x)
    traces = [len(figure.data) for figure in page.charts]
    for weight in (0.0, 10.0, 3.0):
        page.set(sheet_toughness=weight, sheet_price=0.0)
    assert list(chart(page, "sheets").data[0].x) != before
    assert [len(figure.data) for figure in page.charts] == traces


def test_shares_in_the_figure_are_those_of_the_table(page):
    rows = page.outcome.table("sheet_candidates").rows
    shares = {row["name"]: 100.0 * row["first"] for row in rows if row["first"] is not None}
    bar = chart(page, "sheets").data[0]
    assert dict(zip(bar.y, bar.x)) == pytest.approx(shares)
    assert sum(bar.x) == pytest.approx(100.0)


def test_windows_show_every_sheet_with_its_numbers(page):
    bar = chart(page, "windows").data[0]
    assert set(bar.y) == {m.text("short") for m in sheets().values()}
    hips = list(bar.y).index("HIPS")
    assert bar.base[hips] == pytest.approx(127.0) and bar.x[hips] == pytest.approx(55.0)


def test_nobody_left_leaves_empty_figures_and_a_stop(page):
    page.set(service_high=413.15)
    assert len(chart(page, "sheets").data[0].x) == 0
    assert "Every candidate is refused" in page._checks.value


def test_own_material_typed_in_the_page_is_everywhere(page):
    page.set(own=[ROW])
    page.set(sheet="own", own_sheet="Our HIPS")
    assert page.outcome["sheet_name"] == "Our HIPS"
    assert "Our HIPS" in chart(page, "windows").data[0].y
    assert any(row[0][0] == "Our HIPS (own)" for row in overview(page, "sheet").rows)
    typed = [row for row in every_value(page).rows
             if row[0][0] == "Our HIPS (own)" and row[1][0] == "density"]
    assert typed[0][3][0] == "1045 kg/m³ (1035 to 1055)" and typed[0][5][0] == "data sheet, rev. 3"


def test_a_bad_own_row_says_why_and_keeps_the_last_result(page):
    page.set(own=[ROW | {"typical": 9999.0}])
    assert "out of order" in page._alert.value
    assert page.outcome["sheet_name"] == "HIPS"


def test_tables_hold_every_material_and_value(page):
    assert len(overview(page, "sheet").rows) == len(sheets())
    assert len(overview(page, "tool").rows) == len(tool_materials())
    values = sum(len(found) for m in (*sheets().values(), *tool_materials().values())
                 for found in m.values.values())
    table = every_value(page)
    assert len(table.rows) == values
    assert all(len(row) == len(table.heads) for row in table.rows)
    assert all(row[4][0] and row[5][0] for row in table.rows)  # basis and source


def test_reason_is_proposed_until_somebody_edits_it(page):
    page.decide
    proposed = page._reason.value
    assert proposed.startswith("HIPS meets")
    page.set(sheet_toughness=10.0)
    assert page._reason.value != proposed and page._reason.value.startswith("HIPS")
    page._reason.value = "My own words."
    page.set(sheet_toughness=0.0)
    assert page._reason.value == "My own words."


def test_saved_choice_opens_again_with_its_own_material(page):
    page.set(own=[ROW])
    page.set(sheet="own", own_sheet="Our HIPS")
    page.decide
    page._author.value = "A. Maker"
    page._save.click()
    assert "revision 1" in page._said.value
    again = Page("material", page.session)
    assert again.outcome["sheet_name"] == "Our HIPS"
    assert again.differences() == []


def test_inches_change_lengths_and_nothing_else(page):
    metric = overview(page, "tool").heads
    page.session.project.change(units="inch")
    changed = {(a, b) for a, b in zip(metric, overview(page, "tool").heads) if a != b}
    assert ("smallest bore [mm]", "smallest bore [in]") in changed
    assert all("[mm]" in a and "[in]" in b for a, b in changed)
