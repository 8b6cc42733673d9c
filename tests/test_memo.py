"""Memos: the latest used is kept, up to a bound."""

from letterply.memo import Memo


def test_what_is_kept_is_bounded():
    made = []

    def make(key):
        made.append(key)
        return key

    held = Memo(1000)
    for key in (*range(10), 9, 8, 7):
        assert held.get(key, lambda key=key: make(key), lambda value: 400) == key
    assert made == [*range(10), 7]


def test_what_is_forgotten_is_made_again():
    held = Memo(2)
    assert held.get("a", lambda: 1) == held.get("a", lambda: 2) == 1
    held.clear()
    assert held.get("a", lambda: 2) == 2
