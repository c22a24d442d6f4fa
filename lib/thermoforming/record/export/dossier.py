"""The whole project as plain text in plain data: what the document shows, and nothing else."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime

from thermoforming.record.chain import now
from thermoforming.record.changes import words
from thermoforming.record.export.fingerprint import code_of, fingerprint
from thermoforming.record.export.formula import drawing
from thermoforming.record.export.forms import filled, grid
from thermoforming.record.kinds import Release, Revision
from thermoforming.record.standing import Standing, open_stops
from thermoforming.record.store import Project

STATE_WORDS = {"missing": "not decided", "damaged": "damaged", "stale": "stale",
               "returned": "returned", "current": "not reviewed", "accepted": "accepted"}
HIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufeff]")
NOT_A_SIGNATURE = ("This is a record of who typed which name and when, by the clock of the "
                   "computer used. It is not an electronic signature in the legal sense.")


def dossier(project: Project, titles: Mapping[str, str], extras) -> dict:
    """Everything the document shows.

    Parameters
    ----------
    project : Project
    titles : mapping of str to str
        Title of each step, in the order of the thread.
    extras : Extras
        What the record cannot know: figures, cautions, full citations, forms.
    """
    states = project.states(titles)
    decided = {step: at.revision for step, at in states.items() if at.revision}
    inches = project.settings["units"] == "inch"
    sha256 = fingerprint(project)
    release = _current_release(project, states)
    sections = [_section(project, i, step, titles[step], states[step], extras, inches)
                for i, step in enumerate(titles, start=1) if states[step].revision]
    return visible({
        "title": project.title, "project": project.id, "author": project.author,
        "created": _day(project.created_utc), "made": _time(now().isoformat()),
        "code": code_of(sha256), "fingerprint": sha256, "release": _release(release),
        "open": _open(states, titles, release), "note": NOT_A_SIGNATURE,
        "summary": [_summary(i, step, titles[step], at)
                    for i, (step, at) in enumerate(states.items(), start=1)],
        "sections": sections, "sources": _sources(sections, extras.sources),
        "trail": trail(project, titles), "hashes": _hashes(project, titles, decided),
        "forms": [filled(form, decided, inches) for form in extras.forms],
        "disclaimers": list(extras.disclaimers),
    })


def visible(value):
    """Plain data without characters that print nothing, or turn the reading direction around."""
    if isinstance(value, dict):
        return {key: item if key == "svg" else visible(item) for key, item in value.items()}
    if isinstance(value, list):
        return [visible(item) for item in value]
    return HIDDEN.sub("\ufffd", value) if isinstance(value, str) else value


def _current_release(project: Project, states: Mapping[str, Standing]) -> Release | None:
    """The last release, if the decisions are still those it holds."""
    releases = project.releases()
    stand = {step: at.revision.sha256 for step, at in states.items() if at.revision}
    held = {step: entry["sha256"] for step, entry in releases[-1].decisions.items()} \
        if releases else None
    return releases[-1] if held == stand else None


def _release(release: Release | None) -> dict | None:
    return release and {"number": release.number, "author": release.author,
                        "when": _time(release.content["saved_utc"]),
                        "comment": release.content["comment"], "sha256": release.sha256}


def _open(states, titles, release) -> list[str]:
    """What a reader must know first: stale, returned, damaged, stops."""
    if release is not None:
        return []
    lines = []
    for step, at in states.items():
        if at.state in ("damaged", "stale", "returned"):
            lines.append(f"{titles[step]} is {at.state}. {' '.join(at.reasons)}")
    for step, at in states.items():
        override = at.review.override if at.review else {}
        for title in open_stops(at.revision, override) if at.revision else []:
            lines.append(f"{titles[step]}: {title} says stop.")
    for word, state in (("not decided", "missing"), ("not reviewed", "current")):
        if found := [titles[step] for step, at in states.items() if at.state == state]:
            lines.append(f"{word.capitalize()}: {', '.join(found)}.")
    return lines


def _summary(number: int, step: str, title: str, at: Standing) -> dict:
    revision, review = at.revision, at.review
    verdicts = [check["verdict"] for check in revision.checks] if revision else []
    return {"number": number, "key": step, "title": title, "state": STATE_WORDS[at.state],
            "revision": str(revision.number) if revision else "–",
            "author": revision.author if revision else "", "reviewer": review.author
            if review else "", "when": _day(revision.content["saved_utc"]) if revision else "",
            "stops": verdicts.count("stop"), "cautions": verdicts.count("caution"),
            "code": code_of(revision.sha256) if revision else ""}


def _section(project, number, step, title, at: Standing, extras, inches) -> dict:
    revision: Revision = at.revision
    override = at.review.override if at.review else {}
    content = revision.content
    return {
        "number": number, "key": step, "title": title, "state": STATE_WORDS[at.state],
        "reasons": list(at.reasons), "revision": revision.number, "author": revision.author,
        "when": _time(content["saved_utc"]), "reason": revision.reason,
        "code": code_of(revision.sha256), "sha256": revision.sha256,
        "inputs": _lines(content.get("inputs", {}), inches),
        "input_tables": _input_tables(content.get("inputs", {}), inches),
        "results": _lines(content.get("results", {}), inches),
        "checks": [_check(check, override, inches) for check in _worst_first(revision.checks)],
        "tables": [grid(table, inches) for table in content.get("tables", {}).values()],
        "figures": [{"caption": figure.caption, "svg": figure.svg}
                    for figure in extras.figures.get(step, ())],
        "worked": [_worked(line) for line in content.get("worked", [])],
        "cautions": list(extras.cautions.get(step, ())),
        "stands_on": _stands_on(project, revision),
        "versions": ", ".join(f"{k} {v}" for k, v in sorted(revision.versions.items())),
        "reviews": [_review(review) for review in project.reviews(step)
                    if review.revision == revision.sha256],
    }


def _lines(entries: Mapping, inches: bool) -> list[dict]:
    lines = []
    for key, entry in entries.items():
        entry = entry if isinstance(entry, Mapping) else {"value": entry}
        if not entry.get("columns"):
            text = words(entry.get("text", entry.get("value")), entry.get("shown", "-"), inches)
            lines.append({"label": entry.get("label", key), "value": text})
    return lines


def _input_tables(entries: Mapping, inches: bool) -> list[dict]:
    return [grid({"title": entry["label"], "columns": entry["columns"], "rows": entry["value"]},
                 inches) for entry in entries.values()
            if isinstance(entry, Mapping) and entry.get("columns") and entry.get("value")]


def _worst_first(checks: Sequence[Mapping]) -> list[Mapping]:
    order = {"stop": 0, "caution": 1, "pass": 2}
    return sorted(checks, key=lambda check: order.get(check["verdict"], 3))


def _check(check: Mapping, override: Mapping, inches: bool) -> dict:
    shown = check.get("shown", "-")
    return {"verdict": check["verdict"], "title": check.get("title", ""),
            "message": check.get("message", ""), "source": check.get("source", ""),
            "value": words(check.get("value"), shown, inches),
            "limit": words(check.get("limit"), shown, inches),
            "advice": check.get("advice", "") if check["verdict"] != "pass" else "",
            "override": override.get(check.get("title", ""), "")}


def _worked(line: Mapping) -> dict:
    return {"title": line.get("title", ""), "result": line.get("result", ""),
            "source": line.get("source", ""),
            **{part: {"latex": line.get(part, ""), "svg": drawing(line.get(part, ""))}
               for part in ("formula", "numbers")}}


def _stands_on(project: Project, revision: Revision) -> list[str]:
    lines = []
    for step, sha256 in revision.upstream.items():
        if sha256:
            number = next((r.number for r in project.revisions(step) if r.sha256 == sha256), "?")
            lines.append(f"{step}, revision {number} ({code_of(sha256)})")
    lines += [f"file {name} (SHA-256 {sha256[:16]}…)" for name, sha256 in revision.files.items()]
    return lines


def _review(review) -> dict:
    return {"author": review.author, "when": _time(review.content["saved_utc"]),
            "verdict": review.verdict, "comment": review.comment,
            "override": [{"title": title, "reason": reason}
                         for title, reason in review.override.items()]}


def _sources(sections: list[dict], citations: Mapping[str, str]) -> list[str]:
    """Every source named by a check or a worked line, in order of first mention."""
    named = [entry["source"] for section in sections
             for entry in [*section["worked"], *section["checks"]] if entry["source"]]
    return [citations.get(name, name) for name in dict.fromkeys(named)]


def trail(project: Project, titles: Mapping[str, str]) -> list[dict]:
    """Who did what, in the order of the clock."""
    events = []
    for step, title in titles.items():
        numbers = {}
        for revision in project.revisions(step):
            numbers[revision.sha256] = revision.number
            events.append((revision, f"{title}: decided, revision {revision.number}",
                           revision.reason))
        for review in project.reviews(step):
            what = f"{title}: {review.verdict} revision {numbers.get(review.revision, '?')}"
            said = [review.comment, *(f"Over the stop “{t}”: {r}"
                                      for t, r in review.override.items())]
            events.append((review, what, " ".join(filter(None, said))))
    events += [(trial, f"Trial {trial.number} logged", "") for trial in project.trials()]
    events += [(release, f"Release {release.number}", release.content["comment"])
               for release in project.releases()]
    events.sort(key=lambda event: event[0].content["saved_utc"])
    return [{"when": _time(record.content["saved_utc"]), "who": record.author, "what": what,
             "said": said} for record, what, said in events]


def _hashes(project: Project, titles, decided: Mapping[str, Revision]) -> list[dict]:
    found = [{"what": f"{titles[step]}, revision {revision.number}", "sha256": revision.sha256}
             for step, revision in decided.items()]
    files = {sha256: name for revision in decided.values()
             for name, sha256 in revision.files.items()}
    found += [{"what": f"Input file {name}", "sha256": sha256} for sha256, name in files.items()]
    found += [{"what": f"Release {release.number}", "sha256": release.sha256}
              for release in project.releases()]
    return found


def _time(text: str) -> str:
    return f"{datetime.fromisoformat(text):%Y-%m-%d %H:%M} UTC"


def _day(text: str) -> str:
    return f"{datetime.fromisoformat(text):%Y-%m-%d}"
