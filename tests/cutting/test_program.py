"""Programs as text: a subset of RS274/NGC, read back line by line by independent parsers.

NISTIR 6556 (NIST 2000), Table 4: the modal groups of the words used here. That the two radii of
an arc may differ by 0.002 mm (0.0002 in) is from the same report.
"""

from __future__ import annotations

import dataclasses
import re
import warnings
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial import cKDTree

from cutting.conftest import MACHINES, RECIPES
from cutting.hand_made import corner_piece, disc, flat, part, sheet, shop
from cutting.measuring import dense
from letterply.catalogue.model import Cutter, CutterKind
from letterply.catalogue.rack import SKIN_MM
from letterply.cutting.face.drill import drill_hole
from letterply.cutting.feeds import choose_feeds
from letterply.cutting.model import Operation, OperationKind
from letterply.cutting.plan import plan_sheet
from letterply.cutting.program import Tooling, write_program
from letterply.cutting.toolpath import Toolpath
from letterply.proof.reading.interpreter import read_program
from letterply.proof.reading.moves import RAPID, segments_of
from letterply.requests.shop import HoldDown
from letterply.sheets import WorkZero
from letterply.units import format_mm

NUMBER = r"-?\d+(?:\.\d+)?"
LINES = re.compile(
    "|".join(
        f"(?:{line})"
        for line in (
            r"\([ -'*-~]*\)",
            r"G17 G2[01] G40 G49 G54 G80 G90 G94",
            r"T\d+ M6",
            r"S\d+ M3",
            rf"G4 P{NUMBER}",
            rf"G0 Z{NUMBER}",
            rf"G0 X{NUMBER}(?: Y{NUMBER})?",
            rf"G0 Y{NUMBER}",
            rf"G1(?= [XYZ])(?: X{NUMBER})?(?: Y{NUMBER})?(?: Z{NUMBER})?(?: F{NUMBER})?",
            rf"G[23] X{NUMBER} Y{NUMBER}(?: Z{NUMBER})? I{NUMBER} J{NUMBER}(?: F{NUMBER})?",
            r"M5",
            r"M30|M2",
            r"%",
        )
    )
)


@pytest.fixture(scope="module", params=[(r, m) for r in RECIPES for m in MACHINES])
def made(request, job_of):
    return job_of(*request.param)


read = cache(read_program)
"""Every program is read once for all tests."""


def texts(made):
    return [program.text for plan in made.plans for program in plan.programs]


def bare(text):
    return [line for line in text.splitlines() if not line.startswith("(")]


def words(line):
    return {w[0]: float(w[1:]) for w in line.split() if w[0] in "XYZIJFPSTGM"}


def test_every_line_is_of_the_subset(made):
    decimals = made.shop.machine.decimals
    for text in texts(made):
        assert text.isascii()
        for line in text.splitlines():
            assert LINES.fullmatch(line), line
            assert len(line) <= 256
            assert not re.search(r"-0(?:\.0*)?(?!\d|\.\d)", line) or line.startswith("("), line
            if line.startswith("G") and " F" not in line:
                assert not re.search(rf"\.\d{{{decimals + 1},}}", line), line


def test_modal_words_come_first_and_the_end_last(made):
    machine = made.shop.machine
    for text in texts(made):
        lines = bare(text)
        mark = ["%"] if machine.program_mark else []
        units = "G20" if machine.units == "inch" else "G21"
        assert lines[: len(mark) + 1] == [*mark, f"G17 {units} G40 G49 G54 G80 G90 G94"]
        assert lines[-1 - len(mark) :] == [machine.end_word, *mark]
        assert sum(line in ("M2", "M30") for line in lines) == 1
        cuts = [line for line in lines if line[:2] in ("G1", "G2", "G3") and line[2] == " "]
        assert "F" in words(cuts[0])


