"""The picture to print on the flat sheet so that it looks right on the formed part."""

from __future__ import annotations

from collections.abc import Mapping
from io import BytesIO
from typing import Any

import numpy as np
from PIL import Image, UnidentifiedImageError

from thermoforming.guard import Refused
from thermoforming.physics.thinning.print_map import distorted, flat_map
from thermoforming.steps.brief.part import kept
from thermoforming.steps.thinning.reading import Reading
from thermoforming.steps.upstream import Upstream

ON_PAGE = 320  # pixels along the longer side on the page
MOST_PIXELS = 40_000_000
CARD = (160, 240)


def grid_card(rows: int = CARD[0], columns: int = CARD[1]) -> np.ndarray:
    """Squares with a ring and a cross: shows how print is drawn out."""
    y, x = np.mgrid[0:rows, 0:columns]
    cell = rows // 16
    light = ((x // cell + y // cell) % 2).astype(float)
    card = np.stack([225.0 - 40.0 * light] * 3, 2)
    far = np.hypot(x - columns / 2, y - rows / 2)
    for ring in (0.2, 0.4, 0.6):
        card[np.abs(far - ring * rows) < 1.2] = (0, 114, 178)
    card[(np.abs(x - columns / 2) < 1) | (np.abs(y - rows / 2) < 1)] = (213, 94, 0)
    return card


def picture_of(inputs: Mapping[str, Any], upstream: Upstream) -> np.ndarray:
    """The user's picture, or the test card.

    Raises
    ------
    Refused
        If the file is not a picture, or has too many pixels.
    """
    if inputs["picture"] is None:
        return grid_card()
    try:
        with Image.open(BytesIO(upstream.file(inputs["picture"]["sha256"]))) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise Refused("picture", f"The picture has {opened.width} by {opened.height} "
                                         "pixels; bring it below 40 million.")
            return np.asarray(opened.convert("RGB"))
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError):
        raise Refused("picture", f"{inputs['picture']['name']} cannot be read as a picture; save "
                                 "it as PNG or JPEG.") from None


def image(reading: Reading, inputs: Mapping[str, Any], upstream: Upstream,
          pixels: int = ON_PAGE) -> dict[str, Any]:
    """The image to print, its place in the flat sheet and how far the ink is spread."""
    flat = np.asarray(reading.arrays["flat"], float)
    pixel = float(np.ptp(flat, axis=0).max()) / pixels
    found = kept("print map", reading.surface, lambda: flat_map(
        flat, reading.surface.vertices, reading.arrays["triangles"], pixel), pixels)
    picture = picture_of(inputs, upstream)
    width = inputs["picture_width"]
    size = (width, width * picture.shape[0] / picture.shape[1])
    corner = (inputs["picture_x"] - size[0] / 2, inputs["picture_y"] - size[1] / 2)
    return {"image": distorted(picture, found, corner, size), "xs": found.xs, "ys": found.ys,
            "spread": found.area_ratio, "picture": np.asarray(picture, np.uint8)}


def png(reading: Reading, inputs: Mapping[str, Any], upstream: Upstream,
        dots_per_inch: float = 150.0) -> bytes:
    """The image to print at full size as the bytes of a PNG file."""
    span = float(np.ptp(np.asarray(reading.arrays["flat"], float), axis=0).max())
    made = image(reading, inputs, upstream, int(np.clip(span / 0.0254 * dots_per_inch, 50, 6000)))
    stream = BytesIO()
    Image.fromarray(made["image"], "RGBA").save(stream, "PNG", dpi=(dots_per_inch,) * 2)
    return stream.getvalue()
