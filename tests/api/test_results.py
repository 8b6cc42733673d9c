"""Results as HTTP: made once, found again, in the type that is asked for."""

import io
import json
import time
import zipfile
from pathlib import PurePosixPath

import httpx
import pytest

from boathouse import one_layer
from letterply.api.responses.describing import EXAMPLE_RECIPE
from letterply.api.schemas import (
    CheckDocument,
    FontPage,
    JobDocument,
    PlanDocument,
    ResultPage,
    StackDocument,
)
from letterply.storage.identity import digest

DOCUMENTS = {"stacks": StackDocument, "checks": CheckDocument, "plans": PlanDocument}


SIGN = one_layer(
    "Dunlin",
    {"kind": "lettering", "join": True},
    name="face",
    material="acrylic-cast",
    thickness="3 mm",
    font="lobster",
    size={"cap_height": "40 mm"},
)
RECIPES = {"stacks": EXAMPLE_RECIPE, "checks": SIGN, "plans": SIGN}


@pytest.fixture(scope="module")
def made(service_url):
    """Have one of each kind made; give the answers."""
    with httpx.Client(base_url=service_url, timeout=120) as client:
        return {
            kind: client.post(f"/v1/{kind}", json={"recipe": recipe})
            for kind, recipe in RECIPES.items()
        }


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_a_result_is_made_and_has_a_place(api, made, kind):
    answer = made[kind]
    assert answer.status_code == 201, answer.text
    document = answer.json()
    DOCUMENTS[kind].model_validate(document)
    assert answer.headers["location"] == f"/v1/{kind}/{document['id']}"
    assert document["title"] == RECIPES[kind]["title"]
    assert document["counts"]["blocker"] == sum(
        f["severity"] == "blocker" for f in document["findings"]
    )
    got = api.get(answer.headers["location"])
    assert got.content == answer.content
    assert got.headers["etag"] == answer.headers["etag"]


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_a_repeat_is_not_made_again(api, made, kind):
    again = api.post(f"/v1/{kind}", json={"recipe": RECIPES[kind]})
    assert again.status_code == 200
    assert again.content == made[kind].content


def test_the_same_request_in_other_words_is_the_same(api, made):
    other = json.loads(json.dumps(EXAMPLE_RECIPE))
    other["lettering"]["size"]["cap_height"] = 60.0
    other["copies"] = 1
    again = api.post("/v1/stacks", json={"recipe": dict(reversed(other.items()))})
    assert again.json()["id"] == made["stacks"].json()["id"]


@pytest.mark.parametrize("kind", DOCUMENTS)
def test_every_file_is_served_as_what_it_is(api, made, kind):
    starts = {
        "image/png": b"\x89PNG\r\n\x1a\n",
        "image/svg+xml": b"<",
        "application/json": b"{",
        "image/vnd.dxf": b"  0",
    }
    files = [f for f in made[kind].json()["files"] if not f["held_back"]]
    assert files
    for file in files:
        got = api.get(file["url"])
        assert got.status_code == 200
        made_at_once = PurePosixPath(file["path"]).suffix in (".json", ".nc")
        if made_at_once:
            assert len(got.content) == file["size_bytes"]
            assert digest(got.content) == file["digest"]
        else:
            assert file["size_bytes"] is None is file["digest"]
        assert got.headers["etag"] == f'"{digest(got.content)}"'
        assert api.get(file["url"]).content == got.content
        assert got.headers["content-type"].partition(";")[0] == file["media_type"].partition(";")[0]
        assert "immutable" in got.headers["cache-control"]
        assert "sandbox" in got.headers["content-security-policy"]
        assert got.content.startswith(starts.get(file["media_type"], b""))


def test_a_file_that_has_not_changed_is_not_sent_again(api, made):
    files = {f["path"]: f for f in made["stacks"].json()["files"]}
    file = files["stack.json"]
    for tag in (f'"{file["digest"]}"', f'"x", W/"{file["digest"]}"', "*"):
        got = api.get(file["url"], headers={"If-None-Match": tag})
        assert got.status_code == 304
        assert got.content == b""
        assert got.headers["etag"] == f'"{file["digest"]}"'
    assert api.get(file["url"], headers={"If-None-Match": '"x"'}).status_code == 200


@pytest.mark.parametrize(
    ("suffix", "start"), [(".png", b"\x89PNG"), (".json", b"{"), (".zip", b"PK")]
)
@pytest.mark.parametrize("kind", DOCUMENTS)
def test_a_suffix_chooses_the_type(api, made, kind, suffix, start):
    got = api.get(made[kind].headers["location"] + suffix)
    assert got.status_code == 200
    assert got.content.startswith(start)
    tagged = api.get(
        made[kind].headers["location"] + suffix, headers={"If-None-Match": got.headers["etag"]}
    )
    assert tagged.status_code == 304


