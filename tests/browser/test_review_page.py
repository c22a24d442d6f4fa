"""A reviewer's visit in a real browser: read, return, and find the review on disk."""

import json

from thermoforming.pages.page import PAGES
from thermoforming.record import Project


def test_a_reviewer_returns_the_brief(workbook, page):
    workbook.open(page, PAGES["review"])
    page.wait_for_selector(".tf-return")
    decisions = page.locator("select", has=page.locator("option", has_text="Brief –"))
    brief = decisions.locator("option", has_text="Brief –")
    brief.wait_for(state="attached")
    decisions.select_option(value=brief.get_attribute("value"))
    page.get_by_label("Reviewer").fill("C. Auditor")
    page.get_by_placeholder("What is agreed").fill("Say who asked for <80> parts.")
    page.locator(".tf-return").click()
    page.wait_for_selector(".tf-judged .tf-pass")
    last = sorted((workbook.demo / "reviews" / "brief").glob("*.json"))[-1]
    review = json.loads(last.read_bytes())
    assert (review["author"], review["verdict"]) == ("C. Auditor", "returned")
    assert review["comment"] == "Say who asked for <80> parts."
    assert Project.open(workbook.demo).state("brief").state == "returned"
