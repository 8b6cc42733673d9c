"""The book of offers, on both databases: one yes at most, nothing after the end, no token kept."""

import threading
from dataclasses import replace

import pytest
import sqlalchemy as sa

from letterply.errors import Conflict, NotFound
from letterply.offers.book import OfferBook
from letterply.offers.model import MOST_REPLIES, OfferState, ReplyKind
from letterply.storage import tables
from letterply.storage.records import Finished
from letterply.storage.store import Store
from offers.test_model import OFFER

NOW = "2031-05-05T10:00:00.000Z"
LATER = "2031-05-19T00:00:00.000Z"
TOKEN = "a-token-of-32-signs-in-the-link--"
DONE = Finished("findings.json", {"findings.json": b"{}"}, {"title": "Tag", "summary": "fine"})


@pytest.fixture
def store(tmp_path, database_url):
    made = Store(tmp_path / "data", database_url)
    for job in ("2" * 32, "3" * 32):
        made.save_done(job, "check", {}, DONE)
    yield made
    made.close()


@pytest.fixture
def book(store):
    made = OfferBook(store.database)
    made.add(OFFER, TOKEN)
    return made


def test_an_offer_is_found_again_whole(store, book):
    assert book.offer(OFFER.id) == OFFER
    assert book.behind(TOKEN) == OFFER
    for wrong in (TOKEN[:-1], TOKEN.upper(), "", OFFER.id):
        with pytest.raises(NotFound) as caught:
            book.behind(wrong)
        assert caught.value.code == "offer-not-found"
        assert wrong not in caught.value.message or not wrong
    rows = store.database.read(lambda db: db.execute(sa.select(tables.offers)).all())
    assert TOKEN not in str(rows)


def test_wishes_may_follow_each_other_and_a_yes_is_the_last(book):
    book.reply(OFFER.id, ReplyKind.WISH, "Ada", "larger", NOW)
    book.reply(OFFER.id, ReplyKind.WISH, "Ada", "larger still", NOW)
    found = book.reply(OFFER.id, ReplyKind.YES, "Ada", "", NOW)
    assert [r.kind for r in found.replies] == ["wish", "wish", "yes"]
    assert [r.number for r in found.replies] == [1, 2, 3]
    assert {r.version for r in found.replies} == {OFFER.version}
    for kind in ReplyKind:
        with pytest.raises(Conflict) as caught:
            book.reply(OFFER.id, kind, "Ben", "smaller", NOW)
        assert caught.value.code == "offer-agreed"
    assert book.offer(OFFER.id) == found


def test_the_same_try_twice_is_one_reply(book):
    for _ in range(2):
        found = book.reply(OFFER.id, ReplyKind.YES, "Ada", "", NOW)
    assert len(found.replies) == 1


def test_nothing_is_replied_after_the_end_or_a_withdrawal(book):
    with pytest.raises(Conflict) as caught:
        book.reply(OFFER.id, ReplyKind.YES, "Ada", "", LATER)
    assert caught.value.code == "offer-ended"
    assert book.withdraw(OFFER.id, NOW).state(NOW) is OfferState.WITHDRAWN
    assert book.withdraw(OFFER.id, LATER).withdrawn_at == NOW
    with pytest.raises(Conflict) as caught:
        book.reply(OFFER.id, ReplyKind.YES, "Ada", "", NOW)
    assert caught.value.code == "offer-withdrawn"


def test_an_offer_with_a_yes_is_not_taken_back(book):
    book.reply(OFFER.id, ReplyKind.YES, "Ada", "", NOW)
    with pytest.raises(Conflict) as caught:
        book.withdraw(OFFER.id, NOW)
    assert caught.value.code == "offer-agreed"
    assert book.offer(OFFER.id).state(NOW) is OfferState.AGREED


