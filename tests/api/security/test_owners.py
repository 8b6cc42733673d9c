"""Owners in a real service: keys made while it runs, one computation for two, limits."""

import json

import httpx
import pytest

RECIPE = {
    "title": "Dunlin",
    "lettering": {"text": "i", "font": "varela-round", "size": {"cap_height": "30 mm"}},
    "layers": [
        {"name": "face", "material": "mdf", "thickness": "3 mm", "outline": {"kind": "lettering"}}
    ],
    "align": {"kind": "none"},
}
STEWARD = {"name": "steward", "secret": "sees-to-the-keys-0123", "scopes": ["admin"]}
DRAWING = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><path d="M0 0H9V9Z"/></svg>'
)


@pytest.fixture(scope="module")
def address(tmp_path_factory, run_service):
    limits = {"busy": {"requests_per_minute": 3}, "full": {"stored_bytes": 10}}
    with run_service(
        tmp_path_factory.mktemp("owners"),
        workers=1,
        preview_workers=0,
        api_keys=json.dumps([STEWARD]),
        owner_limits=json.dumps(limits),
    ) as url:
        yield url


def client(address, secret):
    return httpx.Client(
        base_url=address, timeout=120, headers={"Authorization": f"Bearer {secret}"}
    )


@pytest.fixture
def steward(address):
    with client(address, STEWARD["secret"]) as found:
        yield found


@pytest.fixture
def key_of(address, steward):
    """Give a function that makes a key and returns a client that uses it."""
    opened = []

    def make(owner, **more):
        made = steward.post("/v1/keys", json={"name": owner, "owner": owner, **more})
        assert made.status_code == 201, made.text
        opened.append(client(address, made.json()["secret"]))
        return opened[-1]

    yield make
    for found in opened:
        found.close()


def test_a_key_opens_at_once_and_is_closed_at_once(key_of, steward):
    rower = key_of("club")
    assert rower.get("/v1/usage").json()["owner"] == "club"
    listed = steward.get("/v1/keys").json()["items"]
    assert "secret" not in listed[-1]
    assert steward.delete(listed[-1]["links"]["self"]).status_code == 204
    assert rower.get("/v1/usage").status_code == 401
    assert steward.get(listed[-1]["links"]["self"]).json()["valid"] is False


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"owner": "Boat House"}, "owner"),
        ({"scopes": []}, "scopes"),
        ({"scopes": ["all"]}, "scopes.0"),
        ({"expires_at": "2020-01-01T00:00:00Z"}, "expires_at"),
        ({"expires_at": "2020-01-01"}, "expires_at"),
        ({"name": ""}, "name"),
        ({"typo": 1}, "typo"),
    ],
)
def test_a_key_that_cannot_be_is_refused_by_its_field(steward, wrong, field):
    answer = steward.post("/v1/keys", json={"name": "a", "owner": "club", **wrong})
    assert (answer.status_code, answer.json()["field"]) == (422, field)


def test_two_who_ask_for_the_same_each_hold_it(key_of):
    """It is computed once; what one deletes, the other still has."""
    first, second = key_of("first"), key_of("second")
    made = first.post("/v1/stacks", json={"recipe": RECIPE})
    assert made.status_code == 201, made.text
    where = made.headers["location"]
    assert second.get(where).status_code == 404
    assert second.get("/v1/stacks").json()["items"] == []
    again = second.post("/v1/stacks", json={"recipe": RECIPE})
    # To the second it is new: nothing tells that somebody else has asked for it.
    assert (again.status_code, again.headers["location"]) == (201, where)
    assert again.json() == made.json()
    assert first.delete(where).status_code == 204
    assert first.get(where).status_code == 404
    assert first.delete(where).status_code == 404
    assert second.get(where).json() == made.json()
    assert second.delete(where).status_code == 204
    assert first.post("/v1/stacks", json={"recipe": RECIPE}).status_code == 201


def test_a_drawing_of_another_owner_is_unknown_in_a_recipe(key_of):
    first, second = key_of("first"), key_of("second")
    key = first.post("/v1/artworks", files={"file": DRAWING}).json()["key"]
    drawn = {"kind": "artwork", "artwork": {"id": key, "size": {"width": "9 mm"}}}
    layer = {**RECIPE["layers"][0], "outline": drawn}
    recipe = {**RECIPE, "layers": [layer]}
    del recipe["lettering"]
    mine = first.post("/v1/previews", json={"recipe": recipe})
    assert mine.status_code == 200, mine.text
    theirs = second.post("/v1/previews", json={"recipe": recipe})
    assert theirs.status_code == 422
    assert theirs.json()["code"] == "unknown-artwork"


def test_an_administrator_speaks_for_an_owner_others_do_not(key_of, steward):
    rower = key_of("club")
    key = rower.post("/v1/artworks", files={"file": DRAWING}).json()["key"]
    assert steward.get(f"/v1/artworks/{key}").status_code == 404
    as_club = {"Letterply-Owner": "club"}
    assert steward.get(f"/v1/artworks/{key}", headers=as_club).status_code == 200
    refused = key_of("other").get(f"/v1/artworks/{key}", headers=as_club)
    assert (refused.status_code, refused.json()["needed"]) == (403, "admin")
    assert steward.get("/v1/usage", headers={"Letterply-Owner": "Club!"}).status_code == 400


def test_too_many_requests_are_told_when_to_come_again(key_of):
    rower = key_of("busy")
    answers = [rower.get("/v1/usage") for _ in range(5)]
    assert [a.status_code for a in answers[:3]] == [200, 200, 200]
    assert answers[-1].status_code == 429
    assert answers[-1].json()["code"] == "too-many-requests"
    assert 1 <= int(answers[-1].headers["retry-after"]) <= 20


def test_who_has_no_room_left_makes_room_and_goes_on(key_of):
    rower = key_of("full")
    key = rower.post("/v1/artworks", files={"file": DRAWING}).json()["key"]
    for path, options in (
        ("/v1/stacks", {"json": {"recipe": {**RECIPE, "title": "Full"}}}),
        ("/v1/artworks", {"files": {"file": DRAWING.replace(b"H9", b"H8")}}),
    ):
        refused = rower.post(path, **options)
        assert (refused.status_code, refused.json()["code"]) == (429, "owner-full")
        assert "retry-after" in refused.headers
    usage = rower.get("/v1/usage").json()
    assert usage["counts"] == {"artwork": 1}
    assert usage["stored_bytes"] == len(DRAWING)
    assert rower.delete(f"/v1/artworks/{key}").status_code == 204
    assert rower.post("/v1/artworks", files={"file": DRAWING}).status_code == 201