def test_the_spindle_turns_before_it_cuts_and_stops_before_the_end(made):
    rack = {c.key: c for c in made.shop.cutters}
    machine = made.shop.machine
    for plan in made.plans:
        for program in plan.programs:
            got = read(program.text)
            assert got.problems == ()
            assert not got.spindle_on
            moves = got.moves
            kinds = [rack[c].kind for c in program.cutters]
            cutting = moves.kinds != RAPID
            if CutterKind.DRAG not in kinds:
                assert (moves.spindles[cutting] == 1).all()
            turning = moves.rpms[cutting & (moves.spindles == 1)]
            assert (
                (turning >= machine.spindle_min_rpm) & (turning <= machine.spindle_max_rpm)
            ).all()
            if kinds == [CutterKind.DRAG]:
                assert not re.search(r"\bM3\b", program.text)


def test_the_header_says_what_must_be_known(made, catalogue):
    machine = made.shop.machine
    for plan in made.plans:
        stock = plan.sheet.stock
        material = catalogue.materials[stock.material]
        for program in plan.programs:
            head = program.text.partition("G17")[0]
            assert f"{material.name} {format_mm(stock.thickness_mm)}" in head
            assert f"{format_mm(stock.width_mm)} x {format_mm(stock.height_mm)}" in head
            assert "lower left corner" in head
            assert f"z at {'its top' if machine.zero == 'top' else 'the bed'}" in head
            assert f"travel height: {format_mm(machine.safe_height_mm)}" in head
            assert "0.2 mm into the spoil board" in head
            assert "hold-down: tabs" in head
            assert ("cut from the back" in head) is plan.sheet.from_back
            for number, key in enumerate(program.cutters, start=1):
                cutter = next(c for c in made.shop.cutters if c.key == key)
                called = f" T{number}" if machine.tool_change == "automatic" else ""
                assert f"(cutter{called}: {cutter.name})" in head
                for op in plan.operations:
                    if op.cutter == key and made.shop.machine.tool_change == "automatic":
                        feeds = f"feed {op.feeds.feed_mm_per_min:g} mm/min"
                        (line,) = [
                            text
                            for text in head.partition(f": {cutter.name})")[2].splitlines()
                            if str(op.kind) in text and feeds in text
                        ][:1]
                        assert f"plunge {op.feeds.plunge_mm_per_min:g} mm/min" in line
            told = " ".join(line.strip("()") for line in head.splitlines())
            assert plan.cautions
            for caution in plan.cautions:
                assert f"caution: {caution}".replace(";", ",") in told


@pytest.mark.parametrize("hold_down", [HoldDown.TAPE, HoldDown.SKIN])
def test_the_header_says_how_parts_are_held(catalogue, hold_down):
    plan = plan_sheet(
        sheet(part(corner_piece())),
        shop(catalogue, flat(3.0), hold_down=hold_down),
        catalogue,
        15.0,
    )
    head = plan.programs[0].text.partition("G17")[0]
    assert ("double-sided tape" in head) is (hold_down is HoldDown.TAPE)
    assert (f"a skin of {SKIN_MM:g} mm" in head) is (hold_down is HoldDown.SKIN)


def arc_radii(text):
    """Return both radii of every arc in the units of the program, read word by word."""
    at = np.zeros(2)
    for line in bare(text):
        if not re.match(r"G[0123] ", line):
            continue
        w = words(line)
        end = np.array([w.get("X", at[0]), w.get("Y", at[1])])
        if "I" in w:
            centre = at + [w["I"], w["J"]]
            yield float(np.hypot(*(at - centre))), float(np.hypot(*(end - centre)))
        at = end


def test_the_two_radii_of_every_arc_agree_as_read_back(made):
    radii = [pair for text in texts(made) for pair in arc_radii(text)]
    if made.shop.machine.arcs:
        assert len(radii) > 40
        assert max(abs(a - b) for a, b in radii) <= 0.002
    else:
        assert radii == []


@pytest.fixture(scope="module")
def round_text(catalogue):
    """Return a function from units and decimals to the program of a disc and an L."""

    def text(units, decimals):
        rack = shop(catalogue, flat(3.0), flat(1.0))
        machine = dataclasses.replace(rack.machine, units=units, decimals=decimals)
        plan = plan_sheet(
            sheet(part(disc(0, 0, 17.3), "face.O"), part(corner_piece(), "face.L")),
            dataclasses.replace(rack, machine=machine),
            catalogue,
            15.0,
        )
        return plan.programs[-1].text

    return text


