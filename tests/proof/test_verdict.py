"""Good programs pass at any size; each kind of damage is found under its name.

Every damage starts from programs that pass. The expected code is what a person would say is
wrong; other faults may follow from it.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from letterply.catalogue.machines import Machine
from letterply.errors import UnknownName
from letterply.findings import Severity
from letterply.proof.model import ProgramSource, Setup
from letterply.proof.verdict import choose_cell, faults_as_findings, prove_sheet
from letterply.requests.shop import HoldDown
from proof.rack_sign import (
    CUTTERS,
    DRILL_TIP,
    MACHINE,
    THICKNESS,
    THROUGH,
    Sign,
    codes,
    prove,
    sheet_of,
    with_machine,
)
from proof.simple_program import Writer

MILL = "4-mill.nc"


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


@pytest.mark.parametrize(
    "sign",
    [
        Sign(),
        Sign(width=120, height=70, x=30, y=20),
        Sign(width=60, height=40, groove_width=3, x=10.37, y=12.91),
        Sign(cutter="flat2", offset=0.003),
        Sign(bit="v90"),
        Sign(bit="v60-tip"),
        Sign(tabs=("left", "right"), tab_height=0.6, tab_length=3),
        Sign(offset=0.015),
    ],
)
@pytest.mark.parametrize("cell", [0.1, 0.07])
def test_good_programs_pass(sign: Sign, cell: float) -> None:
    proof = prove(
        sign.part(), sign.programs(), tabs=len(sign.tabs), cell=cell, tab_height=sign.tab_height
    )
    assert codes(proof) == set()
    assert proof.passed
    assert codes(proof, blockers=False) <= {"rounded"}
    (part,) = proof.parts
    assert (part.through, part.held) == (True, True)
    assert (part.tabs_found, part.gouge_area_mm2, part.uncut_area_mm2) == (len(sign.tabs), 0, 0)


@settings(max_examples=25, deadline=None)
@given(
    width=st.floats(55, 150),
    height=st.floats(38, 80),
    x=st.floats(10, 40),
    y=st.floats(10, 30),
    groove=st.floats(1, 6),
    depth=st.floats(0.5, 4),
    offset=st.floats(0.001, 0.015),
    cutter=st.sampled_from(["flat3", "flat2"]),
    bit=st.sampled_from(["v60", "v90", "v60-tip"]),
    cell=st.sampled_from([0.1, 0.15, 0.23]),
)
def test_good_programs_pass_at_any_size_and_place(
    width: float,
    height: float,
    x: float,
    y: float,
    groove: float,
    depth: float,
    offset: float,
    cutter: str,
    bit: str,
    cell: float,
) -> None:
    sign = Sign(x, y, width, height, round(depth, 4), groove, cutter=cutter, bit=bit, offset=offset)
    proof = prove(sign.part(), sign.programs(), cell=cell)
    assert codes(proof) == set()


def test_a_program_in_inches_from_the_bed_is_read_as_well_as_one_in_mm_from_the_face() -> None:
    sign = Sign()
    machine = with_machine(zero="bed", units="inch")
    programs = [ProgramSource(p.name, p.cutters, as_inch_from_bed(p.text)) for p in sign.programs()]
    plain, other = (
        prove(sign.part(), sign.programs()),
        prove(sign.part(), programs, machine=machine),
    )
    assert other.passed
    assert codes(other, blockers=False) == {"rounded"}
    assert np.abs(plain.carved.z - other.carved.z).mean() < 1e-3


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


DEEP = THICKNESS + THROUGH + DRILL_TIP
S = Sign()

TEXT_DAMAGES: dict[str, tuple[list[ProgramSource], str]] = {
    "pocket too deep": (milled_as(Sign(pocket_depth=3.0), S), "gouge"),
    "pocket a hair too deep": (milled_as(Sign(pocket_depth=2.52), S), "gouge"),
    "pocket a hair too shallow": (milled_as(Sign(pocket_depth=2.48), S), "uncut"),
    "pocket not deep enough": (milled_as(Sign(pocket_depth=2.0), S), "uncut"),
    "pocket rows too far apart": (mill(S, pocket_with_step), "uncut"),
    "pocket forgotten": (milled_as(S, S, order="wo"), "uncut"),
    "compensation missing": (milled_as(Sign(offset=-1.4), S), "gouge"),
    "wrong side": (milled_as(Sign(offset=-3.0), S), "gouge"),
    "offset too large": (milled_as(Sign(offset=0.2), S), "uncut"),
    "offset too small": (milled_as(Sign(offset=-0.05), S), "gouge"),
    "a tab lost": (milled_as(Sign(tabs=("left", "right", "top")), S), "tabs-lost"),
    "all tabs lost": (milled_as(Sign(tabs=()), S), "tabs-lost"),
    "tabs too thin": (milled_as(Sign(tab_height=0.3), S), "tabs-lost"),
    "cut again when free": (mill(S, cut_again), "loose"),
    "outline first": (milled_as(S, S, order="opw"), "order"),
    "window last": (milled_as(S, S, order="pow"), "order"),
    "window forgotten": (milled_as(S, S, order="po"), "not-through"),
    "outline forgotten": (milled_as(S, S, order="pw"), "not-through"),
    "last pass missing": (mill(S, lost_pass), "not-through"),
    "travel at depth": (mill(S, travel_at_depth), "rapid-in-stock"),
    "rapid plunge": (edited(S, MILL, swapped("G1 Z-2.5000", "G0 Z-2.5000")), "rapid-in-stock"),
    "rapid cut": (edited(S, MILL, swapped("G1 X", "G0 X", count=3)), "rapid-in-stock"),
    "spindle never started": (edited(S, MILL, without(r" M3\n")), "spindle-off"),
    "spindle speed zero": (edited(S, MILL, swapped("S18000", "S0")), "spindle-off"),
    "spindle the wrong way": (edited(S, MILL, swapped("M3\n", "M4\n")), "spindle-direction"),
    "spindle too fast": (edited(S, MILL, swapped("S18000", "S30000")), "spindle-speed"),
    "spindle too slow": (edited(S, MILL, swapped("S18000", "S3000")), "spindle-speed"),
    "scribing with the spindle on": (
        replaced(S, "1-scribe.nc", text=S.scribe_text(spindle=True)), "spindle-on"),
    "larger cutter": (replaced(S, MILL, cutters=("flat6",)), "gouge"),
    "smaller cutter": (replaced(S, MILL, cutters=("flat2",)), "uncut"),
    "wider bit": (replaced(S, "2-groove.nc", cutters=("v90",)), "gouge"),
    "end mill for bit": (replaced(S, "2-groove.nc", cutters=("flat3",)), "gouge"),
    "smaller drill": (replaced(S, "3-drill.nc", cutters=("drill2",)), "uncut"),
    "zero shifted in x": (edited(S, MILL, shifted("X", 0.5)), "gouge"),
    "zero shifted in y": (edited(S, MILL, shifted("Y", -0.1)), "gouge"),
    "zero too low": (edited(S, MILL, shifted("Z", -0.3)), "below-bed"),
    "zero too low for the pocket": (edited(S, MILL, shifted("Z", -0.3)), "gouge"),
    "zero too high": (edited(S, MILL, shifted("Z", 0.3)), "not-through"),
    "zero on the bed": (edited(S, MILL, shifted("Z", THICKNESS)), "not-through"),
    "groove too deep": (edited(S, "2-groove.nc", shifted("Z", -0.1)), "gouge"),
    "groove a little too deep": (edited(S, "2-groove.nc", shifted("Z", -0.06)), "gouge"),
    "groove too shallow": (edited(S, "2-groove.nc", shifted("Z", 0.15)), "uncut"),
    "groove beside its place": (edited(S, "2-groove.nc", shifted("Y", 0.15)), "gouge"),
    "arcs the other way": (edited(S, MILL, swapped("G2 ", "G3 ")), "gouge"),
    "centre sign": (edited(S, MILL, swapped("I1.5050", "I-1.5050")), "arc-mismatch"),
    "centre rounded": (edited(S, MILL, swapped("I1.5050", "I1.51")), "arc-mismatch"),
    "centre lost": (edited(S, MILL, without(r" I-?[0-9.]+ J-?[0-9.]+")), "missing-word"),
    "feed words lost": (edited(S, MILL, without(r" F[0-9.]+")), "feed-missing"),
    "feed zero": (edited(S, MILL, swapped("F900.0000", "F0")), "feed-missing"),
    "feed negative": (edited(S, MILL, swapped("F900.0000", "F-900")), "bad-value"),
    "feed too high": (edited(S, MILL, swapped("F900.0000", "F9000")), "feed"),
    "plunge too fast": (edited(S, MILL, swapped("F300.0000", "F2000")), "feed"),
    "inch for mm": (edited(S, MILL, swapped("G21", "G20")), "outside-stock"),
    "mm for inch": (
        edited(S, MILL, lambda t: as_inch_from_bed(t).replace("G20", "G21")), "not-through"),
    "incremental": (edited(S, MILL, swapped("G90", "G91")), "unknown-position"),
    "mirrored": (edited(S, MILL, lambda t: re.sub(r"X([0-9])", r"X-\1", t)), "outside-stock"),
    "x and y changed over": (
        edited(S, MILL, lambda t: t.translate(str.maketrans("XYIJ", "YXJI"))), "gouge"),
    "decimal point lost": (edited(S, MILL, swapped("X101.5050", "X1015050")), "bad-value"),
    "end mill that cannot plunge": (replaced(S, MILL, cutters=("flat3-side",)), "plunge"),
    "end mill too short": (replaced(S, MILL, cutters=("flat3-short",)), "reach"),
    "through the bed": (edited(S, MILL, swapped("Z-6.2000", "Z-7.5000")), "below-bed"),
    "end word lost": (edited(S, MILL, swapped("M30", "")), "no-end"),
    "spindle not stopped": (edited(S, MILL, swapped("M5\n", "")), "spindle-left-on"),
    "cut off half way": (edited(S, MILL, lambda t: t[: len(t) // 2]), "no-end"),
    "end in the middle": (
        edited(S, MILL, swapped("G0 X84.4950", "M5\nM30\nG0 X84.4950")), "not-through"),
    "tool that is not there": (edited(S, MILL, swapped("S18000", "T7 M6\nS18000")), "tool"),
    "place never told": (edited(S, MILL, swapped("G0 Z5.0000\n", "", count=1)), "unknown-position"),
    "cut before travel": (
        edited(S, MILL, swapped("G0 X29.5050 Y24.5050\n", "", count=1)), "unknown-position"),
    "comment in a comment": (edited(S, MILL, swapped("(avocet", "((avocet")), "syntax"),
    "letter lost": (edited(S, MILL, swapped("G2 X20.0000", "G2 20.0000")), "unknown-word"),
    "two motions": (edited(S, MILL, swapped("G1 X", "G0 G1 X", count=1)), "modal-conflict"),
    "other plane": (edited(S, MILL, swapped("G17", "G18")), "unknown-word"),
    "canned cycle": (edited(S, "3-drill.nc", swapped("G1 Z", "G81 R1 Z")), "unknown-word"),
    "skippable line": (edited(S, MILL, swapped("G1 X", "/G1 X", count=1)), "block-delete"),
    "hole forgotten": (
        edited(S, "3-drill.nc", without(r"G0 X26.*\n.*\n.*\n")), "not-through"),
    "hole not through": (
        replaced(S, "3-drill.nc", text=drill_text(S, through=5.0, blind=3, at=S.drilled)),
        "not-through"),
    "drill tip stays in the hole": (
        replaced(S, "3-drill.nc", text=drill_text(S, through=6.1, blind=3, at=S.drilled)),
        "not-through"),
    "hole beside its place": (
        replaced(S, "3-drill.nc", text=drill_text(
            S, through=DEEP, blind=3, at=(S.drilled[0] + 0.1, S.drilled[1]))), "gouge"),
    "blind hole too deep": (
        replaced(S, "3-drill.nc", text=drill_text(S, through=DEEP, blind=3.2, at=S.drilled)),
        "gouge"),
    "blind hole too shallow": (
        replaced(S, "3-drill.nc", text=drill_text(S, through=DEEP, blind=2.0, at=S.drilled)),
        "uncut"),
    "line not drawn": (
        replaced(S, "1-scribe.nc", text=Writer().start(spindle=False).end()), "uncut"),
    "line too faint": (
        replaced(S, "1-scribe.nc", text=S.scribe_text(depth=0.05)), "uncut"),
    "line elsewhere": (edited(S, "1-scribe.nc", shifted("Y", -0.4)), "gouge"),
    "groove forgotten": (
        replaced(S, "2-groove.nc", text=Writer().start().end()), "uncut"),
}  # fmt: skip


@pytest.mark.parametrize("name", TEXT_DAMAGES)
def test_damage_is_found_under_its_name(name: str) -> None:
    programs, code = TEXT_DAMAGES[name]
    proof = prove(S.part(), programs)
    assert not proof.passed
    assert code in codes(proof)


MACHINE_DAMAGES: dict[str, tuple[Machine, str]] = {
    "no arcs": (with_machine(arcs=False), "arcs"),
    "small bed": (with_machine(bed_mm=(90.0, 300.0)), "outside-machine"),
    "short z": (with_machine(z_travel_mm=10.0), "outside-machine"),
    "slow machine": (with_machine(max_feed_mm_per_min=500.0), "feed"),
    "slow z": (with_machine(max_plunge_mm_per_min=200.0), "feed"),
    "slow spindle": (with_machine(spindle_max_rpm=12000.0), "spindle-speed"),
    "fast spindle": (with_machine(spindle_min_rpm=20000.0), "spindle-speed"),
    "zero on the bed": (with_machine(zero="bed"), "below-bed"),
}


@pytest.mark.parametrize("name", MACHINE_DAMAGES)
def test_good_programs_on_the_wrong_machine_are_found(name: str) -> None:
    machine, code = MACHINE_DAMAGES[name]
    assert code in codes(prove(S.part(), S.programs(), machine=machine))


def test_other_units_than_the_machine_has_are_a_caution_when_all_else_is_right() -> None:
    proof = prove(S.part(), S.programs(), machine=with_machine(units="inch"))
    assert proof.passed
    assert "units" in codes(proof, blockers=False)


@pytest.mark.parametrize(("planned", "code"), [(3, "tabs-extra"), (5, "tabs-lost")])
def test_the_number_of_tabs_is_what_was_planned(planned: int, code: str) -> None:
    proof = prove(S.part(), S.programs(), tabs=planned)
    assert codes(proof) == {code}
    assert (proof.parts[0].tabs_found, proof.parts[0].tabs_wanted) == (4, planned)


@pytest.mark.parametrize("hold_down", [HoldDown.TAPE, HoldDown.SKIN])
def test_on_tape_or_skin_no_tabs_are_wanted_and_none_is_missed(hold_down: HoldDown) -> None:
    skin = 0.3 if hold_down is HoldDown.SKIN else -THROUGH
    free = dataclasses.replace(S, tabs=())
    programs = replaced(
        free, MILL, text=free.mill_text().replace("Z-6.2000", f"Z-{THICKNESS - skin:.4f}")
    )
    bottom = THICKNESS - skin + DRILL_TIP
    programs = [
        dataclasses.replace(p, text=re.sub(r"Z-7\.10\d*", f"Z-{bottom:.4f}", p.text))
        for p in programs
    ]
    proof = prove(S.part(), programs, tabs=0, hold_down=hold_down, through=-skin)
    assert codes(proof) == set()
    deeper = [dataclasses.replace(p, text=p.text.replace("Z-5.7", "Z-6.0")) for p in programs]
    if hold_down is HoldDown.SKIN:
        found = prove(S.part(), deeper, tabs=0, hold_down=hold_down, through=-skin)
        assert "below-bed" in codes(found)


def test_a_part_without_tabs_is_free_after_its_last_cut_and_that_is_no_fault() -> None:
    free = dataclasses.replace(S, tabs=())
    proof = prove(S.part(), free.programs(), tabs=0)
    assert proof.passed
    assert proof.parts[0].held


def test_a_program_with_several_cutters_needs_a_machine_that_changes_them() -> None:
    texts = [p.text for p in S.programs()]
    joined = "".join(
        text.replace("M30\n", "" if i < 3 else "M30\n").replace(
            "G0 Z5.0000\n", f"T{i + 1} M6\nG0 Z5.0000\n", 1
        )
        for i, text in enumerate(texts)
    )
    program = ProgramSource("all.nc", ("drag", "v60", "drill3", "flat3"), joined)
    changing = with_machine(tool_change="automatic")
    assert prove(S.part(), [program], machine=changing).passed
    assert codes(prove(S.part(), [program])) == {"tool"}
    mixed = dataclasses.replace(program, cutters=("drag", "v60", "flat3", "drill3"))
    assert "uncut" in codes(prove(S.part(), [mixed], machine=changing))
    spare = dataclasses.replace(program, cutters=(*program.cutters, "flat6"))
    assert codes(prove(S.part(), [spare], machine=changing)) == {"tool"}


def test_two_parts_side_by_side_are_judged_each_by_itself() -> None:
    left, right = Sign(width=60, x=15), Sign(width=60, x=90)
    one, two = left.part(), dataclasses.replace(right.part(), name="dunlin")
    programs = [*left.programs(), *right.programs()]
    proof = prove((one, two), programs)
    assert proof.passed
    assert [p.mark for p in proof.parts] == ["1.avocet", "1.dunlin"]
    deep = dataclasses.replace(right, pocket_depth=3.0).programs()
    proof = prove((one, two), [*left.programs(), *deep])
    assert {f.mark for f in proof.faults if f.code == "gouge"} == {"1.dunlin"}
    assert proof.parts[0].gouge_area_mm2 == 0
    assert proof.parts[1].gouge_depth_mm == pytest.approx(0.5, abs=1e-5)


def test_tabs_that_hold_on_to_a_loose_frame_hold_nothing() -> None:
    """A cut round the part's own kerf frees the web that its tabs stand on; one side left, not."""
    left, low, right, high = S.part().outline.bounds
    beyond = 8.0
    corners = [
        (left - beyond, low - beyond), (right + beyond, low - beyond),
        (right + beyond, high + beyond), (left - beyond, high + beyond),
        (left - beyond, low - beyond),
    ]  # fmt: skip

    def ring(corners: list[tuple[float, float]]) -> ProgramSource:
        writer = Writer().start()
        writer.rapid(*corners[0])
        writer.down(-THICKNESS - 0.2)
        for corner in corners[1:]:
            writer.cut(*corner)
        writer.rapid_z(5.0)
        return ProgramSource("ring.nc", ("flat3",), writer.end())

    good = S.programs()
    assert "adrift" in codes(prove(S.part(), [*good, ring(corners)]))
    assert "adrift" not in codes(prove(S.part(), [*good, ring(corners[:-1])]))


