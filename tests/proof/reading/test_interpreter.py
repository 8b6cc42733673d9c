"""The interpreter against worked programs, the order of execution, and independent readers."""

from __future__ import annotations

import math
import random
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.proof.reading.interpreter import ReadProgram, read_program
from letterply.proof.reading.moves import ARC_CCW, ARC_CW, FEED, RAPID

MINIMAL = """\
(units mm, plane XY, absolute, feed per minute)
G17 G21 G40 G49 G54 G80 G90 G94
T1 M6
S18000 M3
G4 P2
G0 Z5
G0 X0 Y0
G1 Z-1 F300
G1 X20 F900
G3 X25 Y5 I0 J5
G1 Y15
G0 Z5
M5
M9
M30
"""


def read(*lines: str, start: str = "G21 G90 F600\nG0 Z5\nG0 X0 Y0\n") -> ReadProgram:
    return read_program(start + "\n".join(lines) + "\n")


def first_problem(*lines: str) -> tuple[str, int]:
    """Return code and line, counted after three lines that stand at X0 Y0 Z5 in mm."""
    found = read(*lines)
    assert len(found.problems) == 1
    return found.problems[0].code, found.problems[0].line - 3


def test_the_minimal_program_cuts_what_it_says() -> None:
    found = read_program(MINIMAL)
    moves = found.moves
    assert found.problems == ()
    assert (found.end, found.spindle_on, found.units, found.tools) == ("M30", False, "mm", (1,))
    assert found.dwell_s == 2
    assert moves.kinds.tolist() == [RAPID, RAPID, FEED, FEED, ARC_CCW, FEED, RAPID]
    assert moves.feeds.tolist() == [0, 0, 300, 900, 900, 900, 0]
    # 20 + quarter of a circle of radius 5 + 10, by hand
    assert moves.lengths_mm[3:6].sum() == pytest.approx(37.853982, abs=1e-6)
    assert moves.ends[-1].tolist() == [25, 15, 5]
    assert set(moves.spindles.tolist()) == {1}
    assert set(moves.rpms.tolist()) == {18000}
    assert moves.lines.tolist() == [6, 7, 8, 9, 10, 11, 12]


def test_nothing_is_read_from_comments() -> None:
    bare = MINIMAL.replace("(units mm, plane XY, absolute, feed per minute)", "(G20 G91 M4 T9)")
    assert np.array_equal(
        read_program(bare).moves.ends, read_program(MINIMAL).moves.ends, equal_nan=True
    )


def test_a_quarter_arc_has_its_length_and_end() -> None:
    found = read("G0 X10", "G3 X0 Y10 I-10 J0")
    assert found.moves.lengths_mm[-1] == pytest.approx(15.707963, abs=1e-6)
    assert found.moves.sweeps[-1] == pytest.approx(math.pi / 2)


def test_a_helix_climbs_along_its_arc() -> None:
    found = read("G0 X7 Y7", "G2 X10 Y16 I3 J4 Z9")
    plane = 12.490458
    assert found.moves.kinds[-1] == ARC_CW
    assert found.moves.lengths_mm[-1] == pytest.approx(math.hypot(plane, 4), abs=1e-6)


def test_a_full_circle_needs_no_end() -> None:
    found = read("G0 X5", "G2 I-5 J0")
    assert found.moves.lengths_mm[-1] == pytest.approx(31.415927, abs=1e-6)
    assert found.moves.ends[-1].tolist() == [5, 0, 5]


def test_radius_format_takes_the_short_way() -> None:
    found = read("G0 X7 Y7", "G17 G2 X10 Y15 R20 Z5")
    chord = math.hypot(3, 8)
    assert found.moves.lengths_mm[-1] == pytest.approx(40 * math.asin(chord / 40))


