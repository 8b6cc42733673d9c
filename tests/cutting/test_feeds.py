"""Feeds and their reasons: a source stands only where the figure is from there."""

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.cutting.feeds import choose_feeds

CATALOGUE = load_catalogue()
ROUTER = CATALOGUE.machine("shop-router")
PRACTICE = "common practice, no source"


def feeds_of(cutter, material="acrylic-cast"):
    return choose_feeds(
        CATALOGUE.cutter(cutter), CATALOGUE.material(material), ROUTER, depth_mm=0.3
    )


def reason(feeds, figure):
    return next(r for r in feeds.reasons if r.figure == figure)


@pytest.mark.parametrize("cutter", ["flat-6", "vbit-60", "flat-3175", "drill-3"])
def test_spindle_speed_rests_on_a_limit_of_common_practice(cutter):
    """400 m/min for acrylic is in no handbook that was read; only the formula is."""
    assert reason(feeds_of(cutter), "spindle_rpm").source == PRACTICE


def test_a_speed_that_the_limit_sets_follows_the_formula():
    """N = 1000 vc / (pi d): 400 m/min at 12.7 mm is 10026 rev/min, rounded to hundreds."""
    feeds = feeds_of("vbit-60")
    assert feeds.spindle_rpm == 10_000
    assert "400 m/min" in reason(feeds, "spindle_rpm").why


def test_a_drag_point_starts_at_round_metric_figures_of_our_own():
    feeds = feeds_of("drag-120")
    assert (feeds.feed_mm_per_min, feeds.plunge_mm_per_min) == (2000, 1000)
    assert {r.source for r in feeds.reasons} == {PRACTICE}


@pytest.mark.parametrize(("cutter", "said"), [("flat-6", "2 flutes"), ("flat-3175", "1 flute")])
def test_flutes_are_counted_in_words_that_fit(cutter, said):
    """One flute is not "1 flutes"."""
    assert f"x {said} x" in reason(feeds_of(cutter), "feed_mm_per_min").why
