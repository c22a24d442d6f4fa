"""What leaves the workbook: complete, escaped everywhere, offline, with a code that leads back."""

import csv
import io
import json
import re
from html.parser import HTMLParser

import pytest
from faults import small_project
from pypdf import PdfReader

from thermoforming.guard import Refused
from thermoforming.record import check
from thermoforming.record.export import (
    Extras,
    Form,
    Group,
    Line,
    Listing,
    code_of,
    find,
    fingerprint,
    hand_out,
    rendered,
)
from thermoforming.record.export.dossier import HIDDEN, visible
from thermoforming.record.export.fingerprint import cleaned
from thermoforming.record.export.formula import drawing
from thermoforming.record.export.handout import Figure
from thermoforming.record.export.numbers import harmless

HOSTILE = ["<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "</style><b>", "&lt;b&gt;",
           "{{ 7*7 }}{% raw %}", "#eval(\"1\") #panic() $x$ *b* _i_ `c` @ref <label> //c /*c*/",
           "\\begin{x} \\input{/etc/passwd}", "'\" onload='alert(1)", "javascript:alert(1)",
           "=HYPERLINK(\"http://x\")", "＝1+1", "+1", "-1", "@SUM(A1)", "\t=1", "]]>", "\x00\x07",
           "‮gnp.exe", "Ω ≤ 3 µm, 日本語, emoji 🧪"]
TITLES = {"brief": "Brief", "material": "Sheet and tool material", "vents": "Vents"}
DRAWING = ('<svg xmlns="http://www.w3.org/2000/svg" width="20" height="10">'
           '<path d="M0 0L9 9"/></svg>')


def content(text, **more):
    return {
        "inputs": {"hole": {"label": f"Hole {text}", "value": 5e-4, "unit": "m", "shown": "mm"},
                   "note": {"label": "Note", "value": text},
                   "rows": {"label": text, "columns": [{"key": "a", "label": text}],
                            "value": [{"a": text}]}},
        "results": {"time": {"label": "Evacuation time", "unit": "s", "shown": "s",
                             "value": {"low": 0.4, "typical": 0.5, "high": 0.8}}},
        "checks": [{"key": "mark", "title": "Vent mark", "verdict": "stop", "message": text,
                    "value": 5e-4, "limit": 4e-4, "shown": "mm", "source": f"src {text}",
                    "advice": text}],
        "worked": [{"title": text, "formula": r"t = \frac{V}{Q}", "numbers": text, "result": text,
                    "source": text}],
        "tables": {"list": {"title": f"Vent list {text}",
                            "columns": [{"key": "n", "label": text}, {"key": "d", "label": "d",
                                                                      "shown": "mm"}],
                            "rows": [{"n": text, "d": 5e-4}, {"n": "V2", "d": None}]}},
        "reason": text, "versions": {"thermoforming": "0.1.0"}, "upstream": {}, **more}


@pytest.fixture
def project(tmp_path):
    return small_project(tmp_path / "tray")


def saved(project, text="plain words"):
    project.change(title=f"Tray {text}".replace("\x00", ""))
    brief = project.latest("brief")
    vents = project.save("vents", content(text, upstream={"brief": brief.sha256}), "A. Maker",
                         None)
    project.review("vents", vents.sha256, f"B. {text}", "returned", f"Why {text}?")
    return vents


def extras(text="plain words"):
    return Extras(
        figures={"vents": (Figure(f"Pressure {text}", DRAWING),)}, cautions={"vents": (text,)},
        sources={f"src {text}": f"Book of {text}"}, disclaimers=(text,),
        forms=(Form("setup-sheet", f"Setup {text}", text,
                    (Group(text, (Line("vents", "time"), Line("vents", "note"),
                                  Line("heating", "heat", "Heating time"))),),
                    (Listing("vents", "list", ("n",), (text,)),), (text,), text),),
        tables={"vent-list": ("vents", "list")})


def pdf_text(data):
    return " ".join("\n".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages
                              ).split())


