"""The image to print on the flat sheet, saved at full size beside the project's exports."""

from __future__ import annotations

import ipywidgets as w

from thermoforming.guard import Refused
from thermoforming.pages.render import message
from thermoforming.steps.thinning import prints


def print_box(page) -> w.Widget:
    """A button that saves the image of the page's formed sheet, and where it went."""
    dots = w.BoundedIntText(value=150, min=30, max=600, step=10, description="Dots per inch",
                            style={"description_width": "100px"}, layout=w.Layout(width="200px"))
    button = w.Button(description="Save the image to print", layout=w.Layout(width="200px"))
    said = w.HTML()

    def save(_):
        try:
            said.value = message(_save(page, float(dots.value)), "pass")
        except (Refused, OSError) as problem:
            said.value = message(str(problem), "stop")

    button.on_click(save)
    return w.VBox([w.HBox([dots, button]), said])


def _save(page, dots_per_inch: float) -> str:
    reading = page.outcome.arrays["reading"] if page.outcome else None
    if reading is None:
        raise Refused("picture", "Form the sheet first; the map from flat sheet to part comes "
                                 "from the run.")
    folder = page.session.project.folder / "exports"
    folder.mkdir(exist_ok=True)
    path = folder / "print-on-flat-sheet.png"
    path.write_bytes(prints.png(reading, page.inputs, page.upstream, dots_per_inch))
    frame = " by ".join(f"{page.inputs[key] * 1e3:.0f}" for key in ("frame_x", "frame_y"))
    return f"Saved as {path.name} in the project's exports; it covers the frame, {frame} mm."
