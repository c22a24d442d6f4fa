"""A page: the controls of a step, its figures, checks, calculation, exercise and decision."""

from __future__ import annotations

import asyncio
import hashlib
import json
import threading
import time
import traceback
from collections.abc import Mapping
from contextlib import suppress
from html import escape
from importlib import import_module
from typing import Any

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.pages import render, style
from thermoforming.pages.beside import Beside
from thermoforming.pages.charts import Panel, Scene, live, refresh
from thermoforming.pages.controls import Control, control, values_of
from thermoforming.pages.exercise import exercise_box, exercises
from thermoforming.pages.session import Session
from thermoforming.record import RecordError, SomeoneSavedFirst
from thermoforming.steps import ORDER, step
from thermoforming.steps.base import Outcome
from thermoforming.steps.plain import plain, unplain
from thermoforming.steps.upstream import NotDecided

MANY = 14  # controls beyond which each heading folds
MORE = "More inputs"
SLOW = 0.04  # seconds; a page that takes longer answers the last of several moves only

PAGES = {"brief": "01-brief.ipynb", "material": "02-material.ipynb",
         "shrinkage": "03-shrinkage.ipynb", "thinning": "04-thinning.ipynb",
         "heating": "05-heating.ipynb", "vents": "06-vents.ipynb", "wall": "07-wall.ipynb",
         "tool": "08-tool.ipynb", "route": "09-route.ipynb", "trial": "10-trial.ipynb",
         "review": "11-review.ipynb"}


def open_page(key: str, folder=None) -> Page:
    """Open a page on the project chosen last (the demo at first), or on a given folder."""
    return Page(key, Session(folder))


def panels_of(key: str) -> tuple[Panel, ...]:
    """The figures of a step."""
    return import_module(f"thermoforming.pages.figures.{key}").panels()


