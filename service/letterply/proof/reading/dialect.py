"""What a reader must know of a controller beside RS274/NGC, as values made of a machine's data.

Nothing here is known of how programs are written: a machine says how its controller takes things,
a program is read so. What a program itself says (G20, G21, G90.1, G91.1) goes before.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from letterply.catalogue import Machine
from letterply.proof.reading.words import M_GROUPS, ProgramError, strip_comments

__all__ = ["Dialect", "switch_of"]

_ONE_M = re.compile(r"M([0-9]+)(?:[PQES][0-9]+(?:\.[0-9]+)?)*")
_NUMBER = re.compile(r"N[0-9]+")


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a controller takes what is written.

    Attributes:
        inch: units where the program names none.
        milliseconds: whether P of a pause counts milliseconds, and not seconds.
        absolute_centres: whether I and J are coordinates, where the program does not say.
        length_offsets: whether lengths of cutters are called with G43.
        extraction_on, extraction_off: lines that switch the extraction, bare (`switch_of`).
        own: lines of the machine that are no words of the subset, bare; they switch something and
            move nothing.

    """

    inch: bool = False
    milliseconds: bool = False
    absolute_centres: bool = False
    length_offsets: bool = False
    extraction_on: frozenset[str] = frozenset()
    extraction_off: frozenset[str] = frozenset()
    own: frozenset[str] = frozenset()

    @classmethod
    def of(cls, machine: Machine) -> Dialect:
        """Return that of a machine's controller."""
        on, off = (
            frozenset(filter(None, map(switch_of, words)))
            for words in (machine.extraction_on, machine.extraction_off)
        )
        others = (
            *machine.start_words, *machine.end_words, *machine.coolant_on, *machine.coolant_off,
        )  # fmt: skip
        known = on | off | frozenset(filter(None, map(switch_of, others)))
        return cls(
            inch=machine.units == "inch",
            milliseconds=machine.dwell == "milliseconds",
            absolute_centres=machine.arc_form == "centre-absolute",
            length_offsets=machine.length_offsets,
            extraction_on=on,
            extraction_off=off,
            own=frozenset(line for line in known if _foreign(line)),
        )


def switch_of(line: str) -> str:
    """Return a line of one M word, and of its numbers, bare; else nothing.

    >>> switch_of("N120 m64 P2 (dust)"), switch_of("M8"), switch_of("M3 S18000 G0 X1")
    ('M64P2', 'M8', '')

    """
    try:
        bare = re.sub(r"\s", "", strip_comments(line)).upper()
    except ProgramError:
        return ""
    bare = _NUMBER.sub("", bare, count=1) if bare.startswith("N") else bare
    return bare if _ONE_M.fullmatch(bare) else ""


def _foreign(line: str) -> bool:
    found = _ONE_M.fullmatch(line)
    return found is not None and int(found[1]) not in M_GROUPS
