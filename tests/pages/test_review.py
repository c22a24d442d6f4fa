"""The review page: what it says, what it saves, and what it refuses."""

import io
import shutil
from pathlib import Path

import pytest
from pypdf import PdfReader

from thermoforming.pages import session as pages_session
from thermoforming.pages.documents import titles
from thermoforming.pages.figures import review as picture
from thermoforming.pages.forms import FORMS, TABLES
from thermoforming.pages.page import Page
from thermoforming.pages.review import Review, handing
from thermoforming.pages.review import words as say
from thermoforming.pages.session import DEMO, Session
from thermoforming.record import Project, check
from thermoforming.record.changes import Change, changes
from thermoforming.record.export import Extras
from thermoforming.record.export.dossier import dossier
from thermoforming.record.export.formula import drawing
from thermoforming.record.export.pdf import form_pdf
from thermoforming.steps import ORDER


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A copy of the demo project among the projects of this test."""
    monkeypatch.setattr(pages_session, "PROJECTS", tmp_path)
    shutil.copytree(DEMO, tmp_path / "demo")
    return tmp_path / "demo"


@pytest.fixture
def review(folder):
    return Review(Session(folder))


def again(project, step, author="A. Maker", **parts):
    """The latest revision saved once more, with other parts."""
    latest = project.latest(step)
    return project.save(step, latest.own_content | parts, author, latest.sha256)


def decided(project):
    """Steps with a decision, in the order of the thread."""
    return [step for step in ORDER if step in project.steps()]


def stopped(project, step):
    check = {"key": "late", "title": "Air <leaves> late", "verdict": "stop", "message": "Too late."}
    return again(project, step, checks=[check])


def test_stale_and_stops_come_first(review):
    project = review.session.project
    stopped(project, decided(project)[-1])
    again(project, "brief")
    review.refresh()
    shown = review._attention.value
    assert "is stale" in shown and "Air &lt;leaves&gt; late" in shown
    assert shown.index("tf-caution") < shown.index("tf-stop") < shown.index("To review")


def test_what_changed_since_the_accepted_revision(review):
    project, judge = review.session.project, review.judge
    first = project.latest("brief")
    if project.state("brief").state != "accepted":
        project.review("brief", first.sha256, "C. Auditor", "accepted")
    inputs = dict(first.inputs, quantity=dict(first.inputs["quantity"], value=123))
    results = {key: dict(entry) for key, entry in first.results.items()}
    results["draw_depth"]["value"] = first.results["draw_depth"]["value"] * 1.5
    again(project, "brief", inputs=inputs, results=results)
    review.refresh()
    judge.decision.value = "material"
    judge.decision.value = "brief"
    assert "accepted last" in judge.against.label
    assert "123 parts" in judge._changes.value and "+50 %" in judge._changes.value
    bar, mark = judge._chart.data
    assert list(mark.x) == pytest.approx([50.0]) and judge._picture.layout.display == ""
    judge.against.value = ""
    assert judge._changes.value == ""


def test_accept_return_and_what_the_other_page_shows(review):
    project, judge = review.session.project, review.judge
    again(project, "brief")
    judge.decision.value = "brief"
    judge.reviewer.value = "a. maker"
    judge.judge("accepted")
    assert "another person" in judge._said.value
    judge.reviewer.value = "C. Auditor"
    judge.judge("returned")
    assert "comment" in judge._said.value
    judge.comment.value = "Why <so> many?"
    judge.judge("returned")
    assert project.state("brief").state == "returned"
    assert "Why &lt;so&gt; many?" in Page("brief", review.session)._alert.value
    judge.judge("accepted")
    assert project.state("brief").state == "accepted" and "accepted by" in judge._said.value


def test_an_open_stop_asks_for_a_reason(review):
    project, judge = review.session.project, review.judge
    step, other = decided(project)[:2]
    stopped(project, step)
    judge.decision.value = other
    judge.decision.value = step
    judge.reviewer.value = "C. Auditor"
    judge.judge("accepted")
    assert "says stop" in judge._said.value
    judge.overrides["Air <leaves> late"].value = "Measured on the trial tool."
    judge.judge("accepted")
    assert project.state(step).review.override == {
        "Air <leaves> late": "Measured on the trial tool."}


def test_the_release_button_waits(review):
    review.release  # noqa: B018 makes the widgets
    project = review.session.project
    again(project, "brief")
    review.refresh()
    assert review._release_button.disabled and "Not yet" in review._blockers.value


def test_release(folder, monkeypatch):
    project = Project.open(folder)
    monkeypatch.setattr("thermoforming.pages.review.page.ORDER", tuple(decided(project)))
    for step in decided(project):
        revision, upstream = project.latest(step), {}
        for key in revision.upstream:
            found = project.latest(key)
            upstream[key] = found.sha256 if found else None
        revision = again(project, step, upstream=upstream)
        reasons = {stop["title"]: "Accepted for this test." for stop in revision.stops}
        project.review(step, revision.sha256, "C. Auditor", "accepted", "", reasons)
    review = Review(Session(folder))
    review.release  # noqa: B018
    assert not review._release_button.disabled
    review._name.value, review._comment.value = "C. Auditor", "First articles"
    review._release_now()
    assert "Release 1 by C. Auditor" in review._released.value
    assert check(folder).whole


def test_verifying_reports_every_decision(review, monkeypatch):
    monkeypatch.setattr(handing, "recompute",
                        lambda project, revision: revision.own_content)
    page = handing.Verifying(review.session)
    assert page.run().exit_code == 0
    assert page._report.value.count(">same<") == len(review.session.project.steps())


def test_a_long_report_is_folded():
    assert "<details>" in say._folded([f"line {i}" for i in range(20)])
    assert "<details>" not in say._folded(["one", "two"])


def test_documents_hold_figures_of_every_decision(review, monkeypatch):
    monkeypatch.setattr("thermoforming.pages.documents.ORDER", ("brief", "vents"))
    page = handing.Documents(review.session, lambda: None)
    page.author.value = "A. Maker"
    page.run()
    assert "Code on every page" in page._links.value
    folder = review.session.project.folder / "exports" / "0001"
    names = {path.name for path in folder.iterdir()}
    assert {"record.html", "record.pdf", "setup-sheet.pdf", "inspection-sheet.pdf",
            "numbers.csv"} <= names
    html = (folder / "record.html").read_text(encoding="utf-8")
    assert html.count('<figure class="drawing">') >= 6
    assert check(review.session.project.folder).whole


def test_every_line_of_the_sheets_is_found_in_the_demo(review):
    project = review.session.project
    shown = dossier(project, titles(), Extras(forms=FORMS, tables=TABLES))
    decided = set(project.steps())
    for form, made in zip(FORMS, shown["forms"], strict=True):
        for group, lines in zip(form.groups, made["groups"], strict=True):
            for line, entry in zip(group.lines, lines["lines"], strict=True):
                assert entry["value"] or line.step not in decided, (form.key, line)
        assert len(made["tables"]) == sum(listing.step in decided and listing.until not in decided
                                          for listing in form.listings)
    for step, key in TABLES.values():
        assert step not in decided or key in project.latest(step).content["tables"]


def test_every_formula_of_the_demo_is_drawn(review):
    project = review.session.project
    for step in project.steps():
        for line in project.latest(step).content["worked"]:
            assert drawing(line["formula"]) and drawing(line["numbers"]), (step, line["title"])


def test_the_setup_sheet_is_one_page(review):
    shown = dossier(review.session.project, titles(), Extras(forms=FORMS))
    for form in shown["forms"]:
        if form["key"] in ("setup-sheet", "inspection-sheet"):
            assert len(PdfReader(io.BytesIO(form_pdf(shown, form))).pages) == 1


def test_pack_unpack_and_start_anew(review):
    page = handing.HandingOn(review.session)
    page._try(page._pack)
    assert "data:application/zip;base64," in page._said.value
    page.title.value, page.author.value = "Second tray", "C. Heir"
    page._try(page._anew)
    assert "begun in" in page._said.value
    new = Project.open(pages_session.PROJECTS / "second-tray")
    assert {new.state(step).state for step in new.steps()} <= {"current", "stale"}
    page._try(page._anew)
    assert "holds a project already" in page._said.value


def test_comparing_two_projects(review):
    again(review.session.project, "brief", reason="Another reason.")
    page = handing.Comparing(review.session)
    labels = [label for label, _ in page.first.options]
    page.first.index = next(i for i, label in enumerate(labels) if "the project in" in label)
    page.second.index = 0
    page.run()
    assert "Another reason." in page._found.value and "The same in both" in page._found.value


BAND = {"low": 0.4, "typical": 0.5, "high": 0.8}


def test_the_picture_shows_bands_in_percent_of_the_old_value():
    found = [Change("Results", "Time", BAND, {"low": 0.5, "typical": 0.6, "high": 0.7}, "s"),
             Change("Results", "Warmth", 300.0, 310.0, "°C"), Change("Inputs", "x", 1, 2),
             Change("Results", "Zero", 0.0, 1.0), Change("Results", "Kind", "a", "b")]
    figure = picture.make()
    picture.update(figure, found)
    bar, mark = figure.data
    assert list(bar.base) == pytest.approx([-20.0]) and list(bar.x) == pytest.approx([80.0])
    assert list(mark.x) == pytest.approx([20.0])
    assert list(mark.error_x.array) == pytest.approx([20.0])


@pytest.mark.parametrize("text", ["<script>alert(1)</script>", "\u202egnp", "\"'&"])
def test_text_from_users_is_escaped(text):
    old = {"reason": "", "inputs": {"a": {"label": text, "value": "x"}}}
    new = {"reason": text, "inputs": {"a": {"label": text, "value": text}}}
    shown = say.changed(changes(old, new), False)
    assert "<script" not in shown and "\u202e" not in shown
    assert "<script" not in say.trail([{"when": "", "who": text, "what": text, "said": text}])
    assert "<script" not in say.blockers([text]) and Path(say.__file__).exists()
