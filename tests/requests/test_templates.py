"""Templates: each is a recipe that can be cut, whatever words are put into it."""

import re
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.catalogue import load_catalogue, resolve_shop
from letterply.checks import check_stack
from letterply.errors import InputError, NotFound
from letterply.findings import Severity
from letterply.lettering import FontLibrary
from letterply.requests import parse_recipe, shipped_templates, template
from letterply.stacks import build_stack
from letterply.units import parse_length

KINDS = ["sign", "letters", "tag", "board", "stencil", "blank", "grid-board"]
each = pytest.mark.parametrize("key", KINDS)


def test_these_are_shipped():
    assert [t.key for t in shipped_templates()] == KINDS


@each
def test_nothing_stands_in_the_way_of_a_template_as_it_comes(key):
    catalogue = load_catalogue()
    stack = build_stack(parse_recipe(template(key).recipe()), catalogue, FontLibrary())
    found = check_stack(stack, catalogue, resolve_shop(None, catalogue))
    assert [f.why for f in found if f.severity is Severity.BLOCKER] == []


@each
def test_a_template_is_commented_and_has_no_place_left_open(key):
    made = template(key).toml()
    assert made.count("#") >= 2
    assert "{{" not in made


@given(
    st.sampled_from(KINDS),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=30),
    st.sampled_from(["oswald", '"', "{{text}}", "own-1\n", "\\"]),
)
def test_whatever_the_words_are_they_come_back_as_they_were_and_change_nothing_else(
    key, text, font
):
    plain = template(key).recipe(font="oswald", size="40 mm")
    made = template(key).recipe(text=text, font=font, size="40 mm")
    assert made["lettering"]["text"] == text
    assert made["lettering"]["font"] == font
    assert made["title"]
    for recipe in (plain, made):
        del recipe["lettering"]["text"], recipe["lettering"]["font"], recipe["title"]
    assert made == plain


def test_a_file_and_its_recipe_are_the_same():
    wishes = {"text": "Knot", "font": "pacifico", "size": "2 1/4 in"}
    assert tomllib.loads(template("sign").toml(**wishes)) == template("sign").recipe(**wishes)
    assert parse_recipe(template("sign").recipe(**wishes)).lettering.size.cap_height == 57.15


@each
def test_in_inches_it_is_about_as_large_in_figures_of_a_rule(key):
    made, usual = (
        re.sub(r"(?m)^#.*", "", template(key).toml(units=units)) for units in ("inch", "mm")
    )
    assert ' mm"' not in made
    lengths = [(parse_length(a), parse_length(b)) for a, b in
               zip(re.findall(r'"([-0-9][^"]* in)"', made), re.findall(r'"([-0-9.]+ mm)"', usual),
                   strict=True)]  # fmt: skip
    assert lengths
    for inches, mm in lengths:
        assert inches == pytest.approx(mm, rel=0.21)
        assert (64 * inches / 25.4) == pytest.approx(round(64 * inches / 25.4), abs=1e-6)
    parse_recipe(tomllib.loads(made))


def test_what_is_no_length_or_no_template_is_told():
    with pytest.raises(InputError) as told:
        template("sign").toml(size="large")
    assert (told.value.code, told.value.field) == ("bad-length", "size")
    with pytest.raises(NotFound) as missing:
        template("boat")
    assert missing.value.code == "template-not-found"
