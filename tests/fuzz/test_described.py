"""A slice of `described.py`, which runs for long: what costs no computing."""

from api.conftest import running
from fuzz.described import SETTINGS, tried

SLICE = r"^/(health|problems|metrics)|^/v1/(keys|usage|jobs|materials)"


def test_answers_are_as_the_description_says(tmp_path):
    with running(tmp_path, **SETTINGS) as url:
        wrong, statuses = tried(url, SLICE, 3)
    assert wrong == {}
    assert statuses.total() > 25
    assert {200, 204, 404, 422} & set(statuses)
