"""Answers of tasks as values and as they are kept: nothing is lost on the way."""

import json

import pytest

from letterply.errors import GlyphMissing, JobFailed
from letterply.orders.codec import ordered, plain, value_of
from letterply.orders.pipeline.answers import (
    LineAnswer,
    Manifest,
    Problem,
    SheetAnswer,
    heard,
    kept,
)
from letterply.orders.pipeline.layouts import Laid, SheetSpec
from letterply.orders.states import OrderPhase
from letterply.storage import canonical_json, error_from_facts
from orders.intake.ordering import read
from orders.pipeline.small import DISC, PLAIN, made, sheets_of

KINDS = {
    OrderPhase.LINES: LineAnswer,
    OrderPhase.POOLS: Laid,
    OrderPhase.SHEETS: SheetAnswer,
    OrderPhase.PAPERS: Manifest,
}


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """Make an order of tags with frames and of discs in a fixture."""
    framed = {**PLAIN, "align": {"kind": "frame", "material": "mdf", "thickness": "6 mm"}}
    lines = ["Knot", {"text": "Ruff", "recipe": "disc"}]
    order = read({"recipe": "tag", "recipes": {"tag": framed, "disc": DISC}, "lines": lines})
    log = []
    manifest, vault = made(order, tmp_path_factory.mktemp("vault"), log=log)
    return manifest, vault, log


def test_every_answer_is_kept_as_it_was_heard(run):
    _, vault, log = run
    assert {stage for stage, _ in log} == set(KINDS)
    for stage, key in log:
        facts = vault.recall(key)
        answer = heard(KINDS[stage], facts)
        assert type(answer) is KINDS[stage]
        assert canonical_json(kept(answer)) == canonical_json(facts)


def test_blanks_frames_and_boards_are_told_apart(run):
    _, vault, log = run
    tag, disc = (heard(LineAnswer, vault.recall(k)) for s, k in log if s is OrderPhase.LINES)
    assert [layer.blank for layer in tag.layers] == [None, None]
    assert tag.helpers
    (layer,) = disc.layers
    assert (layer.blank.fixture.columns, layer.blank.fixture.rows) == (2, 1)
    assert layer.blank.board.material == "mdf"


def test_a_layout_is_read_by_an_order_that_revises_it(run):
    manifest, vault, _ = run
    for raw in sheets_of(manifest, vault):
        assert ordered(SheetSpec.of_earlier(raw)) == raw


@pytest.mark.parametrize(
    ("error", "fault"),
    [
        (GlyphMissing("千", 0, "oswald", field="lettering.text"), False),
        (JobFailed("It took too long.", code="job-timeout"), True),
    ],
    ids=["of the request", "of the service"],
)
def test_a_problem_tells_its_error_and_whether_it_may_pass(error, fault):
    problem = heard(LineAnswer, json.loads(canonical_json(kept(Problem.of(error)))))
    assert problem == Problem.of(error)
    assert problem.is_fault is fault
    again = error_from_facts(plain(problem))
    assert (type(again), again.code, again.data) == (type(error), error.code, error.data)


def test_what_is_no_answer_is_refused():
    with pytest.raises(ValueError, match="layers"):
        value_of(LineAnswer, {"ok": True, "title": "Knot"})
