"""Offers as values: where one stands, what counts as a reply, what a version is."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from boathouse import changed, locker_tag
from letterply.errors import InputError
from letterply.jobs import recipe_version
from letterply.offers.model import (
    MOST_NAME,
    MOST_TEXT,
    Offer,
    OfferState,
    Piece,
    Reply,
    ReplyKind,
    checked_reply,
    end_after,
    instant,
    token_digest,
    version_of,
)

PIECE = Piece("Locker tag 27", "27", 1, (50.0, 50.0, 1.0), ("Brass, 1 mm",), "a" * 32, "b" * 32)
OFFER = Offer(
    id="1" * 32,
    job="2" * 32,
    source="check",
    title="Locker tag",
    maker="",
    note="",
    price=12.5,
    currency="EUR",
    pieces=(PIECE,),
    version="a" * 32,
    created_at="2031-05-04T09:30:00.000Z",
    ends_at="2031-05-19T00:00:00.000Z",
)
WISH = Reply(1, ReplyKind.WISH, "Ada", "larger", "a" * 32, "2031-05-05T10:00:00.000Z")
YES = replace(WISH, number=2, kind=ReplyKind.YES, text="")


def test_an_offer_is_open_until_its_last_day_is_over():
    assert OFFER.state("2031-05-18T23:59:59.999Z") is OfferState.OPEN
    assert OFFER.state("2031-05-19T00:00:00.000Z") is OfferState.ENDED
    assert replace(OFFER, replies=(WISH,)).state(OFFER.created_at) is OfferState.OPEN


def test_a_yes_stays_one_after_the_end_and_a_withdrawal_goes_before_all():
    agreed = replace(OFFER, replies=(WISH, YES))
    assert agreed.yes == YES
    assert agreed.state("2040-01-01T00:00:00.000Z") is OfferState.AGREED
    assert agreed.is_over("2040-01-01T00:00:00.000Z")
    gone = replace(OFFER, withdrawn_at="2031-05-06T00:00:00.000Z")
    assert gone.state(OFFER.created_at) is OfferState.WITHDRAWN


@pytest.mark.parametrize("days", [1, 14, 90])
def test_the_customer_has_so_many_whole_days(days):
    made = datetime(2031, 12, 24, 23, 59, tzinfo=UTC)
    end = datetime.fromisoformat(end_after(made, days))
    assert timedelta(days=days) < end - made <= timedelta(days=days + 1)
    assert (end.hour, end.minute) == (0, 0)
    assert instant(end) == end_after(made, days)


def test_the_version_is_of_the_recipe_however_it_is_written():
    same = changed(locker_tag(), layers__0__thickness="0.1 cm")
    assert recipe_version(same) == recipe_version(locker_tag())
    other = changed(locker_tag(), layers__0__thickness="1.5 mm")
    assert recipe_version(other) != recipe_version(locker_tag())


def test_several_pieces_have_a_version_together():
    two = replace(PIECE, quantity=2)
    assert version_of([PIECE]) == version_of([two]) == PIECE.version
    assert version_of([PIECE, PIECE]) != version_of([PIECE, two])
    assert len(version_of([PIECE, two])) == 32


def test_of_a_token_only_a_digest_is_told():
    assert token_digest("avocet") != token_digest("avoceT")
    assert len(token_digest("avocet")) == 64


def test_a_reply_is_taken_without_what_cannot_be_seen():
    found = checked_reply(
        "wish", " Ada\u202e \x1b[31m\n Plover ", "larger\x00\r\n\r\n\r\n\r\nplease\u2066 "
    )
    assert found == (ReplyKind.WISH, "Ada [31m Plover", "larger\n\nplease")
    assert checked_reply("yes", "Ada", "") == (ReplyKind.YES, "Ada", "")


@pytest.mark.parametrize(
    ("kind", "name", "text", "fields"),
    [
        ("", "", "", ["name", "kind"]),
        ("wish", "Ada", " \n ", ["text"]),
        ("wish", "\u200b", "\u200d", ["name", "text"]),
        ("maybe", "Ada", "larger", ["kind"]),
        ("yes", "A" * (MOST_NAME + 1), "x" * (MOST_TEXT + 1), ["name", "text"]),
    ],
)
def test_all_that_is_wrong_with_a_reply_is_told_at_once(kind, name, text, fields):
    with pytest.raises(InputError) as caught:
        checked_reply(kind, name, text)
    assert [m["field"] for m in caught.value.data["mistakes"]] == fields
    assert caught.value.field == fields[0]
