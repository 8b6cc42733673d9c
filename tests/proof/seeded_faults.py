"""Seeded faults: good programs, each damaged in a way that a maker or a machine could, by name.

    .venv/bin/python tests/proof/seeded_faults.py 5

takes five samples of every kind, of other sizes and in other places, and prints those that are not
found under their name; the tests take one of each.
"""

from __future__ import annotations

import argparse
import dataclasses
import random
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from letterply.catalogue.kept_clear import KeptClear
from letterply.catalogue.loading import load_catalogue
from letterply.proof.model import ProgramSource, SheetProof
from proof.rack_sign import DRILL_TIP, THICKNESS, THROUGH, Sign, codes, prove
from proof.simple_program import Writer

MILL = "4-mill.nc"
DEEP = THICKNESS + THROUGH + DRILL_TIP

Programs = list[ProgramSource]


def replaced(sign: Sign, name: str, **changes: object) -> list[ProgramSource]:
    """Return the good programs, one of them with another text or other cutters."""
    return [dataclasses.replace(p, **changes) if p.name == name else p for p in sign.programs()]


def edited(sign: Sign, name: str, edit: Callable[[str], str]) -> list[ProgramSource]:
    """Return the good programs, the text of one of them edited; it must have changed."""
    found = []
    for program in sign.programs():
        text = program.text
        if program.name == name:
            text = edit(text)
            assert text != program.text
        found.append(dataclasses.replace(program, text=text))
    return found


def as_inch_from_bed(text: str) -> str:
    def turn(found: re.Match[str]) -> str:
        letter, value = found[1], float(found[2])
        if letter == "Z":
            value += THICKNESS
        return f"{letter}{value / 25.4:.6f}"

    body = re.sub(r"([XYZIJF])(-?[0-9.]+)", turn, text)
    return body.replace("G21", "G20")


def without(pattern: str, *, count: int = 0) -> Callable[[str], str]:
    return lambda text: re.sub(pattern, "", text, count=count)


def swapped(old: str, new: str, *, count: int = -1) -> Callable[[str], str]:
    return lambda text: text.replace(old, new, count)


def shifted(letter: str, by: float) -> Callable[[str], str]:
    return lambda text: re.sub(
        rf"{letter}(-?[0-9.]+)", lambda m: f"{letter}{float(m[1]) + by:.4f}", text
    )


def mill(sign: Sign, writer: Callable[[Sign], str]) -> list[ProgramSource]:
    return replaced(sign, MILL, text=writer(sign))


def milled_as(damaged: Sign, sign: Sign, *, order: str = "pwo") -> list[ProgramSource]:
    """Return the programs of a sign, milled as if it were another."""
    return replaced(sign, MILL, text=damaged.mill_text(order=order))


def pocket_with_step(sign: Sign) -> str:
    w = Writer().start()
    w.pocket(sign.pocket_box, sign.radius + 0.005, sign.pocket_depth, 2.9 * sign.radius)
    return sign.mill(w, order="wo").end()


def lost_pass(sign: Sign) -> str:
    w = sign.mill(Writer().start(), order="pw")
    sign.outline(w, [2.0, 4.0])
    return w.end()


def cut_again(sign: Sign) -> str:
    free = dataclasses.replace(sign, tabs=())
    w = free.mill(Writer().start(), order="pwo")
    free.outline(w, [THICKNESS + THROUGH])
    return w.end()


def travel_at_depth(sign: Sign) -> str:
    text = sign.mill_text()
    lift, travel = "G0 Z5.0000", f"G0 X{sign.x - sign.radius - 0.005:.4f}"
    at = text.index(travel)
    return text[: text.rindex(lift, 0, at)] + text[at:]


def drill_text(sign: Sign, *, through: float, blind: float, at: tuple[float, float]) -> str:
    w = Writer().start()
    w.drill(*sign.blind, blind)
    w.drill(*at, through)
    return w.end()


