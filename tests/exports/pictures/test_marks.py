"""Marks of a picture: twelve at most, equal findings as one, numbers that cover nothing."""

import itertools

import pytest
import shapely

from letterply.exports.pictures.marks import MOST_MARKS, grouped, marks_of, set_apart
from letterply.findings import Finding, Place, Severity


def slot(x, severity=Severity.CAUTION, measured=0.5, **more):
    return Finding(
        "slot", severity, f"A gap at {x}.", layer="face", where=Place("point", ((x, 0.0),)),
        measured=measured, limit=1.0, **more,
    )  # fmt: skip


def test_equal_findings_share_the_number_of_the_first():
    back = Finding("slot", Severity.CAUTION, "A gap.", layer="back", measured=0.5, limit=1.0)
    findings = [slot(1), slot(2, measured=0.7), slot(3, measured=0.501), back]
    found = grouped(findings)
    assert [(g.label, g.count) for g in found] == [(1, 2), (2, 1), (4, 1)]
    assert [p.anchor for p in found[0].places] == [(1, 0), (3, 0)]
    assert found[2].places == ()


def test_what_was_not_measured_is_equal_by_its_words():
    same, other = (Finding("room", Severity.NOTE, why) for why in ("Too large.", "Too long."))
    assert [g.count for g in grouped([same, other, same])] == [2, 1]


def test_further_places_of_a_finding_are_marked_small():
    (group,) = grouped([slot(0, data=(("places", ((0.0, 0.0), (8.0, 1.0), (16.0, 2.0))),))])
    assert [p.anchor for p in group.places] == [(0, 0), (8, 1), (16, 2)]
    first, *more = marks_of([group])
    assert [m.place.anchor for m in more] == [(8, 1), (16, 2)]
    assert all(m.group.label == 1 and m.size < first.size for m in more)


def test_there_are_twelve_marks_at_most_and_every_finding_comes_before_further_places():
    many = tuple((float(x), 5.0) for x in range(40))
    grave = slot(0, Severity.BLOCKER, data=(("places", many),))
    few = marks_of(grouped([grave, slot(1), slot(2, measured=0.6)]))
    assert len(few) == MOST_MARKS
    assert [m.group.label for m in few[:4]] == [1, 2, 3, 1]
    crowd = marks_of(grouped([grave, *(slot(x, measured=0.1 + x / 100) for x in range(30))]))
    assert [m.group.label for m in crowd] == list(range(1, MOST_MARKS + 1))


def test_grave_marks_are_large_and_notes_are_small():
    severities = (Severity.BLOCKER, Severity.CAUTION, Severity.NOTE)
    groups = grouped([slot(n, s) for n, s in enumerate(severities)])
    blocker, caution, note = (m.size for m in marks_of(groups))
    assert blocker > caution > note
    assert [m.size for m in marks_of(groups, large=2)] == [blocker, blocker, note]


@pytest.mark.parametrize("apart", [0.0, 1.0, 5.0])
def test_no_number_covers_another_or_leaves_its_bounds(apart):
    anchors = [(20 + apart * n, 10.0) for n in range(MOST_MARKS)]
    halves = [(2.8, 2.4)] * 3 + [(2.0, 1.7)] * 9
    within = (0.0, -15.0, 95.0, 35.0)
    found = set_apart(anchors, halves, within, shapely.Point(50, 10).buffer(8), 2.0)
    boxes = [
        shapely.box(x - w, y - h, x + w, y + h)
        for (x, y), (w, h) in zip(found, halves, strict=True)
    ]
    assert all(a.disjoint(b) for a, b in itertools.combinations(boxes, 2))
    assert all(shapely.box(*within).buffer(1e-9).covers(b) for b in boxes)


def test_a_number_leaves_outlines_and_places_free_where_it_can():
    wall = shapely.box(0, -40, 12, 40)
    anchors = [(14.0, 0.0), (20.0, 0.0)]
    found = set_apart(anchors, [(2.0, 1.7)] * 2, (0, -30, 60, 30), wall, 2.0)
    for x, y in found:
        box = shapely.box(x - 2, y - 1.7, x + 2, y + 1.7)
        assert box.disjoint(wall)
        assert all(box.disjoint(shapely.Point(p)) for p in anchors)
