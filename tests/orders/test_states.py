"""What is told of an order on its way."""

from letterply.orders.states import EventKind, LineState, OrderEvent


def test_a_task_that_ended_tells_what_became_of_its_lines():
    made = OrderEvent(3, EventKind.TASK, {"phase": "lines", "ok": True, "lines": [1, 4]})
    lost = OrderEvent(4, EventKind.TASK, {"phase": "lines", "ok": False, "lines": [2]})
    assert made.line_states == {1: LineState.MADE, 4: LineState.MADE}
    assert lost.line_states == {2: LineState.FAILED}


def test_other_events_and_other_tasks_tell_of_no_line():
    """The event of an attempt says how many lines there are under the same name."""
    accepted = OrderEvent(1, EventKind.ACCEPTED, {"lines": 3, "designs": 2})
    sheet = OrderEvent(9, EventKind.TASK, {"phase": "sheets", "ok": True, "sheet": 1})
    assert accepted.line_states == sheet.line_states == {}
