"""The tables of the material page sort by a click and filter by what is typed."""

from thermoforming.pages.page import PAGES

FIRST_COLUMN = """[...document.querySelector('.tf-browse').querySelectorAll(
  'tbody tr td:first-child')].map(cell => cell.innerText.trim())"""


def test_table_sorts_and_filters(page, workbook):
    workbook.open(page, PAGES["material"])
    page.wait_for_selector(".tf-browse tbody tr")
    names = page.evaluate(FIRST_COLUMN)
    assert len(names) == 16
    heading = page.locator(".tf-browse").first.get_by_role("button", name="price")
    heading.click()
    cheapest_first = page.evaluate(FIRST_COLUMN)
    assert sorted(cheapest_first) == sorted(names) and cheapest_first != names
    heading.click()
    assert page.evaluate(FIRST_COLUMN)[0] == "PMMA cast"  # the dearest in the table of sheets
    page.locator(".tf-find").first.fill("PMMA cast")
    assert page.evaluate(FIRST_COLUMN) == ["PMMA cast"]
    page.locator(".tf-find").first.fill("no such words")
    assert page.evaluate(FIRST_COLUMN) == []
