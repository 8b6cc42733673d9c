"""Drawing on pages of a PDF: text, lines, boxes, pictures in millimetres, y down from the top.

Same values, same bytes: no date, no chance. The face is Atkinson Hyperlegible, embedded; a line
with characters that it does not have is drawn as outlines (`label_faces`). Drawing is by
ReportLab's canvas.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Literal

from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from letterply.exports.primitives.captions import INK, QUIET
from letterply.exports.primitives.label_faces import LabelFaces, shipped_label_faces
from letterply.exports.primitives.markup import clean
from letterply.exports.primitives.palette import rgb

__all__ = ["A4_MM", "Align", "Pages", "wrapped_text"]

Align = Literal["left", "centre", "right"]

A4_MM = (210.0, 297.0)
"""ISO 216."""

_MM = 72 / 25.4
_PACKAGE = "fontpkg_atkinson_hyperlegible"
_FACES = {False: "letterply-regular", True: "letterply-bold"}
_JPEG_QUALITY = 85


@lru_cache(maxsize=1)
def _register_faces() -> None:
    for bold, name in _FACES.items():
        style = "Bold" if bold else "Regular"
        data = (files(_PACKAGE) / "files" / f"AtkinsonHyperlegible-{style}.ttf").read_bytes()
        pdfmetrics.registerFont(TTFont(name, io.BytesIO(data)))


def wrapped_text(
    text: str,
    size_mm: float,
    width_mm: float,
    *,
    bold: bool = False,
    faces: LabelFaces | None = None,
) -> list[str]:
    """Return the text broken between words into lines that are not wider; long words stay whole."""
    lines: list[str] = []
    for word in clean(text).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _width_mm(longer, size_mm, bold, faces) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _width_mm(line: str, size_mm: float, bold: bool, faces: LabelFaces | None) -> float:
    outlined = (faces or shipped_label_faces()).line(line, bold=bold)
    if outlined is not None:
        return outlined.width_em * size_mm
    _register_faces()
    return float(pdfmetrics.stringWidth(line, _FACES[bold], size_mm * _MM)) / _MM


class Pages:
    """Pages to draw on.

    Args:
        title: of the document; also at the foot of each page.
        size_mm: width and height of its pages, unless a page says otherwise.
        margin_mm: round each page.
        faces: fonts for what the label face lacks; None for those that come with the service.
        pages_before: how many pages of the same document are elsewhere, before these.
        page_word: what stands before the number of a page.

    """

    def __init__(
        self,
        title: str,
        *,
        size_mm: tuple[float, float] = A4_MM,
        margin_mm: float = 15.0,
        faces: LabelFaces | None = None,
        pages_before: int = 0,
        page_word: str = "page",
    ) -> None:
        _register_faces()
        self._pages_before = pages_before
        self._page_word = page_word
        self.faces = faces or shipped_label_faces()
        self.title = clean(title)
        self.size_mm = size_mm
        self.margin_mm = margin_mm
        self.pages = 0
        self._out = io.BytesIO()
        self._usual_mm = size_mm
        self._foot = True
        self._canvas = Canvas(
            self._out,
            pagesize=(size_mm[0] * _MM, size_mm[1] * _MM),
            pageCompression=1,
            invariant=1,
        )
        self._canvas.setTitle(self.title)
        self._canvas.setAuthor("letterply")
        self._canvas.setCreator("letterply")

    @property
    def width_mm(self) -> float:
        """Width within the margins."""
        return self.size_mm[0] - 2 * self.margin_mm

    def page(self, size_mm: tuple[float, float] | None = None, *, foot: bool = True) -> None:
        """Begin a page, of a size of its own or without a foot where that is asked for."""
        self._end_page()
        self._foot = foot
        self.size_mm = size_mm or self._usual_mm
        self._canvas.setPageSize((self.size_mm[0] * _MM, self.size_mm[1] * _MM))
        self.pages += 1

    def finish(self) -> bytes:
        """Return the document."""
        self._end_page()
        self._canvas.save()
        return self._out.getvalue()

    def text(
        self,
        text: str,
        x_mm: float,
        y_mm: float,
        size_mm: float = 3.4,
        *,
        bold: bool = False,
        colour: str = INK,
        align: Align = "left",
    ) -> None:
        """Write a line of text on the baseline `y_mm`, of which `x_mm` is the end to align."""
        self._canvas.setFillColorRGB(*_shares(colour))
        line = clean(text)
        outlined = self.faces.line(line, bold=bold)
        if outlined is not None:
            share = {"left": 0.0, "centre": 0.5, "right": 1.0}[align]
            left = x_mm - share * outlined.width_em * size_mm
            path = self._canvas.beginPath()
            for ring in outlined.rings_em:
                for number, (across, up) in enumerate((ring * size_mm).tolist()):
                    at = (left + across) * _MM, self._up(y_mm - up)
                    (path.lineTo if number else path.moveTo)(*at)
                path.close()
            self._canvas.drawPath(path, stroke=0, fill=1, fillMode=1)
            return
        self._canvas.setFont(_FACES[bold], size_mm * _MM)
        x, y = x_mm * _MM, self._up(y_mm)
        if align == "right":
            self._canvas.drawRightString(x, y, line)
        elif align == "centre":
            self._canvas.drawCentredString(x, y, line)
        else:
            self._canvas.drawString(x, y, line)

    def wrapped(
        self, text: str, size_mm: float, width_mm: float, *, bold: bool = False
    ) -> list[str]:
        """Return the text broken into lines, see `wrapped_text`."""
        return wrapped_text(text, size_mm, width_mm, bold=bold, faces=self.faces)

    def picture(
        self,
        data: bytes,
        x_mm: float,
        y_mm: float,
        width_mm: float,
        height_mm: float,
        *,
        photo: bool = False,
    ) -> tuple[float, float]:
        """Draw a PNG inside a box, as large as it goes, at its top left; return its size.

        Args:
            data: the picture.
            x_mm: left edge of the box, and
            y_mm: its top.
            width_mm: width of the box, and
            height_mm: its height.
            photo: True to store it as JPEG: smaller, for pictures without fine lines.

        """
        with Image.open(io.BytesIO(data)) as opened:
            image = opened.convert("RGB")
        scale = min(width_mm / image.width, height_mm / image.height)
        wide, high = image.width * scale, image.height * scale
        if photo:
            packed = io.BytesIO()
            image.save(packed, "JPEG", quality=_JPEG_QUALITY)
            reader = ImageReader(io.BytesIO(packed.getvalue()))
        else:
            reader = ImageReader(image)
        self._canvas.drawImage(reader, x_mm * _MM, self._up(y_mm + high), wide * _MM, high * _MM)
        return wide, high

    def line(
        self,
        x0_mm: float,
        y0_mm: float,
        x1_mm: float,
        y1_mm: float,
        *,
        width_mm: float = 0.2,
        colour: str = INK,
    ) -> None:
        """Draw a line."""
        self._canvas.setDash()
        self._canvas.setStrokeColorRGB(*_shares(colour))
        self._canvas.setLineWidth(width_mm * _MM)
        self._canvas.line(x0_mm * _MM, self._up(y0_mm), x1_mm * _MM, self._up(y1_mm))

    def box(
        self,
        x_mm: float,
        y_mm: float,
        width_mm: float,
        height_mm: float,
        *,
        fill: str = "",
        stroke: str = "",
        round_mm: float = 0.0,
    ) -> None:
        """Draw a box."""
        if fill:
            self._canvas.setFillColorRGB(*_shares(fill))
        if stroke:
            self._canvas.setDash()
            self._canvas.setStrokeColorRGB(*_shares(stroke))
            self._canvas.setLineWidth(0.25 * _MM)
        self._canvas.roundRect(
            x_mm * _MM,
            self._up(y_mm + height_mm),
            width_mm * _MM,
            height_mm * _MM,
            round_mm * _MM,
            stroke=int(bool(stroke)),
            fill=int(bool(fill)),
        )

    def rings(
        self,
        rings: Sequence[Sequence[tuple[float, float]]],
        x_mm: float,
        y_mm: float,
        *,
        stroke: str = INK,
        width_mm: float = 0.25,
        dash_mm: tuple[float, ...] = (),
        fill: str = "",
    ) -> None:
        """Draw closed rings in real size, their origin at (`x_mm`, `y_mm`), y up."""
        path = self._canvas.beginPath()
        for ring in rings:
            for number, (x, y) in enumerate(ring):
                at = (x_mm + x) * _MM, self._up(y_mm - y)
                (path.lineTo if number else path.moveTo)(*at)
            path.close()
        self._canvas.setStrokeColorRGB(*_shares(stroke))
        self._canvas.setLineWidth(width_mm * _MM)
        self._canvas.setDash([d * _MM for d in dash_mm] if dash_mm else [])
        if fill:
            self._canvas.setFillColorRGB(*_shares(fill))
        self._canvas.drawPath(path, stroke=1, fill=int(bool(fill)), fillMode=0)
        self._canvas.setDash()

    def _up(self, y_mm: float) -> float:
        return (self.size_mm[1] - y_mm) * _MM

    def _end_page(self) -> None:
        if self.pages and self._foot:
            foot = self.size_mm[1] - 0.5 * self.margin_mm
            self.text(self.title, self.margin_mm, foot, 2.6, colour=QUIET)
            right = self.size_mm[0] - self.margin_mm
            self.text(
                f"{self._page_word} {self._pages_before + self.pages}",
                right,
                foot,
                2.6,
                colour=QUIET,
                align="right",
            )
        if self.pages:
            self._canvas.showPage()


def _shares(colour: str) -> tuple[float, float, float]:
    red, green, blue = rgb(colour)
    return red / 255, green / 255, blue / 255
