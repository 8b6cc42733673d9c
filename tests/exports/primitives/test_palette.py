"""Colours: those of Okabe and Ito, told apart by dash and by lightness too.

Source of the colours: Okabe and Ito, Color Universal Design (2002, revised 2008). Contrast:
WCAG 2.1, success criterion 1.4.11 (3:1 for graphics), with its formula for relative luminance.
"""

import pytest

from letterply.exports.primitives.palette import FINDING_COLOUR, STYLES, rgb

OKABE_ITO = {"#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}


def contrast(one: str, other: str) -> float:
    def luminance(colour: str) -> float:
        linear = [
            c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4
            for c in (v / 255 for v in rgb(colour))
        ]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_every_operation_has_a_colour_of_its_own_from_the_palette():
    colours = [s.colour for k, s in STYLES.items() if k != "reference"]
    assert set(colours) <= OKABE_ITO
    assert len(set(colours)) == len(colours)
    assert FINDING_COLOUR in OKABE_ITO
    assert FINDING_COLOUR not in colours


def test_every_operation_has_a_dash_of_its_own():
    dashes = [s.dash_mm for s in STYLES.values()]
    assert len(set(dashes)) == len(dashes)
    assert all(len(d) % 2 == 0 for d in dashes)


@pytest.mark.parametrize(
    ("colour", "other", "ratio"),
    [
        ("#0072B2", "#FFFFFF", 5.1854),
        ("#D55E00", "#FFFFFF", 3.8672),
        ("#767676", "#FFFFFF", 4.5422),
    ],
)
def test_contrast_in_these_tests_is_that_of_the_published_formula(colour, other, ratio):
    assert contrast(colour, other) == pytest.approx(ratio, abs=1e-4)


def test_numbers_on_vermillion_are_seen():
    assert contrast(FINDING_COLOUR, "#FFFFFF") >= 3


@pytest.mark.parametrize("bad", ["0072B2", "#072", "blue", "#0072b2ff"])
def test_what_is_no_colour_is_refused(bad):
    with pytest.raises(ValueError, match=r"no colour|invalid literal"):
        rgb(bad)
