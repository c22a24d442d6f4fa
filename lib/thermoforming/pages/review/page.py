"""The review page as a notebook shows it."""

from __future__ import annotations

from html import escape

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.pages import render, style
from thermoforming.pages.documents import titles
from thermoforming.pages.exercise import exercise_box, exercises
from thermoforming.pages.page import PAGES
from thermoforming.pages.review import words
from thermoforming.pages.review.handing import Comparing, Documents, HandingOn, Verifying
from thermoforming.pages.review.judge import Judge
from thermoforming.pages.session import Session
from thermoforming.record import RecordError
from thermoforming.record.export.dossier import trail
from thermoforming.steps import ORDER, step


def open_review(folder=None) -> Review:
    """Open the review page on the project chosen last, or on a given folder."""
    return Review(Session(folder))


class Review:
    """A second person reads, judges and releases; the record is checked and handed over."""

    def __init__(self, session: Session):
        self.session = session
        self._thread, self._attention, self._trail = w.HTML(), w.HTML(), w.HTML()
        self._blockers, self._released = w.HTML(), w.HTML()
        self._release_button = w.Button(description="Release", button_style="primary",
                                        layout=w.Layout(width="120px"))
        self.judge = Judge(session, self.refresh)
        self.refresh()

    # ------------------------------------------------------------------ what a notebook shows

    @property
    def header(self) -> w.Widget:
        """Style sheet, where the project stands, and what needs attention first."""
        return w.VBox([w.HTML(style.SHEET), self._thread, self._attention])

    @property
    def reading(self) -> w.Widget:
        """One decision at a time: what changed, its checks, and the verdict."""
        return self.judge.widget

    @property
    def release(self) -> w.Widget:
        """What keeps the project from being released, and the button."""
        self._name = w.Text(description="Released by", layout=w.Layout(width="340px"))
        self._comment = w.Text(description="Comment", placeholder="for what: first articles, …",
                               layout=w.Layout(width="min(560px, 100%)"))
        self._release_button.on_click(lambda _: self._release_now())
        return w.VBox([self._blockers, w.HBox([self._name, self._release_button]), self._comment,
                       self._released])

    @property
    def verify(self) -> w.Widget:
        """Every hash checked and every decision recomputed."""
        return Verifying(self.session).widget

    @property
    def compare(self) -> w.Widget:
        """Two releases or two projects, number by number."""
        return Comparing(self.session).widget

    @property
    def documents(self) -> w.Widget:
        """The document, the sheets and the numbers."""
        return Documents(self.session, self.refresh).widget

    @property
    def hand_on(self) -> w.Widget:
        """The project as a zip, a zip as a project, and a new project from this one."""
        return HandingOn(self.session).widget

    @property
    def trail(self) -> w.Widget:
        """Who did what, when."""
        return self._trail

    @property
    def exercise(self) -> w.Widget:
        """Exercises with answers checked on the spot."""
        return exercise_box(exercises("review"))

    def values(self) -> None:
        """Print where each decision stands and what keeps the project from being released."""
        for key, at in self.session.states().items():
            number = f"revision {at.revision.number}" if at.revision else ""
            print(f"{step(key).title}: {render.STATE_WORD[at.state]} {number}".rstrip())
        for sentence in self.session.project.blockers(ORDER):
            print(sentence)

    # ------------------------------------------------------------------ working

    def refresh(self) -> None:
        """Show what the files say now."""
        states, steps = self.session.states(), {key: step(key) for key in ORDER}
        links = render.thread(states, steps, "", PAGES)
        self._thread.value = (f'<div class="tf-page"><b>{words.safe(self.session.project.title)}'
                              f'</b> <a {render.opens("00-start.ipynb")}>all projects</a></div>'
                              f"{links}")
        self._attention.value = words.attention(states, titles())
        found = self.session.project.blockers(ORDER)
        self._blockers.value = words.blockers(found)
        self._release_button.disabled = bool(found)
        self._show_releases()
        self._show_trail()

    def _show_releases(self):
        try:
            made = self.session.project.releases()
        except RecordError as problem:
            self._released.value = render.message(str(problem), "stop")
            return
        items = "".join(f"<li>Release {one.number} by {words.safe(one.author)}, "
                        f"{escape(one.content['saved_utc'][:10])} "
                        f"<span class='tf-note'>{words.safe(one.content['comment'])}</span></li>"
                        for one in made)
        self._released.value = f'<div class="tf-page"><ul>{items}</ul></div>' if items else ""

    def _show_trail(self):
        try:
            self._trail.value = words.trail(trail(self.session.project, titles()))
        except RecordError as problem:
            self._trail.value = render.message(str(problem), "stop")

    def _release_now(self):
        try:
            self.session.project.release(self._name.value, ORDER, self._comment.value)
        except (Refused, RecordError) as problem:
            self._blockers.value = render.message(str(problem), "stop")
            return
        self.refresh()
