"""The tool as files that a printer or a mill takes, kept in the project with their hashes."""

from __future__ import annotations

from html import escape
from io import BytesIO

import ipywidgets as w
import trimesh

from thermoforming.geometry.surface import Surface
from thermoforming.guard import Refused
from thermoforming.pages.page import Page
from thermoforming.pages.render import message
from thermoforming.record import RecordError
from thermoforming.steps.base import STOP

FORMATS = ("stl", "3mf")
MM = 1000.0


def as_file(surface: Surface, kind: str) -> bytes:
    """A piece as binary STL (millimetres, as the trade reads STL) or 3MF (unit written in it)."""
    mesh = trimesh.Trimesh(surface.vertices * MM, surface.faces, process=False)
    mesh.units = "millimeter"
    return BytesIO(mesh.export(file_type=kind)).getvalue()


def write_files(page: Page, in_spite_of: str = "") -> list[dict]:
    """Keep every piece in both formats; return name, hash and size of each.

    Raises
    ------
    Refused
        If nothing is built, the decision is not saved as it stands, or a check says stop and no
        reason is given to go on.
    """
    solid = page.outcome.arrays["solid"] if page.outcome else None
    if solid is None:
        raise Refused("tool", "There is no tool to export yet: press Run first.")
    saved = page.session.project.latest(page.step.key)
    if saved is None or page.differences():
        raise Refused("tool", "Save the decision first: a file must belong to a saved revision.")
    stops = [check.title for check in page.outcome.checks if check.verdict == STOP]
    if stops and not in_spite_of.strip():
        raise Refused("tool", f"These checks say stop: {', '.join(stops)}. Mend them, or write "
                              f"why the files are wanted all the same.")
    files = []
    for number, piece in enumerate(solid.pieces, start=1):
        for kind in FORMATS:
            name = f"tool-{saved.number:04d}-piece-{number}.{kind}"
            data = as_file(piece, kind)
            files.append(page.session.keep_file(data, name) | {"bytes": len(data)})
    page.session.project.log_export({"what": "tool", "decision": saved.sha256, "files": files,
                                     "in_spite_of": in_spite_of.strip()}, page.session.author)
    return files


def tool_files(page: Page) -> w.Widget:
    """A button that writes the files and says where they lie."""
    why = w.Text(description="In spite of", placeholder="only where a check says stop: why",
                 layout=w.Layout(width="min(620px, 100%)"))
    make = w.Button(description="Write STL and 3MF", button_style="primary",
                    layout=w.Layout(width="170px"))
    make.add_class("tf-files")
    said = w.HTML()

    def on_make(_):
        try:
            said.value = _listed(page, write_files(page, why.value))
        except (Refused, RecordError) as problem:
            said.value = message(str(problem), "stop")

    make.on_click(on_make)
    return w.VBox([why, make, said])


def _listed(page: Page, files: list[dict]) -> str:
    rows = "".join(
        f"<tr><td>{escape(file['name'])}</td><td>{file['bytes'] / 1e6:.2f} MB</td>"
        f"<td><code>{file['sha256'][:16]}…</code></td>"
        f"<td>{escape(str(page.session.project.file_path(file['sha256'])))}</td></tr>"
        for file in files)
    return ('<div class="tf-page"><table class="tf-table"><tr><th>File</th><th>Size</th><th>SHA-256'
            f"</th><th>Where</th></tr>{rows}</table></div>")

