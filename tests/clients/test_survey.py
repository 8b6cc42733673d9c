"""Surveys through the client, the command and the script."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from letterply.lettering.fonts.library import shipped_faces
from letterply_client import AsyncClient, InputProblem
from letterply_client.command import main

SCRIPT = Path(__file__).parents[2] / "clients" / "scripts" / "font_check.py"
WISH = {"characters": "ABe8", "cap_height": "40 mm", "supported": True}


@pytest.fixture(autouse=True)
def service(monkeypatch, service_url):
    monkeypatch.setenv("LETTERPLY_URL", service_url)


def test_the_client_brings_rows_and_files(client, tmp_path):
    result = client.survey("oswald", **WISH)
    assert result.kind == "survey"
    assert {row["text"] for row in result.document["glyphs"]} == set("ABe8")
    assert client.get("survey", result.id).id == result.id
    written = client.download(result, tmp_path, only=["survey.*"])
    assert sorted(p.suffix for p in written) == [".csv", ".json", ".png", ".svg"]


def test_what_is_not_asked_for_is_left_to_the_service(client):
    plain = client.survey("oswald", characters="AB")
    assert plain.id == client.survey("oswald", characters="AB", material=None, cutters=None).id
    assert plain.document["terms"]["material"] == "acrylic-cast"


def test_a_mistake_comes_back_with_its_field(client):
    with pytest.raises(InputProblem) as caught:
        client.survey("oswald", named="runes")
    assert (caught.value.code, caught.value.field) == ("unknown-set", "set")


@pytest.mark.filterwarnings("default::ResourceWarning")
def test_the_async_client_asks_the_same(client, service_url):
    import asyncio

    async def ask():
        async with AsyncClient(service_url) as other:
            return await other.survey("oswald", **WISH)

    assert asyncio.run(ask()).id == client.survey("oswald", **WISH).id


def test_the_command_shows_the_weakest_and_writes_the_files(tmp_path, capsys):
    code = main(["survey", "playfair-display", "--characters", "*o", "--cap-height", "60 mm",
                 "--supported", "-o", str(tmp_path / "out")])  # fmt: skip
    assert code == 1
    said = capsys.readouterr().out
    assert said.startswith("Survey of playfair-display\n")
    assert "asterisk" in said
    assert "licence" in said
    assert (tmp_path / "out" / "survey.png").exists()
    assert main(["survey", "archivo-black", "--characters", "HO", "--supported"]) == 0


def test_the_command_takes_axes_of_the_font(capsys):
    sizes = {}
    for weight in ("300", "700"):
        main(["survey", "oswald", "--characters", "n", "--axes", f"wght={weight}", "--json"])
        (glyph,) = json.loads(capsys.readouterr().out)["glyphs"]
        sizes[weight] = glyph["smallest_cap_height_mm"]
    assert sizes["300"] > sizes["700"]
    assert main(["survey", "oswald", "--axes", "wght"]) == 2
    assert main(["survey", "oswald", "--characters", "n", "--axes", "wxyz=4"]) == 2


def test_the_command_compares_fonts_and_prints_json(capsys):
    arguments = ["survey", "lobster", "--text", "Knot", "--compare", "pacifico", "oswald"]
    main([*arguments, "--material", "mdf", "--thickness", "1/4 in", "--cutter", "flat-3175"])
    said = capsys.readouterr().out
    for font in ("lobster", "pacifico", "oswald"):
        assert font in said
    main([*arguments, "--json"])
    document = json.loads(capsys.readouterr().out)
    assert len(document["comparison"]) == 3


def test_the_command_takes_a_font_file(tmp_path, capsys):
    path = tmp_path / "own.ttf"
    path.write_bytes(shipped_faces()["varela-round"].path.read_bytes())
    assert main(["survey", str(path), "--characters", "O", "--supported"]) == 0
    assert "Varela Round" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["--set", "runes"], "unknown-set"),
        (["--set", "all", "--count", "5000"], "too-many-glyphs"),
        (["--compare", "lobster"], "missing-field"),
        (["--text", "K", "--compare", "nope"], "unknown-font"),
    ],
)
def test_bad_input_is_two(arguments, code, capsys):
    assert main(["survey", "oswald", *arguments]) == 2
    assert f"[{code}]" in capsys.readouterr().err


def test_a_broken_font_file_is_two(tmp_path, capsys):
    path = tmp_path / "broken.ttf"
    path.write_bytes(shipped_faces()["oswald"].path.read_bytes()[:9000])
    assert main(["survey", str(path)]) == 2
    assert "font" in capsys.readouterr().err


def run_script(*arguments):
    return subprocess.run(
        [sys.executable, str(SCRIPT), *arguments],
        capture_output=True,
        text=True,
        env=dict(os.environ),
        timeout=120,
    )


def test_the_script_ranks_fonts_and_writes_a_folder_a_font(tmp_path):
    done = run_script("Knot", "lobster", "pacifico", "-o", str(tmp_path))
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    ranked = [line.split(":")[0].strip() for line in lines if line.startswith("  ")]
    assert sorted(ranked) == ["lobster", "pacifico"]
    assert f"{ranked[0].title()} Regular can be cut smallest" in lines[0]
    for font in ("lobster", "pacifico"):
        assert (tmp_path / font / "survey.png").exists()


def test_the_script_says_what_is_wrong():
    done = run_script("Knot", "no-such-font")
    assert done.returncode == 2
    assert "[unknown-font]" in done.stdout


def test_the_script_is_short():
    assert len(SCRIPT.read_text("utf-8").splitlines()) < 60
