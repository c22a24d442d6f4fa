"""What the review page says, as HTML; text from users is escaped."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence
from html import escape

from thermoforming.pages import render, style
from thermoforming.pages.page import PAGES
from thermoforming.record import Revision, Standing
from thermoforming.record.changes import Change
from thermoforming.record.export.dossier import visible
from thermoforming.record.export.fingerprint import code_of
from thermoforming.record.handover import Compared
from thermoforming.record.standing import open_stops
from thermoforming.record.verify import Verification

URGENCY = ("damaged", "stale", "returned", "current", "accepted", "missing")
VERDICT = {"same": ("pass", "same"), "moved": ("caution", "moved"), "cannot": ("stop", "cannot")}


def safe(text) -> str:
    """Text from users as it may stand in a page."""
    return escape(visible(str(text)))


def attention(states: Mapping[str, Standing], titles: Mapping[str, str]) -> str:
    """What must be looked at first: damage, stale, returned, open stops; then what waits."""
    lines = []
    for state, verdict in (("damaged", "stop"), ("stale", "caution"), ("returned", "caution")):
        lines += [_message(verdict, key, titles, f"is {state}. {' '.join(at.reasons)}")
                  for key, at in states.items() if at.state == state]
    for key, at in states.items():
        override = at.review.override if at.review else {}
        lines += [_message("stop", key, titles, f"has an open stop: {stop}.")
                  for stop in (open_stops(at.revision, override) if at.revision else [])]
    for state, words in (("current", "To review"), ("missing", "Still to decide")):
        if found := [titles[key] for key, at in states.items() if at.state == state]:
            lines.append(f'<div class="tf-note">{words}: {escape(", ".join(found))}.</div>')
    if not lines:
        lines.append(render.message("Every decision is current, accepted and free of open stops.",
                                    "pass"))
    return f'<div class="tf-page">{"".join(lines)}</div>'


def _message(verdict: str, key: str, titles: Mapping[str, str], text: str) -> str:
    link = f"<a {render.opens(PAGES[key])}><b>{escape(titles[key])}</b></a>"
    return f'<div class="tf-message tf-{verdict}">{link} {safe(text)}</div>'


def reading(at: Standing, against: Revision | None, inches: bool) -> str:
    """Who decided what and why, its state, and its checks that are no pass."""
    revision = at.revision
    when = revision.content["saved_utc"][:16].replace("T", " ")
    base = (f"Compared with revision {against.number} by {safe(against.author)}."
            if against else "Nothing to compare with yet.")
    colour = render.STATE_COLOUR[at.state]
    state = f'<b style="border-left:5px solid {colour};padding-left:6px">' \
            f"{render.STATE_WORD[at.state]}</b>"
    reasons = f' <span class="tf-note">{safe(" ".join(at.reasons))}</span>' if at.reasons else ""
    return (f'<div class="tf-page">{state}{reasons}<div>Revision {revision.number}, decided by '
            f"<b>{safe(revision.author)}</b>, {when} UTC · <code>{code_of(revision.sha256)}</code>"
            f'</div><blockquote style="margin:6px 0;white-space:pre-line">{safe(revision.reason)}'
            f"</blockquote>{_failing(revision, inches)}<div class='tf-note'>{base}</div></div>")


def _failing(revision: Revision, inches: bool) -> str:
    found = [check for check in revision.checks if check["verdict"] != "pass"]
    passed = len(revision.checks) - len(found)
    rows = "".join(
        f'<tr><td class="tf-verdict tf-{check["verdict"]}">'
        f'{style.VERDICT_SIGN[check["verdict"]]} {check["verdict"]}</td><td><b>'
        f"{safe(check.get('title', ''))}</b><br>{safe(check.get('message', ''))} "
        f"<span class='tf-note'>{safe(check.get('advice', ''))}</span></td></tr>"
        for check in sorted(found, key=lambda c: c["verdict"] != "stop"))
    table = f'<table class="tf-table">{rows}</table>' if rows else ""
    words = f"{passed} check{'s' * (passed != 1)} passed." if revision.checks else "No checks."
    return f"{table}<div class='tf-note'>{words}</div>"


def changed(found: Sequence[Change], inches: bool, most: int = 120) -> str:
    """What changed, number by number."""
    if not found:
        return '<div class="tf-page tf-note">No value differs.</div>'
    rows, part = [], None
    for change in found[:most]:
        if change.part != part:
            part = change.part
            rows.append(f'<tr><th colspan="4" style="padding-top:8px">{part}</th></tr>')
        band = {None: "", True: "inside its band", False: "<b>outside its band</b>"}
        rows.append(f"<tr><td>{safe(change.label)}</td><td>{safe(change.was(inches))}</td>"
                    f"<td>→ {safe(change.now(inches))}</td><td class='tf-note'>"
                    f"{safe(change.by(inches))} {band[change.within_band]}</td></tr>")
    rest = (f'<p class="tf-note">… and {len(found) - most} more</p>' if len(found) > most else "")
    return (f'<div class="tf-page tf-scroll"><table class="tf-table"><tr><th>Quantity</th>'
            f"<th>Before</th><th>Now</th><th>Change</th></tr>{''.join(rows)}</table>{rest}</div>")


def compared(found: Iterable[Compared], titles: Mapping[str, str], inches: bool) -> str:
    """Two stands side by side, decision by decision."""
    pieces = []
    for one in found:
        title = escape(titles.get(one.step, one.step))
        if one.old is None or one.new is None:
            side = "second" if one.old is None else "first"
            pieces.append(f'<div class="tf-page"><h3>{title}</h3><span class="tf-note">Only in '
                          f"the {side}.</span></div>")
        elif one.changes:
            pieces.append(f'<div class="tf-page"><h3>{title}</h3></div>'
                          f"{changed(one.changes, inches)}")
    same = [escape(titles.get(one.step, one.step)) for one in found
            if one.old and one.new and not one.changes]
    if same:
        pieces.append(f'<div class="tf-page tf-note">The same in both: {", ".join(same)}.</div>')
    return "".join(pieces)


def verified(found: Verification, titles: Mapping[str, str], inches: bool) -> str:
    """The report of a verification."""
    head, *notes = str(found.check).splitlines()
    rows = []
    for one in found.decisions:
        mark, word = VERDICT[one.verdict]
        line, *moved = one.lines(inches)
        rows.append(f'<tr><td class="tf-verdict tf-{mark}">{word}</td><td><b>'
                    f"{escape(titles.get(one.step, one.step))}</b></td><td>"
                    f"{safe(line.partition(': ')[2])}{_folded(moved)}</td></tr>")
    listed = "".join(f"<li>{safe(note.removeprefix('- '))}</li>" for note in notes)
    return (render.message(head, "pass" if found.check.whole else "stop")
            + f'<div class="tf-page"><ul>{listed}</ul><table class="tf-table">{"".join(rows)}'
            "</table></div>")


def _folded(lines: Sequence[str], most: int = 6) -> str:
    """Lines of which only the first few are shown at first."""
    shown = "".join(f"<br>{safe(line.strip())}" for line in lines[:most])
    if len(lines) <= most:
        return shown
    rest = "<br>".join(safe(line.strip()) for line in lines[most:])
    return f"{shown}<details><summary>{len(lines) - most} more</summary>{rest}</details>"


def blockers(sentences: Sequence[str]) -> str:
    """What keeps the project from being released."""
    if not sentences:
        return render.message("Nothing keeps this project from being released.", "pass")
    items = "".join(f"<li>{safe(text)}</li>" for text in sentences)
    return f'<div class="tf-page"><b>Not yet:</b><ul style="margin:2px 0">{items}</ul></div>'


def trail(events: Iterable[Mapping]) -> str:
    """Who did what, in the order of the clock."""
    rows = "".join(f"<tr><td style='white-space:nowrap'>{event['when']}</td><td>"
                   f"{safe(event['who'])}</td><td>{safe(event['what'])}<div class='tf-note'>"
                   f"{safe(event['said'])}</div></td></tr>" for event in events)
    return (f'<div class="tf-page tf-scroll"><table class="tf-table"><tr><th>When</th><th>Who</th>'
            f"<th>What</th></tr>{rows}</table></div>")


def download(name: str, data: bytes) -> str:
    """A link that saves a file from the page itself."""
    kind = {"html": "text/html", "pdf": "application/pdf", "csv": "text/csv", "zip":
            "application/zip"}.get(name.rpartition(".")[2], "application/json")
    size = f"{len(data) / 1e6:.1f} MB" if len(data) > 1e5 else f"{len(data) / 1e3:.0f} kB"
    return (f'<a download="{escape(name)}" href="data:{kind};base64,'
            f'{b64encode(data).decode()}">{escape(name)}</a> <span class="tf-note">{size}</span>')


def pictures(title: str, svgs: Sequence[tuple[str, str]]) -> str:
    """Drawings under a heading."""
    shown = "".join(
        f'<figure style="margin:4px 0 12px"><img style="max-width:100%;background:#fff" alt="'
        f'{escape(caption)}" src="data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}">'
        f'<figcaption class="tf-note">{escape(caption)}</figcaption></figure>'
        for caption, svg in svgs)
    return f'<div class="tf-page"><h3>{escape(title)}</h3>{shown}</div>'
