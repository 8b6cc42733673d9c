"""Orders through the client, the command and the scripts."""

import asyncio
import importlib.util
import json
import sys
from pathlib import Path

import pytest

from letterply_client import AsyncClient, InputProblem, Problem
from letterply_client.command import main
from orders.pipeline.small import PLAIN

SCRIPTS = Path(__file__).parents[2] / "clients" / "scripts"
WISH = {"recipe": "tag", "recipes": {"tag": PLAIN}, "title": "Tags"}


@pytest.fixture(autouse=True)
def service(monkeypatch, service_url):
    monkeypatch.setenv("LETTERPLY_URL", service_url)


@pytest.fixture
def recipe_file(tmp_path):
    path = tmp_path / "tag.json"
    path.write_text(json.dumps(PLAIN))
    return str(path)


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "boats.csv"
    path.write_bytes("text;quantity\nKnot;1\nRuff;2\n".encode("utf-8-sig"))
    return str(path)


def script(name, *arguments, monkeypatch):
    """Run a script as a user does; return its exit code."""
    spec = importlib.util.spec_from_file_location(name, SCRIPTS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(sys, "argv", [name, *arguments])
    return module.main()


def test_nothing_is_made_again_of_an_order_that_lost_nothing(client, capsys):
    order = client.order(["Knot", {"text": "Ruff", "quantity": 2}], **WISH)
    with pytest.raises(Problem) as caught:
        client.order_again(order.id)
    assert (caught.value.status, caught.value.code) == (409, "nothing-lost")
    assert main(["order", "--again", order.id]) != 0
    assert "nothing-lost" in capsys.readouterr().err


def test_the_client_makes_an_order_and_tells_how_far_it_is(client, tmp_path):
    told = []
    order = client.order(["Knot", {"text": "Ruff", "quantity": 2}], progress=told.append, **WISH)
    assert order.kind == "order"
    assert order.ready, order.summary
    assert told[-1].state == "done"
    assert told[-1].share == 1
    shares = [p.share for p in told if p.share is not None]
    assert shares == sorted(shares)
    written = client.download(order, tmp_path, only=["*.pdf", "parts.csv"])
    assert {p.name for p in written} == {
        "job-sheet.pdf",
        "labels.pdf",
        "parts.csv",
        "templates.pdf",
    }
    assert client.order(["Knot", {"text": "Ruff", "quantity": 2}], **WISH).id == order.id


def test_the_async_client_estimates_and_cancels(service_url):
    async def main():
        async with AsyncClient(service_url) as client:
            return await client.estimate_order(b"text\nKnot\n", **WISH)

    assert asyncio.run(main())["dry_run"]


def test_mistakes_come_with_their_places(client):
    with pytest.raises(InputProblem) as caught:
        client.order(b"text,quantity\nKnot,0\n", **WISH)
    assert caught.value.code == "order-not-accepted"
    assert caught.value.data["mistakes"][0]["column"] == "quantity"


def test_the_command_does_the_whole_thing(table, recipe_file, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["order", table, "--recipe", recipe_file, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("boats\n")
    assert (out / "job-sheet.pdf").read_bytes().startswith(b"%PDF")
    assert list((out / "programs").iterdir())


def test_the_command_shows_mistakes_a_line_each(tmp_path, capsys):
    path = tmp_path / "bad.csv"
    path.write_text("text,quantity,size\nKnot,0,30\nRuff,1,big\n")
    assert main(["order", str(path), "--recipe", "rack-sign"]) == 2
    said = capsys.readouterr().err
    assert "line 1, row 2, column quantity" in said
    assert "line 2, row 3, column size" in said


def test_the_command_says_what_it_would_take(table, recipe_file, capsys):
    assert main(["order", table, "--recipe", recipe_file, "--dry-run"]) == 0
    assert "Nothing was made" in capsys.readouterr().out


def test_a_list_that_is_not_there_is_bad_input(capsys):
    assert main(["order", "no-such.csv", "--recipe", "rack-sign"]) == 2
    assert main(["order", "no-such.csv", "--again", "0" * 32]) == 2
    assert main(["order"]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_the_script_for_a_batch(table, tmp_path, capsys, monkeypatch):
    out = tmp_path / "out"
    code = script(
        "batch_order", table, "--recipe", "locker-tag", "-o", str(out), monkeypatch=monkeypatch
    )
    assert code == 0
    assert "begin with job-sheet.pdf" in capsys.readouterr().out
    assert (out / "labels.pdf").exists()


def test_the_script_for_name_signs(tmp_path, capsys, monkeypatch):
    arguments = ("Tern", "--font", "archivo-black", "--size", "60 mm", "-o", str(tmp_path))
    assert script("name_signs", *arguments, monkeypatch=monkeypatch) == 0
    assert capsys.readouterr().out.startswith("Tern: ")
    assert list((tmp_path / "01" / "programs").iterdir())


@pytest.mark.parametrize("name", ["name_signs", "font_check", "batch_order"])
def test_scripts_are_short(name):
    assert len((SCRIPTS / f"{name}.py").read_text().splitlines()) < 60
