"""Hostile files judged in a worker: what came of each, how long it took, what it opened.

Runs in a worker of the pool only, as parsing of anything from outside does.
"""

from __future__ import annotations

import sys
import time
import warnings
from functools import lru_cache

from fuzz.fonts import SOUND, mutated_font, sound_font
from fuzz.svgs import mutated_svg
from letterply.errors import LetterplyError
from letterply.exports.pictures.artwork import artwork_picture
from letterply.exports.pictures.font import font_picture
from letterply.lettering.artwork.describing import describe_artwork
from letterply.lettering.artwork.parser import read_artwork
from letterply.lettering.fonts.describing import describe
from letterply.lettering.fonts.font import Font
from letterply.lettering.fonts.loading import load_font
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.shapes.tolerances import Tolerances

__all__ = ["Judged", "judge", "parse_font", "parse_svg"]

COARSE = Tolerances(flatten_mm=0.05)
WATCHED = ("open", "socket.", "subprocess.", "os.exec", "os.system", "urllib.", "ctypes.dlopen")

Judged = tuple[str, float, list[str]]
"""Outcome (`used`, or the code of the error), seconds, what was opened or connected to."""


def parse_font(data: bytes) -> None:
    """Do with a font what the service does with one that is uploaded and then used."""
    font = load_font("x", data)
    describe(font)
    font_picture(font)
    text = "بحر" if font.has("ب") else "Avocet"
    set_lettering(LetteringSpec(text, "x", Size("em", 30)), font, COARSE)


def parse_svg(data: bytes) -> None:
    """Do the same with a drawing, its texts set in a font."""
    artwork = read_artwork("x", data, _text_font())
    describe_artwork(artwork)
    artwork_picture(artwork)


@lru_cache
def _text_font() -> Font:
    return load_font("glyf", sound_font("glyf"))


class _Watch:
    """An audit hook, which can be added but never taken away: switched on for a case."""

    def __init__(self) -> None:
        self.on = False
        self.opened: list[str] = []
        sys.addaudithook(self._note)

    def _note(self, event: str, arguments: tuple[object, ...]) -> None:
        if not self.on or not event.startswith(WATCHED):
            return
        what = str(arguments[0]) if arguments else ""
        if event == "open" and what.startswith((sys.prefix, sys.base_prefix)):
            return  # a module that is imported on the way
        self.opened.append(f"{event} {what}")


_ready: list[_Watch] = []


def judge(kind: str, seed: int) -> Judged:
    """Parse the case of a seed; errors that are not meant pass through to the pool."""
    if not _ready:
        for name in SOUND:
            parse_font(sound_font(name))
        parse_svg(b'<svg width="9" height="9"><rect width="5" height="5" stroke="red"/></svg>')
        _ready.append(_Watch())
    (watch,) = _ready
    data = mutated_font(seed) if kind == "font" else mutated_svg(seed)
    watch.opened.clear()
    began = time.monotonic()
    watch.on = True
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what fontTools thinks of dates
            (parse_font if kind == "font" else parse_svg)(data)
        outcome = "used"
    except LetterplyError as exc:
        outcome = exc.code
    finally:
        watch.on = False
    return outcome, time.monotonic() - began, list(watch.opened)
