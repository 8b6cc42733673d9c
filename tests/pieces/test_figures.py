"""What readings tell, against truths that they were made from: within the uncertainty, always.

Readings are the true lengths, rounded to the step of a caliper. The expanded uncertainty takes
steps of one instrument as wholly correlated, so that it holds for every such reading and not for
most of them alone.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.errors import InputError
from letterply.pieces import Told
from letterply.pieces.uncertainty import combined, expanded, of_one_instrument, rectangular
from letterply.pieces.widths import fitted_cone
from letterply.shapes import DEFAULT_TOLERANCES
from pieces.bench import piece_of, shop_of, told

SHOP, CATALOGUE = shop_of()
STEPS = st.sampled_from([0.01, 0.02, 0.05, 0.0254 / 2, 0.0254])
KEPT = DEFAULT_TOLERANCES.path_clearance_mm


def read(value: float, step: float) -> float:
    return round(value / step) * step


def squares(true_mm: float, step: float, *, alike: float = 0.0) -> Told:
    """Return what is told of squares that were cut by a cutter of this diameter."""
    asked = {"kind": "diameter", "cutter": "flat-3175"}
    _, piece = piece_of(asked, SHOP, CATALOGUE)
    side, was = piece.nominal["side_mm"], piece.nominal["diameter_mm"]
    outside = side + 2 * KEPT + was - true_mm + alike
    inside = side - 2 * KEPT + true_mm - was + alike
    lengths = {
        f"{name}_{axis}": read(value, step)
        for name, value in (("outside", outside), ("inside", inside))
        for axis in "xy"
    }
    return told(asked, SHOP, CATALOGUE, lengths, step)


@given(st.floats(2.6, 3.7), STEPS, st.floats(-0.2, 0.2))
def test_the_diameter_lies_within_its_uncertainty(true_mm: float, step: float, alike: float):
    (change,) = squares(true_mm, step, alike=alike).changes
    assert abs(change.new - true_mm) <= change.uncertainty + 1e-4  # it is written with 4 decimals
    assert change.uncertainty <= 1.2 * step


@given(
    st.floats(50, 72), st.floats(0.0, 0.5), st.sampled_from([0.005, 0.01, 0.02]),
    st.floats(-0.02, 0.02),
)  # fmt: skip
def test_angle_and_tip_lie_within_their_uncertainty(
    angle: float, tip: float, step: float, off: float
):
    asked = {"kind": "angle", "cutter": "vbit-60"}
    _, piece = piece_of(asked, SHOP, CATALOGUE)
    slope = 2 * math.tan(math.radians(angle / 2))
    depths = [r.value for r in piece.rungs]
    widths = [read(tip + slope * (z + off), step) for z in depths]
    (found, u_angle), (flat, u_tip), _ = fitted_cone(depths, widths, step, 0.02)
    assert abs(found - angle) <= u_angle
    assert abs(flat - tip) <= u_tip + slope * abs(off)
    # How z was zeroed is one of the independent parts: what is rounded is bounded without it.
    (_, _), (_, exact), _ = fitted_cone(depths, widths, step, 0.0)
    assert abs(flat - tip - slope * off) <= exact


@given(st.floats(0.0, 0.3), st.sampled_from([None, 0.02, 0.1]))
def test_the_clearance_that_is_needed_lies_within_its_uncertainty(need: float, step: float | None):
    asked = {"kind": "fit", **({"step": step} if step else {})}
    _, piece = piece_of(asked, SHOP, CATALOGUE)
    fitting = [r for r in piece.rungs if r.value >= need]
    if not fitting:  # then none is named
        return
    found = told(asked, SHOP, CATALOGUE, {}, 0.01, {"fits": fitting[0].letter})
    (change,) = found.changes
    assert need <= change.new + 1e-9
    assert abs(change.new - need) <= change.uncertainty


@given(st.floats(6.0, 7.0), st.lists(st.floats(-0.3, 0.3), min_size=9, max_size=9), STEPS)
def test_thickness_and_flatness_lie_within_their_uncertainty(
    true_mm: float, heights: list[float], step: float
):
    asked = {"kind": "flatness"}
    _, piece = piece_of(asked, SHOP, CATALOGUE)
    deep = piece.nominal["depth_mm"]
    lengths = {f"depth_{n}": read(deep + h, step) for n, h in enumerate(heights, start=1)}
    lengths |= {f"thickness_{n}": read(true_mm, step) for n in (1, 3, 7, 9)}
    thick, flat = told(asked, SHOP, CATALOGUE, lengths, step).changes
    assert abs(thick.new - true_mm) <= thick.uncertainty + 1e-4
    assert abs(flat.new - (max(heights) - min(heights))) <= flat.uncertainty + 1e-4


def test_what_makes_both_squares_larger_is_told_and_is_not_the_cutter():
    found = squares(3.175, 0.01, alike=0.3)
    assert found.changes[0].new == pytest.approx(3.175, abs=0.006)
    assert "both 0.3 mm larger" in found.remarks[0]


def test_scatter_of_readings_widens_the_uncertainty():
    asked = {"kind": "diameter", "cutter": "flat-3175"}
    lengths = {"outside_x": 30.0, "outside_y": 30.2, "inside_x": 30.0, "inside_y": 30.2}
    (change,) = told(asked, SHOP, CATALOGUE, lengths, 0.01).changes
    # Means of two readings 0.2 apart: s/sqrt(2) = 0.1 each, half of each counts; in quadrature
    # with 0.01/2/sqrt(3), times two: worked out by hand.
    assert change.uncertainty == pytest.approx(2 * math.hypot(0.05, 0.05, 0.00289), abs=1e-4)


@pytest.mark.parametrize(
    ("widths", "words"),
    [
        ({"width_a": 1.4, "width_b": 2.0}, "2 of the widths"),
        ({"width_a": 1.4, "width_b": 1.4, "width_c": 2.7}, "only to"),
        ({"width_a": 2.3, "width_c": 4.5, "width_f": 7.9}, "would be those of a cone"),
    ],
)
def test_widths_that_tell_nothing_are_refused(widths: dict[str, float], words: str):
    with pytest.raises(InputError, match=words):
        told({"kind": "angle", "cutter": "vbit-60"}, SHOP, CATALOGUE, widths, 0.01)


def test_the_steps_of_the_uncertainty_are_those_of_the_guide():
    # JCGM 100:2008: 4.3.7 (a / sqrt 3), F.2.2.1 (0.29 of a step), 5.1.2, 6.2.1 with k = 2.
    # The example of ten resistors in 5.2.2: of one standard, u = 0.1 ohm each, 1 ohm in a row.
    assert of_one_instrument([1.0] * 10, 0.2 * math.sqrt(3)) == pytest.approx(1.0)
    assert rectangular(math.sqrt(3)) == pytest.approx(1.0)
    assert of_one_instrument([1.0], 1.0) == pytest.approx(0.29, abs=0.002)
    assert combined(3.0, 4.0) == pytest.approx(5.0)
    assert expanded(0.5) == pytest.approx(1.0)


def test_squares_that_were_mixed_up_are_refused():
    beams, catalogue = shop_of(machine="bench-beam", hold_down="bed")
    asked = {"kind": "diameter", "cutter": "beam-015"}
    lengths = {"outside_x": 30.3, "outside_y": 30.3, "inside_x": 29.7, "inside_y": 29.7}
    # ((30.025 - 30.3) + (29.7 - 29.975)) / 2 = -0.275 on a kerf of 0.15, by hand.
    with pytest.raises(InputError, match=r"a kerf of -0\.125 mm"):
        told(asked, beams, catalogue, lengths, 0.01)
