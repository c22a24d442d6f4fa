"""The long run beside the thinning page: progress, controls that stay alive, cancel, a new map."""

KEY = "document.querySelector('.tf-key').innerText"
SAID = "document.querySelector('.tf-outputs').innerText"


def test_run_leaves_the_page_alive_and_can_be_cancelled(page, workbook):
    workbook.open(page, "04-thinning.ipynb")
    page.wait_for_selector(".js-plotly-plot .main-svg")
    start = page.get_by_role("button", name="Form the sheet")
    start.click()
    page.wait_for_function(f"() => / s left|running|coarse|fine/.test({SAID})")
    before = page.evaluate(KEY)
    handle = page.locator(".tf-inputs .noUi-handle:visible").first
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_function(f"before => {KEY} !== before", arg=before)
    page.get_by_role("button", name="Cancel").click()
    page.wait_for_function(f"() => {SAID}.includes('Cancelled')")
    assert start.is_enabled()


def test_run_ends_with_a_verified_map(page, workbook):
    workbook.open(page, "04-thinning.ipynb")
    page.wait_for_selector(".js-plotly-plot .main-svg")
    page.get_by_role("button", name="Form the sheet").click()
    page.wait_for_function(f"() => {SAID}.includes('Done in')", timeout=300_000)
    text = page.evaluate("document.body.innerText")
    assert "level 4, the tool's mesh" in text
    assert "Half the loading rate gives the same gauge" in text
