"""The document as one HTML file: works offline, prints well, runs nothing."""

from __future__ import annotations

from base64 import b64encode
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup


def as_html(shown: dict) -> bytes:
    """The document of a dossier; every text in it is escaped."""
    return _template().render(**shown).encode()


@cache
def _template():
    environment = Environment(loader=PackageLoader("thermoforming.record.export"),
                              autoescape=True, undefined=StrictUndefined, trim_blocks=True,
                              lstrip_blocks=True)
    environment.filters["picture"] = _picture
    return environment.get_template("record.html.j2")


def _picture(svg: str, alt: str, kind: str = "") -> Markup:
    """A drawing as an image, so that nothing inside it can run or clash with the page."""
    data = b64encode(svg.encode()).decode()
    return Markup('<img class="{}" alt="{}" src="data:image/svg+xml;base64,{}">').format(
        kind, alt, data)