@pytest.mark.parametrize(
    ("accept", "start"), [("image/png", b"\x89PNG"), ("application/zip", b"PK")]
)
def test_accept_chooses_the_type(api, made, accept, start):
    got = api.get(made["stacks"].headers["location"], headers={"Accept": accept})
    assert got.headers["content-type"] == accept
    assert got.headers["vary"] == "Accept"
    assert got.content.startswith(start)


def test_a_type_that_is_not_there_is_a_problem(api, made):
    got = api.get(made["stacks"].headers["location"], headers={"Accept": "text/html"})
    assert got.status_code == 406
    assert "application/json" in got.json()["offered"]


def test_of_several_drawings_one_is_chosen_by_name(api, made):
    where = made["stacks"].headers["location"]
    several = api.get(f"{where}.dxf")
    assert several.status_code == 422
    assert several.json()["code"] == "name-needed"
    assert {"face", "backer"} <= set(several.json()["names"])
    one = api.get(f"{where}.dxf?name=face")
    assert one.content == api.get(f"{where}/files/layers/face.dxf").content
    assert api.get(f"{where}.svg").content == api.get(f"{where}/files/stack.svg").content


@pytest.mark.parametrize("path", ["files/nothing.svg", "files/../request.json", "files/layers/"])
def test_a_file_that_is_not_there_is_a_problem(api, made, path):
    got = api.get(f"{made['stacks'].headers['location']}/{path}")
    assert got.status_code == 404
    assert got.headers["content-type"] == "application/problem+json"


def test_a_result_is_not_found_under_another_kind(api, made):
    assert api.get(f"/v1/checks/{made['stacks'].json()['id']}").json()["code"] == "job-not-found"


def test_the_zip_holds_every_file_but_films_and_is_always_the_same(api, made):
    document = made["plans"].json()
    archives = [api.get(f"{made['plans'].headers['location']}.zip").content for _ in range(2)]
    assert archives[0] == archives[1]
    with zipfile.ZipFile(io.BytesIO(archives[0])) as archive:
        wanted = {
            f["path"]: api.get(f["url"]).headers["etag"].strip('"')
            for f in document["files"]
            if not f["held_back"] and not f["path"].startswith("films/")
        }
        assert {n: digest(archive.read(n)) for n in archive.namelist()} == wanted


def test_results_are_listed_newest_first_in_pages(api):
    for number in range(3):
        recipe = {**SIGN, "title": f"Page {number}"}
        api.post("/v1/stacks", json={"recipe": recipe}).raise_for_status()
    seen, path = [], "/v1/stacks?limit=2"
    while path:
        page = ResultPage.model_validate(api.get(path).json())
        assert len(page.items) <= 2
        seen += page.items
        path = page.next
    assert [e.title for e in seen[:3]] == ["Page 2", "Page 1", "Page 0"]
    assert len({e.id for e in seen}) == len(seen)
    assert all(e.summary for e in seen if e.state == "done")
    assert api.get(f"/v1/stacks?after={'0' * 32}").status_code == 404


def test_fonts_are_listed_in_pages_and_described(api):
    seen, path = [], "/v1/fonts?limit=5"
    while path:
        page = FontPage.model_validate(api.get(path).json())
        seen += page.items
        path = page.next
    keys = [f.key for f in seen]
    assert len(set(keys)) == len(keys)
    assert {"lobster", "oswald", "zilla-slab-bold"} <= set(keys)
    facts = api.get("/v1/fonts/oswald").json()
    assert facts["axes"][0]["tag"] == "wght"


def test_who_does_not_want_to_wait_is_told_where_to_ask(api):
    recipe = {**SIGN, "title": "Later"}
    answer = api.post("/v1/stacks", json={"recipe": recipe}, headers={"Prefer": "respond-async"})
    assert answer.status_code == 202
    assert answer.headers["preference-applied"] == "respond-async"
    job = JobDocument.model_validate(answer.json())
    assert job.state in ("queued", "running")
    assert answer.headers["location"] == f"/v1/jobs/{job.id}" == job.links["self"]
    early = api.get(job.links["result"])
    assert early.status_code in (202, 200)
    while job.state in ("queued", "running"):
        began = time.monotonic()
        job = JobDocument.model_validate(
            api.get(job.links["self"], headers={"Prefer": "wait=20"}).json()
        )
        assert time.monotonic() - began < 25
    assert job.state == "done"
    assert api.get(job.links["result"]).json()["title"] == "Later"


