"""Every page as its user meets it: opened, run, turned, saved."""

import json
import os
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from thermoforming.pages.page import PAGES
from thermoforming.steps import ORDER

FIGURES = """[...document.querySelectorAll('.js-plotly-plot')].map(plot =>
  JSON.stringify(plot.data.map(trace => [trace.x, trace.y, trace.z, trace.intensity].map(
    values => values && Array.from(values).slice(0, 400)))))"""
PICTURES = os.environ.get("THERMOFORMING_PICTURES", "")
NOTEBOOKS = ["00-start.ipynb", *(PAGES[key] for key in ORDER), PAGES["review"]]


@pytest.mark.parametrize("notebook", NOTEBOOKS)
def test_page_opens_without_errors(page, workbook, notebook):
    workbook.open(page, notebook)
    page.wait_for_selector(".tf-page")
    for kind in ("application/vnd.jupyter.stderr", "application/vnd.jupyter.error"):
        wrong = page.locator(f".jp-OutputArea [data-mime-type='{kind}']").all_inner_texts()
        assert not wrong, wrong
    if notebook not in ("00-start.ipynb", PAGES["review"]):
        page.wait_for_selector(".js-plotly-plot .main-svg")
    titles = page.evaluate("[...document.querySelectorAll('.modebar-btn')].map(b => "
                           "b.getAttribute('data-title') || '')")
    assert not [t for t in titles if "loud" in t or "tudio" in t], "a chart offers an upload"
    if PICTURES:
        keep_picture(page, Path(PICTURES) / notebook.replace(".ipynb", ".png"))


def keep_picture(page, path):
    """The page's controls and first figures, small enough for README and CI to keep."""
    page.evaluate("window.jupyterapp.commands.execute('application:toggle-left-area')")
    page.set_viewport_size({"width": 1400, "height": 1000})
    place = page.locator(".tf-workspace, .tf-page").last if path.stem < "01" else (
        page.locator(".tf-workspace").first if page.locator(".tf-workspace").count()
        else page.locator(".tf-page").first)
    place.evaluate("element => element.scrollIntoView({block: 'start'})")
    page.wait_for_timeout(2500)
    with Image.open(BytesIO(page.screenshot())) as shot:
        small = shot.convert("RGB").resize((980, 700))
        small.quantize(96).save(path, optimize=True)


@pytest.mark.parametrize("key", [key for key in ("vents", "wall") if key in ORDER])
def test_control_moves_figure_and_save_lands_on_disk(page, workbook, key):
    workbook.open(page, PAGES[key])
    page.wait_for_selector(".js-plotly-plot .main-svg")
    folder = workbook.demo / "decisions" / key
    known = len(list(folder.glob("*.json")))
    before = page.evaluate(FIGURES)
    handle = page.locator(".tf-inputs .noUi-handle:visible").first
    handle.focus()
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    page.wait_for_function(f"before => JSON.stringify({FIGURES}) !== JSON.stringify(before)",
                           arg=before)
    page.locator("textarea:visible").last.fill("Tried in the browser.")
    page.locator(".tf-save").click()
    page.wait_for_selector(".tf-saved .tf-pass")
    saved = sorted(folder.glob("*.json"))
    assert len(saved) == known + 1
    assert json.loads(saved[-1].read_text(encoding="utf-8"))["reason"] == "Tried in the browser."
