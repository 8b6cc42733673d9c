"""Text in XML."""

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.exports.primitives.markup import attribute, clean, text


@given(st.text(max_size=200))
def test_any_text_is_well_formed_and_reads_back_as_cleaned(value):
    document = f"<a b={attribute(value)}>{text(value)}</a>"
    root = ElementTree.fromstring(document)
    assert (root.text or "") == clean(value)
    assert root.get("b") == clean(value)


@given(st.text(max_size=200))
def test_cleaning_twice_changes_nothing(value):
    assert clean(clean(value)) == clean(value)


@pytest.mark.parametrize("bad", ["\x00", "\x08", "\x1b", "\ud800", "\ufffe"])
def test_what_xml_cannot_hold_is_replaced(bad):
    assert clean(f"a{bad}b") == "a\ufffdb"


def test_long_text_is_cut():
    assert clean("x" * 5000, limit=10) == "x" * 9 + "…"