@pytest.mark.parametrize(
    ("units", "decimals"), [("mm", 3), ("mm", 4), ("inch", 3), ("inch", 4), ("inch", 5)]
)
def test_radii_agree_whatever_the_decimals(round_text, units, decimals):
    text = round_text(units, decimals)
    limit = 0.002 if units == "mm" else 0.0002
    assert max((abs(a - b) for a, b in arc_radii(text)), default=0) <= limit
    assert read(text).problems == ()


def test_three_decimals_of_a_millimetre_cost_no_arc(catalogue):
    """The centre of each is moved to where its rounded ends agree: off by 0.00141 mm at most.

    That is two roundings by 0.0005 mm at right angles, twice, for half a turn; left where it was,
    a centre can be off by twice as much and more than is accepted.
    """
    rng = np.random.default_rng(2)
    tool = drilling(catalogue, 0.0, 0.0, 3.0)
    arcs = []
    for radius, first, turn in zip(
        rng.uniform(3, 40, 200), rng.uniform(0, 6, 200), rng.uniform(0.5, 3, 200), strict=True
    ):
        centre = rng.uniform(50, 150, 2)
        angles = np.array([first, first + turn])
        ends = centre + radius * np.column_stack((np.cos(angles), np.sin(angles)))
        arcs.append(
            Toolpath(
                start=np.array([*ends[0], 0.0]),
                ends=np.array([[*ends[1], 0.0]]),
                centres=centre[None],
                senses=np.ones(1, dtype=np.int8),
                rates=np.zeros(1, dtype=np.int8),
            )
        )
    operation = dataclasses.replace(tool.operations[0], paths=tuple(arcs))
    machine = dataclasses.replace(catalogue.machines["bench-router"], decimals=3)
    text = write_program(
        "a.nc", [], [Tooling(tool.cutter, (operation,))], machine, WorkZero.of_corner(machine, 6.0)
    ).text
    radii = list(arc_radii(text))
    assert len(radii) == 200
    assert max(abs(a - b) for a, b in radii) <= 0.00142
    assert read(text).problems == ()


def test_no_arc_can_be_read_as_the_rest_of_its_circle(made):
    for text in texts(made):
        moves = read(text).moves
        arcs = moves.sweeps != 0
        assert (np.abs(moves.sweeps[arcs]) < np.radians(200)).all()


def every_point(paths, step):
    return np.vstack([dense(p, step)[0] for p in paths])


def test_what_is_read_back_follows_the_toolpaths_and_nothing_else(made):
    """Both ways within 0.08 mm at points 0.1 mm apart: half a step on 45 degrees, and chords."""
    machine = made.shop.machine
    for plan in made.plans:
        lift = plan.sheet.stock.thickness_mm if machine.zero == "bed" else 0.0
        by_cutter = {}
        for program in plan.programs:
            got = read(program.text)
            segments = segments_of(got.moves, sagitta_mm=0.002)
            cut = segments.take(
                (got.moves.kinds[segments.moves] != RAPID)
                & np.isfinite(segments.starts).all(axis=1)
            )
            long = np.linalg.norm(cut.ends - cut.starts, axis=1)
            count = np.maximum(1, np.ceil(long / 0.1)).astype(int)
            rows = np.repeat(np.arange(len(cut)), count + 1)
            share = np.concatenate([np.linspace(0, 1, c + 1) for c in count])[:, None]
            points = cut.starts[rows] + (cut.ends - cut.starts)[rows] * share - [0, 0, lift]
            by_cutter.setdefault(program.cutters, []).append(points)
        if len(plan.programs) == 1:
            wanted = [(plan.operations, points) for points in by_cutter.values()]
        else:
            wanted = [
                ([op for op in plan.operations if op.cutter == key[0]], points)
                for key, points in by_cutter.items()
            ]
        for ops, written in wanted:
            there = np.vstack(written)
            planned = every_point([p for op in ops for p in op.paths], 0.1)
            away, _ = cKDTree(there).query(planned)
            assert away.max() <= 0.08
            # The way down from just over the face is the program's own.
            below = there[there[:, 2] <= 1e-9]
            back, _ = cKDTree(planned).query(below)
            assert back.max() <= 0.08