def test_the_tolerance_of_an_arc_is_narrower_in_inches_than_the_same_figure_in_mm() -> None:
    assert read("G3 X20.0019 I10").problems == ()
    assert first_problem("G3 X20.0021 I10") == ("arc-mismatch", 1)
    inch = "G20 G90 F20\nG0 Z1\nG0 X0 Y0\n"
    assert read("G3 X2.00019 I1", start=inch).problems == ()
    assert read("G3 X2.00021 I1", start=inch).problems[0].code == "arc-mismatch"


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("G1", "missing-word"),
        ("G0", "missing-word"),
        ("G2 X5", "missing-word"),
        ("G2 R5", "missing-word"),
        ("G4", "missing-word"),
        ("G4 P-1", "bad-value"),
        ("G53", "missing-word"),
        ("I5", "missing-word"),
        ("G1 X5 I2", "missing-word"),
        ("P5", "missing-word"),
        ("G80 X5", "missing-word"),
        ("G2 X5 Y5 I5 R5", "modal-conflict"),
        ("G53 G2 X5 I2.5", "modal-conflict"),
        ("G2 X0 Y0 R5", "arc-mismatch"),
        ("G2 X5 I0 J0", "arc-mismatch"),
        ("F-1", "bad-value"),
        ("S-1", "bad-value"),
        ("T-1", "bad-value"),
        ("T1.5", "bad-value"),
        ("X1e9", "unknown-word"),
        ("X99999999", "bad-value"),
        ("G1 X5 F0", "feed-missing"),
        ("/G1 X5", "block-delete"),
        ("%", "syntax"),
        ("G18", "unknown-word"),
        ("G0 G1 X5", "modal-conflict"),
    ],
)
def test_a_line_that_a_controller_would_refuse_is_named(line: str, code: str) -> None:
    assert first_problem("G1 X1 Y1", "G0 X0 Y0", line) == (code, 3)


def test_a_cut_without_feed_is_refused() -> None:
    found = read_program("G21 G90\nG0 Z5\nG1 X5\n")
    assert [(p.code, p.line) for p in found.problems] == [("feed-missing", 3)]


def test_axis_words_need_a_motion() -> None:
    found = read_program("G21 G90\nX5\n")
    assert [(p.code, p.line) for p in found.problems] == [("missing-word", 2)]


def test_reading_stops_at_the_first_problem() -> None:
    found = read("G1 X5", "G18", "G1 X50", "M30")
    assert found.moves.ends[-1, 0] == 5
    assert found.end is None


def test_words_are_carried_out_in_the_order_of_the_standard() -> None:
    """NISTIR 6556 Table 8: feed before units before distance mode before motion."""
    found = read("G1 X1 F10 G20 G91")
    assert found.moves.feeds[-1] == 10  # read in mm/min: F comes before G20
    assert found.moves.ends[-1, 0] == pytest.approx(25.4)
    found = read("X2 G91 G1")
    assert found.moves.ends[-1, 0] == 2
    found = read("M30 G1 X3")  # the end comes last
    assert found.moves.ends[-1, 0] == 3
    found = read("G1 X1 M3 S9000 M6 T1", "G0 Z5")  # T, M6, then M3: a change stops the spindle
    assert found.moves.spindles[-1] == 1
    assert found.tools == (1,)


def test_a_tool_change_stops_the_spindle_and_loses_the_place() -> None:
    found = read("M3 S9000", "T2 M6", "G0 Z9")
    assert found.moves.spindles[-1] == 0
    assert found.moves.tools[-1] == 2
    assert np.isnan(found.moves.starts[-1]).all()
    assert found.moves.ends[-1, 2] == 9


def test_incremental_and_inch_moves_add_up() -> None:
    found = read("G91 G20", "G1 X1 Y-.5 F10", "X1", "G90 G21 X0")
    assert found.moves.ends[-3:, 0].tolist() == pytest.approx([25.4, 50.8, 0])
    assert found.moves.feeds[-1] == pytest.approx(254)
    assert found.units == "both"


def test_the_top_of_the_travel_is_above_everything() -> None:
    found = read("G53 G0 Z0", "G0 X50 Y50")
    assert found.problems == ()
    assert found.moves.ends[-1].tolist() == [50, 50, math.inf]
    found = read("G53 G0 X0")
    assert math.isnan(found.moves.ends[-1, 0])


def test_between_percent_signs_an_end_word_is_not_needed_to_stop() -> None:
    found = read_program("%\nG21 G90\nG0 Z5\n%\nG1 nonsense\n")
    assert (found.problems, found.end, len(found.moves)) == ((), "%", 1)


def test_nothing_counts_after_the_end() -> None:
    found = read("M2", "nonsense")
    assert (found.problems, found.end) == ((), "M2")


def test_the_spindle_that_nobody_stopped_is_still_on() -> None:
    assert read("M3 S9000", "M30").spindle_on
    assert not read("M3 S9000", "M5", "M30").spindle_on


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_all_line_ends_are_the_same(ends: str) -> None:
    found = read_program(MINIMAL.replace("\n", ends))
    assert found.problems == ()
    assert found.moves.lines.tolist() == [6, 7, 8, 9, 10, 11, 12]