class Tags(HTMLParser):
    """All tags, attributes and text of a page, as a browser would see them."""

    def __init__(self, data):
        super().__init__()
        self.tags, self.attributes, self.text = set(), [], []
        self.feed(data.decode())

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.text.append(data)


KNOWN = {"html", "head", "meta", "title", "style", "body", "header", "p", "h1", "h2", "h3", "dl",
         "div", "dt", "dd", "section", "ul", "ol", "li", "table", "thead", "tbody", "tr", "th",
         "td", "a", "nav", "span", "small", "b", "blockquote", "figure", "figcaption", "img",
         "code"}


@pytest.mark.parametrize("text", HOSTILE)
def test_text_from_users_is_only_ever_text(project, text):
    saved(project, text)
    made = rendered(project, TITLES, extras(text))
    page = Tags(made["record.html"])
    assert page.tags <= KNOWN
    names = {name for name, _ in page.attributes}
    assert not any(name.startswith("on") for name in names)
    links = [value for name, value in page.attributes if name in ("href", "src")]
    assert all(link.startswith(("#", "data:image/svg+xml;base64,")) for link in links)
    shown = " ".join(" ".join(page.text).split())
    assert shown.count(" ".join(visible(text).split())) >= 8
    assert not HIDDEN.search(shown)
    words = re.sub(r"\W", "", text)
    if words.isascii() and words:
        assert words in re.sub(r"\W", "", pdf_text(made["record.pdf"]))
        assert words in re.sub(r"\W", "", pdf_text(made["setup-sheet.pdf"]))
    for name in ("numbers.csv", "vent-list.csv"):
        for row in csv.reader(io.StringIO(made[name].decode("utf-8-sig"), newline="")):
            for cell in row:
                number = re.fullmatch(r"-?[0-9.]+(e-?[0-9]+)?", cell)
                assert number or not cell.lstrip(" ").startswith(tuple("=+-@\t\r＝＋－＠"))


def test_the_page_needs_nothing_from_outside_and_runs_nothing(project):
    saved(project)
    data = rendered(project, TITLES, extras())["record.html"].decode()
    assert "default-src 'none'" in data and "<script" not in data
    assert not re.search(r"(src|href)=\"(?!#|data:)", data) and "@import" not in data
    assert "url(" not in data


def test_everything_a_reviewer_needs_is_in_both(project):
    vents = saved(project)
    made = rendered(project, TITLES, extras())
    page = " ".join(" ".join(Tags(made["record.html"]).text).split())
    paper = pdf_text(made["record.pdf"])
    for text in ["Tray plain words", "Not released", "Vents: Vent mark says stop.",
                 "Not decided: Sheet and tool material.", "Evacuation time", "0.5 s (0.4 to 0.8)",
                 "Book of plain words", "Agreed.", "Why plain words?", "Review trail",
                 "not an electronic signature", "Vents: decided, revision 1", "0.5 mm", "0.4 mm",
                 code_of(vents.sha256), code_of(fingerprint(project)), "Setup plain words"]:
        assert text in page and text in paper, text
    assert vents.sha256 in page and vents.sha256 in paper.replace(" ", "")


def test_every_page_of_the_pdf_bears_the_code(project):
    saved(project)
    made = rendered(project, TITLES, extras())
    code = code_of(fingerprint(project))
    for name in ("record.pdf", "setup-sheet.pdf"):
        pages = PdfReader(io.BytesIO(made[name])).pages
        assert all(code in page.extract_text() for page in pages) and len(pages) >= 1
    assert f'content: "Record {code}"' in made["record.html"].decode()


def test_a_sheet_shows_what_is_decided_and_leaves_the_rest_blank(project):
    saved(project)
    text = pdf_text(rendered(project, TITLES, extras())["setup-sheet.pdf"])
    assert "Evacuation time 0.5 s (0.4 to 0.8)" in text and "Heating time" in text


def test_a_release_is_shown_as_released(project):
    project.release("B. Reader", ["brief"], "First articles")
    page = " ".join(Tags(rendered(project, {"brief": "Brief"}, Extras())["record.html"]).text)
    assert "Release 1" in page and "Not released" not in page and "Open before" not in page


