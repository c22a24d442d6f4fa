"""Reading one decision and judging it."""

from __future__ import annotations

import threading
from collections.abc import Callable

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.pages import render
from thermoforming.pages.charts import Chart
from thermoforming.pages.documents import titles
from thermoforming.pages.figures import review as picture
from thermoforming.pages.review import words
from thermoforming.pages.saved import drawings
from thermoforming.pages.session import Session
from thermoforming.record import RecordError, Revision
from thermoforming.record.changes import changes
from thermoforming.record.handover import last_accepted
from thermoforming.record.standing import open_stops

WIDE = w.Layout(width="min(720px, 100%)")


class Judge:
    """Choose a decision, see what changed since it was last accepted, accept or return it."""

    def __init__(self, session: Session, judged: Callable[[], None]):
        self.session, self._judged = session, judged
        self.reviewer = w.Text(description="Reviewer", placeholder="another name than the author's",
                               layout=w.Layout(width="340px"))
        self.comment = w.Textarea(description="Comment", rows=2, layout=WIDE,
                                  placeholder="What is agreed, or what is to be changed")
        self.decision = w.Dropdown(description="Decision", layout=w.Layout(width="360px"))
        self.against = w.Dropdown(description="Against", layout=w.Layout(width="420px"))
        self._reading, self._changes, self._pictures = w.HTML(), w.HTML(), w.HBox()
        self._said, self._overrides = w.HTML(), w.VBox()
        self._chart = Chart(picture.make())
        self._picture = w.VBox([self._chart])
        self.overrides: dict[str, w.Text] = {}
        self._fill()
        self.decision.observe(lambda _: self._choose(), "value")
        self.against.observe(lambda _: self._show(), "value")
        self._choose()

    @property
    def widget(self) -> w.Widget:
        """Everything needed for one verdict, from top to bottom."""
        figures = w.Button(description="Show the figures, before and now",
                           layout=w.Layout(width="260px"))
        figures.on_click(lambda _: threading.Thread(target=self.show_pictures, daemon=True).start())
        accept = w.Button(description="Accept", button_style="success",
                          layout=w.Layout(width="110px"))
        back = w.Button(description="Return", button_style="warning",
                        layout=w.Layout(width="110px"))
        accept.add_class("tf-accept")
        back.add_class("tf-return")
        self._said.add_class("tf-judged")
        accept.on_click(lambda _: self.judge("accepted"))
        back.on_click(lambda _: self.judge("returned"))
        return w.VBox([w.HBox([self.decision, self.against]), self._reading, self._changes,
                       self._picture, figures, self._pictures, self.reviewer, self.comment,
                       self._overrides, w.HBox([accept, back]), self._said])

    # ------------------------------------------------------------------ choosing

    def _fill(self):
        """Decisions that can be read, the most urgent first."""
        named = titles()
        states = {key: at for key, at in self.session.states().items() if at.revision}
        order = sorted(states, key=lambda key: words.URGENCY.index(states[key].state))
        chosen = self.decision.value
        self.decision.options = [(f"{named[key]} – {render.STATE_WORD[states[key].state]}", key)
                                 for key in order]
        waiting = [key for key in order if states[key].state == "current"]
        self.decision.value = chosen if chosen in order else next(iter(waiting + order), None)

    def _choose(self):
        """Offer the revisions to compare with: the one accepted last, else the one before."""
        key = self.decision.value
        if key is None:
            self._reading.value = render.message("No decision has been saved yet.")
            return
        project = self.session.project
        try:
            latest, older = project.latest(key), project.revisions(key)[:-1]
            accepted = last_accepted(project, key)
        except RecordError as problem:
            self._reading.value = render.message(str(problem), "stop")
            return
        options = [("nothing", "")]
        if accepted and accepted.sha256 != latest.sha256:
            options.insert(0, (f"revision {accepted.number}, accepted last", accepted.sha256))
        options[-1:-1] = [(f"revision {r.number} by {r.author}", r.sha256)
                          for r in reversed(older) if r != accepted]
        self.against.options = options
        self.against.value = options[0][1]
        self._pictures.children = ()
        self._show()

    def _base(self) -> Revision | None:
        sha256 = self.against.value
        return self.session.project.revision(self.decision.value, sha256) if sha256 else None

    # ------------------------------------------------------------------ showing

    def _show(self):
        at = self.session.project.state(self.decision.value)
        if at.revision is None:
            self._reading.value = render.message(" ".join(at.reasons), "stop")
            return
        base, inches = self._base(), self.session.inches
        found = changes(base.content, at.revision.content) if base else []
        self._reading.value = words.reading(at, base, inches)
        self._changes.value = words.changed(found, inches) if base else ""
        with self._chart.batch_update():
            picture.update(self._chart, found)
        self._picture.layout.display = "" if picture.pictured(found) else "none"
        self._ask_overrides(at)

    def _ask_overrides(self, at):
        given = at.review.override if at.review else {}
        self.overrides = {
            title: w.Text(value=given.get(title, ""), placeholder="why it may be overridden",
                          layout=WIDE) for title in dict.fromkeys(open_stops(at.revision, {}))}
        self._overrides.children = tuple(
            w.VBox([w.HTML(f'<div class="tf-page">To accept over the stop “{words.safe(title)}”, '
                           "write why:</div>"), box])
            for title, box in self.overrides.items())

    def show_pictures(self) -> None:
        """Draw every figure of the decision, and of the one it is compared with."""
        self._pictures.children = (w.HTML('<span class="tf-page tf-note">being drawn …</span>'),)
        try:
            now = drawings(self.session, self.session.project.latest(self.decision.value))
            base = self._base()
            before = drawings(self.session, base) if base else ()
        except (RecordError, ValueError, KeyError) as problem:
            text = f"These figures cannot be drawn with today's library: {problem}"
            self._pictures.children = (w.HTML(render.message(text)),)
            return
        columns = [("Before", before)] * bool(before) + [("Now", now)]
        self._pictures.children = tuple(
            w.HTML(words.pictures(name, [(f.caption, f.svg) for f in figures]),
                   layout=w.Layout(width=f"{100 // len(columns)}%"))
            for name, figures in columns)

    # ------------------------------------------------------------------ judging

    def judge(self, verdict: str) -> None:
        """Save the verdict that is typed."""
        key, revision = self.decision.value, self.session.project.latest(self.decision.value)
        given = {title: box.value for title, box in self.overrides.items() if box.value.strip()}
        try:
            review = self.session.project.review(
                key, revision.sha256, self.reviewer.value, verdict, self.comment.value,
                given if verdict == "accepted" else {})
        except (Refused, RecordError) as problem:
            self._said.value = render.message(str(problem), "stop")
            return
        self.comment.value = ""
        self._judged()
        self._fill()
        self._show()
        self._said.value = render.message(
            f"{titles()[key]}, revision {revision.number}: {review.verdict} by {review.author}.",
            "pass")
