"""Groove depths, feeds and corners against published formulas and worked examples.

Sources: Machinery's Handbook, speeds and feeds; SME chapter sheet "Useful formulas for machining"
(inch and metric forms); V-groove, drill point and corner formulas are plane geometry.
"""

import math

import pytest

from letterply.catalogue.loading import load_catalogue
from letterply.catalogue.model import Cutter, CutterKind
from letterply.catalogue.rack import tip_length
from letterply.cutting.face.groove import groove_depth
from letterply.cutting.feeds import choose_feeds, feed_rate, spindle_speed


def v_bit(angle, tip):
    return Cutter("v", "V-bit", CutterKind.VBIT, 20.0, 2, 20.0, angle, tip)


@pytest.mark.parametrize(
    ("angle", "width", "tip", "depth"),
    [
        (60, 6, 0, 5.196152),
        (60, 3, 0.2, 2.424871),
        (90, 6, 0, 3.000000),
        (90, 6, 0.2, 2.900000),
        (90, 1.5, 0.1, 0.700000),
        (120, 6, 0, 1.732051),
        (30, 1, 0, 1.866025),
        (30, 1, 0.1, 1.679423),
        (22.5, 0.8, 0, 2.010936),
    ],
)
def test_groove_depth_follows_from_width_angle_and_tip(angle, width, tip, depth):
    """Depth = (w - t) / (2 tan(a/2))."""
    assert groove_depth(width / 2, v_bit(angle, tip)) == pytest.approx(depth, abs=1e-6)


def test_depth_into_a_square_corner():
    """Corner of 90 degrees, 4 mm out on the bisector: r = 2.828427, and a 90 degree bit as deep."""
    radius = 4 * math.sin(math.radians(45))
    assert groove_depth(radius, v_bit(90, 0)) == pytest.approx(2.828427, abs=1e-6)


def test_published_example_of_speed_and_feed():
    """25 m/min, 12 mm: 663 rev/min; two flutes at 0.065 mm: 86 mm/min; three: 129."""
    rpm = spindle_speed(25, 12)
    assert round(rpm) == 663
    assert round(feed_rate(rpm, 2, 0.065)) == 86
    assert round(feed_rate(rpm, 3, 0.065)) == 129


@pytest.mark.parametrize(
    ("diameter", "speed", "rpm", "flutes", "chip", "feed"),
    [
        (6, 339.292, 18000.0, 2, 0.05, 1800),
        (3.175, 179.542, 18000.0, 1, 0.08, 1440),
        (12.7, 478.779, 12000.0, 3, 0.1, 3600),
    ],
)
def test_speed_and_feed_of_small_cutters(diameter, speed, rpm, flutes, chip, feed):
    assert spindle_speed(speed, diameter) == pytest.approx(rpm, abs=0.05)
    assert feed_rate(rpm, flutes, chip) == pytest.approx(feed)


def test_point_of_a_drill():
    """3 mm, 118 degrees: 0.901291 mm."""
    assert tip_length(load_catalogue().cutters["drill-3"]) == pytest.approx(0.901291, abs=1e-6)


# Common practice, no source: sense checks of the starting values, within a factor of two.


@pytest.fixture(scope="module")
def shop():
    return load_catalogue()


def test_drag_engraving_runs_at_the_usual_feed_with_the_spindle_stopped(shop):
    feeds = choose_feeds(
        shop.cutters["drag-120"],
        shop.materials["brass"],
        shop.machines["bench-router"],
        depth_mm=0.15,
    )
    assert feeds.spindle_rpm == 0
    assert 0.5 <= feeds.feed_mm_per_min / (80 * 25.4) <= 2
    assert 0.5 <= feeds.plunge_mm_per_min / (60 * 25.4) <= 2


def test_v_grooves_in_cast_acrylic_turn_slowly_and_feed_quickly(shop):
    feeds = choose_feeds(
        shop.cutters["vbit-90"],
        shop.materials["acrylic-cast"],
        shop.machines["bench-router"],
        depth_mm=2,
    )
    assert 0.5 <= feeds.spindle_rpm / 10_000 <= 2
    assert 0.5 <= feeds.feed_mm_per_min / (80 * 25.4) <= 2
    assert 0.5 <= feeds.depth_per_pass_mm / (0.12 * 25.4) <= 2


def test_long_reach_and_corners_are_cut_more_gently_and_say_so(shop):
    cutter, mdf, machine = (
        shop.cutters["flat-2"], shop.materials["mdf"], shop.machines["shop-router"],
    )  # fmt: skip
    plain = choose_feeds(cutter, mdf, machine, depth_mm=2)
    for feeds, word in (
        (choose_feeds(cutter, mdf, machine, depth_mm=8.5), "long reach"),
        (choose_feeds(cutter, mdf, machine, depth_mm=2, corners=True), "corners"),
    ):
        assert feeds.feed_mm_per_min == pytest.approx(0.7 * plain.feed_mm_per_min, rel=0.02)
        (reason,) = [r for r in feeds.reasons if r.figure == "chip_load_mm"]
        assert word in reason.why
        assert reason.source == "common practice, no source"


def test_chip_load_is_recomputed_when_the_machine_feeds_no_faster(shop):
    """Fz = F / (n z), whatever limit has cut F."""
    machine = shop.machines["plain-router-inch"]
    cutter = shop.cutters["flat-6"]
    feeds = choose_feeds(cutter, shop.materials["mdf"], machine, depth_mm=6)
    assert feeds.feed_mm_per_min <= machine.max_feed_mm_per_min
    chip = feeds.feed_mm_per_min / (feeds.spindle_rpm * cutter.flutes)
    assert feeds.chip_load_mm == pytest.approx(chip, rel=0.01)


def test_every_figure_has_a_reason_with_a_source(shop):
    for cutter in shop.cutters.values():
        if cutter.kind is CutterKind.BEAM:
            continue
        feeds = choose_feeds(
            cutter, shop.materials["mdf"], shop.machines["bench-router"], depth_mm=1
        )
        named = {r.figure for r in feeds.reasons}
        assert {"spindle_rpm", "plunge_mm_per_min", "depth_per_pass_mm"} <= named
        assert all(r.why and r.source for r in feeds.reasons)
