"""Jobs: where one stands, while it runs."""

import asyncio
import json

import httpx
import pytest

from boathouse import changed, rack_sign

PHASES = ["layers", "checks", "nesting", "cutting", "proof"]


@pytest.fixture
def placed(api, request):
    """Have a plan made that no other test asks for, and do not wait for it."""
    recipe = changed(rack_sign(), title=request.node.name)
    answer = api.post("/v1/plans", json={"recipe": recipe}, headers={"Prefer": "respond-async"})
    assert answer.status_code == 202
    return answer.json()


def test_events_tell_phase_and_share_until_the_job_is_over(api, placed):
    text = api.get(f"{placed['links']['self']}/events").text
    told = [json.loads(line[6:]) for line in text.splitlines() if line.startswith("data: ")]
    assert [job["id"] for job in told] == [placed["id"]] * len(told)
    assert told[-1]["state"] == "done"
    assert "progress" not in told[-1]
    far = [job["progress"] for job in told if "progress" in job]
    assert far, "a plan takes long enough to be seen at work"
    assert all(p["phase"] in PHASES for p in far)
    assert [p["share"] for p in far] == sorted(p["share"] for p in far)
    assert all(0 <= p["share"] < 1 and p["step"] <= p["steps"] for p in far)


def test_events_of_a_job_that_is_over_tell_so_at_once(api, placed):
    where = placed["links"]["self"]
    api.get(where, headers={"Prefer": "wait=60"})
    assert api.get(f"{where}/events").text.startswith("event: done\n")


def test_events_of_an_unknown_job_are_not_found(api):
    assert api.get("/v1/jobs/0123456789abcdef0123456789abcdef/events").status_code == 404


def test_questions_that_would_wait_too_long_are_turned_away(tmp_path, run_service):
    async def ask_all(url):
        async with httpx.AsyncClient(base_url=url, timeout=300) as client:
            asked = [client.post("/v1/previews", json={"recipe": rack_sign()}) for _ in range(40)]
            return await asyncio.gather(*asked)

    with run_service(tmp_path, short_wait_s=0.3, workers=1) as url:
        answers = asyncio.run(ask_all(url))
    assert {a.status_code for a in answers} <= {200, 503}
    refused = [a for a in answers if a.status_code == 503]
    assert refused
    assert all(a.json()["code"] == "service-busy" for a in refused)
    assert all(int(a.headers["Retry-After"]) >= 1 for a in refused)
