"""The document and the sheets as PDF, set by typst from data, so that text is only ever text."""

from __future__ import annotations

import json
import tempfile
from importlib.resources import files as resources
from pathlib import Path

import typst

TEMPLATES = resources("thermoforming.record.export") / "templates"


def document_pdf(shown: dict) -> bytes:
    """The whole document."""
    return _set("record.typ", shown)


def form_pdf(shown: dict, form: dict) -> bytes:
    """One sheet for the shop."""
    head = {key: shown[key] for key in ("title", "code", "made", "release", "open")}
    return _set("form.typ", {**head, "form": form})


def _set(template: str, data: dict) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        for name in ("common.typ", template):
            (root / name).write_text(TEMPLATES.joinpath(name).read_text(encoding="utf-8"),
                                     encoding="utf-8")
        (root / "data.json").write_text(json.dumps(data), encoding="utf-8")
        return typst.compile(str(root / template), root=str(root), ignore_system_fonts=True)