def test_a_fault_says_where_which_line_and_how_much() -> None:
    proof = prove(S.part(), milled_as(Sign(pocket_depth=3.0), S))
    (fault,) = [f for f in proof.faults if f.code == "gouge"]
    assert (fault.program, fault.mark, fault.severity) == (MILL, "1.avocet", Severity.BLOCKER)
    assert fault.measured == pytest.approx(0.5, abs=1e-3)
    text = Sign(pocket_depth=3.0).mill_text()
    line = text.splitlines()[(fault.line or 0) - 1]
    assert line.startswith(("G1 X", "G1 Z-3"))
    assert fault.where is not None
    assert shapely.box(*S.pocket_box).contains(shapely.Point(fault.where))


def test_a_wall_cut_into_by_less_than_a_cell_is_seen_exactly() -> None:
    """The field is blind along walls; the plane is not: 0.05 mm over the length of a side."""
    w = S.mill(Writer().start(), order="pw")
    left, low, right, high = S.outline_box
    w.profile(
        (left, low, right, high - 0.055), 1.505, [2.0, 4.0, 6.2], tab_height=1.2,
        tab_at=S.tabs, tab_path=8, thickness=THICKNESS,
    )  # fmt: skip
    proof = prove(S.part(), replaced(S, MILL, text=w.end()))
    (fault,) = [f for f in proof.faults if f.code == "gouge"]
    assert fault.measured == pytest.approx(0.05, abs=0.0021)  # the sagitta of a chord
    area = proof.parts[0].gouge_area_mm2
    # what lies beyond the allowance of 0.02 mm, which the corners keep too
    assert area == pytest.approx(0.03 * (S.width - 0.04), rel=0.02)


