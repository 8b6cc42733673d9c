"""Plans of sheets: programs by cutter, headers, time, spacing, and the same bytes every time."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from shapely import box

from cutting.hand_made import corner_piece, disc, flat, part, region, sheet, shop, window_frame
from cutting.measuring import plan_lengths, starts_of
from letterply import side_by_side as helping
from letterply.catalogue.model import Cutter, CutterKind
from letterply.catalogue.shop import resolve_shop
from letterply.cutting.model import OperationKind
from letterply.cutting.plan import part_spacing, plan_sheet
from letterply.requests.shop import HoldDown
from letterply.stacks.work import Hole, Pocket

STAGES = list(OperationKind)


def test_operations_come_in_their_stages(job):
    """Scribe, groove with its floors, pocket, drill, profile: what holds the part comes last."""
    for plan in job.plans:
        order = [
            STAGES.index(OperationKind.GROOVE if op.note == "floor of a groove" else op.kind)
            for op in plan.operations
        ]
        assert order == sorted(order)


def test_inside_comes_before_outside_for_every_part(job):
    for plan in job.plans:
        for mark in plan.tabs:
            cuts = [
                op.inside
                for op in plan.operations
                if op.mark == mark and op.kind is OperationKind.PROFILE
            ]
            assert cuts.count(False) == 1
            assert cuts[-1] is False


def test_programs_hold_all_operations_in_order(job):
    for plan in job.plans:
        told = [
            line[1:-1]
            for program in plan.programs
            for line in program.text.splitlines()
            if line[1:].split(":")[0] in STAGES and "mm/min" not in line  # the header has feeds
        ]
        assert told == [f"{op.kind}: {op.mark}" for op in plan.operations]
        cutters = [key for key, _ in itertools.groupby(op.cutter for op in plan.operations)]
        assert [c for p in plan.programs for c in p.cutters] == cutters


def test_programs_are_named_by_sheet_number_and_cutter(job):
    for plan in job.plans:
        for number, program in enumerate(plan.programs, start=1):
            (cutter,) = program.cutters
            assert program.name == f"sheet-{plan.sheet.number}-{number}-{cutter}.nc"


def test_a_tool_changer_gets_one_program_a_sheet(job_of):
    for plan in job_of("rack_sign", "shop-router").plans:
        (program,) = plan.programs
        assert program.name == f"sheet-{plan.sheet.number}.nc"
        assert len(program.cutters) >= 2


def test_tabs_of_a_part_are_those_of_its_outline(job):
    for plan in job.plans:
        assert set(plan.tabs) == {p.mark for p in plan.sheet.parts}
        for mark, count in plan.tabs.items():
            assert count == sum(op.tabs for op in plan.operations if op.mark == mark)
            assert count >= 1


def test_time_is_the_sum_of_the_programs_and_no_less_than_length_over_feed(job):
    for plan in job.plans:
        for field in ("cutting_s", "travel_s", "plunging_s", "changes_s"):
            assert getattr(plan.time, field) == pytest.approx(
                sum(getattr(p.time, field) for p in plan.programs)
            )
        least = 0.0
        for op in plan.operations:
            for path in op.paths:
                rise = path.ends[:, 2] - starts_of(path)[:, 2]
                lengths = np.hypot(plan_lengths(path), rise)[~path.plunging]
                least += 60 * lengths.sum() / op.feeds.feed_mm_per_min
        assert plan.time.cutting_s >= 0.999 * least
        assert plan.time.total_s > plan.time.cutting_s
        machine = job.shop.machine
        each = machine.tool_change_s + machine.spin_up_s
        assert plan.time.changes_s == pytest.approx(each * len(plan.programs))


def test_the_same_sheet_gives_the_same_bytes(job_of, catalogue):
    made = job_of("rack_letters")
    for plan in made.plans:
        again = plan_sheet(plan.sheet, made.shop, catalogue, made.spacing)
        assert [p.text for p in again.programs] == [p.text for p in plan.programs]
        assert again.time == plan.time
        assert again.tabs == plan.tabs
        for one, two in zip(again.choices, plan.choices, strict=True):
            assert one.reason == two.reason
            assert [(s.cutters, s.time_s, s.left_area_mm2, s.where) for s in one.sets] == [
                (s.cutters, s.time_s, s.left_area_mm2, s.where) for s in two.sets
            ]


def test_ways_between_parts_are_no_longer_than_in_order_of_marks(catalogue):
    """Twelve parts whose marks jump about the sheet."""
    rng = np.random.default_rng(4)
    pieces = [part(box(0, 0, 10 + k, 10), f"face.{k:02}") for k in rng.permutation(12).tolist()]
    made = plan_sheet(sheet(*pieces), shop(catalogue, flat(3.0)), catalogue, 15.0)
    cuts = [op for op in made.operations if op.kind is OperationKind.PROFILE]

    def travel(ops):
        at, total = np.zeros(2), 0.0
        for op in ops:
            total += float(np.hypot(*(op.paths[0].start[:2] - at)))
            at = op.paths[-1].ends[-1, :2]
        return total

    assert len(cuts) == 12
    assert travel(cuts) < 0.7 * travel(sorted(cuts, key=lambda op: op.cutter + op.mark[2:]))


@pytest.mark.parametrize(
    ("hold_down", "cutters", "thickness", "spacing"),
    [
        ("tabs", ["flat-3175", "flat-6"], 6.0, 2 * 3.175 + 3),
        ("tape", ["flat-3175", "flat-6"], 6.0, 3.175 + 2),
        ("skin", ["flat-1", "flat-2"], 3.0, 2.0 + 2),
        # Through 20 mm only the longer one goes.
        ("tape", ["flat-3175", "flat-6"], 20.0, 6.0 + 2),
        # None goes through: what a usual one would need.
        ("tape", ["flat-1"], 20.0, 3.0 + 2),
    ],
)
def test_spacing_leaves_room_for_the_likely_kerf(catalogue, hold_down, cutters, thickness, spacing):
    rack = resolve_shop({"cutters": cutters, "hold_down": hold_down}, catalogue)
    assert part_spacing(rack, catalogue.materials["mdf"], thickness) == pytest.approx(spacing)


def test_the_choice_of_cutters_is_told(job):
    for plan in job.plans:
        outlines = {
            op.cutter
            for op in plan.operations
            if op.kind is OperationKind.PROFILE and not op.inside
        }
        choice = plan.choices[0]
        assert choice.work == "outlines"
        assert choice.reason
        (chosen,) = [s for s in choice.sets if s.chosen]
        assert outlines <= set(chosen.cutters)
        used = {op.cutter for op in plan.operations if op.kind is OperationKind.PROFILE}
        assert used <= set(chosen.cutters)
        assert all(s.time_s > 0 for s in choice.sets)


def test_what_clears_floors_is_told(job):
    for plan in job.plans:
        used = {op.cutter for op in plan.operations if op.kind is OperationKind.POCKET}
        told = [c for c in plan.choices if c.work == "floors"]
        assert bool(told) is bool(used)
        for choice in told:
            (chosen,) = [s for s in choice.sets if s.chosen]
            assert used == set(chosen.cutters)


def test_through_cuts_stay_within_the_sheet_and_its_neighbours(job):
    """Kerfs of one part meet neither another part nor the edge of the stock."""
    for plan in job.plans:
        kerfs = {}
        for op in plan.operations:
            if op.kind is not OperationKind.PROFILE:
                continue
            cutter = next(c for c in job.shop.cutters if c.key == op.cutter)
            line = shapely.union_all([shapely.LineString(p.ends[:, :2]) for p in op.paths])
            kerfs.setdefault(op.mark, []).append(line.buffer(cutter.radius_mm))
        stock = box(0, 0, plan.sheet.stock.width_mm, plan.sheet.stock.height_mm)
        for mark, pieces in kerfs.items():
            kerf = shapely.union_all(pieces)
            assert stock.contains(kerf)
            for other in plan.sheet.parts:
                if other.mark != mark:
                    assert shapely.intersection(kerf, other.part.outline).area < 1e-9
        if plan.hold_down is HoldDown.TABS:
            for a, b in itertools.combinations(kerfs.values(), 2):
                # A web for tabs to hold on to, even between two helices.
                assert shapely.union_all(a).distance(shapely.union_all(b)) > 0.95


def test_a_sheet_with_nothing_that_cuts_it_has_no_program(catalogue):
    made = plan_sheet(
        sheet(part(corner_piece()), thickness=25.0), shop(catalogue, flat(3.0)), catalogue, 15.0
    )
    assert made.programs == ()
    assert made.time.total_s == 0
    assert made.findings


def test_a_cutter_that_is_taken_up_twice_has_two_programs(catalogue):
    """2 mm clears the pocket, the drill comes between, and 2 mm cuts the outline."""
    board = window_frame().difference(disc(54, 34, 2.5))
    made = plan_sheet(
        sheet(
            part(
                board,
                holes=(Hole(54, 34, 5.0),),
                pockets=(Pocket(region(box(30, 4, 36, 36)), 2.0),),
            )
        ),
        shop(catalogue, flat(2.0), "drill-4", drill(5.0)),
        catalogue,
        15.0,
    )
    assert [p.cutters for p in made.programs] == [("f2",), ("drill-5",), ("f2",)]
    names = [p.name for p in made.programs]
    assert names == ["sheet-1-1-f2.nc", "sheet-1-2-drill-5.nc", "sheet-1-3-f2.nc"]


def drill(diameter):
    return Cutter(f"drill-{diameter:g}", "drill", CutterKind.DRILL, diameter, 2, 30.0, 118.0)


@pytest.mark.parametrize("free", [True, False], ids=["free core", "busy machine"])
def test_a_plan_is_the_same_whoever_helps(job_of, catalogue, monkeypatch, free):
    """Parts are planned, and cutters chosen for them, by as many threads as there are cores."""
    monkeypatch.setattr(helping, "_has_free_core", lambda: free)
    monkeypatch.setattr(helping, "_cores", lambda: 3)
    job = job_of("rack_letters")
    for plan in job.plans:
        again = plan_sheet(plan.sheet, job.shop, catalogue, job.spacing)
        assert [p.text for p in again.programs] == [p.text for p in plan.programs]
        assert _told(again) == _told(plan)
        assert again.findings == plan.findings


def _told(plan):
    return [
        (choice.reason, s.cutters, s.time_s, s.left_round_mm, s.left_area_mm2, s.where)
        for choice in plan.choices
        for s in choice.sets
    ]
