"""Habits of machines: the same work in every dialect is the same moves, and the proof sees faults.

The work is two parts with round and straight edges. Words of a program are also read by the
packages gcodeparser and pygcode (PyPI), which know nothing of ours.
"""

from __future__ import annotations

import dataclasses
import random
import re
import warnings
from functools import cache
from typing import Any

import gcodeparser
import numpy as np
import pygcode
import pytest
from scipy.spatial import cKDTree

from cutting.hand_made import corner_piece, disc, flat, part, sheet, shop
from letterply.catalogue.loading import load_catalogue
from letterply.cutting.model import CutPlan
from letterply.cutting.plan import plan_sheet
from letterply.jobs.plans import prove_plan
from letterply.proof.model import ProgramSource, SheetProof
from letterply.proof.reading.dialect import Dialect
from letterply.proof.reading.interpreter import ReadProgram, read_program
from letterply.proof.reading.moves import segments_of
from letterply.requests.shop import HoldDown

PARK: dict[str, Any] = {"park_mm": (0.0, 380.0)}
HABITS: dict[str, dict[str, Any]] = {
    "zero at the bed": {"zero": "bed"},
    "upper right": {"zero_xy": "upper-right"},
    "centre": {"zero_xy": "centre"},
    "middle of the parts": {"zero_xy": "parts"},
    "a pin beside the sheet": {"zero_xy": "pin", "pin_mm": (-12.5, 30.0)},
    "milliseconds": {"dwell": "milliseconds"},
    "semicolons": {"comments": "semicolon"},
    "line numbers": {"line_number_step": 5},
    "arcs by radius": {"arc_form": "radius"},
    "absolute centres from the middle": {"arc_form": "centre-absolute", "zero_xy": "centre"},
    "lines only": {"arcs": False},
    "inches by radius": {"units": "inch", "decimals": 5, "arc_form": "radius"},
    "inches, absolute": {"units": "inch", "decimals": 5, "arc_form": "centre-absolute"},
    "extraction": {"extraction_on": ("M64 P1",), "extraction_off": ("M65 P1",)},
    "coolant": {
        "coolant_on": ("M7",), "coolant_off": ("M9",), "coolant_for": ("fibreboard",)},
    "park in the machine": PARK,
    "park from zero": {"park_mm": (-20.0, 200.0), "park_from": "zero"},
    "three decimals by radius": {"arc_form": "radius", "decimals": 3, "units": "mm"},
    "lengths": {"tool_change": "automatic", "length_offsets": True},
    "lengths and park": {"tool_change": "automatic", "length_offsets": True, **PARK},
    "carriage returns": {"line_end": "crlf", "program_mark": True, "end_word": "M2"},
    "words of one's own": {"start_words": ("G64", "M70"), "end_words": ("M71 P3 (light off)",)},
}  # fmt: skip


def mixed(seed: int) -> dict[str, Any]:
    """Return a random machine: several habits at once."""
    draw = random.Random(seed)
    found: dict[str, Any] = {}
    for name in draw.sample(sorted(HABITS), 5):
        found |= HABITS[name]
    return found | ({"decimals": 5} if found.get("units") == "inch" else {})


ALL = {**HABITS, **{f"mixed {seed}": mixed(seed) for seed in range(2)}}


@cache
def rack(name: str) -> Any:
    found = shop(load_catalogue(), flat(3.0), flat(1.0), hold_down=HoldDown.TAPE)
    return dataclasses.replace(
        found, machine=dataclasses.replace(found.machine, **ALL.get(name, {}))
    )


@cache
def planned(name: str) -> CutPlan:
    parts = sheet(part(disc(0, 0, 17.3), "face.O"), part(corner_piece(), "face.L"))
    return plan_sheet(parts, rack(name), load_catalogue(), 15.0)


def read(name: str) -> list[ReadProgram]:
    dialect = Dialect.of(rack(name).machine)
    return [read_program(p.text, dialect) for p in planned(name).programs]


