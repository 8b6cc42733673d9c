"""Pictures as arrays."""

from __future__ import annotations

import io

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image


def read_png(data: bytes) -> NDArray[np.uint8]:
    """Return (height, width, 3) uint8."""
    with Image.open(io.BytesIO(data)) as image:
        image.load()
        return np.asarray(image.convert("RGB"))


def rendered(svg: bytes, px_per_mm: int, style: str) -> NDArray[np.uint8]:
    """Return an SVG in mm drawn with crisp edges under a style sheet, on white.

    The size in px is written into the file's head, so that the renderer need not round it.
    """
    text = svg.decode()
    head, rest = text.split("viewBox", 1)
    box = rest.split('"')[1].split()
    width, height = (round(float(v) * px_per_mm) for v in box[2:])
    head = head[: head.index("width=")] + f'width="{width}" height="{height}" '
    pixels = width / px_per_mm, height / px_per_mm
    assert max(abs(pixels[0] - float(box[2])), abs(pixels[1] - float(box[3]))) < 1e-9
    data = resvg_py.svg_to_bytes(
        svg_string=head + "viewBox" + rest,
        style_sheet=style,
        background="#ffffff",
        shape_rendering="crisp_edges",
        skip_system_fonts=True,
    )
    return read_png(bytes(data))
