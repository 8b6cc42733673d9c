"""Pictures from outside, read safely: PNG or JPEG in, how dark each pixel is out."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from letterply.errors import InputError

__all__ = ["Picture", "is_picture", "read_picture"]

_MAX_PIXELS = 25_000_000
"""A4 at 400 dpi has 15 million."""

_LEAST_SIDE, _MOST_DPI, _LEAST_DPI = 8, 5000.0, 20.0
_FORMATS = {b"\x89PNG\r\n\x1a\n": "PNG", b"\xff\xd8\xff": "JPEG"}
"""How a file begins -> its format (PNG specification 5.2; JPEG, ITU-T T.81 B.1.1.3)."""


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture as it was read.

    Attributes:
        dark: rows x columns, 0 for white to 1 for black; top row first.
        dpi: pixels an inch as the file says, or None.

    """

    dark: NDArray[np.float32]
    dpi: float | None


def is_picture(data: bytes) -> bool:
    """Tell whether a file begins as a PNG or JPEG does."""
    return data.startswith(tuple(_FORMATS))


def read_picture(data: bytes) -> Picture:
    """Return a picture, turned upright, on a white page.

    Raises:
        InputError: `not-a-picture`, damaged or of another format; `picture-too-large`;
            `picture-too-small`.

    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what a file says of itself is not taken on trust
            image = Image.open(io.BytesIO(data), formats=tuple(_FORMATS.values()))
            _vet_size(*image.size)
            dpi = _dpi(image.info.get("dpi"))
            upright = _eight_bits(ImageOps.exif_transpose(image)).convert("RGBA")
    except InputError:
        raise
    except Exception as exc:  # a hostile file makes a decoder raise whatever it likes
        raise _unreadable() from exc
    page = Image.new("RGBA", upright.size, "white")
    grey = Image.alpha_composite(page, upright).convert("L")
    return Picture(1.0 - np.asarray(grey, dtype=np.float32) / 255.0, dpi)


def _vet_size(width: int, height: int) -> None:
    if width * height > _MAX_PIXELS:
        raise InputError(
            f"The picture has {width} x {height} pixels.",
            code="picture-too-large",
            field="artwork",
            expected=f"at most {_MAX_PIXELS // 1_000_000} million pixels",
        )
    if min(width, height) < _LEAST_SIDE:
        raise InputError(
            f"The picture has {width} x {height} pixels.",
            code="picture-too-small",
            field="artwork",
            expected=f"at least {_LEAST_SIDE} pixels each way; 200 for the height of a letter",
        )


def _eight_bits(image: Image.Image) -> Image.Image:
    """Return a grey picture of 16 bits with 8: Pillow would cut it off at 255."""
    if not image.mode.startswith("I"):
        return image
    return Image.fromarray((np.asarray(image, dtype=np.int64) >> 8).astype(np.uint8))


def _dpi(told: object) -> float | None:
    if not isinstance(told, tuple) or len(told) != 2:
        return None
    across, down = (float(n) for n in told)
    good = _LEAST_DPI <= across <= _MOST_DPI and abs(across - down) < 0.01 * across
    return across if good else None


def _unreadable() -> InputError:
    return InputError(
        "The picture cannot be read: it is damaged, or of a kind that is not taken.",
        code="not-a-picture",
        field="artwork",
        expected="a PNG or JPEG file",
    )