def test_the_feed_never_asks_more_of_the_z_axis_than_it_gives(made):
    machine = made.shop.machine
    for text in texts(made):
        moves = read(text).moves
        cut = (moves.kinds != RAPID) & (moves.lengths_mm > 0)
        rise = np.abs(moves.ends - moves.starts)[cut, 2] / moves.lengths_mm[cut]
        assert (rise * moves.feeds[cut]).max() <= machine.max_plunge_mm_per_min * 1.001
        assert moves.feeds[cut].max() <= machine.max_feed_mm_per_min + 0.01
        assert moves.feeds[cut].min() > 0


def test_down_to_the_face_goes_at_the_plunge_rate_and_through_air_at_the_feed_at_most(made):
    for plan in made.plans:
        feeds = {
            c: [o.feeds for o in plan.operations if o.cutter == c]
            for c in {o.cutter for o in plan.operations}
        }
        for program in plan.programs:
            moves = read(program.text).moves
            down = (moves.kinds != RAPID) & (moves.ends[:, 2] < moves.starts[:, 2] - 1e-9)
            down &= np.hypot(*(moves.ends - moves.starts)[:, :2].T) < 1e-9
            to_face = down & (np.abs(moves.ends[:, 2] - plan.zero.lift_mm) < 0.01)
            used = [f for c in program.cutters for f in feeds[c]]
            assert to_face.any()
            assert moves.feeds[to_face].max() <= max(f.plunge_mm_per_min for f in used) + 0.13
            quickest = max(max(f.sink_mm_per_min, f.plunge_mm_per_min) for f in used)
            assert moves.feeds[down].max() <= quickest + 0.13
            assert quickest <= made.shop.machine.max_plunge_mm_per_min


def test_travel_is_at_the_safe_height_and_nowhere_below(made):
    """Rapid moves in the plane run at safe height; the first move of all goes there."""
    machine = made.shop.machine
    for plan in made.plans:
        lift = plan.sheet.stock.thickness_mm if machine.zero == "bed" else 0.0
        safe = machine.safe_height_mm + lift
        for program in plan.programs:
            first = next(line for line in bare(program.text) if line.startswith("G0"))
            assert first.startswith("G0 Z")
            moves = read(program.text).moves
            rapid = moves.kinds == RAPID
            across = rapid & np.any(moves.ends[:, :2] != moves.starts[:, :2], axis=1)
            across &= np.isfinite(moves.ends[:, 2])
            flat_moves = moves.ends[across, 2]
            assert np.abs(flat_moves - safe).max() <= 0.001
            # Down at rapid speed only to a little over the face, and up to the safe height.
            assert (moves.ends[rapid, 2] >= lift + 1 - 0.001).all()
            assert moves.ends[-1, 2] == pytest.approx(safe, abs=0.001)


def test_zero_at_the_bed_lifts_everything_by_the_thickness(job_of):
    for plan in job_of("rack_sign", "plain-router-inch").plans:
        through = [
            read(p.text).moves.ends[:, 2].min()
            for p in plan.programs
            if p.cutters[0].startswith("flat")
        ]
        assert min(through) == pytest.approx(-0.2, abs=0.001)


def test_line_ends_and_marks_are_the_machines(made):
    machine = made.shop.machine
    end = "\r\n" if machine.line_end == "crlf" else "\n"
    for text in texts(made):
        assert text.endswith(end)
        assert text.count("\n") == text.count(end)
        assert text.count("\r") == (text.count(end) if end == "\r\n" else 0)
        assert text.startswith("%") is machine.program_mark


def test_a_tool_changer_calls_each_cutter_stopped_and_starts_it(job_of):
    for recipe in RECIPES:
        for plan in job_of(recipe, "shop-router").plans:
            (program,) = plan.programs
            lines = bare(program.text)
            calls = [k for k, line in enumerate(lines) if line.endswith("M6")]
            numbers = [int(lines[k].split()[0][1:]) for k in calls]
            # One that corners are cut in between is called again; none is called that is in.
            assert list(dict.fromkeys(numbers)) == list(range(1, len(program.cutters) + 1))
            assert all(before != after for before, after in pairwise(numbers))
            got = read(program.text)
            assert got.tools == tuple(numbers)
            called = [program.cutters[n - 1] for n in numbers]
            for number, (k, key) in enumerate(zip(calls, called, strict=True)):
                drag = key.startswith("drag")
                if number and not called[number - 1].startswith("drag"):
                    assert lines[k - 1] == "M5"
                after = lines[k + 1 : k + 4]
                wanted = ["M5"] if drag else ["S", "G4"]
                for line, start in zip(after, [*wanted, "G0 Z"], strict=False):
                    assert line.startswith(start)


