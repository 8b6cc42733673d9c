"""Limits and accidents of a running service: time, queue, keys, sudden death."""

import contextlib
import json
import time
from pathlib import Path
from types import SimpleNamespace

import httpx
import pytest

from boathouse import one_layer
from orders.pipeline.small import PLAIN

KEYS = [
    {"name": "reader", "secret": "reads-only-0123456789", "scopes": ["read"]},
    {"name": "rower", "secret": "reads-and-writes-01234", "scopes": ["read", "write"]},
]


def sign(text, title="Whimbrel"):
    outline = {"kind": "lettering", "join": True}
    size = {"cap_height": 40}
    return {"recipe": one_layer(text, outline, name="face", font="lobster", size=size, title=title)}


LONG = sign("\n".join(["Whimbrel" * 10] * 8))
"""Takes seconds to build."""

SHORTER = sign("Turnstone")
"""Takes long enough to be interrupted."""


def blobs(folder):
    return sorted(p.name for p in (folder / "data" / "blobs").rglob("*") if p.is_file())


def until_ready(api):
    """Wait for the worker that takes the place of one that was ended."""
    deadline = time.monotonic() + 300
    while api.get("/health/ready").status_code != 200:
        assert time.monotonic() < deadline
        time.sleep(0.1)


def test_a_job_that_takes_too_long_is_cut_off_and_leaves_nothing(tmp_path, run_service):
    with (
        run_service(tmp_path, workers=1, time_limit_s=0.3, wait_s=300) as url,
        httpx.Client(base_url=url, timeout=300) as api,
    ):
        answer = api.post("/v1/stacks", json=LONG)
        assert answer.status_code == 422
        assert answer.json()["code"] == "job-timeout"
        assert answer.json()["time_limit_s"] == 0.3
        assert api.get("/v1/stacks").json()["items"] == []
        assert blobs(tmp_path) == []
        until_ready(api)
        metrics = api.get("/metrics").text
        assert 'letterply_jobs_total{kind="stack",outcome="job-timeout"} 1' in metrics


def test_too_many_jobs_at_once_are_turned_away_for_a_moment(tmp_path, run_service):
    with (
        run_service(tmp_path, workers=1, max_waiting=1) as url,
        httpx.Client(base_url=url, timeout=300) as api,
    ):
        first = api.post("/v1/stacks", json=LONG, headers={"Prefer": "respond-async"})
        assert first.status_code == 202
        second = api.post("/v1/stacks", json=sign("Knot"))
        assert second.status_code == 503
        assert second.json()["code"] == "service-busy"
        assert int(second.headers["retry-after"]) > 0


def test_short_questions_do_not_wait_behind_jobs(tmp_path, run_service):
    with (
        run_service(tmp_path, workers=1, wait_s=300, short_wait_s=240) as url,
        httpx.Client(base_url=url, timeout=300) as api,
    ):
        made = api.post("/v1/stacks", json=sign("Knot")).json()
        assert api.get("/v1/fonts/pacifico").status_code == 200  # both lanes are awake
        queued = [
            api.post("/v1/plans", json=sign(text), headers={"Prefer": "respond-async"}).json()
            for text in ("Whimbrel", "Turnstone", "Sanderling", "Curlew", "Dunlin", "Avocet")
        ]
        for path in ("/v1/fonts/lobster", f"/v1/stacks/{made['id']}/files/exploded.png"):
            assert api.get(path).status_code == 200
        last = api.get(queued[-1]["links"]["self"]).json()
        assert last["state"] == "queued"


def test_keys_open_the_service_as_far_as_they_reach(tmp_path, run_service):
    with (
        run_service(tmp_path, workers=1, wait_s=300, api_keys=json.dumps(KEYS)) as url,
        httpx.Client(base_url=url, timeout=300) as api,
    ):
        assert api.get("/v1/stacks").status_code == 401
        assert api.get("/metrics").status_code == 401
        assert api.get("/health/live").status_code == 200
        for key, status in zip(KEYS, (403, 422), strict=True):
            headers = {"Authorization": f"Bearer {key['secret']}"}
            assert api.get("/v1/stacks", headers=headers).status_code == 200
            asked = api.post("/v1/stacks", json=sign(""), headers=headers)
            assert asked.status_code == status
        description = api.get("/openapi.json").json()
        assert description["components"]["securitySchemes"]["key"]["scheme"] == "bearer"
    assert KEYS[0]["secret"] not in (tmp_path / "log").read_text()


def children(pid):
    found = Path(f"/proc/{pid}/task/{pid}/children")
    return [int(p) for p in found.read_text().split()]


def runs(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="reads /proc")
def test_two_services_on_one_store_answer_for_each_other_and_one_outlives_the_other(
    tmp_path, start_service, run_service
):
    """Whichever a request reaches; the one that is killed takes its workers along."""
    process, url = start_service(tmp_path, workers=1, preview_workers=0, wait_s=300)
    with (
        process,
        contextlib.closing(SimpleNamespace(close=process.kill)),
        run_service(tmp_path, workers=1, preview_workers=0, wait_s=300) as other,
        httpx.Client(base_url=url, timeout=300) as here,
        httpx.Client(base_url=other, timeout=300) as there,
    ):
        made = here.post("/v1/stacks", json=sign("Knot"))
        assert made.status_code == 201
        again = there.post("/v1/stacks", json=sign("Knot"))
        assert (again.status_code, again.content) == (200, made.content)
        key = {"Idempotency-Key": '"one of ours"', "Prefer": "respond-async"}
        kept = here.post("/v1/stacks", json=SHORTER, headers=key)
        assert kept.status_code == 202
        reused = there.post("/v1/stacks", json=sign("Ruff"), headers=key)
        assert (reused.status_code, reused.json()["code"]) == (422, "idempotency-key-reused")
        workers = children(process.pid)  # before its own worker for orders, which ends by itself
        assert workers
        order = {"recipe": "tag", "recipes": {"tag": PLAIN}, "lines": ["Ruff"]}
        placed = here.post("/v1/orders", json=order)
        assert placed.status_code == 202
        process.kill()
        process.wait()
        deadline = time.monotonic() + 10
        while any(runs(pid) for pid in workers) and time.monotonic() < deadline:
            time.sleep(0.02)
        assert not any(runs(pid) for pid in workers)
        told = there.get(f"{kept.headers['location']}/events").text
        assert told.rpartition("event: ")[2].startswith("done\n")
        told = there.get(f"/v1/orders/{placed.json()['id']}/events").text
        assert "event: done\n" in told
