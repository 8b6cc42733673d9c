"""Slices of `described.py` and `walking.py`, which run for long."""

from api.conftest import running
from fuzz.described import SETTINGS, tried
from fuzz.walking import walked

SLICE = r"^/(health|problems|metrics)|^/v1/(keys|usage|jobs|materials)"

KEPT = r"^/v1/(shops|webhooks|keys|artworks|stock|materials|usage)"


def test_answers_are_as_the_description_says(tmp_path):
    with running(tmp_path, **SETTINGS) as url:
        wrong, statuses = tried(url, SLICE, 3)
        walk = walked(url, 150, 5, KEPT)
    assert wrong == walk.wrong == {}
    assert len(walk.reached) > 15
    assert statuses.total() > 25
    assert {200, 204, 404, 422} & set(statuses)
