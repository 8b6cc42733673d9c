"""What tasks are given and answer can be stored, and is the same when it is read back."""

import pytest
from pydantic import TypeAdapter

from letterply.orders.codec import plain, value_of
from letterply.orders.pipeline import answers, task_requests
from letterply.said import Said, say
from letterply.sheets.model import Unplaced

KINDS = [
    kind
    for room in (answers, task_requests)
    for kind in vars(room).values()
    if isinstance(kind, type)
    and kind.__module__ == room.__name__
    and "__dataclass_fields__" in vars(kind)
]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_task_and_answer_has_a_stored_form(kind):
    TypeAdapter(kind)


def test_a_reason_in_words_is_stored_as_its_text():
    reason = Unplaced("1.1.A.face", "mdf", 3.0, say("{part} is too long", part="A"))
    again = value_of(Unplaced, plain(reason))
    assert again == reason
    assert isinstance(again.why, Said)
