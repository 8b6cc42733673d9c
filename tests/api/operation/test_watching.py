"""What operators see: lanes and rooms, what is missing, traces, the table of settings."""

import json
import re
import shutil
from pathlib import Path

import httpx
import pytest
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from letterply.api.http.metrics import Metrics
from letterply.api.http.traces import RequestTrace, Tracer, open_tracer
from letterply.api.http.watching import Watching
from letterply.api.settings import Settings
from letterply.api.settings_table import settings_table
from orders.pipeline.small import PLAIN

ROOT = Path(__file__).parents[3]
SIGN = {
    "title": "Ruff",
    "lettering": {"text": "l", "font": "oswald", "size": {"cap_height": "30 mm"}},
    "layers": [
        {"name": "a", "material": "mdf", "thickness": "3 mm", "outline": {"kind": "lettering"}}
    ],
    "align": {"kind": "none"},
}


def value(text, name, **labels):
    inner = ",".join(f'{n}="{v}"' for n, v in sorted(labels.items()))
    found = re.search(rf"^{name}\{{{inner}\}} (\S+)$", text, re.MULTILINE)
    return None if found is None else float(found[1])


def test_metrics_tell_lanes_and_rooms_apart(api):
    assert api.post("/v1/checks", json={"recipe": SIGN}).status_code in (200, 201)
    answer = api.get("/metrics")
    assert answer.headers["content-type"].startswith("text/plain; version=0.0.4")
    for lane, workers in (("jobs", 2), ("short", 1), ("previews", 1)):
        assert value(answer.text, "letterply_lane_workers", lane=lane) == workers
        assert value(answer.text, "letterply_lane_waiting", lane=lane) == 0
    for room in ("layers", "checks"):
        assert value(answer.text, "letterply_room_seconds_count", room=room) >= 1
    assert "letterply_orders_open 0.0" in answer.text


def test_readiness_says_what_is_missing(tmp_path, run_service):
    with (
        run_service(tmp_path, workers=1, preview_workers=0) as url,
        httpx.Client(base_url=url, timeout=60) as client,
    ):
        incoming = tmp_path / "data" / "incoming"
        shutil.move(incoming, tmp_path / "away")
        answer = client.get("/health/ready")
        assert answer.status_code == 503
        assert answer.json()["checks"]["store"] is False
        assert any(m.startswith("store: files cannot be") for m in answer.json()["missing"])
        shutil.move(tmp_path / "away", incoming)
        while (answer := client.get("/health/ready")).status_code != 200:
            assert answer.json()["checks"]["store"] is True
        assert answer.json()["missing"] == []


@pytest.mark.anyio
async def test_a_request_and_its_job_are_spans_of_one_trace():
    exporter = InMemorySpanExporter()
    tracer = Tracer(exporter)
    watching = Watching(Metrics(), tracer)

    async def make(request):
        watching.job_over("stack", "done", 0.25)
        return PlainTextResponse("made", 201)

    inner = Starlette(routes=[Route("/v1/{kind}", make, methods=["POST"])])
    trace, parent = "0af7651916cd43dd8448eb211c80319c", "b7ad6b7169203331"

    async def app(scope, receive, send):
        scope.setdefault("state", {})["request_id"] = "r"
        await RequestTrace(inner, tracer)(scope, receive, send)

    transport = httpx.ASGITransport(app=app)
    async with httpx.AsyncClient(transport=transport, base_url="http://it") as client:
        headers = {"traceparent": f"00-{trace}-{parent}-01", "Authorization": "Bearer secret"}
        await client.post("/v1/stacks", headers=headers, content=b'{"text": "Avocet"}')
    watching.close()
    job, request = exporter.get_finished_spans()
    assert job.name == "job stack"
    assert (job.end_time - job.start_time) / 1e9 == pytest.approx(0.25, abs=1e-6)
    assert job.parent.span_id == request.context.span_id
    assert f"{request.context.trace_id:032x}" == trace
    assert f"{request.parent.span_id:016x}" == parent
    assert request.attributes["http.response.status_code"] == 201
    told = job.to_json() + request.to_json()
    assert "secret" not in told
    assert "Avocet" not in told


@pytest.fixture
def anyio_backend():
    return "asyncio"


def test_no_traces_are_made_unless_somebody_wants_them():
    assert Settings().traces_url is None
    assert open_tracer(None) is None


def test_the_table_of_settings_is_that_of_the_settings():
    written = (ROOT / "deploy" / "settings.md").read_text()
    assert written == settings_table()
    for name in Settings.model_fields:
        assert f"`LETTERPLY_{name.upper()}`" in written
    assert json.dumps("secret") in written  # how keys are written is said, too


def test_metrics_tell_what_waits_for_a_worker_of_orders(tmp_path, run_service):
    order = {"title": "Tags", "recipe": "tag", "recipes": {"tag": PLAIN}, "lines": ["Knot"]}
    with (
        run_service(tmp_path, workers=1, preview_workers=0, order_worker="none") as url,
        httpx.Client(base_url=url, timeout=60) as client,
    ):
        assert "letterply_tasks_waiting 0.0" in client.get("/metrics").text
        assert client.post("/v1/orders", json=order).status_code == 202
        assert "letterply_tasks_waiting 1.0" in client.get("/metrics").text
