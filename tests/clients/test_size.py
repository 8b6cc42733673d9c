"""Questions of size through the client and the command."""

import asyncio
import json

import pytest

from letterply_client import AsyncClient, InputProblem
from letterply_client.command import main

RECIPE = {
    "title": "Rack numbers",
    "lettering": {"text": "17", "font": "oswald", "size": {"cap_height": 40}},
    "layers": [
        {"name": "face", "material": "mdf", "thickness": 3, "outline": {"kind": "lettering"}}
    ],
}


@pytest.fixture(autouse=True)
def service(monkeypatch, service_url):
    monkeypatch.setenv("LETTERPLY_URL", service_url)


@pytest.fixture
def recipe(tmp_path):
    path = tmp_path / "numbers.json"
    path.write_text(json.dumps(RECIPE))
    return str(path)


@pytest.mark.filterwarnings("default::ResourceWarning")
def test_both_clients_ask_the_same(client, service_url):
    async def ask():
        async with AsyncClient(service_url) as other:
            return await other.find_size(RECIPE, fit={"width": "2 in", "height": 50.8})

    result = client.find_size(RECIPE, fit="2 in", each=None)
    assert result.kind == "size"
    assert asyncio.run(ask()).id == result.id
    with pytest.raises(InputProblem) as caught:
        client.find_size(RECIPE)
    assert caught.value.code == "bad-size"


def test_the_command_answers_in_the_units_of_the_shop(recipe, tmp_path, capsys):
    shop = tmp_path / "shop.json"
    shop.write_text('{"units": "inch"}')
    out = tmp_path / "out"
    arguments = ["size", recipe, "--fit", "2 in", "--each", "--shop", str(shop), "-o", str(out)]
    assert main(arguments) == 0
    said = capsys.readouterr().out
    assert "in a box of 2 × 2 in" in said
    assert " mm" not in said
    assert json.loads((out / "sized_recipe.json").read_text())["title"] == "Rack numbers"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--smallest"], "capitals of"),
        (["--width", "3 in"], "76.2 mm wide"),
        (["--fit", "1 in", "3 in"], "in a box of 25.4 × 76.2 mm"),
    ],
)
def test_the_command_answers_each_question(recipe, capsys, arguments, said):
    assert main(["size", recipe, *arguments]) == 0
    assert said in capsys.readouterr().out


@pytest.mark.parametrize(
    "arguments",
    [["--width", "3 in", "--each"], ["--fit", "1", "2", "3"], ["--fit", "wide"], ["--width", "-2"]],
)
def test_what_does_not_go_together_is_refused(recipe, arguments):
    assert main(["size", recipe, *arguments]) == 2


def test_one_question_at_a_time(recipe):
    with pytest.raises(SystemExit) as caught:
        main(["size", recipe, "--smallest", "--width", "3 in"])
    assert caught.value.code == 2
