"""A new recipe: written with comments, read by every command."""

import json

import pytest

from letterply_client.command import main


@pytest.fixture(autouse=True)
def service(monkeypatch, service_url):
    monkeypatch.setenv("LETTERPLY_URL", service_url)


def test_a_new_recipe_can_be_checked_at_once(tmp_path, capsys):
    file = tmp_path / "tags" / "locker.toml"
    words = ["--text", "31", "--font", "zilla-slab-bold", "--size", "14 mm"]
    assert main(["new", "tag", *words, "-o", str(file)]) == 0
    assert str(file) in capsys.readouterr().out
    assert "# A round tag" in file.read_text()
    assert main(["check", str(file), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == "Locker tag 31"


def test_a_file_that_is_there_stays(tmp_path, capsys):
    file = tmp_path / "sign.toml"
    file.write_text("# mine")
    assert main(["new", "sign", "-o", str(file)]) == 2
    assert "there already" in capsys.readouterr().err
    assert file.read_text() == "# mine"


def test_the_templates_are_listed_and_printed(capsys):
    assert main(["new"]) == 0
    assert "grid-board" in capsys.readouterr().out
    assert main(["new", "stencil", "--text", "RUFF"]) == 0
    assert 'text = "RUFF"' in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["new", "boat"], "no template 'boat'"),
        (["new", "sign", "--size", "large"], "large"),
        (["new", "sign", "-o", "sign.json"], ".toml"),
        (["check", "no-such.toml"], "cannot be read"),
    ],
)
def test_what_is_wrong_is_told(words, told, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    assert told in capsys.readouterr().err


def test_a_file_that_is_no_toml_is_told(tmp_path, capsys):
    file = tmp_path / "sign.toml"
    file.write_text('title = "open')
    assert main(["check", str(file)]) == 2
    assert "is not TOML" in capsys.readouterr().err
