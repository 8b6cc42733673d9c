"""What of an order is rehearsed: all of a short list, some of every family of a long one."""

from __future__ import annotations

from typing import Any

import pytest

from letterply.orders.intake.measuring import measure_designs
from letterply.orders.intake.sampling import Sample, choose_sample
from orders.intake.ordering import read
from orders.pipeline.small import DISC, PLAIN

WORDS = [f"{a}{b}{'n' * c}" for a in "KRDS" for b in "aeiou" for c in (1, 4)]


def sampled(*lines: Any) -> tuple[Any, Sample]:
    recipes = {"tag": PLAIN, "disc": DISC}
    order = read({"recipe": "tag", "recipes": recipes, "lines": list(lines)})
    measures = measure_designs([line.recipe for line in order.lines], None, (), {})
    return order, choose_sample(order, measures)


def designs(order: Any) -> set[str]:
    return {repr(line.recipe) for line in order.lines}


def test_a_short_list_is_rehearsed_whole() -> None:
    order, sample = sampled("Knot", {"text": "Ruff", "quantity": 7}, "Knot")
    assert sample.whole
    assert [(x.number, x.quantity, x.recipe) for x in sample.order.lines] == [
        (x.number, x.quantity, x.recipe) for x in order.lines
    ]
    assert set(sample.work.values()) == set(sample.area.values()) == {1.0}


def test_of_a_long_list_every_line_stays_with_a_design_of_about_its_size() -> None:
    order, sample = sampled(*({"text": word} for word in WORDS))
    assert len(designs(order)) == 40
    assert len(designs(sample.order)) == 10
    assert not sample.whole
    assert [x.number for x in sample.order.lines] == [x.number for x in order.lines]
    assert sample == sampled(*({"text": word} for word in WORDS))[1]
    for share in (*sample.work.values(), *sample.area.values()):
        assert share == pytest.approx(1.0, abs=0.1)
    for line, stand_in in zip(order.lines, sample.order.lines, strict=True):
        long = len(line.text) > 4
        assert (len(str(stand_in.recipe["lettering"]["text"])) > 4) is long


def test_every_family_is_planned_once_at_least() -> None:
    _, sample = sampled(*({"text": word} for word in WORDS), {"text": "Knot", "recipe": "disc"})
    kinds = {line.recipe["layers"][0]["outline"]["kind"] for line in sample.order.lines}
    assert kinds == {"plate", "blank"}


def test_of_very_many_copies_every_so_many_are_laid() -> None:
    _, sample = sampled({"text": "Knot", "quantity": 900}, {"text": "Ruff", "quantity": 100})
    assert [line.quantity for line in sample.order.lines] == [225, 25]
    assert not sample.whole
    for share in (*sample.work.values(), *sample.area.values()):
        assert share == pytest.approx(4.0)
