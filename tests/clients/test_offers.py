"""Offers in the client and on the command line: the link, what the customer said, staleness."""

import asyncio
import json
import re

import httpx
import pytest

from letterply_client import AsyncClient, BadAnswer, ConflictProblem, Offer
from letterply_client.command import main

TAG = {
    "title": "Knot tag",
    "lettering": {"text": "Knot", "font": "oswald", "size": {"cap_height": "16 mm"}},
    "layers": [
        {
            "name": "board",
            "material": "mdf",
            "thickness": "6 mm",
            "outline": {"kind": "plate", "margin": "8 mm"},
        }
    ],
}


@pytest.fixture
def recipe(tmp_path):
    file = tmp_path / "tag.json"
    file.write_text(json.dumps(TAG))
    return file


def test_an_offer_is_made_answered_and_read(client):
    check = client.check(TAG)
    made = client.make_offer(check=check.id, price=40.0, days=3, maker="The boathouse")
    assert made.link.startswith("http")
    assert made.link not in repr(made)
    assert (made.state, made.price, made.yes) == ("open", 40.0, None)
    httpx.post(made.link, data={"kind": "wish", "name": "Ada", "text": "larger"})
    httpx.post(made.link, data={"kind": "yes", "name": "Ada"})
    found = client.offer(made.id)
    assert found.link == ""
    assert [r.kind for r in found.replies] == ["wish", "yes"]
    assert found.yes.version == found.version == check.document["recipe_version"]
    assert client.offers(of=check.id)[0] == found
    assert client.offers(version="f" * 32) == ()
    assert client.offer_pdf(made.id).startswith(b"%PDF")
    with pytest.raises(ConflictProblem) as caught:
        client.withdraw_offer(made.id)
    assert caught.value.code == "offer-agreed"


def test_the_awaited_client_does_the_same(service_url):
    async def walk():
        async with AsyncClient(service_url) as client:
            check = await client.check(TAG)
            made = await client.make_offer(check=check.id, price=1.0)
            assert (await client.offer(made.id)).id == made.id
            assert made.id in [o.id for o in await client.offers()]
            assert (await client.offer_pdf(made.id)).startswith(b"%PDF")
            return await client.withdraw_offer(made.id)

    assert asyncio.run(walk()).state == "withdrawn"


def test_an_offer_that_lacks_something_is_a_bad_answer():
    with pytest.raises(BadAnswer):
        Offer.from_document({"id": "a", "replies": []})


def test_the_command_makes_shows_lists_and_withdraws(
    recipe, service_url, tmp_path, capsys, monkeypatch
):
    monkeypatch.setenv("LETTERPLY_URL", service_url)
    assert main(["offer", "make", str(recipe), "--price", "40", "--title", "A tag"]) == 0
    said = capsys.readouterr().out
    link = re.search(r"^http\S+$", said, re.MULTILINE)[0]
    id_ = re.search(r"^offer (\w+)$", said, re.MULTILINE)[1]
    assert "this machine only" in said
    httpx.post(link, data={"kind": "wish", "name": "Ada", "text": "larger\x1b[2J"})
    assert main(["offer", "list"]) == 0
    assert f"{id_}  A tag: 40.00 EUR, no yes yet, 1 wish" in capsys.readouterr().out
    httpx.post(link, data={"kind": "yes", "name": "Ada"})
    paper = tmp_path / "papers" / "offer.pdf"
    assert main(["offer", "show", id_, "--recipe", str(recipe), "-o", str(paper)]) == 0
    said = capsys.readouterr().out
    assert "YES" in said
    assert "is the one that was shown" in said
    assert "\x1b" not in said
    assert paper.read_bytes().startswith(b"%PDF")
    recipe.write_text(json.dumps({**TAG, "title": "Another tag"}))
    assert main(["offer", "show", id_, "--recipe", str(recipe)]) == 0
    assert "NOT the one that was shown" in capsys.readouterr().out
    assert main(["offer", "withdraw", id_]) == 2
    assert "offer-agreed" in capsys.readouterr().err
    assert main(["offer", "make", str(recipe), "--price", "40", "--json"]) == 0
    other = json.loads(capsys.readouterr().out)
    assert main(["offer", "withdraw", other["id"], "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["state"] == "withdrawn"


def test_without_a_price_the_quote_of_a_plan_says_it(recipe, service_url, capsys, monkeypatch):
    monkeypatch.setenv("LETTERPLY_URL", service_url)
    assert main(["offer", "make", str(recipe), "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert made["source"]["kind"] == "plan"
    assert made["price"] > 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "name a recipe, or --order"),
        (["tag.json", "--order", "a" * 32], "name a recipe, or --order"),
        (["tag.json", "--price", "40"], "service that goes on running"),
    ],
)
def test_what_cannot_be_made_is_said_at_once(arguments, said, capsys):
    assert main(["offer", "make", *arguments]) == 2
    assert said in capsys.readouterr().err
