"""Logs: one JSON object a line."""

import asyncio
import json
import logging
import sys

from letterply.api.http.logs import JsonFormatter
from letterply.api.http.metrics import Metrics
from letterply.api.http.middleware import RequestLog


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


def test_a_customers_link_is_not_in_the_log(caplog):
    """Its path is a secret; that of everything else is logged as it came."""

    async def app(scope, receive, send):
        await send({"type": "http.response.start", "status": 200, "headers": []})

    async def send(message):
        pass

    log = RequestLog(app, Metrics())
    with caplog.at_level(logging.INFO, logger="letterply.requests"):
        for path in ("/offer/a-token-of-32-signs-in-the-link--/", "/v1/offers"):
            asyncio.run(log({"type": "http", "method": "GET", "path": path}, None, send))
    assert [record.path for record in caplog.records] == ["/offer/…", "/v1/offers"]
