"""The checks against what a person sees: `labelled_glyphs.toml`, written before any check ran."""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest
import shapely
from shapely import Polygon, box

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Cutter, CutterKind
from letterply.checks.gaps.gaps import find_corners
from letterply.checks.survey.measures import measure_text
from letterply.checks.survey.sizing import findings_of
from letterply.checks.survey.weakness import Terms
from letterply.lettering.fonts.library import FontLibrary
from letterply.lettering.setting.lettering import LetteringSpec, Size, set_lettering
from letterply.requests.limits import DEFAULT_RULES
from letterply.shapes.regions import polygons, thinned_out
from letterply.shapes.tolerances import DEFAULT_TOLERANCES, GRID_MM
from letterply.stacks.model import Part

ITEMS = tomllib.loads((Path(__file__).parent / "labelled_glyphs.toml").read_text("utf-8"))["item"]
EM_MM = 100.0


@dataclass
class Score:
    """Hits and misses of one kind."""

    found_rightly: int = 0
    found_wrongly: int = 0
    missed: int = 0

    @property
    def precision(self):
        """Share of what was found that is there."""
        return self.found_rightly / max(self.found_rightly + self.found_wrongly, 1)

    def recall(self, labels_hit):
        """Share of what is there that was found."""
        return labels_hit / max(labels_hit + self.missed, 1)


@cache
def seen(number):
    """Return what the checks say of an item: lettering, measures and findings."""
    item = ITEMS[number]
    font = FontLibrary().load(item["font"])
    spec = LetteringSpec(
        item["text"], item["font"], Size("em", EM_MM), axes=item.get("axes", {}), align="left"
    )
    lettering = set_lettering(spec, font, DEFAULT_TOLERANCES)
    material = replace(
        load_catalogue().material("acrylic-cast"),
        min_web_mm=item.get("limit_mm", 1.0),
        min_web_factor=1e-6,
    )
    width = item.get("cutter_mm", 0.1)
    cutter = Cutter("disc", "disc", CutterKind.FLAT, width, 1, 10.0)
    return lettering, measure_text(lettering), findings_of(
        lettering.region, Terms(material, 3.0, (cutter,))
    )  # fmt: skip


def shape(label):
    return box(*label) if isinstance(label[0], int | float) else Polygon(label)


def counted(key, count):
    """Compare counts: what is too many is wrong, what is too few is missed."""
    score, hit = Score(), 0
    wrong = []
    for number, item in enumerate(ITEMS):
        if key not in item:
            continue
        right, got = item[key], count(*seen(number))
        hit += min(right, got)
        score.found_rightly += min(right, got)
        score.found_wrongly += max(got - right, 0)
        score.missed += max(right - got, 0)
        if right != got:
            wrong.append(f"{item['font']} {item['text']}: {got} for {right}")
    return score, hit, wrong


def placed(key, codes, keep=lambda finding: True, also=lambda number: ()):
    """Compare places: a finding in no label is wrong, a label without a finding is missed.

    What is told `also`, under another name, counts for what is missed.
    """
    score, hit = Score(), 0
    wrong = []
    for number, item in enumerate(ITEMS):
        if key not in item:
            continue
        labels = [shape(label) for label in item[key]]
        unsure = [shape(label) for label in item.get("doubtful", [])]
        spots = [
            shapely.Point(at)
            for f in seen(number)[2]
            if f.code in codes and keep(f)
            for at in dict(f.data).get("places") or (f.where.anchor,)
        ]
        judged = [p for p in spots if any(s.covers(p) for s in labels)
                  or not any(s.covers(p) for s in unsure)]  # fmt: skip
        for spot in judged:
            if any(s.covers(spot) for s in labels):
                score.found_rightly += 1
            else:
                score.found_wrongly += 1
                wrong.append(f"{item['font']} {item['text']}: found at {spot.x:.1f}, {spot.y:.1f}")
        for label in labels:
            if any(label.covers(spot) for spot in (*spots, *also(number))):
                hit += 1
            else:
                score.missed += 1
                wrong.append(f"{item['font']} {item['text']}: missed in {label.bounds}")
    return score, hit, wrong


def report(name, score, hit, wrong):
    print(
        f"\n{name}: precision {score.precision:.3f}, recall {score.recall(hit):.3f} "
        f"({score.found_rightly} right, {score.found_wrongly} wrong, {score.missed} missed)"
    )
    for line in wrong:
        print(f"  {line}")


def closed(lettering, measures, findings):
    return sum(f.code == "slot" and f.severity == "blocker" for f in findings)


def counters(lettering, measures, findings):
    return sum(len(p.counters) for p in measures.pieces)


@pytest.mark.parametrize(
    ("key", "count"),
    [
        ("pieces", lambda _, measures, __: len(measures.pieces)),
        ("islands", lambda _, measures, __: len(measures.islands)),
        ("counters", counters),
    ],
)
def test_what_can_be_counted_without_a_limit_is_counted_right(key, count):
    score, hit, wrong = counted(key, count)
    report(key, score, hit, wrong)
    assert not wrong


def test_counters_that_close_are_found():
    score, hit, wrong = counted("closed", closed)
    report("closed counters", score, hit, wrong)
    assert score.precision >= 0.95
    assert score.recall(hit) >= 0.95


def test_thin_places_are_found_where_a_person_sees_them():
    score, hit, wrong = placed("thin", ("neck", "stroke"))
    report("thin places", score, hit, wrong)
    assert score.precision >= 0.95
    assert score.recall(hit) >= 0.95


@cache
def round_corners(number):
    """Return where acute corners stay round, as the corner finding tells them."""
    item = ITEMS[number]
    found = []
    for outline in polygons(seen(number)[0].region):
        part = Part("piece", "face", outline)
        width = item.get("cutter_mm", 0.1)
        cutter = Cutter("disc", "disc", CutterKind.FLAT, width, 1, 10.0)
        rules = DEFAULT_RULES.model_copy(update={"lost_mm": width / 2})
        for finding in find_corners(part, (cutter,), rules, DEFAULT_TOLERANCES.offset_mm):
            found += [shapely.Point(at) for at in dict(finding.data)["places"]]
    return found


def test_gaps_that_fill_up_are_found_where_a_person_sees_them():
    """A gap between two walls that meet is a corner that stays round, however acute."""
    score, hit, wrong = placed(
        "slots", ("slot",), lambda f: f.severity != "blocker", also=round_corners
    )
    report("gaps", score, hit, wrong)
    assert score.precision >= 0.95
    assert score.recall(hit) >= 0.95


def test_the_set_is_as_wide_as_it_says():
    assert len(ITEMS) >= 60
    fonts = Counter(item["font"] for item in ITEMS)
    assert len(fonts) >= 10


def test_outlines_without_needless_points_lie_within_their_budget():
    """Largest distance either way, and as many pieces and counters as before."""
    budget, worst = DEFAULT_TOLERANCES.thin_out_mm, 0.0
    for number in range(len(ITEMS)):
        drawn = seen(number)[0].region
        thin = thinned_out(drawn, budget)
        for moved, edge in ((thin, drawn.boundary), (drawn, thin.boundary)):
            shapely.prepare(edge)
            at = shapely.points(shapely.get_coordinates(shapely.segmentize(moved, 0.1)))
            worst = max(worst, float(shapely.distance(at, edge).max()))
        holes = [[len(p.interiors) for p in polygons(region)] for region in (thin, drawn)]
        assert sorted(holes[0]) == sorted(holes[1])
    assert budget / 2 < worst <= budget + GRID_MM