def test_an_independent_parser_finds_the_same_end_points(made):
    """The package gcodeparser: every move's end, in order, to the last decimal."""
    gcodeparser = pytest.importorskip("gcodeparser")
    for text in texts(made):
        body = text.replace("%", "")
        at = np.zeros(3)
        theirs = []
        for line in gcodeparser.parse_gcode_lines(body, include_comments=False):
            if line.command[0] == "G" and line.command[1] in (0, 1, 2, 3):
                for axis, letter in enumerate("XYZ"):
                    at[axis] = line.params.get(letter, at[axis])
                theirs.append(at.copy())
        moves = read(text).moves
        scale = 25.4 if made.shop.machine.units == "inch" else 1.0
        ours = moves.ends.copy()
        known = np.isfinite(ours)
        assert len(theirs) == len(ours)
        assert np.abs(np.array(theirs)[known] * scale - ours[known]).max() < 1e-9


@pytest.mark.parametrize(
    ("recipe", "machine"),
    [("rack_sign", "shop-router"), ("rack_letters", "bench-router"),
     ("locker_tag", "plain-router-inch")],
)  # fmt: skip
def test_a_second_independent_parser_executes_the_program(job_of, recipe, machine):
    """The package pygcode: every block is accepted and the machine ends where ours does."""
    pygcode = pytest.importorskip("pygcode")
    for text in texts(job_of(recipe, machine))[:3]:
        robot = pygcode.Machine()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)
            for line in text.splitlines():
                if line != "%":
                    robot.process_block(pygcode.Line(line).block)
        moves = read(text).moves
        scale = 25.4 if job_of(recipe, machine).shop.machine.units == "inch" else 1.0
        there = [robot.pos.values[axis] * scale for axis in "XYZ"]
        assert there == pytest.approx(moves.ends[-1].tolist(), abs=1e-6)


def test_time_lies_between_length_over_feed_and_a_stop_after_every_move(made):
    machine = made.shop.machine
    a = machine.acceleration_mm_per_s2
    for plan in made.plans:
        for program in plan.programs:
            moves = read(program.text).moves
            d = np.nan_to_num(moves.lengths_mm)
            up = np.hypot(*(moves.ends - moves.starts)[:, :2].T) == 0
            rapid = np.where(up, machine.rapid_z_mm_per_min, machine.rapid_mm_per_min)
            v = np.where(moves.kinds == RAPID, rapid, moves.feeds) / 60
            arc = moves.sweeps != 0
            radii = np.full(len(d), np.inf)
            out = moves.starts[arc, :2] - moves.centres[arc]
            radii[arc] = np.hypot(*out.T)
            v = np.minimum(v, np.sqrt(a * radii))
            least = float((d / v).sum())
            stops = np.where(d >= v * v / a, d / v + v / a, 2 * np.sqrt(d / a))
            moving = program.time.total_s - program.time.changes_s
            assert 0.98 * least <= moving <= 1.02 * float(stops.sum()) + 2.0


# By hand


def drilling(catalogue, x, y, diameter):
    cutter = Cutter(
        f"d{diameter}", f"{diameter} mm drill", CutterKind.DRILL, diameter, 2, 30, 118.0
    )
    feeds = choose_feeds(
        cutter, catalogue.materials["mdf"], catalogue.machines["shop-router"], depth_mm=5
    )
    path = drill_hole(x, y, 5.0, 9.0)
    operation = Operation(OperationKind.DRILL, cutter.key, "1.board", (path,), 5.0, feeds)
    return Tooling(cutter, (operation,))


