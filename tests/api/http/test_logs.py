"""Logs: one JSON object a line."""

import json
import logging
import sys

from letterply.api.http.logs import JsonFormatter


def line(message, **more):
    record = logging.makeLogRecord(
        {"name": "letterply", "levelname": "INFO", "msg": message, "created": 0.0, **more}
    )
    return JsonFormatter().format(record)


def test_a_record_is_one_line_of_json_with_its_extras():
    text = line("two\nlines", path="/v1/stacks", status=201)
    assert "\n" not in text
    assert json.loads(text) == {
        "time": "1970-01-01T00:00:00.000+00:00",
        "level": "info",
        "logger": "letterply",
        "message": "two\nlines",
        "path": "/v1/stacks",
        "status": 201,
    }


def test_a_trace_goes_along():
    try:
        1 / 0  # noqa: B018
    except ZeroDivisionError:
        text = line("broke", exc_info=sys.exc_info())
    assert "ZeroDivisionError" in json.loads(text)["trace"]