def test_a_failure_that_comes_late_is_found_where_it_was_promised(api):
    recipe = json.loads(json.dumps(EXAMPLE_RECIPE))
    recipe["lettering"]["text"] = "Avocet 鷸"
    answer = api.post("/v1/stacks", json={"recipe": recipe}, headers={"Prefer": "respond-async"})
    assert answer.status_code == 202
    job = api.get(answer.headers["location"], headers={"Prefer": "wait=30"}).json()
    assert job["state"] == "failed"
    assert job["problem"]["code"] == "glyph-missing"
    result = api.get(job["links"]["result"])
    assert result.status_code == 422
    assert result.json()["code"] == "glyph-missing"


def test_an_idempotency_key_holds_one_request(api):
    """draft-ietf-httpapi-idempotency-key-header-07, work in progress."""
    key = {"Idempotency-Key": '"8e03978e-40d5-43dd-bc93-6894a57f9324"'}
    recipe = {**SIGN, "title": "Once"}
    first = api.post("/v1/stacks", json={"recipe": recipe}, headers=key)
    again = api.post("/v1/stacks", json={"recipe": recipe}, headers=key)
    assert first.json() == again.json()
    other = api.post("/v1/stacks", json={"recipe": EXAMPLE_RECIPE}, headers=key)
    assert other.status_code == 422
    assert other.json()["code"] == "idempotency-key-reused"


def test_an_idempotency_key_of_a_request_that_runs_is_a_conflict(api):
    key = {"Idempotency-Key": '"running"', "Prefer": "respond-async"}
    recipe = {**SIGN, "title": "Running"}
    first = api.post("/v1/stacks", json={"recipe": recipe}, headers=key)
    again = api.post("/v1/stacks", json={"recipe": recipe}, headers=key)
    assert first.status_code == 202
    assert again.status_code == 409
    assert again.json()["code"] == "idempotency-key-running"
    assert int(again.headers["retry-after"]) > 0


@pytest.mark.parametrize("key", ['""', "two words", '"' + "x" * 256 + '"', '"a"b"'])
def test_an_idempotency_key_that_is_none_is_a_problem(api, key):
    answer = api.post(
        "/v1/stacks", json={"recipe": EXAMPLE_RECIPE}, headers={"Idempotency-Key": key}
    )
    assert answer.status_code == 400
    assert answer.json()["code"] == "bad-idempotency-key"


@pytest.fixture(scope="module")
def unproved(service_url):
    """Have a plan made whose proof fails: there is no point in the rack to scribe with."""
    recipe = json.loads(json.dumps(SIGN))
    recipe["title"] = "No point"
    recipe["layers"][0]["outline"] = {"kind": "plate", "margin": "8 mm"}
    recipe["layers"][0]["features"] = [{"kind": "scribe_lettering"}]
    request = {"recipe": recipe, "shop": {"cutters": ["flat-3175"]}}
    with httpx.Client(base_url=service_url, timeout=120) as client:
        return client.post("/v1/plans", json=request)


def test_programs_that_are_not_proved_are_held_back(api, unproved):
    document = unproved.json()
    assert unproved.status_code == 201, document
    assert (document["proved"], document["ready"]) == (False, False)
    programs = [f for f in document["files"] if f["path"].startswith("programs/")]
    assert programs
    assert all(f["held_back"] for f in programs)
    where, url = unproved.headers["location"], programs[0]["url"]
    for path in (url, f"{where}.nc"):
        refused = api.get(path)
        assert refused.status_code == 409
        assert refused.json()["code"] == "plan-not-proved"
        assert api.get(refused.json()["proof"]).json()["passed"] is False
    wrong = api.get(url, params={"override": "yes"})
    assert wrong.status_code == 409
    with zipfile.ZipFile(io.BytesIO(api.get(f"{where}.zip").content)) as archive:
        assert not [n for n in archive.namelist() if n.startswith("programs/")]


def test_who_takes_the_risk_by_name_is_given_them(api, unproved):
    programs = [f for f in unproved.json()["files"] if f["held_back"]]
    risk = {"override": "accept-unproved"}
    for file in programs:
        got = api.get(file["url"], params=risk)
        assert got.status_code == 200
        assert digest(got.content) == file["digest"]
        assert got.headers["content-type"].startswith("text/plain")
        assert "attachment" in got.headers["content-disposition"]
    archive = api.get(f"{unproved.headers['location']}.zip", params=risk).content
    with zipfile.ZipFile(io.BytesIO(archive)) as opened:
        assert {f["path"] for f in programs} <= set(opened.namelist())
