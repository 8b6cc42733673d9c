"""Captions: every one ends where it should, and nothing of it is left out."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from svgelements import Path

from exports.scene import catalogue, findings, letter_sheet, plan, proof, rack_sign
from letterply.exports.pictures.findings import findings_picture
from letterply.exports.pictures.proof import proof_svg
from letterply.exports.pictures.repairs import repair_picture
from letterply.exports.pictures.sheet import sheet_picture
from letterply.exports.pictures.stack import stack_picture
from letterply.exports.pictures.uncut import uncut_picture
from letterply.exports.primitives.captions import caption_lines, caption_within

LONG = "The rack sign of the four that is called Whimbrel and lies beside the slip " * 3
WORD = "Oystercatcher" * 15


def extent(svg):
    """Return left, top, right and bottom of what captions draw."""
    boxes = [Path(d).bbox() for d in re.findall(r'<path d="([^"]+)" fill="#[0-9A-F]{6}"/>', svg)]
    boxes = [b for b in boxes if b is not None]
    return [f(b[k] for b in boxes) for k, f in enumerate((min, min, max, max))]


def marks(svg):
    """Return how many outlines are drawn: a letter has one at least."""
    return sum(d.count("M") for d in re.findall(r'<path d="([^"]+)"', svg))


@pytest.mark.parametrize("text", ["Knot", LONG, WORD, LONG + WORD])
def test_a_caption_is_never_wider_than_its_room_and_says_all(text):
    drawn = caption_within(text, 5.0, 10.0, 40.0, 80.0)
    left, top, right, bottom = extent(drawn)
    assert left >= 10 - 0.2
    assert right <= 90 + 0.2
    assert top >= 40 - 6.5  # no higher than a line and its leading
    assert bottom <= 40 + 1.5
    assert marks(drawn) == marks(caption_within(text, 5.0, 10.0, 40.0, 1e6))


@pytest.mark.parametrize("text", [LONG, WORD])
def test_lines_of_a_caption_hold_all_of_it(text):
    lines, high = caption_lines(text, 5.0, 10.0, 40.0, 80.0)
    _, _, right, bottom = extent("".join(lines))
    assert right <= 90 + 0.2
    assert bottom <= 40 + high
    assert marks("".join(lines)) == marks(caption_within(text, 5.0, 10.0, 40.0, 1e6))


def pictures(title):
    stack = replace(rack_sign(), title=title)
    told = [replace(f, why=f"{f.why} {title}") for f in findings()]
    failed = proof(passed=False)
    faults = tuple(replace(f, text=f"{f.text} {title}") for f in failed.faults)
    failed = replace(failed, summary=f"{failed.summary} {title}", faults=faults)
    yield "front", stack_picture(stack, catalogue(), exploded=False)
    yield "slant", stack_picture(stack, catalogue(), exploded=True)
    yield "findings", findings_picture(stack, told)
    yield "uncut", uncut_picture(stack, {})
    yield "repair", repair_picture(stack)
    yield "sheet", sheet_picture(letter_sheet(), replace(plan(), cautions=(title, title)))
    yield "proof", proof_svg(failed, letter_sheet(), size_px=300)


@pytest.mark.parametrize("title", ["Knot", LONG[:200], WORD[:200]])
def test_no_picture_lets_a_caption_run_over_its_edge(title):
    for name, svg in pictures(title):
        root = ElementTree.fromstring(svg)
        width, height = (float(root.get(k)[:-2]) for k in ("width", "height"))
        left, top, right, bottom = extent(svg)
        assert left >= 0, name
        assert top >= 0, name
        assert right <= width, name
        assert bottom <= height, name


def test_a_picture_says_how_it_looks_at_the_stack():
    with_words = dict(pictures("Knot"))
    assert "from the side" in ElementTree.fromstring(with_words["slant"])[1].text
    assert "from the front" in ElementTree.fromstring(with_words["front"])[1].text