def test_one_hole_by_hand(catalogue):
    """The whole program of one hole, written out."""
    machine = catalogue.machines["bench-router"]
    tool = drilling(catalogue, 12.5, 30.0, 3.0)
    feeds = tool.operations[0].feeds
    text = write_program(
        "a.nc", ["letterply"], [tool], machine, WorkZero.of_corner(machine, 6.0)
    ).text
    assert text.splitlines() == [
        "(letterply)",
        "G17 G21 G40 G49 G54 G80 G90 G94",
        "(cutter: 3.0 mm drill)",
        f"S{feeds.spindle_rpm:.0f} M3",
        "G4 P4",
        "G0 Z5",
        "(drill: 1.board)",
        "G0 X12.5 Y30",
        "G0 Z1",
        f"G1 Z0 F{feeds.plunge_mm_per_min:g}",
        "G1 Z-5",
        "G0 Z5",
        "M5",
        "M30",
    ]


def test_words_at_start_and_end_are_the_machines(catalogue):
    machine = dataclasses.replace(
        catalogue.machines["bench-router"], start_words=("G64",), end_words=("G0 X0 Y0",)
    )
    lines = write_program(
        "a.nc", [], [drilling(catalogue, 9, 9, 3.0)], machine, WorkZero.of_corner(machine, 6.0)
    ).text.split("\n")
    assert lines[:2] == ["G17 G21 G40 G49 G54 G80 G90 G94", "G64"]
    assert lines[-3:] == ["G0 X0 Y0", "M30", ""]


def test_comments_are_plain_and_without_brackets(catalogue):
    machine = catalogue.machines["bench-router"]
    tool = drilling(catalogue, 9, 9, 3.0)
    header = ["Säge (neu)\n%; G0 X0", "x" * 500]
    first, second, *_ = write_program(
        "a.nc", header, [tool], machine, WorkZero.of_corner(machine, 6.0)
    ).text.split("\n")
    assert re.fullmatch(r"\([ -'*-~]*\)", first)
    assert first.startswith("(Sage  neu")
    assert "%" not in first
    assert ";" not in first
    assert len(second) <= 256


def test_marks_in_other_scripts_are_told_apart(catalogue):
    tool = drilling(catalogue, 9, 9, 3.0)

    def comment(mark):
        (operation,) = tool.operations
        marked = Tooling(tool.cutter, (dataclasses.replace(operation, mark=mark),))
        machine = catalogue.machines["bench-router"]
        text = write_program("a.nc", [], [marked], machine, WorkZero.of_corner(machine, 6.0)).text
        assert text.isascii()
        (found,) = (line for line in text.splitlines() if line.startswith("(drill"))
        return found

    letters = ["1.face.Ж", "1.face.й", "1.face.и", "1.face.e", "1.face.é", "1.face.鷸"]
    assert len({comment(mark) for mark in letters}) == len(letters)
    assert comment("1.face.\u202eЖ") == "(drill: 1.face.U+0416)"


def test_after_a_tool_change_the_cutter_is_brought_to_its_place(catalogue):
    """Two drills one after the other at one place: the changer may have moved the spindle."""
    machine = catalogue.machines["shop-router"]
    tools = [drilling(catalogue, 12.5, 30.0, d) for d in (3.0, 4.0)]
    text = write_program("a.nc", [], tools, machine, WorkZero.of_corner(machine, 6.0)).text
    for stay in text.split(" M6")[1:]:
        assert "X12.5" in stay.partition("G1")[0]


def test_a_first_hole_at_the_origin_is_travelled_to(catalogue):
    machine = catalogue.machines["bench-router"]
    text = write_program(
        "a.nc", [], [drilling(catalogue, 0.0, 0.0, 3.0)], machine, WorkZero.of_corner(machine, 6.0)
    ).text
    assert "G0 X0 Y0" in text.partition("G1 ")[0]


def test_a_cutter_taken_up_twice_keeps_its_number(catalogue):
    machine = catalogue.machines["shop-router"]
    tools = [drilling(catalogue, 5.0, 5.0, d) for d in (3.0, 4.0, 3.0)]
    program = write_program("a.nc", [], tools, machine, WorkZero.of_corner(machine, 6.0))
    calls = [line for line in bare(program.text) if line.endswith("M6")]
    assert calls == ["T1 M6", "T2 M6", "T1 M6"]
    assert program.cutters == (tools[0].cutter.key, tools[1].cutter.key)
