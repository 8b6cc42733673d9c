"""Quantities as people write them: read exactly, written as they are rounded by hand."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.errors import InputError
from letterply.jobs.identity import job_id
from letterply.jobs.run import normalise_request
from letterply.units import (
    decimal_text,
    format_mm,
    parse_feed,
    parse_length,
)

EQUAL = [
    ("1.5 in", "38.1 mm", 38.1, "1 1/2 in", '1-1/2"', "3.81cm", "1500 thou", "0.125 ft"),
    ("0.3 in", "7.62 mm", 7.62, "3/10 inch", "300 mil", "7620 um", "21.6 pt", "28.8 px"),
    ("-.1 in", "-2.54 mm", -2.54),
    ("-0 mm", "0 in", 0, -0.0),
]


@pytest.mark.parametrize("written", EQUAL)
def test_equal_lengths_are_one_number(written):
    found = {parse_length(one) for one in written}
    assert len(found) == 1
    assert not str(found.pop()).startswith("-0.0")


@given(whole=st.integers(0, 5000), sixty_fourths=st.integers(0, 63), unit=st.sampled_from(["in"]))
def test_an_inch_is_127_fifths_of_a_millimetre_rounded_once(whole, sixty_fourths, unit):
    exact = (whole + Fraction(sixty_fourths, 64)) * Fraction(127, 5)
    assert parse_length(f"{whole} {sixty_fourths}/64 {unit}") == float(exact)


def test_feeds_are_read_the_same_way():
    assert parse_feed("4.1 in/min") == 104.14
    assert parse_feed("1.1 m/min") == 1100.0


def test_equal_lengths_give_equal_ids():
    def id_of(thickness):
        recipe = {
            "title": "Locker 27",
            "lettering": {"text": "27", "font": "oswald", "size": {"cap_height": "12 mm"}},
            "layers": [
                {"name": "tag", "material": "mdf", "thickness": thickness,
                 "outline": {"kind": "plate", "shape": "circle", "diameter": "50 mm"}},
            ],
        }  # fmt: skip
        return job_id("stack", normalise_request("stack", {"recipe": recipe}))

    assert id_of("1.5 in") == id_of("38.1 mm") == id_of(38.1) != id_of("38.2 mm")


@pytest.mark.parametrize(
    ("value", "text"),
    [(3.175, "3.18 mm"), (-3.175, "-3.18 mm"), (0.125, "0.13 mm"), (12.0, "12 mm"),
     (-0.0, "0 mm"), (-0.0001, "0 mm"), (0.004, "0.004 mm"), (1e-9, "0 mm"), (1220, "1220 mm"),
     (1e6, "1000000 mm"), (100, "100 mm"), (38.099999999999994, "38.1 mm")],
)  # fmt: skip
def test_a_length_is_written_as_it_is_rounded_by_hand(value, text):
    assert format_mm(value) == text


@given(st.decimals(-9999, 9999, places=4))
def test_decimals_are_rounded_half_away_from_nought(written):
    rounded = written.quantize(Decimal("0.01"), ROUND_HALF_UP)
    found = decimal_text(float(written), 2)
    assert Decimal(found) == rounded
    assert found != "-0"
    assert not found.endswith((".", ".0"))


HOSTILE = [float("nan"), float("inf"), 10**400, -(10**5000), 1e13, True, None, [1], {}]


@pytest.mark.parametrize("at", range(len(HOSTILE)))
@pytest.mark.parametrize("read", [parse_length, parse_feed])
def test_no_number_is_refused_whatever_it_is(at, read):
    with pytest.raises(InputError) as caught:
        read(HOSTILE[at], field="shop.feeds")
    assert caught.value.field == "shop.feeds"
    assert len(caught.value.message) < 120


@pytest.mark.parametrize("text", ["²", "٣ mm", "1e3", "0x10", "1_000", "", "mm", "9" * 5000])
def test_only_plain_digits_are_digits(text):
    with pytest.raises(InputError):
        parse_length(text)
