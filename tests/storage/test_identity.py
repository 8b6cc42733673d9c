"""Digests and the canonical form: equal values, equal bytes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.errors import InputError
from letterply.storage.identity import canonical_json, digest, is_digest

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abc"), inner, max_size=4),
    max_leaves=12,
)


def test_digest_is_blake2b_of_sixteen_bytes():
    """RFC 7693 names BLAKE2b; the value is from the coreutils tool `b2sum -l 128` for no input."""
    assert digest(b"") == "cae66941d9efbd404e4d88758ea67670"
    assert is_digest(digest(b"Avocet"))
    assert not is_digest("Avocet")


@given(JSON)
def test_order_of_members_does_not_matter(value):
    turned = {"b": value, "a": [value]}
    assert canonical_json(turned) == canonical_json(dict(reversed(turned.items())))


@pytest.mark.parametrize("value", [math.nan, math.inf, "\ud800", {1, 2}, b"bytes"])
def test_what_json_cannot_carry_is_refused(value):
    with pytest.raises(InputError) as caught:
        canonical_json({"value": value})
    assert caught.value.code == "not-json"


def test_bottomless_nesting_is_refused():
    value: list = []
    for _ in range(100_000):
        value = [value]
    with pytest.raises(InputError):
        canonical_json(value)
