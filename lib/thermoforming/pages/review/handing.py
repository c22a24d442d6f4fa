"""Verifying, comparing, making documents, handing the project on."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.pages import render
from thermoforming.pages.documents import extras, titles
from thermoforming.pages.review import words
from thermoforming.pages.session import Session, recompute
from thermoforming.pages.start import folder_name, project_folders
from thermoforming.record import Project, RecordError, Revision
from thermoforming.record.export import hand_out
from thermoforming.record.handover import compare, latest_of, released_in, start_from
from thermoforming.record.pack import from_zip, to_zip
from thermoforming.record.verify import Verification, verify
from thermoforming.steps import ORDER

WIDE = w.Layout(width="min(560px, 100%)")


def _button(text: str, width: str, **more) -> w.Button:
    return w.Button(description=text, layout=w.Layout(width=width), **more)


class Verifying:
    """Check every hash and recompute every decision, beside the page."""

    def __init__(self, session: Session):
        self.session = session
        self._go = _button("Verify everything", "180px", button_style="primary")
        self._go.add_class("tf-verify")
        self._said = w.HTML(value='<span class="tf-page tf-note">Simulations are run again too; '
                                  "that can take a minute.</span>")
        self._report = w.HTML()
        self._report.add_class("tf-verified")
        self._go.on_click(lambda _: threading.Thread(target=self.run, daemon=True).start())

    @property
    def widget(self) -> w.Widget:
        return w.VBox([w.HBox([self._go, self._said]), self._report])

    def run(self) -> Verification:
        """Verify now."""
        self._go.disabled, named = True, titles()
        try:
            found = verify(self.session.project.folder, recompute, ORDER, self._progress)
            self._report.value = words.verified(found, named, self.session.inches)
            return found
        finally:
            self._go.disabled, self._said.value = False, ""

    def _progress(self, key: str) -> None:
        self._said.value = (f'<span class="tf-page tf-note">recomputing '
                            f"{titles().get(key, key)} …</span>")


class Comparing:
    """Two stands: this project now, one of its releases, another project."""

    def __init__(self, session: Session):
        self.session = session
        stands = self._stands()
        self.first = w.Dropdown(options=stands, index=min(1, len(stands) - 1),
                                description="First", layout=WIDE)
        self.second = w.Dropdown(options=stands, index=0, description="Second", layout=WIDE)
        self._found = w.HTML()

    @property
    def widget(self) -> w.Widget:
        go = _button("Compare", "110px")
        go.on_click(lambda _: self.run())
        return w.VBox([self.first, self.second, go, self._found])

    def run(self) -> None:
        """Compare what is chosen."""
        try:
            found = compare(self.first.value(), self.second.value())
        except RecordError as problem:
            self._found.value = render.message(str(problem), "stop")
            return
        self._found.value = words.compared(found, titles(), self.session.inches)

    def _stands(self) -> list[tuple[str, Callable[[], dict[str, Revision]]]]:
        project = self.session.project
        stands = [("this project as it stands now", lambda: latest_of(project))]
        stands += [(f"this project, release {release.number}",
                    lambda r=release: released_in(project, r)) for release in _releases(project)]
        for folder in project_folders():
            if folder.resolve() != project.folder.resolve():
                stands.append((f"the project in {folder.parent.name}/{folder.name}",
                               lambda f=folder: latest_of(Project.open(f))))
        return stands


class Documents:
    """Make the documents, keep them in the project, and offer them for saving elsewhere."""

    def __init__(self, session: Session, made: Callable[[], None]):
        self.session, self._made = session, made
        self.author = w.Text(description="Made by", value=session.author,
                             layout=w.Layout(width="340px"))
        self._links = w.HTML()
        self._links.add_class("tf-documents")

    @property
    def widget(self) -> w.Widget:
        go = _button("Make the documents", "180px", button_style="primary")
        go.add_class("tf-make")
        go.on_click(lambda _: threading.Thread(target=self.run, daemon=True).start())
        return w.VBox([w.HBox([self.author, go]), self._links])

    def run(self) -> None:
        """Make them now."""
        self._links.value = ('<span class="tf-page tf-note">being made; the figures are drawn '
                             "anew …</span>")
        try:
            logged, files = hand_out(self.session.project, titles(), extras(self.session),
                                     self.author.value)
        except (Refused, RecordError) as problem:
            self._links.value = render.message(str(problem), "stop")
            return
        items = "".join(f"<li>{words.download(name, data)}</li>" for name, data in files.items())
        self._links.value = (
            f'<div class="tf-page">Code on every page: <b><code>{logged.content["code"]}</code>'
            f"</b>. Kept in {words.safe(logged.path.with_suffix(''))}.<ul>{items}</ul></div>")
        self._made()


class HandingOn:
    """The project as a zip, a zip as a project, a new project from this one."""

    def __init__(self, session: Session):
        self.session = session
        self.title = w.Text(description="Title", layout=WIDE)
        self.author = w.Text(description="Your name", layout=w.Layout(width="340px"))
        self.upload = w.FileUpload(accept=".zip", multiple=False,
                                   description="Open a project from a zip",
                                   layout=w.Layout(width="240px"))
        self._said = w.HTML()

    @property
    def widget(self) -> w.Widget:
        pack = _button("Pack this project", "170px")
        anew = _button("Start a new project from this one", "260px")
        pack.on_click(lambda _: self._try(self._pack))
        anew.on_click(lambda _: self._try(self._anew))
        self.upload.observe(lambda _: self._try(self._unpack), "value")
        return w.VBox([w.HBox([pack, self.upload]), w.HBox([self.title, self.author]), anew,
                       self._said])

    def _try(self, action: Callable[[], str]) -> None:
        try:
            self._said.value = action()
        except (Refused, RecordError, OSError) as problem:
            self._said.value = render.message(str(problem), "stop")

    def _pack(self) -> str:
        name = f"{folder_name(self.session.project.title)}.zip"
        return f'<div class="tf-page">{words.download(name, to_zip(self.session.project))}</div>'

    def _unpack(self) -> str:
        if not self.upload.value:
            return self._said.value
        given = self.upload.value[0]
        folder = self._beside(folder_name(Path(given.name).stem))
        project = from_zip(bytes(given.content), folder)
        return render.message(f"Unpacked “{project.title}” into {folder}, every hash checked. "
                              "Open it on the start page.", "pass")

    def _anew(self) -> str:
        folder = self._beside(folder_name(self.title.value))
        project = start_from(self.session.project, folder, self.title.value, self.author.value)
        return render.message(f"“{project.title}” begun in {folder}; all its decisions wait for a "
                              "review. Open it on the start page.", "pass")

    @staticmethod
    def _beside(name: str) -> Path:
        from thermoforming.pages.session import PROJECTS

        return PROJECTS / name


def _releases(project: Project):
    try:
        return project.releases()
    except RecordError:
        return []