def test_the_csv_holds_exact_numbers_and_the_json_everything(project):
    vents = saved(project)
    made = rendered(project, TITLES, extras())
    rows = list(csv.DictReader(io.StringIO(made["numbers.csv"].decode("utf-8-sig"))))
    time = next(row for row in rows if row["key"] == "time")
    assert [float(time[key]) for key in ("low", "typical", "high")] == [0.4, 0.5, 0.8]
    assert time["unit"] == "s" and float(rows[-4]["typical"]) == 0.0005
    kept = json.loads(made["numbers.json"])["decisions"]["vents"]
    assert kept["sha256"] == vents.sha256 and kept["results"] == vents.results


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "  =1", "＝1"])
def test_no_cell_that_a_spreadsheet_would_run(text):
    """Characters that start a formula: common advice on CSV injection, from memory."""
    assert harmless(text) == f"'{text}" and harmless("plain") == "plain" and harmless(-1.5) == -1.5


def test_inches(project):
    project.change(units="inch")
    saved(project)
    page = " ".join(Tags(rendered(project, TITLES, extras())["record.html"]).text)
    assert "0.01969 in" in page and " mm" not in page


# ---------------------------------------------------------------------- the code


def test_the_code_changes_with_anything_that_is_shown(project):
    before = fingerprint(project)
    assert fingerprint(project) == before
    vents = saved(project)
    after = fingerprint(project)
    project.save("vents", vents.own_content, "C. Heir", vents.sha256)
    assert len({before, after, fingerprint(project)}) == 3


def test_the_code_leads_back_to_the_record(project, tmp_path):
    saved(project)
    logged, _ = hand_out(project, TITLES, extras(), "A. Maker")
    code = logged.content["code"]
    assert (project.folder, "as it stands now") in find(tmp_path, code)
    vents = project.latest("vents")
    project.save("vents", vents.own_content, "C. Heir", vents.sha256)
    typed = code.lower().replace("-", " ").replace("0", "o").replace("1", "l")
    ((folder, where),) = find(tmp_path, typed)
    assert folder == project.folder and where.startswith("export 1 of ")
    assert find(tmp_path, code_of(vents.sha256)) == [(project.folder, "vents, revision 1")]
    assert find(tmp_path, "00000-00000") == []


@pytest.mark.parametrize("code", ["", "short", "0000000000000", "00000-0000?", "../../etc"])
def test_what_is_no_code_is_refused(code):
    with pytest.raises(Refused, match="foot of a page"):
        cleaned(code)


# ---------------------------------------------------------------------- kept and logged


def test_what_was_handed_out_is_kept_and_checked(project):
    saved(project)
    logged, made = hand_out(project, TITLES, extras(), "A. Maker")
    folder = project.folder / "exports" / "0001"
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == made
    assert check(project.folder).findings == ()
    (folder / "record.pdf").write_bytes(b"%PDF other")
    assert "changed after it was handed out" in str(check(project.folder))
    (folder / "record.pdf").unlink()
    report = check(project.folder)
    assert report.whole and "is not kept here" in str(report)


# ---------------------------------------------------------------------- formulas


@pytest.mark.parametrize("latex", [
    r"\dot m = C_d A p_1 \sqrt{\frac{\gamma}{R T}}", r"\tfrac{1}{2}\,\rho v^2",
    r"\dfrac{a}{b} \le 3\ \mathrm{mm}", r"q = \varepsilon\sigma\left(T_h^4 - T_s^4\right)",
    r"x \geq \text{something plain}", r"\frac ac + \frac1{C^3} + \frac{1}{2}",
    r"$E(T) \cdot 10^{-3}$", r"\lvert x\rvert \ne 0"])
def test_formulas_are_drawn(latex):
    svg = drawing(latex)
    assert svg.startswith("<svg") and svg.count("<path") == 1 and len(svg) > 500


@pytest.mark.parametrize("latex", [r"\begin{cases} 1", r"\frac{1", "", r"\undefined{x}", "{"])
def test_a_formula_that_cannot_be_drawn_is_shown_as_written(latex):
    assert drawing(latex) is None