def cuts(name: str) -> np.ndarray:
    """Return the paths cut below the face, a point each 0.05 mm, in the sheet's frame."""
    zero = planned(name).zero
    found = []
    for program in read(name):
        pieces = segments_of(program.moves, sagitta_mm=0.002)
        low = np.minimum(pieces.starts[:, 2], pieces.ends[:, 2]) < zero.lift_mm - 0.01
        for a, b in zip(pieces.starts[low], pieces.ends[low], strict=True):
            steps = np.linspace(0, 1, 1 + int(np.ceil(np.linalg.norm(b - a) / 0.05)))
            found.append(a + steps[:, None] * (b - a))
    points: np.ndarray = np.concatenate(found) + (zero.x_mm, zero.y_mm, -zero.lift_mm)
    return points


def proved(name: str, edit: Any = lambda text: text) -> SheetProof:
    plan = planned(name)
    sources = [ProgramSource(p.name, p.cutters, edit(p.text)) for p in plan.programs]
    return prove_plan(plan, sources, rack(name), load_catalogue())


@pytest.mark.parametrize("name", ALL)
def test_the_same_work_in_every_dialect_is_the_same_moves(name: str) -> None:
    """What is cut lies where the usual machine cuts it, within what arcs and chords may stray."""
    assert [p.problems for p in read(name)] == [()] * len(planned(name).programs)
    # A machine without arcs goes in by another way, which is planned and no matter of writing.
    base = "usual" if rack(name).machine.arcs else "lines only"
    usual, found = cuts(base), cuts(name)
    for some, others in ((usual, found), (found, usual)):
        away, _ = cKDTree(others).query(some)
        assert away.max() < 0.03  # half a step of the points, a chord's sagitta of 0.005, rounding


@pytest.mark.parametrize("name", ALL)
def test_the_proof_reads_every_dialect_and_passes(name: str) -> None:
    proof = proved(name)
    assert proof.passed, [f.text for f in proof.faults]
    assert {f.code for f in proof.faults} <= {"rounded"}  # a corner, as deep as it may be
    usual = {p.mark: p for p in proved("usual").parts}
    assert all(
        (p.through, p.held, round(p.gouge_depth_mm, 2))
        == (u.through, u.held, round(u.gouge_depth_mm, 2))
        for p in proof.parts for u in [usual[p.mark]]
    )  # fmt: skip


def aside(text: str) -> str:
    by = 1 / 25.4 if "G20" in text else 1.0
    return re.sub(r"(G1 )X(-?[\d.]+)", lambda m: f"{m[1]}X{float(m[2]) + by:.5f}", text)


def unlifted(text: str) -> str:
    """Leave out every lift but the first."""
    lift = re.compile(r"^(?:N\d+ )?G0 Z[\d.]+\r?\n", re.MULTILINE)
    first = lift.search(text)
    assert first is not None
    return text[: first.end()] + lift.sub("", text[first.end() :])


@pytest.mark.parametrize("name", sorted(ALL)[::8])
@pytest.mark.parametrize(
    ("edit", "codes"),
    [
        (aside, {"gouge", "arc-mismatch", "uncut", "not-through"}),
        (lambda text: re.sub(r"S\d+ M3", "M5", text), {"spindle-off"}),
        (unlifted, {"rapid-in-stock", "rapid-at-depth"}),
    ],
)  # fmt: skip
def test_seeded_faults_are_found_in_every_dialect(name: str, edit: Any, codes: set[str]) -> None:
    proof = proved(name, edit)
    assert not proof.passed
    assert codes & {f.code for f in proof.faults}


@pytest.mark.parametrize(
    ("written", "taken", "code"),
    [
        ("milliseconds", "usual", None),  # waits for hours, and longer than long enough
        ("usual", "milliseconds", "spin-up"),
        ("absolute centres from the middle", "centre", "arc-mismatch"),
        ("centre", "absolute centres from the middle", "arc-mismatch"),
        ("usual", "upper right", "travel-outside"),
        ("usual", "zero at the bed", "below-bed"),
        ("lengths", "usual", "unknown-word"),
        ("extraction", "usual", "unknown-word"),
        ("usual", "lines only", "arcs"),
        ("usual", "arcs by radius", "arcs"),
        ("usual", "extraction", "extraction"),
        ("inches by radius", "usual", "units"),
    ],
)
def test_a_program_for_another_machine_is_told(written: str, taken: str, code: str | None) -> None:
    plan = planned(written)
    sources = [ProgramSource(p.name, p.cutters, p.text) for p in plan.programs]
    proof = prove_plan(plan, sources, rack(taken), load_catalogue())
    assert code is None or code in {f.code for f in proof.faults}, [f.text for f in proof.faults]


