"""Negotiation: what headers mean. RFC 9110 for Accept and tags, RFC 7240 for Prefer."""

import asyncio

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.api.http.negotiation import Preference, _preference, choose, tag_matches

OFFERS = ["application/json", "image/png", "application/zip"]


@pytest.mark.parametrize(
    ("accept", "chosen"),
    [
        (None, "application/json"),
        ("", "application/json"),
        ("*/*", "application/json"),
        ("image/*", "image/png"),
        ("application/zip, application/json", "application/json"),
        ("application/zip, application/json;q=0.9", "application/zip"),
        ("image/png;q=0.1, */*;q=0.05", "image/png"),
        ("application/json;q=0, */*", "image/png"),
        ("IMAGE/PNG", "image/png"),
        ("text/html", None),
        ("application/json;q=0", None),
        ("image/png;q=much", None),
        (",;,", None),
    ],
)
def test_the_best_liked_offer_is_chosen(accept, chosen):
    assert choose(accept, OFFERS) == chosen


@given(st.text())
def test_no_header_breaks_the_choice(accept):
    assert choose(accept, OFFERS) in (*OFFERS, None)


@pytest.mark.parametrize(
    ("header", "matches"),
    [('"a"', True), ('W/"a"', True), ('"b", "a"', True), ("*", True), ('"b"', False), ("a", False)],
)
def test_tags_match_weakly(header, matches):
    """RFC 9110 section 13.1.2: If-None-Match uses the weak comparison."""
    assert tag_matches(header, '"a"') is matches


@pytest.mark.parametrize(
    ("header", "preference"),
    [
        (None, Preference()),
        ("respond-async", Preference(True)),
        ("respond-async, wait=10", Preference(True, 10)),
        ("wait=10", Preference(False, 10)),
        ("Respond-Async; foo=bar , WAIT=3", Preference(True, 3)),
        ("return=minimal, wait=soon", Preference()),
    ],
)
def test_preferences_are_read(header, preference):
    assert asyncio.run(_preference(header)) == preference


@pytest.mark.parametrize(
    ("preference", "patience_s"),
    [
        (Preference(), 30),
        (Preference(True), 0),
        (Preference(True, 5), 5),
        (Preference(False, 5), 5),
        (Preference(False, 500), 30),
    ],
)
def test_nobody_waits_longer_than_usual(preference, patience_s):
    assert preference.patience_s(30) == patience_s
