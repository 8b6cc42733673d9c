"""Habits of a machine: where its work zero is, and the dialect of its programs. Checks of them.

A *habit* is a field of `Machine`. What each may be stands here once: requests read their words from
it, and a value that exists is one that programs are written by and read back by.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from letterply.catalogue.figures import require_one_of

__all__ = ["Misfit", "check_habits"]

ZEROS_XY = (
    "lower-left", "lower-right", "upper-left", "upper-right", "centre", "parts", "pin",
)  # fmt: skip
BLANK_ZEROS_XY = ("first", "fixture")
BLANK_ZEROS = ("top", "fixture", "floor")
DWELLS = ("seconds", "milliseconds")
COMMENTS = ("parentheses", "semicolon")
ARC_FORMS = ("centre", "centre-absolute", "radius")
PARKS_FROM = ("machine", "zero")

TAKEN_SUFFIXES = frozenset((
    "bat", "cmd", "com", "csv", "dxf", "exe", "htm", "html", "js", "json", "lnk", "msi", "pdf",
    "png", "ps1", "scr", "sh", "svg", "vbs", "xml", "zip",
))  # fmt: skip
"""File name suffixes that mean something else: answers of other kinds, and what computers run."""

_SWITCH = re.compile(r"M([0-9]{1,4})(?: ?[PQES][0-9]+(?:\.[0-9]+)?)*")
_NO_SWITCH = frozenset((0, 1, 2, 3, 4, 5, 6, 19, 30, 60, 98, 99))
"""M words that stop, end, turn the spindle, change the cutter or call other programs; NISTIR 6556
Table 4 for the first of them, those from 19 on from memory."""


class Misfit(ValueError):
    """A figure that does not fit the others; tells its field."""

    def __init__(self, key: str, field: str, message: str) -> None:
        super().__init__(f"{key}: {message}")
        self.field = field


def is_switch(line: str) -> bool:
    """Tell whether a line is one M word, perhaps with its numbers, that can switch something.

    >>> is_switch("M8"), is_switch("M64 P2"), is_switch("M5"), is_switch("G0 Z-3"), is_switch("m8")
    (True, True, False, False, False)

    """
    found = _SWITCH.fullmatch(line)
    return found is not None and int(found[1]) not in _NO_SWITCH


def check_habits(machine: Any) -> None:
    """Raise `ValueError` unless a machine's habits are such as programs can be written by.

    Raises:
        Misfit: where one does not fit another; it tells the field.

    """
    require_one_of(machine, "zero_xy", ZEROS_XY)
    require_one_of(machine, "blank_zero_xy", BLANK_ZEROS_XY)
    require_one_of(machine, "blank_zero", ("", *BLANK_ZEROS))
    require_one_of(machine, "dwell", DWELLS)
    require_one_of(machine, "comments", COMMENTS)
    require_one_of(machine, "arc_form", ARC_FORMS)
    require_one_of(machine, "park_from", PARKS_FROM)
    key = machine.key
    if not 0 <= machine.line_number_step <= 1000:
        raise Misfit(key, "line_number_step", "line numbers go up by 0 (none) to 1000")
    if machine.extension.lower() in TAKEN_SUFFIXES:
        raise Misfit(key, "extension", f".{machine.extension} is no suffix for programs")
    pin = machine.pin_mm
    if machine.zero_xy == "pin" and len(pin) != 2:
        raise Misfit(
            key, "pin",
            "where 'zero_xy' is \"pin\", 'pin' says where it lies, x and y from the lower left "
            "corner of the sheet",
        )  # fmt: skip
    if any(abs(at) > side for at, side in zip(pin, machine.bed_mm, strict=False)):
        raise Misfit(key, "pin", "the pin lies farther off than the bed is large")
    if len(machine.park_mm) not in (0, 2):
        raise Misfit(key, "park", "'park' is x and y")
    if machine.length_offsets and machine.tool_change != "automatic":
        raise Misfit(
            key, "length_offsets",
            "length offsets (G43) belong to numbers of cutters, which programs call only where "
            "tool_change is \"automatic\"",
        )  # fmt: skip
    _check_switches(machine)


def _check_switches(machine: Any) -> None:
    for what in ("coolant", "extraction"):
        on, off = (getattr(machine, f"{what}_{way}") for way in ("on", "off"))
        for way, words in (("on", on), ("off", off)):
            _require_switches(machine.key, f"{what}_{way}", words)
        if bool(on) is not bool(off):
            missing = "off" if on else "on"
            raise Misfit(
                machine.key, f"{what}_{missing}", f"what is switched is switched on and off: "
                f"'{what}_{missing}' is missing",
            )  # fmt: skip
        if set(on) & set(off):
            raise Misfit(machine.key, f"{what}_off", "the same word switches on and off")


def _require_switches(key: str, field: str, words: Sequence[str]) -> None:
    for word in words:
        if not is_switch(word):
            raise Misfit(key, field, f"{word!r} is no M word that switches something, as M8")