def test_wishes_have_an_end_and_a_yes_still_finds_room(book):
    for n in range(MOST_REPLIES):
        book.reply(OFFER.id, ReplyKind.WISH, "Ada", f"wish {n}", NOW)
    with pytest.raises(Conflict) as caught:
        book.reply(OFFER.id, ReplyKind.WISH, "Ada", "one more", NOW)
    assert caught.value.code == "too-many-replies"
    assert book.reply(OFFER.id, ReplyKind.YES, "Ada", "", NOW).yes is not None


def test_of_many_who_say_yes_at_once_one_is_heard(book):
    heard, refused = [], []

    def say(name):
        try:
            heard.append(book.reply(OFFER.id, ReplyKind.YES, name, "", NOW))
        except Conflict as error:
            refused.append(error.code)

    sayers = [threading.Thread(target=say, args=(f"Rower {n}",)) for n in range(6)]
    for sayer in sayers:
        sayer.start()
    for sayer in sayers:
        sayer.join()
    assert len(heard) == 1
    assert refused == ["offer-agreed"] * 5
    assert len(book.offer(OFFER.id).replies) == 1


def test_the_schema_itself_refuses_a_second_yes(store, book):
    found = book.reply(OFFER.id, ReplyKind.YES, "Ada", "", NOW)
    row = {"offer": OFFER.id, "number": 2, "kind": "yes", "name": "Ben", "text": ""}
    row |= {"version": found.version, "given_at": NOW}
    with pytest.raises(sa.exc.IntegrityError):
        store.database.write(lambda db: db.execute(sa.insert(tables.offer_replies).values(row)))


def refusal(store, job):
    with pytest.raises(Conflict) as caught:
        store.let_go("check", job)
    assert store.job(job).state == "done"
    return caught.value.code, caught.value.data["offers"]


def test_an_offer_holds_its_job_until_it_is_withdrawn(store, book):
    assert refusal(store, OFFER.job) == ("offer-open", [OFFER.id])
    book.reply(OFFER.id, ReplyKind.WISH, "Ada", "larger", NOW)
    book.withdraw(OFFER.id, NOW)
    assert store.let_go("check", OFFER.job)
    with pytest.raises(NotFound):
        book.offer(OFFER.id)


def test_an_offer_holds_its_job_until_its_end_with_a_yes_too(store, book):
    book.reply(OFFER.id, ReplyKind.YES, "Ada", "", NOW)
    assert refusal(store, OFFER.job) == ("offer-open", [OFFER.id])
    over = {"created_at": "2020-05-05T10:00:00.000Z", "ends_at": "2020-05-19T00:00:00.000Z"}
    store.database.write(lambda db: db.execute(sa.update(tables.offers).values(over)))
    assert store.let_go("check", OFFER.job)


def test_an_offer_of_another_owner_holds_nothing_of_ones_own(store, book):
    theirs = store.of("boathouse")
    theirs.hold("check", OFFER.job)
    assert not theirs.let_go("check", OFFER.job)
    assert refusal(store, OFFER.job) == ("offer-open", [OFFER.id])


def test_offers_are_listed_by_page_job_and_version(book):
    for n in range(3):
        more = replace(OFFER, id=f"{n}f" * 16, job="3" * 32, version=f"{n}e" * 16)
        book.add(more, f"token {n}")
    page, more = book.offers(limit=3)
    assert ([o.id[:2] for o in page], more) == (["2f", "1f", "0f"], True)
    rest, more = book.offers(limit=3, after=page[-1].id)
    assert ([o.id for o in rest], more) == ([OFFER.id], False)
    assert len(book.offers(limit=9, job="3" * 32)[0]) == 3
    assert [o.id[:2] for o in book.offers(limit=9, version="1e" * 16)[0]] == ["1f"]
    assert [o.id[:2] for o in book.of_jobs(["2" * 32, "3" * 32])] == ["11", "0f", "1f", "2f"]
    with pytest.raises(NotFound):
        book.offers(limit=3, after="9" * 32)
