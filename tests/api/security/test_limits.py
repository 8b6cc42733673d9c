"""Requests a minute: a steady rate, and one for all services on a database together."""

import pytest

from letterply.api.security.limits import RateExchange, RequestRate
from letterply.storage import Store


class Clock:
    """Seconds that go on when they are told to."""

    def __init__(self):
        self.now = 0.0

    def __call__(self):
        """Return what time it is."""
        return self.now


def let_in(rate, requests, per_minute=60):
    """Return how many of so many requests at once are let in."""
    return sum(rate.wait_s("club", per_minute) == 0.0 for _ in range(requests))


def test_who_was_quiet_may_send_a_burst_and_is_then_held_to_the_rate():
    clock = Clock()
    rate = RequestRate(clock)
    assert let_in(rate, 80) == 60
    assert rate.wait_s("club", 60) == pytest.approx(1.0)
    assert let_in(rate, 1, per_minute=None) == 1
    clock.now += 5.0
    assert let_in(rate, 80) == 5


def test_services_hold_an_owner_to_one_rate_together(tmp_path, database_url):
    store = Store(tmp_path / "data", database_url)
    clock = Clock()
    here, there, late = (RateExchange(RequestRate(clock), store.database) for _ in range(3))

    def exchange():
        for one in (here, there, late, here, there, late):
            one.exchange()

    exchange()
    assert (let_in(here.rate, 40), let_in(there.rate, 40)) == (40, 40)
    exchange()  # each has sent 40 of 60, so 20 too many were let in before anybody could know
    assert let_in(here.rate, 1) == let_in(there.rate, 1) == let_in(late.rate, 1) == 0
    clock.now += 20.5
    assert [let_in(one.rate, 5) for one in (here, there)] == [0, 0]
    clock.now += 1.0
    assert let_in(here.rate, 5) == 1
    exchange()
    assert let_in(there.rate, 5) == 0
    assert late.exchange() is None
    store.close()
