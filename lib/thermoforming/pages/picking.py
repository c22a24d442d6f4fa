"""Points picked on the map and photos kept in the project, for the trial page."""

from __future__ import annotations

import ipywidgets as w
import numpy as np

from thermoforming.guard import Refused
from thermoforming.pages.render import message
from thermoforming.record import RecordError


def pick_points(page) -> w.Widget:
    """Makes a click on the gauge map add a point to the table of gauges."""
    said = w.HTML()
    shot = w.BoundedIntText(value=1, min=1, max=1_000_000, description="Shot",
                            layout=w.Layout(width="180px"))
    index = next(i for i, panel in enumerate(page.panels) if panel.key == "map")
    mesh = page.charts[index].data[0]

    def on_click(_, points, __):
        formed = page.outcome.arrays["map"] if page.outcome else None
        if formed is None or not points.point_inds:
            return
        node = int(points.point_inds[0])
        rows = page.controls["gauges"].value
        name = f"P{len({row['point'] for row in rows}) + 1}"
        x, y, z = (float(v) for v in formed.nodes[node])
        page.set(gauges=[*rows, {"shot": float(shot.value), "point": name, "x": x, "y": y, "z": z,
                                 "gauge": float(np.round(formed.gauge[node], 5))}])
        said.value = message(f"{name} added at {1e3 * x:.1f}, {1e3 * y:.1f}, {1e3 * z:.1f} mm with "
                             "the predicted gauge: type what was measured there.", "pass")

    mesh.on_click(on_click)
    note = w.HTML('<span class="tf-page tf-note">Click the gauge map above to add a point; it is '
                  "put down for this shot.</span>")
    return w.VBox([w.HBox([shot, note]), said])


def keep_photos(page) -> w.Widget:
    """Photos and other files put into the project, each with a row that names its hash."""
    upload = w.FileUpload(accept="image/*,.pdf,.csv,.xlsx", multiple=True,
                          description="Keep photos", layout=w.Layout(width="150px"))
    shot = w.BoundedIntText(value=1, min=1, max=1_000_000, description="of shot",
                            layout=w.Layout(width="180px"))
    said = w.HTML()

    def on_upload(_):
        try:
            kept = [page.session.keep_file(bytes(sent["content"]), sent["name"])
                    for sent in upload.value]
        except (Refused, RecordError) as problem:
            said.value = message(str(problem), "stop")
            return
        rows = page.controls["photos"].value
        page.set(photos=[*rows, *({"shot": float(shot.value), "what": "", **file}
                                  for file in kept)])
        said.value = message(f"Kept {len(kept)} files; write what they show in the table.", "pass")

    upload.observe(on_upload, "value")
    return w.HBox([upload, shot, said])