def test_readings_say_how_far_the_cutter_goes() -> None:
    scribe = prove(S.part(), S.programs()).readings[0]
    length = S.width - 24
    assert scribe.name == "1-scribe.nc"
    assert scribe.cutters == ("drag",)
    assert scribe.cut_length_mm == pytest.approx(length + 5.15)
    assert scribe.lowest_z_mm == -0.15
    assert scribe.low is not None
    assert scribe.low[:2] == S.scribed[0]
    # length over feed, plunge over plunge rate, lift at rapid rate; the text has no more moves
    # whose start is known but the pause, which the scribe does not make
    expected = length / 900 * 60 + 5.15 / 300 * 60 + 5.15 / 2000 * 60
    assert scribe.time_s == pytest.approx(expected)


def test_an_unreadable_program_has_no_time() -> None:
    proof = prove(S.part(), edited(S, MILL, swapped("G17", "G18")))
    assert proof.readings[3].time_s is None
    assert proof.readings[0].time_s is not None


def test_faults_become_findings_with_their_place_in_the_data() -> None:
    proof = prove(S.part(), milled_as(Sign(pocket_depth=3.0), S))
    findings = faults_as_findings(proof)
    assert len(findings) == len(proof.faults)
    first = findings[0]
    data = dict(first.data)
    assert (first.code, first.severity, first.part) == ("proof", Severity.BLOCKER, "1.avocet")
    assert (data["fault"], data["program"], data["sheet"]) == ("gouge", MILL, 1)
    assert {"line", "sheet_x_mm", "sheet_y_mm"} <= set(data)


