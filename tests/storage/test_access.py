"""Access keys: whether there is one is asked of the database, but not by every request."""

import pytest

from letterply.storage.access import AccessKeys
from letterply.storage.store import Store


@pytest.fixture
def now(monkeypatch):
    clock = [100.0]
    monkeypatch.setattr("letterply.storage.access.time.monotonic", lambda: clock[0])
    return clock


def test_that_there_is_no_key_is_believed_for_a_moment_and_that_there_is_one_for_good(
    tmp_path, now
):
    store = Store(tmp_path)
    try:
        ours, elsewhere = store.access, AccessKeys(store.database)
        assert ours.any_known is None
        assert not ours.any()
        assert ours.any_known is False
        elsewhere.make("Ada", "boathouse")
        now[0] += 0.9
        assert ours.any_known is False
        now[0] += 0.2
        assert ours.any_known is None
        assert ours.any()
        now[0] += 1e6
        assert ours.any_known is True
    finally:
        store.close()


def test_a_key_that_is_made_here_counts_at_once(tmp_path, now):
    store = Store(tmp_path)
    try:
        assert not store.access.any()
        store.access.make("Ada", "boathouse")
        assert store.access.any_known is True
    finally:
        store.close()