def random_program(seed: int) -> str:
    """Lines, arcs in both formats and both distance modes, on positions with three decimals."""
    rng = random.Random(seed)
    lines = ["G21 G90 G17", "G0 Z5", "G0 X0 Y0"]
    x = y = 0.0
    for _ in range(60):
        nx, ny = round(rng.uniform(-50, 50), 3), round(rng.uniform(-50, 50), 3)
        kind = rng.choice(["line", "arc", "radius", "rapid", "depth"])
        if kind == "depth":
            lines.append(f"G1 Z{rng.uniform(-5, 5):.3f} F300")
            continue
        if kind in ("line", "rapid"):
            lines.append(f"{'G1' if kind == 'line' else 'G0'} X{nx} Y{ny} F500")
        elif kind == "radius":
            r = math.dist((x, y), (nx, ny)) * rng.uniform(0.6, 2)
            lines.append(f"G{rng.choice('23')} X{nx} Y{ny} R{r:.4f} F500")
        else:  # a point turned about a centre
            cx, cy = rng.uniform(-20, 20), rng.uniform(-20, 20)
            turn = rng.uniform(0.1, 6.1)
            nx = cx + (x - cx) * math.cos(turn) - (y - cy) * math.sin(turn)
            ny = cy + (x - cx) * math.sin(turn) + (y - cy) * math.cos(turn)
            lines.append(f"G3 X{nx:.6f} Y{ny:.6f} I{cx - x:.6f} J{cy - y:.6f} F500")
            nx, ny = round(nx, 6), round(ny, 6)
        x, y = nx, ny
    return "\n".join([*lines, "M30"])


@pytest.mark.parametrize("seed", range(5))
def test_an_independent_reader_finds_the_same_ends(seed: int) -> None:
    """Against pygcode (PyPI), which keeps a position of its own."""
    text = random_program(seed)
    found = read_program(text)
    assert found.problems == ()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pygcode import Line, Machine

        machine = Machine()
        places = []
        for line in text.splitlines():
            before = machine.pos.values
            machine.process_block(Line(line).block)
            if machine.pos.values != before or "X" in line or "Z" in line:
                values = machine.pos.values
                places.append([values["X"], values["Y"], values["Z"]])
    assert np.allclose(np.nan_to_num(found.moves.ends), places, atol=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_an_independent_reader_finds_the_same_words(seed: int) -> None:
    """Against gcodeparser (PyPI), which gives the words of each line and no position."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from gcodeparser import parse_gcode_lines

        text = random_program(seed)
        found = read_program(text)
        theirs = [
            line for line in parse_gcode_lines(text)
            if line.command[0] == "G" and line.command[1] in (0, 1, 2, 3)
        ]  # fmt: skip
    kinds = {RAPID: 0, FEED: 1, ARC_CW: 2, ARC_CCW: 3}
    assert [line.command[1] for line in theirs] == [kinds[k] for k in found.moves.kinds.tolist()]
    for line, end, start, centre in zip(
        theirs, found.moves.ends, found.moves.starts, found.moves.centres, strict=True
    ):
        for axis, letter in enumerate("XYZ"):
            if letter in line.params:
                assert end[axis] == pytest.approx(line.params[letter])
        if "I" in line.params:
            assert centre[0] - start[0] == pytest.approx(line.params["I"])
            assert centre[1] - start[1] == pytest.approx(line.params["J"])


WORDS = st.sampled_from(
    ["G0", "G1", "G2", "G3", "G4", "G17", "G20", "G21", "G53", "G80", "G90", "G91", "M2", "M3",
     "M6", "M30", "X1", "Y-2.5", "Z-3", "Z5", "I1", "J-.5", "R3", "R-3", "F100", "F0", "S9000",
     "T1", "P1", "N10", "/", "%", "(", ")", ";", "(hi)", "\n", "\n", "\n", "X1e5", "K1", "G18"]
)  # fmt: skip


@given(st.text(max_size=400))
def test_any_text_gives_a_reading(text: str) -> None:
    found = read_program(text)
    assert len(found.problems) <= 1


@given(st.lists(WORDS, max_size=80).map(" ".join))
def test_any_mixture_of_words_gives_a_reading(text: str) -> None:
    found = read_program(text)
    moves = found.moves
    assert len(found.problems) <= 1
    assert (moves.feeds[moves.kinds != RAPID] > 0).all()
    arcs = np.isin(moves.kinds, (ARC_CW, ARC_CCW))
    assert ((moves.sweeps != 0) == arcs).all()
    assert np.array_equal(moves.starts[1:], moves.ends[:-1], equal_nan=True) or found.tools
