"""Height fields as coloured relief, and pixels as PNG: arrays in, bytes out."""

from __future__ import annotations

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

from letterply.exports.primitives.palette import rgb
from letterply.shapes import WHOLE

__all__ = ["depth_colours", "encode_png", "grown", "reduced", "relief_pixels", "shrunk"]

Field = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Flags = NDArray[np.bool_]

_RAMP = ("#F4E8CE", "#E3C58E", "#8FB3A3", "#3E7F8C", "#1F4E66")
"""From the face down to the underside: lightness falls all the way, so grey prints keep it."""

_THROUGH = "#0B1B26"
_LIGHT = (-0.55, 0.65, 0.52)
"""From the upper left."""

_EXAGGERATE = 0.9
_SHALLOW = 0.65
_TABLE = 4096


def depth_colours(share: Field) -> Field:
    """Return colours of depths, (..., 3) float64 from 0 to 255.

    Args:
        share: depth over thickness: 0 at the face; 1 and more is through.

    """
    stops = np.array([rgb(c) for c in _RAMP], dtype=np.float64)
    # Shallow work is told apart better than deep: most of it is shallow.
    at = np.clip(share, 0.0, 1.0) ** _SHALLOW * (len(stops) - 1)
    low = np.minimum(at.astype(np.int64), len(stops) - 2)
    part = (at - low)[..., None]
    colours = stops[low] * (1 - part) + stops[low + 1] * part
    return np.where((share >= 1.0 - WHOLE)[..., None], np.array(rgb(_THROUGH), float), colours)


def relief_pixels(
    z_mm: NDArray[np.float32], cell_mm: float, thickness_mm: float
) -> NDArray[np.float32]:
    """Return a height field coloured by depth and lit from the upper left.

    Args:
        z_mm: (ny, nx), row 0 lowest; 0 at the face, negative below.
        cell_mm: width of a cell.
        thickness_mm: depth at which a cut is through.

    Returns:
        (ny, nx, 3) float32 from 0 to 255, row 0 highest, as pictures want it.

    """
    table = depth_colours(np.arange(_TABLE + 1) / _TABLE).astype(np.float32)
    floor = np.clip(z_mm, -thickness_mm, 0.0)[::-1]
    colours = table[(floor * (-_TABLE / thickness_mm) + 1e-3).astype(np.int32)]
    padded = np.pad(floor, 1, mode="edge")
    k = np.float32(_EXAGGERATE / (2 * cell_mm))
    slope_x = (padded[1:-1, 2:] - padded[1:-1, :-2]) * k
    slope_y = (padded[:-2, 1:-1] - padded[2:, 1:-1]) * k
    x, y, z = _LIGHT
    facing = (1 - slope_x * np.float32(x / z) - slope_y * np.float32(y / z)) / np.sqrt(
        slope_x * slope_x + slope_y * slope_y + 1
    )  # 1 on level ground
    shade = np.clip(0.55 + 0.45 * facing, 0.35, 1.35).astype(np.float32)
    pixels: NDArray[np.float32] = np.clip(colours * shade[..., None], 0, 255)
    return pixels


def reduced(field: NDArray[np.float32], factor: int) -> NDArray[np.float32]:
    """Return the means of blocks of `factor` by `factor` cells; the last blocks may be smaller."""
    if factor <= 1:
        return field
    rows = np.arange(0, field.shape[0], factor)
    columns = np.arange(0, field.shape[1], factor)
    sums = np.add.reduceat(np.add.reduceat(field, rows, axis=0), columns, axis=1)
    heights = np.diff(np.append(rows, field.shape[0]))
    widths = np.diff(np.append(columns, field.shape[1]))
    return np.asarray(sums / (heights[:, None] * widths[None, :]), dtype=np.float32)


def shrunk(flags: Flags) -> Flags:
    """Return the flags whose eight neighbours are set too; beyond the edge counts as set."""
    return ~grown(~flags)


def grown(flags: Flags) -> Flags:
    """Return the flags and their eight neighbours."""
    ny, nx = flags.shape
    padded = np.pad(flags, 1)
    found = np.zeros_like(flags)
    for row in range(3):
        for column in range(3):
            found |= padded[row : row + ny, column : column + nx]
    return found


def encode_png(pixels: Pixels) -> bytes:
    """Return pixels as a PNG file.

    Written from the PNG specification (W3C, third edition): signature, then the chunks IHDR,
    IDAT and IEND, each with its length and CRC; eight bits a sample, no interlacing, filter 2
    (difference to the row above) on every row.

    Args:
        pixels: (height, width, 3) or (height, width, 4) uint8, row 0 highest.

    """
    height, width, samples = pixels.shape
    if samples not in (3, 4) or pixels.dtype != np.uint8:
        raise ValueError("pixels are (height, width, 3 or 4) uint8")
    rows = pixels.reshape(height, width * samples)
    differences = rows.copy()
    differences[1:] -= rows[:-1]
    lines = np.concatenate((np.full((height, 1), 2, dtype=np.uint8), differences), axis=1)
    header = struct.pack(">IIBBBBB", width, height, 8, 2 if samples == 3 else 6, 0, 0, 0)
    return b"".join(
        (
            b"\x89PNG\r\n\x1a\n",
            _chunk(b"IHDR", header),
            _chunk(b"IDAT", zlib.compress(lines.tobytes(), 6)),
            _chunk(b"IEND", b""),
        )
    )


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
