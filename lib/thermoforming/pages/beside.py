"""Long computations beside the page: progress, cancel, a coarse result first."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping
from html import escape
from typing import Any

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.steps.base import Cancelled


class Beside:
    """A start button, a progress bar and a cancel button around one worker thread.

    `work(run)` returns the finished simulation; `arrived(simulation, final)` is called with the
    coarse and with the final one. Only widget values are set from the thread, nothing is printed.
    """

    def __init__(self, title: str, work: Callable[[Any], Mapping[str, Any]],
                 arrived: Callable[[Mapping[str, Any], bool], None]):
        self.work, self.arrived = work, arrived
        self.start = w.Button(description=title, button_style="primary",
                              layout=w.Layout(width="auto"))
        self.cancel = w.Button(description="Cancel", disabled=True, layout=w.Layout(width="80px"))
        self.bar = w.FloatProgress(min=0.0, max=1.0, layout=w.Layout(flex="1 1 120px"))
        self.text = w.HTML()
        self.start.on_click(lambda _: self.go())
        self.cancel.on_click(lambda _: self._stop.set())
        self.widget = w.VBox([w.HBox([self.start, self.cancel, self.bar]), self.text])
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def running(self) -> bool:
        return self._thread is not None and self._thread.is_alive()

    def go(self) -> None:
        """Start, unless it runs already."""
        if self.running:
            return
        self._stop.clear()
        self._began = time.monotonic()
        self.start.disabled, self.cancel.disabled = True, False
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def wait(self) -> None:
        """Wait until it has ended (for scripts and tests)."""
        if self._thread is not None:
            self._thread.join()

    def say(self, text: str) -> None:
        self.text.value = f'<div class="tf-page tf-note">{escape(text)}</div>'

    # ------------------------------------------------ what the worker calls (`steps.base.Run`)

    def report(self, fraction: float, text: str = "") -> bool:
        self.bar.value = min(max(fraction, 0.0), 1.0)
        passed = time.monotonic() - self._began
        left = (f", about {max(1, round(passed * (1 - fraction) / fraction))} s left"
                if fraction > 0.05 and passed > 1 else "")
        self.say(f"{text or 'running'} ({fraction:.0%}, {passed:.0f} s{left})")
        return self._stop.is_set()

    def preview(self, simulation: Mapping[str, Any]) -> None:
        self.arrived(simulation, False)

    def _run(self) -> None:
        try:
            simulation = self.work(self)
        except Cancelled:
            self.say("Cancelled; nothing of what is saved has changed.")
        except Refused as refused:
            self.say(str(refused))
        except Exception as problem:  # a thread must not die silently
            self.say(f"The run failed: {problem!r}. Change an input or try again; what is saved "
                     f"is untouched.")
        else:
            self.bar.value = 1.0
            self.say(f"Done in {time.monotonic() - self._began:.1f} s.")
            self.arrived(simulation, True)
        finally:
            self.start.disabled, self.cancel.disabled = False, True