@pytest.mark.parametrize(
    ("edit", "code"),
    [
        (lambda text: text.replace("G43 H2", "G43 H1"), "tool"),
        (lambda text: re.sub(r"G43 H\d\n", "", text), "tool"),
        (lambda text: text.replace("G43 H1\n", "G43\n"), "missing-word"),
    ],
)
def test_a_wrong_length_is_a_fault(edit: Any, code: str) -> None:
    proof = proved("lengths", edit)
    assert not proof.passed
    assert code in {f.code for f in proof.faults}


@pytest.mark.parametrize("name", ALL)
def test_an_outside_parser_reads_the_same_ends(name: str) -> None:
    """The package gcodeparser, told of nothing but units: every end, to the last decimal."""
    scale = 25.4 if rack(name).machine.units == "inch" else 1.0
    for program, ours in zip(planned(name).programs, read(name), strict=True):
        body = re.sub(r"^%|^N\d+ ", "", program.text, flags=re.MULTILINE)
        body = re.sub(r"\([^)]*\)", "", body)
        at, theirs = np.full(3, np.nan), []
        machine = False
        for line in gcodeparser.parse_gcode_lines(body, include_comments=False):
            if line.command == ("G", 53):
                machine = True
            if line.command[0] == "G" and line.command[1] in (0, 1, 2, 3):
                for axis, letter in enumerate("XYZ"):
                    if letter in line.params:
                        at[axis] = np.nan if machine else line.params[letter] * scale
                theirs.append(at.copy())
                machine = False
            elif line.command == ("M", 6):
                at[:] = np.nan
        assert len(theirs) == len(ours.moves)
        known = np.isfinite(ours.moves.ends) & np.isfinite(np.array(theirs))
        away = np.abs(np.array(theirs) - ours.moves.ends)[known]
        assert away.max() < 1e-9


@pytest.mark.parametrize(
    "name", ["semicolons", "line numbers", "arcs by radius", "centre", "zero at the bed",
             "inches by radius", "milliseconds", "coolant"],
)  # fmt: skip
def test_a_second_outside_parser_ends_where_the_proof_does(name: str) -> None:
    """The package pygcode carries out every block that it knows the words of."""
    scale = 25.4 if rack(name).machine.units == "inch" else 1.0
    for program, ours in zip(planned(name).programs, read(name), strict=True):
        robot = pygcode.Machine()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)
            for line in program.text.splitlines():
                robot.process_block(pygcode.Line(line).block)
        there = [robot.pos.values[axis] * scale for axis in "XYZ"]
        assert there == pytest.approx(ours.moves.ends[-1].tolist(), abs=1e-6)


def test_habits_are_written_as_they_are_said() -> None:
    texts = {name: planned(name).programs[-1].text for name in HABITS}
    assert "G4 P4000" in texts["milliseconds"]
    assert "(" not in texts["semicolons"]
    numbers = re.findall(r"^N(\d+) ", texts["line numbers"], flags=re.MULTILINE)
    assert [int(n) for n in numbers] == [5 * (k + 1) for k in range(len(numbers))]
    assert not re.search(r" [IJ]", texts["arcs by radius"].partition("G17")[2])
    assert re.search(r"M64 P1\nS\d+ M3", texts["extraction"])
    assert "M5\nM65 P1\n" in texts["extraction"]
    assert "G53 G0 Z0\nG53 G0 X0 Y380\n" in texts["park in the machine"]
    assert "T1 M6\nG43 H1\n" in texts["lengths"]
    assert "M7" in texts["coolant"]
    assert "the pin of the machine, 12.5 mm left of and 30 mm above" in re.sub(
        r"\)\n\(", " ", texts["a pin beside the sheet"]
    )
