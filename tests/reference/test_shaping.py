"""Shaping against HarfBuzz's own command-line tool, an older version of the library than ours.

`shaped_words.json` is what `hb-shape` of Debian's libharfbuzz-bin answers (its first line says
which version); where the tool is at hand it is asked again. Glyphs, clusters and positions are the
same, to a font unit where a place in between of a design space is rounded.
"""

from __future__ import annotations

import json
import shutil

import pytest

from reference.shaping import RECORD, TASKS, ask_hb_shape, ours

RECORDED = json.loads(RECORD.read_text("utf-8"))


def assert_alike(found, expected, task):
    assert [g[:2] for g in found] == [g[:2] for g in expected]
    # Positions in between of a design space are rounded once more by one version than the other.
    slack = 1 if task.axes else 1e-9
    for mine, theirs in zip(found, expected, strict=True):
        assert mine[2:] == pytest.approx(theirs[2:], abs=slack)


@pytest.mark.parametrize("task", TASKS, ids=str)
def test_a_word_is_shaped_as_the_tool_shapes_it(task):
    assert_alike(ours(task), RECORDED[str(task)], task)


def test_there_are_three_hundred_words_in_twelve_scripts():
    assert len({t.script for t in TASKS} - {"settings"}) == 12
    assert sum(t.script != "settings" for t in TASKS) == 300
    assert set(RECORDED) == {str(t) for t in TASKS} | {"tool"}
    assert RECORDED["tool"].startswith("hb-shape (HarfBuzz)")


@pytest.mark.skipif(shutil.which("hb-shape") is None, reason="hb-shape is not installed")
def test_the_record_is_what_the_tool_says():
    for task in TASKS[::7]:
        assert_alike(RECORDED[str(task)], ask_hb_shape(task), task)
