"""The bench of the deepest cut runs, and what it measures answers to where the programs lie."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import deepest
import minutes

from letterply.cutting.plan import plan_sheet
from letterply.sheets import work_zero


@pytest.fixture(scope="module")
def tag():
    job = minutes.JOBS["demo: locker tag"]()
    sheet, spacing = job.sheets[0]
    plan = plan_sheet(sheet, job.shop, job.catalogue, spacing)
    cutters = {c.key: c for c in job.shop.cutters}
    zero = work_zero(plan.sheet, job.shop.machine)
    programs = [([cutters[k] for k in p.cutters], p.text) for p in plan.programs]
    return plan.sheet, programs, (zero.x_mm, zero.y_mm, -zero.lift_mm)


def test_no_cut_of_a_good_sheet_comes_into_a_part(tag):
    found = deepest.deepest_of(*tag)
    assert found.near > 50
    assert -0.05 < found.depth_mm < 0.0013


@pytest.mark.parametrize("axis", [0, 1])
def test_a_program_that_lies_askew_cuts_as_deep_as_it_lies_off(tag, axis):
    sheet, programs, zero = tag
    moved = tuple(v + 0.08 * (k == axis) for k, v in enumerate(zero))
    good = deepest.deepest_of(sheet, programs, zero).depth_mm
    assert deepest.deepest_of(sheet, programs, moved).depth_mm == pytest.approx(
        good + 0.08, abs=0.012
    )
