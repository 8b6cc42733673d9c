"""Stock taken out of a shop and put back: both clients, and the commands."""

import asyncio
import json

import pytest

from letterply_client import AsyncClient, Problem
from letterply_client.command import main

SHOP = {
    "units": "inch",
    "stock": [{"key": "board", "material": "mdf", "thickness": 6, "width": 300, "height": 200,
               "count": 3}],
    "cutters": ["flat-3175"],
    "least_offcut": "2 in",
}  # fmt: skip
PLATE = {
    "title": "Plate",
    "layers": [{"name": "plate", "material": "mdf", "thickness": "6 mm",
                "outline": {"kind": "plate", "width": "60 mm", "height": "40 mm"}}],
}  # fmt: skip


@pytest.fixture
def rack(monkeypatch, service_url, client):
    monkeypatch.setenv("LETTERPLY_URL", service_url)
    client.put_shop("commit-rack", SHOP)
    yield "commit-rack"
    client.delete_shop("commit-rack")


def left(client, shop, key="board"):
    sheets = {s["key"]: s for s in client.shop(shop)["shop"]["stock"]}
    return sheets[key]["count"]


def test_a_plan_is_committed_and_undone_by_either_client(client, service_url, rack):
    plan = client.make_plan(PLATE, shop=rack)
    moved = client.commit_plan(plan.id)
    assert moved["taken"] == [{"key": "board", "count": 1, "left": 2}]
    assert left(client, rack) == 2
    assert client.commit_plan(plan.id) == moved

    async def other():
        async with AsyncClient(service_url) as again:
            assert (await again.commit_plan(plan.id))["taken"] == moved["taken"]
            (told,) = await again.commits(rack)
            assert (told["id"], told["kind"], told["undone_at"]) == (plan.id, "plan", None)
            return await again.commit_plan(plan.id, undo=True)

    assert asyncio.run(other())["undone_at"]
    assert left(client, rack) == 3
    (told,) = client.commits(rack)
    assert told["undone_at"]
    with pytest.raises(Problem) as caught:
        client.commit_plan(plan.id, undo=True)
    assert (caught.value.status, caught.value.code) == (404, "commit-not-found")


def test_an_order_is_committed_and_undone_by_either_client(client, service_url, rack):
    wish = {"recipe": "plate", "recipes": {"plate": PLATE}, "title": "Plates", "shop": rack}
    order = client.order(["Knot"], **wish)
    assert order.ready, order.summary
    moved = client.commit_order(order.id)
    assert moved["taken"][0]["count"] == 1
    assert left(client, rack) == 2

    async def other():
        async with AsyncClient(service_url) as again:
            assert (await again.commit_order(order.id))["taken"] == moved["taken"]
            return await again.commit_order(order.id, undo=True)

    assert asyncio.run(other())["undone_at"]
    assert left(client, rack) == 3
    assert main(["order", "--commit", order.id]) == 0
    assert left(client, rack) == 2
    assert main(["order", "--uncommit", order.id]) == 0
    assert left(client, rack) == 3
    assert main(["order", "--commit", order.id, "--uncommit", order.id]) == 2


def test_the_commands_commit_tell_what_moved_and_undo(client, rack, tmp_path, capsys):
    file = tmp_path / "plate.json"
    file.write_text(json.dumps(PLATE))
    assert main(["plan", str(file), "--shop", rack, "--commit"]) == 0
    said = capsys.readouterr().out
    assert "board                1 taken, 2 left" in said
    assert "new: write this name on it, 1 hole\n" in said
    assert " mm" not in said
    assert main(["plan", str(file), "--shop", rack, "--commit", "--json"]) == 0
    again = json.loads(capsys.readouterr().out)  # it lies on what was left of the first
    assert again["commit"]["taken"][0]["key"].startswith("offcut-")
    second, first = (c["id"] for c in client.commits(rack))
    assert main(["shop", "commits", rack]) == 0
    told = capsys.readouterr().out.splitlines()
    assert [line.split()[2].rstrip(":") for line in told] == [second, first]
    assert main(["shop", "commits", rack, "--undo", first]) == 2
    assert "commit-built-on" in capsys.readouterr().err
    assert main(["shop", "commits", rack, "--undo", second]) == 0
    assert main(["shop", "commits", rack, "--undo", first]) == 0
    assert left(client, rack) == 3
    assert main(["shop", "commits", rack, "--undo", first]) == 2
