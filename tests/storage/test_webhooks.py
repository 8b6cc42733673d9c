"""The book of webhooks, on both databases: told with what happened, claimed once, tried again."""

import json
from concurrent.futures import ThreadPoolExecutor

import pytest
import sqlalchemy as sa

from letterply.errors import Conflict, NotFound
from letterply.storage import EVENT_TYPES, Webhooks, announce, tables
from letterply.storage.store import Store
from letterply.storage.sweeping import SweepRules, sweep
from letterply.storage.webhooks import DAY_S, LEASE_S, MOST, pause_after

URL = "https://boathouse.example/orders"


@pytest.fixture
def store(tmp_path, database_url):
    made = Store(tmp_path / "data", database_url)
    yield made
    made.close()


@pytest.fixture
def hooks(store):
    return Webhooks(store.database, "club")


def happen(store, *owners, type_="order.done", **facts):
    store.database.write(lambda db: announce(db, owners, type_, facts))


def shift(store, **by):
    """Move times of calls, as if they were so much later or earlier."""
    c = tables.webhook_calls.c
    values = {name: c[name] + seconds for name, seconds in by.items()}
    store.database.write(lambda db: db.execute(sa.update(tables.webhook_calls).values(values)))


def test_only_who_wanted_to_know_is_told(store, hooks):
    wanted, _ = hooks.add(URL, ["order.done"])
    hooks.add(URL, ["order.failed"])
    Webhooks(store.database, "other").add(URL)
    happen(store, "club", order="1" * 32)
    (call,) = hooks.claim(9)
    assert (call.webhook, call.url) == (wanted.id, URL)
    told = json.loads(call.body)
    assert (told["id"], told["type"], told["order"]) == (call.event, "order.done", "1" * 32)


def test_with_a_key_the_database_holds_no_secret_and_every_service_signs_alike(store):
    key = "oars, sculls and a good long rope"
    _, secret = Webhooks(store.database, "club", key).add(URL)
    _, another = Webhooks(store.database, "club", key).add(URL)
    kept = store.database.read(
        lambda db: db.execute(sa.select(tables.webhooks.c.secret)).scalars().all()
    )
    assert kept == ["derived"] * 2
    assert secret != another
    happen(store, "club")
    calls = Webhooks(store.database, "house", key).claim(9)
    assert [call.secret for call in calls] == [secret, another]
    shift(store, next_at=-2 * LEASE_S)
    assert [call.secret for call in Webhooks(store.database, "house").claim(9)] == ["", ""]


def test_nothing_is_told_of_what_did_not_happen(store, hooks):
    hooks.add(URL)

    def fails(db):
        announce(db, ["club"], "order.done", {})
        raise RuntimeError("cut off")

    with pytest.raises(RuntimeError):
        store.database.write(fails)
    assert hooks.claim(9) == ()


def test_senders_beside_each_other_never_have_the_same_call(store, hooks):
    for _ in range(6):
        hooks.add(URL)
    happen(store, "club")
    with ThreadPoolExecutor(4) as pool:
        claimed = [c.seq for found in pool.map(lambda _: hooks.claim(2), range(8)) for c in found]
    claimed += [c.seq for c in hooks.claim(9)]
    assert len(claimed) == len(set(claimed)) == 6


def test_of_one_address_there_is_one_call_at_a_time(store, hooks):
    hook, _ = hooks.add(URL)
    happen(store, "club", order="1")
    happen(store, "club", order="2")
    (first,) = hooks.claim(9)
    assert hooks.claim(9, busy=[hook.id]) == ()
    hooks.settle(first, 204, None)
    (second,) = hooks.claim(9)
    assert [json.loads(c.body)["order"] for c in (first, second)] == ["1", "2"]


def test_what_a_killed_sender_had_is_sent_again_under_the_same_id(store, hooks):
    hooks.add(URL)
    happen(store, "club")
    (first,) = hooks.claim(9)
    assert hooks.claim(9) == ()
    shift(store, next_at=-LEASE_S - 1)
    assert hooks.claim(9) == (first,)


def test_what_failed_waits_longer_each_time_and_a_day_at_most(store, hooks):
    hook, _ = hooks.add(URL)
    happen(store, "club")
    for tries in range(1, 30):
        (call,) = hooks.claim(9)
        hooks.settle(call, 500, "It answered with status 500.")
        (told,), _ = hooks.calls(hook.id, limit=9)
        assert (told.tries, told.status) == (tries, 500)
        if told.state == "given-up":
            break
        assert hooks.claim(9) == ()
        pause = pause_after(tries)
        shift(store, next_at=-pause, until=-pause)  # so much time passes
    # 5 s, then three times as long, then 4 hours: by hand 16,400 s in 8 pauses, 4 more till a day.
    assert tries == 13
    assert hooks.claim(9) == ()


def test_what_was_delivered_is_not_sent_again_by_a_late_sender(store, hooks):
    hook, _ = hooks.add(URL)
    happen(store, "club")
    (late,) = hooks.claim(9)
    shift(store, next_at=-LEASE_S - 1)
    (call,) = hooks.claim(9)
    hooks.settle(call, 200, None)
    hooks.settle(late, None, "There was no answer.")
    (told,), _ = hooks.calls(hook.id, limit=9)
    assert (told.state, told.tries, told.said) == ("delivered", 2, None)


def test_calls_come_newest_first_page_by_page_and_a_test_is_one_of_them(store, hooks):
    hook, _ = hooks.add(URL)
    events = [hooks.try_out(hook.id) for _ in range(3)]
    first, more = hooks.calls(hook.id, limit=2)
    rest, none = hooks.calls(hook.id, limit=2, after=first[-1].event)
    assert [c.event for c in (*first, *rest)] == events[::-1]
    assert (more, none, rest[0].type) == (True, False, "webhook.test")
    with pytest.raises(NotFound):
        hooks.calls(hook.id, limit=2, after="evt_none")


def test_to_another_owner_it_is_not_there(store, hooks):
    hook, _ = hooks.add(URL)
    other = Webhooks(store.database, "other")
    assert other.listed() == ()
    for reach in (other.find, other.remove, other.try_out, lambda i: other.calls(i, limit=1)):
        with pytest.raises(NotFound):
            reach(hook.id)
    assert hooks.listed() == (hook,)
    assert hook.events == EVENT_TYPES


def test_with_an_address_go_the_calls_to_it(store, hooks):
    hook, _ = hooks.add(URL)
    happen(store, "club")
    hooks.remove(hook.id)
    assert hooks.claim(9) == ()
    with pytest.raises(NotFound):
        hooks.find(hook.id)


def test_there_are_so_many_at_most(hooks):
    for _ in range(MOST):
        hooks.add(URL)
    with pytest.raises(Conflict) as caught:
        hooks.add(URL)
    assert caught.value.code == "too-many-webhooks"


def test_a_sweep_takes_old_calls_that_are_over_and_no_others(store, hooks):
    hook, _ = hooks.add(URL)
    hooks.try_out(hook.id)
    (call,) = hooks.claim(9)
    hooks.settle(call, 200, None)
    waiting = hooks.try_out(hook.id)
    sweep(store, SweepRules())
    assert len(hooks.calls(hook.id, limit=9)[0]) == 2
    sweep(store, SweepRules(calls_s=-60.0))
    assert [c.event for c in hooks.calls(hook.id, limit=9)[0]] == [waiting]
    assert SweepRules().calls_s > DAY_S