def test_the_same_programs_give_the_same_proof() -> None:
    one, two = (prove(S.part(), milled_as(Sign(offset=-0.05), S)) for _ in range(2))
    assert one.carved.z.tobytes() == two.carved.z.tobytes()
    assert one.wanted.z.tobytes() == two.wanted.z.tobytes()
    assert (one.faults, one.parts, one.summary) == (two.faults, two.parts, two.summary)


def test_no_programs_leave_all_uncut() -> None:
    proof = prove(S.part(), [])
    assert codes(proof) == {"no-program"}
    assert not proof.passed
    assert not proof.parts[0].through
    assert (proof.carved.z == 0).all()


def test_a_sheet_without_parts_and_programs_passes() -> None:
    proof = prove((), [])
    assert proof.passed
    assert proof.summary == "There is nothing to cut on sheet 1."


def test_a_cutter_that_is_not_in_the_rack_is_an_error() -> None:
    with pytest.raises(UnknownName):
        prove_sheet(
            sheet_of(S.part()),
            [ProgramSource("a.nc", ("flat99",), "M30")],
            Setup(
                cutters=CUTTERS, machine=MACHINE, through_mm=0.2, hold_down=HoldDown.TABS, tabs={}
            ),
        )


def test_cells_stay_few_on_large_sheets() -> None:
    for width, height in [(80, 80), (300, 300), (600, 400), (2440, 1220)]:
        cell = choose_cell((0, 0, width, height))
        assert width * height / cell**2 <= 25_000_000
    assert choose_cell((0, 0, 300, 100)) == 0.1


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_any_text_gives_a_proof(data: st.DataObject) -> None:
    """Lines of good programs in any order, some broken, never raise."""
    lines = [line for p in S.programs() for line in p.text.splitlines()]
    chosen = data.draw(st.lists(st.sampled_from(lines), max_size=25))
    noise = data.draw(st.text(max_size=30))
    text = "\n".join([*chosen, noise])
    cutter = data.draw(st.sampled_from(sorted(CUTTERS)))
    proof = prove(S.part(), [ProgramSource("any.nc", (cutter,), text)], cell=0.5)
    assert not proof.passed