def text_damages(sign: Sign) -> dict[str, tuple[Programs, str]]:
    """Return kind -> damaged programs of a sign of the usual size and place, and their fault."""
    return {
        "pocket too deep": (milled_as(Sign(pocket_depth=3.0), sign), "gouge"),
        "pocket a hair too deep": (milled_as(Sign(pocket_depth=2.52), sign), "gouge"),
        "pocket a hair too shallow": (milled_as(Sign(pocket_depth=2.48), sign), "uncut"),
        "pocket not deep enough": (milled_as(Sign(pocket_depth=2.0), sign), "uncut"),
        "pocket rows too far apart": (mill(sign, pocket_with_step), "uncut"),
        "pocket forgotten": (milled_as(sign, sign, order="wo"), "uncut"),
        "compensation missing": (milled_as(Sign(offset=-1.4), sign), "gouge"),
        "wrong side": (milled_as(Sign(offset=-3.0), sign), "gouge"),
        "offset too large": (milled_as(Sign(offset=0.2), sign), "uncut"),
        "offset too small": (milled_as(Sign(offset=-0.05), sign), "gouge"),
        "a tab lost": (milled_as(Sign(tabs=("left", "right", "top")), sign), "tabs-lost"),
        "all tabs lost": (milled_as(Sign(tabs=()), sign), "tabs-lost"),
        "tabs too long": (
            milled_as(Sign(tab_length=random.Random(sign.groove_width).uniform(9.5, 20)), sign),
            "tabs-long",
        ),
        "tabs too tall": (
            milled_as(Sign(tab_height=random.Random(sign.groove_width).uniform(1.6, 5.0)), sign),
            "tabs-tall",
        ),
        "tabs too thin": (milled_as(Sign(tab_height=0.3), sign), "tabs-lost"),
        "cut again when free": (mill(sign, cut_again), "loose"),
        "outline first": (milled_as(sign, sign, order="opw"), "order"),
        "window last": (milled_as(sign, sign, order="pow"), "order"),
        "window forgotten": (milled_as(sign, sign, order="po"), "not-through"),
        "outline forgotten": (milled_as(sign, sign, order="pw"), "not-through"),
        "last pass missing": (mill(sign, lost_pass), "not-through"),
        "travel at depth": (mill(sign, travel_at_depth), "rapid-in-stock"),
        "rapid plunge": (
            edited(sign, MILL, swapped("G1 Z-2.5000", "G0 Z-2.5000")), "rapid-in-stock"),
        "rapid cut": (edited(sign, MILL, swapped("G1 X", "G0 X", count=3)), "rapid-in-stock"),
        "spindle never started": (edited(sign, MILL, without(r" M3\n")), "spindle-off"),
        "spindle speed zero": (edited(sign, MILL, swapped("S18000", "S0")), "spindle-off"),
        "spindle the wrong way": (edited(sign, MILL, swapped("M3\n", "M4\n")), "spindle-direction"),
        "spindle too fast": (edited(sign, MILL, swapped("S18000", "S30000")), "spindle-speed"),
        "spindle too slow": (edited(sign, MILL, swapped("S18000", "S3000")), "spindle-speed"),
        "scribing with the spindle on": (
            replaced(sign, "1-scribe.nc", text=sign.scribe_text(spindle=True)), "spindle-on"),
        "larger cutter": (replaced(sign, MILL, cutters=("flat6",)), "gouge"),
        "smaller cutter": (replaced(sign, MILL, cutters=("flat2",)), "uncut"),
        "wider bit": (replaced(sign, "2-groove.nc", cutters=("v90",)), "gouge"),
        "end mill for bit": (replaced(sign, "2-groove.nc", cutters=("flat3",)), "gouge"),
        "smaller drill": (replaced(sign, "3-drill.nc", cutters=("drill2",)), "uncut"),
        "zero shifted in x": (edited(sign, MILL, shifted("X", 0.5)), "gouge"),
        "zero shifted in y": (edited(sign, MILL, shifted("Y", -0.1)), "gouge"),
        "zero too low": (edited(sign, MILL, shifted("Z", -0.3)), "below-bed"),
        "zero too low for the pocket": (edited(sign, MILL, shifted("Z", -0.3)), "gouge"),
        "zero too high": (edited(sign, MILL, shifted("Z", 0.3)), "not-through"),
        "zero on the bed": (edited(sign, MILL, shifted("Z", THICKNESS)), "not-through"),
        "groove too deep": (edited(sign, "2-groove.nc", shifted("Z", -0.1)), "gouge"),
        "groove a little too deep": (edited(sign, "2-groove.nc", shifted("Z", -0.06)), "gouge"),
        "groove too shallow": (edited(sign, "2-groove.nc", shifted("Z", 0.15)), "uncut"),
        "groove beside its place": (edited(sign, "2-groove.nc", shifted("Y", 0.15)), "gouge"),
        "arcs the other way": (edited(sign, MILL, swapped("G2 ", "G3 ")), "gouge"),
        "centre sign": (edited(sign, MILL, swapped("I1.5050", "I-1.5050")), "arc-mismatch"),
        "centre rounded": (edited(sign, MILL, swapped("I1.5050", "I1.51")), "arc-mismatch"),
        "centre lost": (edited(sign, MILL, without(r" I-?[0-9.]+ J-?[0-9.]+")), "missing-word"),
        "feed words lost": (edited(sign, MILL, without(r" F[0-9.]+")), "feed-missing"),
        "feed zero": (edited(sign, MILL, swapped("F900.0000", "F0")), "feed-missing"),
        "feed negative": (edited(sign, MILL, swapped("F900.0000", "F-900")), "bad-value"),
        "feed too high": (edited(sign, MILL, swapped("F900.0000", "F9000")), "feed"),
        "plunge too fast": (edited(sign, MILL, swapped("F300.0000", "F2000")), "feed"),
        "inch for mm": (edited(sign, MILL, swapped("G21", "G20")), "outside-stock"),
        "mm for inch": (
            edited(sign, MILL, lambda t: as_inch_from_bed(t).replace("G20", "G21")), "not-through"),
        "incremental": (edited(sign, MILL, swapped("G90", "G91")), "unknown-position"),
        "mirrored": (
            edited(sign, MILL, lambda t: re.sub(r"X([0-9])", r"X-\1", t)), "outside-stock"),
        "x and y changed over": (
            edited(sign, MILL, lambda t: t.translate(str.maketrans("XYIJ", "YXJI"))), "gouge"),
        "decimal point lost": (edited(sign, MILL, swapped("X101.5050", "X1015050")), "bad-value"),
        "end mill that cannot plunge": (replaced(sign, MILL, cutters=("flat3-side",)), "plunge"),
        "end mill too short": (replaced(sign, MILL, cutters=("flat3-short",)), "reach"),
        "through the bed": (edited(sign, MILL, swapped("Z-6.2000", "Z-7.5000")), "below-bed"),
        "end word lost": (edited(sign, MILL, swapped("M30", "")), "no-end"),
        "spindle not stopped": (edited(sign, MILL, swapped("M5\n", "")), "spindle-left-on"),
        "cut off half way": (edited(sign, MILL, lambda t: t[: len(t) // 2]), "no-end"),
        "end in the middle": (
            edited(sign, MILL, swapped("G0 X84.4950", "M5\nM30\nG0 X84.4950")), "not-through"),
        "tool that is not there": (edited(sign, MILL, swapped("S18000", "T7 M6\nS18000")), "tool"),
        "place never told": (
            edited(sign, MILL, swapped("G0 Z5.0000\n", "", count=1)), "unknown-position"),
        "cut before travel": (
            edited(sign, MILL, swapped("G0 X29.5050 Y24.5050\n", "", count=1)), "unknown-position"),
        "comment in a comment": (edited(sign, MILL, swapped("(avocet", "((avocet")), "syntax"),
        "letter lost": (edited(sign, MILL, swapped("G2 X20.0000", "G2 20.0000")), "unknown-word"),
        "two motions": (edited(sign, MILL, swapped("G1 X", "G0 G1 X", count=1)), "modal-conflict"),
        "other plane": (edited(sign, MILL, swapped("G17", "G18")), "unknown-word"),
        "canned cycle": (edited(sign, "3-drill.nc", swapped("G1 Z", "G81 R1 Z")), "unknown-word"),
        "skippable line": (edited(sign, MILL, swapped("G1 X", "/G1 X", count=1)), "block-delete"),
        "hole forgotten": (
            edited(sign, "3-drill.nc", without(r"G0 X26.*\n.*\n.*\n")), "not-through"),
        "hole not through": (
            replaced(
                sign, "3-drill.nc",
                text=drill_text(sign, through=5.0, blind=3, at=sign.drilled)),
            "not-through"),
        "drill tip stays in the hole": (
            replaced(
                sign, "3-drill.nc",
                text=drill_text(sign, through=6.1, blind=3, at=sign.drilled)),
            "not-through"),
        "hole beside its place": (
            replaced(sign, "3-drill.nc", text=drill_text(
                sign, through=DEEP, blind=3, at=(sign.drilled[0] + 0.1, sign.drilled[1]))),
            "gouge"),
        "blind hole too deep": (
            replaced(
                sign, "3-drill.nc",
                text=drill_text(sign, through=DEEP, blind=3.2, at=sign.drilled)),
            "gouge"),
        "blind hole too shallow": (
            replaced(
                sign, "3-drill.nc",
                text=drill_text(sign, through=DEEP, blind=2.0, at=sign.drilled)),
            "uncut"),
        "line not drawn": (
            replaced(sign, "1-scribe.nc", text=Writer().start(spindle=False).end()), "uncut"),
        "line too faint": (
            replaced(sign, "1-scribe.nc", text=sign.scribe_text(depth=0.05)), "uncut"),
        "line elsewhere": (edited(sign, "1-scribe.nc", shifted("Y", -0.4)), "gouge"),
        "groove forgotten": (
            replaced(sign, "2-groove.nc", text=Writer().start().end()), "uncut"),
    }  # fmt: skip


@dataclass(frozen=True)
class Seeded:
    """A damage of programs.

    Attributes:
        code: the fault that must be found.
        programs: damaged.
        options: of `prove`, beside the material.

    """

    code: str
    programs: Programs
    options: dict[str, Any] = dataclasses.field(default_factory=dict)


class Pecked(Sign):
    """A sign whose through hole is drilled in two pecks, as its drill bears."""

    def drill_text(self) -> str:
        """Return the program of the drill."""
        w = Writer().start()
        w.drill(*self.blind, 3.0)
        w.rapid(*self.drilled)
        w.down(-DEEP / 2)
        w.down(-DEEP)
        w.lift()
        return w.end()


@cache
def plywood() -> Any:
    """Return the material of the sign."""
    return load_catalogue().material("birch-plywood")


SCRIBE, GROOVE, DRILL = "1-scribe.nc", "2-groove.nc", "3-drill.nc"
_ANY = (SCRIBE, GROOVE, DRILL, MILL)
_LIFT = "G0 Z5.0000\n"


def _nth(text: str, what: str, number: int, new: str) -> str:
    """Return a text with one of the places where something stands changed."""
    parts = text.split(what)
    number %= len(parts) - 1
    return what.join(parts[: number + 1]) + new + what.join(parts[number + 1 :])


def _between(rng: random.Random, text: str, new: str) -> str:
    """Return a text with one lift that is neither the first nor the last one changed."""
    count = text.count(_LIFT)
    return _nth(text, _LIFT, rng.randrange(1, max(2, count - 1)), new)


def _after_cut(rng: random.Random, text: str, new: str) -> str:
    """Return a text with a line put in after one of its cuts along the stock."""
    lines = text.split("\n")
    cuts = [i for i, line in enumerate(lines) if line.startswith("G1 X") and "F" in line]
    at = cuts[rng.randrange(len(cuts) - 1)]
    return "\n".join([*lines[: at + 1], new, *lines[at + 1 :]])


def _without_last(text: str, what: str) -> str:
    before, _, after = text.rpartition(what)
    return before + after


def _slot(sign: Sign, dx: float, dy: float) -> str:
    """Return the mill's program with a cut through the waste, from the outline to elsewhere."""
    w = sign.mill(Writer().start(), order="pw")
    _left, low, right, high = sign.outline_box
    x, y = right + sign.radius + 0.01, (low + high) / 2
    w.rapid(x, y)
    for depth in (2.0, 4.0):
        w.down(-depth)
        w.cut(x + dx, y + dy)
        w.cut(x, y)
    w.lift()
    sign.outline(w, [2.0, 4.0, THICKNESS + THROUGH])
    return w.end()


def _one_pass(sign: Sign, depths: list[float]) -> str:
    w = sign.mill(Writer().start(), order="pw")
    sign.outline(w, depths)
    return w.end()


def _window_at_once(sign: Sign) -> str:
    w = sign.mill(Writer().start(), order="p")
    x, y, r = sign.window
    w.circle(x, y, r - sign.radius - sign.offset, [THICKNESS + THROUGH])
    return sign.mill(w, order="o").end()


def _short_line(sign: Sign, by: float) -> str:
    w = Writer().start(spindle=False)
    (x0, y0), (x1, y1) = sign.scribed
    w.line([(x0, y0), (x1 - by, y1)], 0.15)
    return w.end()


def _broken_line(sign: Sign, at: float, gap: float) -> str:
    w = Writer().start(spindle=False)
    (x0, y0), (x1, y1) = sign.scribed
    x = x0 + at * (x1 - x0)
    w.line([(x0, y0), (x, y0)], 0.15)
    w.line([(x + gap + 0.1, y1), (x1, y1)], 0.15)
    return w.end()


def _short_groove(sign: Sign, by: float) -> str:
    w = Writer().start()
    left, low, right, high = sign.groove_box
    w.groove((left, low, right - by, high), 0.5773502691896257)
    return w.end()


def _across_floor(sign: Sign) -> str:
    """Return the mill's program with a rapid across the pocket's own floor."""
    text = sign.mill_text()
    at = text.index(_LIFT, text.index(_LIFT) + 1)
    _left, _low, right, _high = sign.pocket_box
    x = right - sign.radius - sign.offset
    return f"{text[:at]}G0 X{x:.4f}\n{text[at:]}"


def conduct_damages(sign: Sign, rng: random.Random) -> dict[str, Seeded]:
    """Return kind -> a fault in how the cutter moves, what is left out, what is kept clear."""

    def changed(code: str, name: str, edit: Callable[[str], str], **options: Any) -> Seeded:
        return Seeded(code, edited(sign, name, edit), options)

    def mill_as(code: str, text: str, **options: Any) -> Seeded:
        return Seeded(code, replaced(sign, MILL, text=text), options)

    left, low, right, high = sign.outline_box
    some, cutting = rng.choice((DRILL, MILL)), rng.choice((GROOVE, DRILL, MILL))
    height = rng.choice((0.1, 0.3, 1.0, 2.5, 4.8))
    beyond = rng.uniform(8, 40)
    angle = rng.uniform(8, 30)
    pause = rng.uniform(0.5, 3)
    place = KeptClear("clamp", right + 1, low + rng.uniform(5, 20), 15, 10)
    screw = KeptClear("screw", left - 4, (low + high) / 2 + rng.uniform(-8, 8), diameter_mm=5)
    far = KeptClear("cut", rng.uniform(80, 120), 98, 12, 12)
    _pocket_left, _pocket_low, _, _ = sign.pocket_box
    return {
        "a lift too low": changed(
            "low-travel", some, lambda t: _between(rng, t, f"G0 Z{height}\n")),
        "no lift at all": changed("low-travel", some, lambda t: _between(rng, t, "G0 Z0.0000\n")),
        "a lift as a cut": changed("low-travel", some, lambda t: _between(
            rng, t, "G1 Z1.5000\nG1 X1.0\n")),
        "the first lift too low": changed(
            "low-travel", rng.choice(_ANY), lambda t: _nth(t, _LIFT, 0, f"G0 Z{height}\n")),
        "the last lift missing": changed(
            "no-lift", rng.choice(_ANY), lambda t: _without_last(t, _LIFT)),
        "the last lift too low": changed(
            "no-lift", rng.choice(_ANY),
            lambda t: _without_last(t, _LIFT).replace("M5\n", f"G0 Z{height}\nM5\n")),
        "upper passes missing": mill_as("deep-pass", _one_pass(sign, [THICKNESS + THROUGH])),
        "the first two passes missing": mill_as(
            "deep-pass", _one_pass(sign, [0.2, THICKNESS + THROUGH])),
        "a window in one pass": mill_as("deep-pass", _window_at_once(sign)),
        "a hole without pecks": Seeded("deep-pass", replaced(
            sign, DRILL, text=drill_text(sign, through=DEEP, blind=3, at=sign.drilled))),
        "a slot through the waste": mill_as("stray", _slot(sign, angle, rng.uniform(-10, 10))),
        "a cut elsewhere": mill_as(
            "stray", sign.mill_text().replace(
                "M5\n", f"G0 X{right + 30:.1f} Y{low:.1f}\nG1 Z-1 F300\n"
                f"G1 Y{low + angle:.1f} F900\nG0 Z5\nM5\n")),
        "a hole elsewhere": changed("stray", DRILL, lambda t: t.replace(
            "M5\n", f"G0 X{right + beyond:.1f} Y{low:.1f}\nG1 Z-3 F300\nG0 Z5\nM5\n")),
        "a rapid across the floor": mill_as("rapid-at-depth", _across_floor(sign)),
        "travel beyond the sheet": changed(
            "travel-outside", rng.choice(_ANY), lambda t: t.replace(
                "M5\n", f"G0 X-{beyond:.1f} Y10\nM5\n")),
        "travel beyond the far edge": changed(
            "travel-outside", rng.choice(_ANY), lambda t: t.replace(
                "M5\n", f"G0 X20 Y{120 + beyond:.1f}\nM5\n")),
        "travel beyond the sheet, low": changed(
            "low-travel", rng.choice(_ANY), lambda t: t.replace(
                "M5\n", f"G0 Z1\nG0 X-{beyond:.1f}\nG0 Z5\nM5\n")),
        "travel beyond the bed": changed(
            "outside-machine", rng.choice(_ANY), lambda t: t.replace(
                "M5\n", f"G0 X{400 + beyond:.1f}\nM5\n")),
        "travel above the machine": changed(
            "outside-machine", rng.choice(_ANY), lambda t: t.replace(
                "M5\n", f"G0 Z{75 + beyond:.1f}\nM5\n")),
        "too much a tooth": changed("chip-load", MILL, lambda t: t.replace(
            "S18000", f"S{rng.randrange(8000, 8400)}").replace("F900.0000", "F2400.0000")),
        "too much a turn of the drill": changed("chip-load", DRILL, lambda t: t.replace(
            "F300.0000", f"F{rng.randrange(1000, 1400)}").replace("S18000", "S8500")),
        "an edge too fast": changed("surface-speed", GROOVE, swapped("S18000", "S23990")),
        "no time to come up": changed("spin-up", cutting, swapped("G4 P2\n", "")),
        "too little time to come up": changed(
            "spin-up", cutting, swapped("G4 P2\n", f"G4 P{rng.uniform(0.1, 1.8):.2f}\n")),
        "stopped and started between": changed(
            "spin-up", MILL, lambda t: _between(rng, t, f"{_LIFT}M5\nM3\n")),
        "a pause in the cut": changed(
            "pause-in-cut", MILL,
            lambda t: _after_cut(rng, t, f"G4 P{pause:.1f}")),
        "the spindle stopped in the cut": changed(
            "spindle-off", MILL, lambda t: _after_cut(rng, t, "M5")),
        "no plane": changed("head", rng.choice(_ANY), swapped("G17 ", "")),
        "no units": changed("head", rng.choice(_ANY), swapped("G21 ", "")),
        "no distance mode": changed("head", rng.choice(_ANY), swapped("G90 ", "")),
        "no feed mode": changed("head", rng.choice(_ANY), swapped("G94", "")),
        "no head at all": changed(
            "head", rng.choice(_ANY), swapped("G17 G21 G40 G49 G54 G90 G94\n", "")),
        "a line a little short": Seeded(
            "uncut", replaced(sign, SCRIBE, text=_short_line(sign, rng.uniform(0.21, 0.6)))),
        "a gap in a line": Seeded("uncut", replaced(
            sign, SCRIBE, text=_broken_line(sign, rng.uniform(0.1, 0.9), rng.uniform(0.21, 0.5)))),
        "a groove a little short": Seeded(
            "uncut", replaced(sign, GROOVE, text=_short_groove(sign, rng.uniform(0.21, 0.6)))),
        "a program that is not there": Seeded(
            "no-program", [p for p in sign.programs() if p.name != some], {"absent": (some,)}),
        "a clamp in the way": Seeded("clamp", sign.programs(), {"keep_clear": (place,)}),
        "a screw in the way": Seeded("clamp", sign.programs(), {"keep_clear": (screw,)}),
        "a left-over with a hole under a cut": Seeded(
            "clamp", sign.programs(), {"outline": (_SHEET, _ring(screw))}),
        "a left-over that ends under a cut": Seeded(
            "clamp", sign.programs(), {"outline": (_ended_at(left + rng.uniform(-2, 3)),)}),
        "low travel over what is cut out": changed(
            "clamp", MILL, lambda t: t.replace(
                "M5\n", f"G0 Z2\nG0 X{far.x_mm + 3:.1f} Y{far.y_mm + 3:.1f}\nG0 Z5\nM5\n"),
            keep_clear=(far,)),
        "a cut in the margin": Seeded(
            "clamp", sign.programs(), {"margin": min(left, low) - rng.uniform(0.3, 2.5)}),
        "a floor that is left in its corner": mill_as("uncut", _cut_corner(sign)),
        "a tab cut again": mill_as("tabs-lost", _tab_again(sign)),
    }  # fmt: skip


def _cut_corner(sign: Sign) -> str:
    """Return the mill's program whose pocket lacks a corner, 2 mm wide."""
    w = Writer().start()
    r = sign.radius + sign.offset
    left, low, right, high = sign.pocket_box
    left, low, right, high = left + r, low + r, right - r, high - r
    w.rapid(left, low)
    w.down(-sign.pocket_depth)
    y = low
    while y < high - 2:
        w.cut(right, y)
        w.cut(left, y)
        y += sign.radius
    for corner in ((left, high), (right - 2, high), (right - 2, high - 2), (right, high - 2)):
        w.cut(*corner)
    w.cut(left, high - 2)
    w.cut(left, high - 1)
    w.cut(right - 2, high - 1)
    w.lift()
    return sign.mill(w, order="wo").end()


def _tab_again(sign: Sign) -> str:
    w = sign.mill(Writer().start(), order="pwo")
    left, low, _right, high = sign.outline_box
    x, y = left - sign.radius - sign.offset, (low + high) / 2
    w.rapid(x, y - 5)
    w.down(-THICKNESS - THROUGH)
    w.cut(x, y + 5)
    w.lift()
    return w.end()


def samples(seed: int) -> dict[str, Callable[[], tuple[str, SheetProof]]]:
    """Return kind -> what proves a sample of it: the code that must be found, and the proof."""
    rng = random.Random(seed)
    usual = Sign(groove_width=5.0 if not seed else rng.uniform(3.5, 6.0))
    other = Pecked() if not seed else Pecked(
        x=rng.uniform(18, 26), y=rng.uniform(16, 20), width=rng.uniform(70, 95),
        height=rng.uniform(45, 55), groove_width=rng.uniform(3, 6),
    )  # fmt: skip
    found: dict[str, Callable[[], tuple[str, SheetProof]]] = {}
    for kind, (programs, code) in text_damages(usual).items():
        found[kind] = lambda p=programs, c=code: (c, prove(usual.part(), p))
    for kind, seeded in conduct_damages(other, rng).items():
        found[kind] = lambda s=seeded: (
            s.code, prove(other.part(), s.programs, material=plywood(), **s.options)
        )  # fmt: skip
    return found


_SHEET = ((0.0, 0.0), (200.0, 0.0), (200.0, 120.0), (0.0, 120.0))


def _ring(place: KeptClear) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in place.area.exterior.coords[:-1])


def _ended_at(x_mm: float) -> tuple[tuple[float, float], ...]:
    """Return the edge of a left-over whose left ends there but for a strip along its foot."""
    return ((0.0, 0.0), (200.0, 0.0), (200.0, 120.0), (x_mm, 120.0), (x_mm, 1.0), (0.0, 1.0))


def main() -> int:
    """Take samples of all kinds; the exit code is 1 when any is not found under its name."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    tried = missed = 0
    for seed in range(parser.parse_args().count):
        for kind, proved in samples(seed).items():
            code, proof = proved()
            tried += 1
            if proof.passed or code not in codes(proof):
                missed += 1
                print(f"seed {seed}: {kind}: {code} not in {sorted(codes(proof))}", flush=True)
    print(f"{tried} samples of {len(samples(0))} kinds, {missed} not found under their name")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
