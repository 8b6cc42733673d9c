"""A film is read back by its own description, and tells operations, changes and times."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest

from boathouse import locker_tag
from exports.scene import plan, proof
from letterply.exports import film
from letterply.jobs.files import make_files
from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job
from letterply.names import ascii_mark
from letterply.proof import Motion


def read(data):
    """Return head and columns as the module's docstring describes them."""
    length = int.from_bytes(data[:4], "little")
    assert length % 4 == 0
    head = json.loads(data[4 : 4 + length])
    columns = np.frombuffer(data, "<f4", offset=4 + length).reshape(4, head["count"])
    return head, columns


@pytest.fixture(scope="module")
def tag():
    """Return the answer to a plan of a tag, and its film."""
    found = run_job("plan", {"recipe": locker_tag()}, Resources())
    (path,) = (p for p in found.later if p.startswith("films/"))
    return found, make_files(found.answer, [path])[path]


def test_the_film_of_a_plan_takes_as_long_as_the_plan_says(tag):
    found, data = tag
    head, (x, y, z, t) = read(data)
    plan = json.loads(found.artifacts["plan.json"])
    times = [p["time"]["total_s"] for s in plan["sheets"] for p in s["programs"]]
    assert head["total_s"] == pytest.approx(sum(times), abs=0.1)
    assert (np.diff(t) >= 0).all()
    assert t[-1] == pytest.approx(head["total_s"], rel=1e-6)
    left, low, right, high = head["box_mm"]
    under = z < 0
    assert (x[under] >= left).all()
    assert (x[under] <= right).all()
    assert (y[under] >= low).all()
    assert (y[under] <= high).all()
    assert z.min() <= -head["thickness_mm"] - 0.19  # through, the tip of a drill further still


def test_its_chapters_are_the_operations_in_the_order_of_the_programs(tag):
    found, data = tag
    head, (_, _, _, t) = read(data)
    plan = json.loads(found.artifacts["plan.json"])
    wanted = [(o["kind"], o["mark"]) for s in plan["sheets"] for o in s["operations"]]
    told = [(c["kind"], c["mark"]) for c in head["chapters"]]
    assert set(told) == set(wanted)
    begins = [c["from"] for c in head["chapters"]]
    assert begins == sorted(set(begins))
    for chapter in head["chapters"]:
        assert chapter["change_s"] < t[chapter["from"]]
        assert head["cutters"][chapter["cutter"]]["radius_mm"] > 0
        assert f"programs/{chapter['program']}" in found.artifacts


def test_a_proof_without_motion_is_a_film_of_nothing():
    head, columns = read(film(proof(), plan()))
    assert head["count"] == 0
    assert columns.shape == (4, 0)
    assert head["chapters"] == []
    assert head["total_s"] == 0


def test_a_mark_that_a_program_cannot_spell_is_told_as_it_is():
    sheet_plan = plan()
    first = dataclasses.replace(sheet_plan.operations[0], mark="1.möwe.K")
    sheet_plan = dataclasses.replace(sheet_plan, operations=(first,))
    points = np.array([[0, 0, 5], [0, 0, 1000], [9, 0, -3]], dtype=np.float32)
    motion = Motion(
        points, np.array([0, 1, 3], np.float32), np.zeros(3, np.int16), np.zeros(3, np.int16),
        np.array([4, 4, 5], np.int32), (("flat-3", 0, 1.5, 0.0, 0.0),),
        ((0, 2, "a remark"), (0, 3, f"profile: {ascii_mark('1.möwe.K')}")),
    )  # fmt: skip
    head, (_, _, z, t) = read(film(dataclasses.replace(proof(), motion=motion), sheet_plan))
    (chapter,) = head["chapters"]
    assert (chapter["kind"], chapter["mark"], chapter["from"]) == ("profile", "1.möwe.K", 0)
    # 30 s of changes, then 130 s of moves, shared out as 1 to 3.
    assert t.tolist() == pytest.approx([30, 62.5, 160])
    assert z.max() < 100  # as high as the machine goes is not to be drawn
