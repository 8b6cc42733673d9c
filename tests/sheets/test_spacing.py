"""Spacing: figures by hand."""

import pytest

from letterply.sheets.spacing import least_spacing, least_spacing_for_beam


def test_a_cutters_width_and_a_clearance_lie_between_parts():
    assert least_spacing(6.0) == 8.0
    assert least_spacing(3.175, clearance_mm=1.0) == pytest.approx(4.175)


def test_a_beam_keeps_the_sheets_thickness_and_never_less_than_one():
    assert least_spacing_for_beam(0.2, 6.0) == pytest.approx(6.2)
    assert least_spacing_for_beam(0.2, 0.3) == pytest.approx(1.2)


@pytest.mark.parametrize("bad", [0.0, -3.0])
def test_no_cutter_is_no_wider_than_nothing(bad):
    with pytest.raises(ValueError, match="diameter"):
        least_spacing(bad)
    with pytest.raises(ValueError, match="kerf"):
        least_spacing_for_beam(bad, 3.0)
