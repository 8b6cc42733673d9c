"""Arcs: centre and radius format, sweeps, chords. Values by hand unless a source is named."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.proof.reading.arcs import (
    MAX_CHORDS,
    centre_from_offsets,
    centre_from_radius,
    chord_counts,
    sweep_of,
)
from letterply.proof.reading.words import ProgramError


def test_centre_format_takes_offsets_from_the_start() -> None:
    centre = centre_from_offsets((7, 7), (10, 16), (3, 4), tolerance_mm=0.002)
    assert centre == (10, 11)
    sweep = sweep_of((7, 7), (10, 16), centre, clockwise=True)
    assert math.degrees(sweep) == pytest.approx(-143.130102, abs=1e-6)
    assert abs(sweep) * 5 == pytest.approx(12.490458, abs=1e-6)


@pytest.mark.parametrize(("end", "fits"), [(20.0019, True), (20.0021, False)])
def test_radii_that_differ_by_more_than_the_tolerance_are_an_error(end: float, fits: bool) -> None:
    if fits:
        centre_from_offsets((0, 0), (end, 0), (10, 0), tolerance_mm=0.002)
        return
    with pytest.raises(ProgramError) as caught:
        centre_from_offsets((0, 0), (end, 0), (10, 0), tolerance_mm=0.002)
    assert caught.value.code == "arc-mismatch"


def test_a_full_circle_ends_where_it_starts() -> None:
    sweep = sweep_of((5, 0), (5, 0), (0, 0), clockwise=True)
    assert sweep == -2 * math.pi
    assert abs(sweep) * 5 == pytest.approx(31.415927, abs=1e-6)


@pytest.mark.parametrize("clockwise", [True, False])
@pytest.mark.parametrize("radius", [6.0, -6.0])
def test_the_sign_of_the_radius_picks_the_short_or_the_long_way(
    clockwise: bool, radius: float
) -> None:
    start, end = (1.0, 2.0), (8.0, 5.0)
    centre = centre_from_radius(start, end, radius, clockwise=clockwise, tolerance_mm=0.002)
    assert math.dist(centre, start) == pytest.approx(6)
    assert math.dist(centre, end) == pytest.approx(6)
    turn = abs(sweep_of(start, end, centre, clockwise=clockwise))
    assert (turn <= math.pi) == (radius > 0)


@pytest.mark.parametrize(("end", "radius"), [((0.0, 0.0), 5.0), ((10.1, 0.0), 5.0)])
def test_no_circle_of_that_radius_is_an_error(end: tuple[float, float], radius: float) -> None:
    with pytest.raises(ProgramError) as caught:
        centre_from_radius((0, 0), end, radius, clockwise=False, tolerance_mm=0.002)
    assert caught.value.code == "arc-mismatch"


@pytest.mark.parametrize(
    ("radius", "sagitta", "chords"), [(10, 0.01, 71), (50, 0.01, 158), (5, 0.05, 23)]
)
def test_a_full_circle_takes_as_many_chords_as_the_sagitta_asks(
    radius: float, sagitta: float, chords: int
) -> None:
    """The number of chords is ceil(pi / acos(1 - e / r)): plane geometry."""
    found = chord_counts(np.array([radius]), np.array([2 * math.pi]), sagitta)
    assert found[0] == chords


@given(
    st.floats(1e-6, 1e9),
    st.floats(-2 * math.pi, 2 * math.pi),
    st.floats(1e-4, 1.0),
)
def test_chords_keep_their_sagitta_and_stay_few(
    radius: float, sweep: float, sagitta: float
) -> None:
    n = int(chord_counts(np.array([radius]), np.array([sweep]), sagitta)[0])
    assert 1 <= n <= MAX_CHORDS
    if n < MAX_CHORDS:
        sag = radius * (1 - math.cos(sweep / n / 2))
        assert sag <= sagitta * (1 + 1e-6) + 1e-7