class Page:
    """One decision on the screen."""

    def __init__(self, key: str, session: Session):
        self.step, self.session = step(key), session
        self.simulations: dict[str, Mapping[str, Any]] = {}
        self.outcome: Outcome | None = None
        self.inputs: dict[str, Any] = {}
        self._lock = threading.RLock()
        self._cost, self._waiting = 0.0, False
        self._alert, self._thread, self._key = w.HTML(), w.HTML(), w.HTML()
        self._checks, self._worked, self._tables = w.HTML(), w.HTMLMath(), w.HTML()
        self.panels = panels_of(key)
        self.charts = [live(panel) for panel in self.panels]
        self._load()
        self._beside = self._make_beside()
        self.refresh()

    # ------------------------------------------------------------------ what a notebook shows

    @property
    def header(self) -> w.Widget:
        """Style sheet, where the project stands, and what needs attention."""
        self._show_thread()
        return w.VBox([w.HTML(style.SHEET), self._thread, self._alert, self._follow_row()])

    @property
    def workspace(self) -> w.Widget:
        """Controls on the left, key results and figures beside them."""
        figures = []
        for panel, chart in zip(self.panels, self.charts, strict=True):
            caption = w.HTML(f'<div class="tf-page"><h3>{escape(panel.title)}</h3><div '
                             f'class="tf-caption">{escape(panel.caption)}</div></div>')
            box = w.VBox([caption, chart])
            box.add_class("tf-figure")
            if figures and not panel.wide:  # the first figure, the decision, is always wide
                box.add_class("tf-half")
            figures.append(box)
        inputs = w.VBox(self._grouped_controls())
        inputs.add_class("tf-inputs")
        beside = [self._beside.widget] if self._beside else []
        outputs = w.Box([*beside, self._key, *figures])
        outputs.add_class("tf-outputs")
        both = w.Box([inputs, outputs])
        both.add_class("tf-workspace")
        return both

    @property
    def checks(self) -> w.Widget:
        """Pass, caution or stop, with value, limit and source; tables; the usual cautions."""
        cautions = w.HTML(render.step_cautions(self.step.cautions))
        return w.VBox([self._checks, self._tables, cautions])

    @property
    def worked(self) -> w.Widget:
        """The calculation with this project's numbers; typeset only while it is open."""
        self._fold = w.Accordion([self._worked], titles=["The calculation with these numbers"])
        self._fold.selected_index = None
        self._fold.observe(lambda _: self._show_worked(), "selected_index")
        return self._fold

    @property
    def exercise(self) -> w.Widget:
        """Exercises with answers checked on the spot."""
        return exercise_box(exercises(self.step.key))

    @property
    def decide(self) -> w.Widget:
        """Who decides, why, what it changes, and the save button."""
        self._author = w.Text(value=self.session.author, description="Decided by",
                              layout=w.Layout(width="340px"))
        saved = self.session.project.latest(self.step.key)
        self._proposed = self._proposed_reason()
        self._reason = w.Textarea(value=saved.reason if saved else self._proposed,
                                  description="Reason",
                                  placeholder="Why is it decided so? A reviewer will read this.",
                                  rows=3, layout=w.Layout(width="min(720px, 100%)"))
        self._save = w.Button(description="Save this decision", button_style="primary",
                              layout=w.Layout(width="180px"))
        self._save.add_class("tf-save")
        look = w.Button(description="Show what changes", layout=w.Layout(width="160px"))
        self._difference, self._said = w.HTML(), w.HTML()
        self._said.add_class("tf-saved")
        self._save.on_click(lambda _: self._save_now())
        look.on_click(lambda _: self._show_changes())
        return w.VBox([self._author, self._reason, w.HBox([self._save, look]), self._difference,
                       self._said])

    def values(self) -> None:
        """Print the values in force, for paper."""
        if self.outcome is None:
            print("No result yet; see the message at the top of the page.")
        else:
            print(render.values_text(self.step, self.inputs, self.outcome, self.upstream,
                                     self.session.inches))

    # ------------------------------------------------------------------ working

    def set(self, **values) -> None:
        """Turn controls from code, in SI; the page follows."""
        for key, value in values.items():
            self.controls[key].value = value
        self.refresh()

    def run(self) -> None:
        """Do the long computation now and wait for it."""
        if self._beside is None:
            return
        self._beside.go()
        self._beside.wait()

    def refresh(self) -> None:
        """Read the controls, compute, and show."""
        began = time.perf_counter()
        with self._lock:
            try:
                inputs = self.step.checked(values_of(self.controls), self.upstream)
                simulation = self.simulations.get(self._simulation_key(inputs))
                self.upstream = self.session.upstream(self.step, simulation)
                outcome = self.step.compute(inputs, self.upstream)
            except NotDecided as missing:
                first = next((key for key in self.step.needs if not self.upstream.has(key)),
                             missing.step)
                self._alert.value = render.undecided(step(first).title, PAGES[first])
                return
            except Refused as refused:
                self._alert.value = render.message(str(refused), "stop")
                return
            except Exception:  # a page must say what happened, not fall silent or shout code
                self._alert.value = render.mishap(traceback.format_exc())
                return
            self._alert.value = self._standing_message()
            self.inputs, self.outcome = inputs, outcome
            self._show()
        self._cost = time.perf_counter() - began

    def _load(self):
        declared = self.step
        self.controls: dict[str, Control] = {}
        self._expected = None
        self.upstream = self.session.upstream(declared)
        saved = self.session.saved_inputs(declared.key)
        try:
            defaults = declared.defaults(self.upstream)
        except Refused:
            return  # no controls without their defaults; `refresh` says in words what is missing
        values = defaults | {
            key: value for key, value in (saved or {}).items()
            if key in {f.key for f in declared.fields}}
        latest = self.session.project.latest(declared.key)
        self._expected = latest.sha256 if latest else None
        for field in declared.fields:
            made = control(field, values[field.key], self.upstream, self.session.inches,
                           self.session.keep_file)
            made.changed = self._changed
            self.controls[field.key] = made
        if declared.simulate and saved is not None:
            simulation = self.session.saved_simulation(declared.key)
            if simulation is not None:
                with suppress(Refused):  # the page itself says what is refused
                    now = declared.checked(values, self.upstream)
                    self.simulations[self._simulation_key(now)] = simulation

    def _make_beside(self) -> Beside | None:
        if self.step.simulate is None:
            return None
        return Beside("Form the sheet" if self.step.key == "thinning" else "Run",
                      self._simulate, self._arrived)

    def _simulate(self, run) -> Mapping[str, Any]:
        if self.outcome is None:
            raise Refused("result", "Nothing can be run yet; see the message on top of the page.")
        self._running_key = self._simulation_key(self.inputs)
        return self.step.simulate(self.inputs, self.upstream, run)

    def _arrived(self, simulation, final: bool) -> None:
        self.simulations[self._running_key] = simulation
        self.refresh()

    def _simulation_key(self, inputs) -> str:
        stood_on = {key: decision.hash for key, decision in self.upstream.decisions.items()}
        chosen = {key: plain(inputs[key]) for key in self.step.simulated_by}
        # a record gives a whole number back as 3 where a control says 3.0: spell both alike
        chosen = {key: float(value) if type(value) is int else value
                  for key, value in chosen.items()}
        text = json.dumps([chosen, stood_on], sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()

    def _changed(self):
        """A control moved: answer at once, or, on a slow page, once for several moves."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            loop = None
        if loop is None or self._cost < SLOW:
            self.refresh()
        elif not self._waiting:
            self._waiting = True
            loop.call_later(SLOW, self._late)

    def _late(self):
        self._waiting = False
        self.refresh()

    # ------------------------------------------------------------------ showing

    def _show(self):
        scene = Scene(self.inputs, self.outcome, self.upstream, self.session.inches)
        for panel, chart in zip(self.panels, self.charts, strict=True):
            refresh(chart, panel, scene)
        self._key.value = render.key_results(self.outcome.results, scene.inches)
        self._checks.value = render.checks(self.outcome.checks, scene.inches)
        self._tables.value = "".join(render.table(t, scene.inches) for t in self.outcome.tables)
        self._show_worked()
        self._follow_reason()
        for key, made in self.controls.items():
            made.widget.layout.display = "" if made.field.applies(self.inputs) else "none"

    def _show_worked(self):
        if getattr(self, "_fold", None) is not None and self._fold.selected_index == 0:
            self._worked.value = render.worked(self.outcome.worked if self.outcome else ())

    def _show_thread(self):
        steps = {key: step(key) for key in ORDER}
        links = render.thread(self.session.states(), steps, self.step.key, PAGES)
        title = escape(self.session.project.title)
        self._thread.value = (
            f'<div class="tf-page"><b>{title}</b> <a {render.opens("00-start.ipynb")}>all projects'
            f'</a> · <a {render.opens(PAGES["review"])}>review and record</a></div>{links}')

    def _standing_message(self) -> str:
        state = self.session.project.state(self.step.key)
        if state.state in ("stale", "returned", "damaged"):
            return render.message(" ".join(state.reasons),
                                  "stop" if state.state == "damaged" else "caution")
        return ""

    def _follow_row(self) -> w.Widget:
        """Inputs that stood at what earlier decisions gave and have not followed their change."""
        moved = self.session.left_behind(self.step) if self.controls else {}
        if not moved:
            return w.HTML()
        fields = [(field, moved[field.key]) for field in self.step.fields if field.key in moved]
        lines = [(field.label, *(render.input_words(field, value, self.upstream,
                                                    self.session.inches)
                                 for value in (self.inputs.get(field.key), now)))
                 for field, now in fields]
        take = w.Button(description="Take what they say now", layout=w.Layout(width="190px"))
        row = w.VBox([w.HTML(render.left_behind(lines)), take])

        def on_take(_):
            self.set(**moved)
            row.children = (w.HTML(render.message("Taken over; look at the checks, then save.",
                                                  "pass")),)

        take.on_click(on_take)
        return row

    def _grouped_controls(self) -> list[w.Widget]:
        """Controls under their headings; on a page with many, each heading folds."""
        groups: dict[str, list[w.Widget]] = {}
        for made in self.controls.values():
            name = MORE if made.field.advanced else made.field.group
            groups.setdefault(name, []).append(made.widget)
        more = groups.pop(MORE, None)
        folds = len(self.controls) > MANY
        shown: list[w.Widget] = []
        for name, widgets in groups.items():
            if folds and name:
                shown.append(_fold(name, widgets, opened=not shown))
            else:
                heading = f'<div class="tf-page tf-group">{escape(name)}</div>'
                shown += [*([w.HTML(heading)] if name else []), *widgets]
        return shown + ([_fold(MORE, more, opened=False)] if more else [])

    # ------------------------------------------------------------------ deciding

    def _proposed_reason(self) -> str:
        """What the step proposes as the reason (its result "reason"), for the engineer to edit."""
        results = self.outcome.results if self.outcome else ()
        return next((r.value for r in results if r.key == "reason"), "")

    def _follow_reason(self):
        """Keep a proposed reason up to date for as long as nobody has edited it."""
        box = getattr(self, "_reason", None)
        if box is not None and box.value == self._proposed:
            self._proposed = box.value = self._proposed_reason()

    def differences(self) -> list[tuple[str, str, str]]:
        """Name, saved value and value now of everything that differs from the last revision."""
        saved = self.session.project.latest(self.step.key)
        before = saved.content if saved else {"inputs": {}, "results": {}}
        now = _as_words(self.step, self.inputs, self.outcome)
        then = {(part, key): entry for part in ("inputs", "results")
                for key, entry in before[part].items()}
        found = []
        for place, (label, text, data) in now.items():
            old = then.get(place)
            if old is None or old["value"] != data:
                found.append((label, _old_words(old), text))
        return found

    def _draft(self) -> str:
        """A reason that the step writes from its numbers, for the engineer to edit."""
        results = {r.key: r.value for r in self.outcome.results} if self.outcome else {}
        return results.get("reason") or ""

    def _show_changes(self):
        if self.outcome is None:
            self._difference.value = render.message("There is no result to save yet.", "stop")
            return
        stale = [step(key).title for key in self.session.would_become_stale(self.step.key)]
        after = (render.message("Saving makes stale: " + ", ".join(stale) + ".") if stale else "")
        self._difference.value = render.changes(self.differences()) + after

    def _save_now(self):
        try:
            self._save_checked()
        except SomeoneSavedFirst as first:
            self._expected = first.latest.sha256
            self._said.value = render.message(str(first) + " Press save again to keep yours.")
        except (Refused, RecordError) as problem:
            self._said.value = render.message(str(problem), "stop")

    def _save_checked(self):
        if self.outcome is None:
            raise Refused("result", "There is no result to save yet; see the message on top.")
        self.inputs = self.step.checked(values_of(self.controls), self.upstream)
        self._show_changes()
        simulation = self.simulations.get(self._simulation_key(self.inputs))
        self.session.author = self._author.value
        revision = self.session.save(self.step, self.inputs, self.outcome, self._reason.value,
                                     self._author.value, self._expected, simulation)
        self._expected = revision.sha256
        self._show_thread()
        self._alert.value = self._standing_message()
        self._said.value = render.message(
            f"Saved as revision {revision.number} (sha-256 {revision.sha256[:12]}…).", "pass")


def _fold(name: str, widgets: list[w.Widget], opened: bool) -> w.Accordion:
    fold = w.Accordion([w.VBox(widgets)], titles=[name])
    fold.selected_index = 0 if opened else None
    return fold


def _as_words(declared, inputs, outcome) -> dict:
    """Label, words and plain value of every input and result, by part and key."""
    found = {}
    for field in declared.fields:
        value = inputs[field.key]
        if isinstance(value, (list, dict)):
            text = "changed" if value else "none"
        else:
            text = render.words(value, getattr(field, "shown", "-"))
        found["inputs", field.key] = (field.label, text, plain(value))
    for result in outcome.results:
        text = render.words(result.value, result.shown, significant=result.significant)
        found["results", result.key] = (result.label, text, plain(result.value))
    return found


def _old_words(entry) -> str:
    if entry is None:
        return "–"
    value = unplain(entry["value"])
    if isinstance(value, (list, dict)):
        return "as saved" if value else "none"
    return render.words(value, entry.get("shown", "-"))
