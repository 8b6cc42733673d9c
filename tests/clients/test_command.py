"""The command: readable answers, exit codes, and no service left behind."""

import io
import json

import pytest

from letterply.lettering.fonts.library import shipped_faces
from letterply_client import Result
from letterply_client._tables import show_result
from letterply_client.command import main


@pytest.fixture
def recipe(tmp_path, sign):
    def write(**changes):
        path = tmp_path / "recipe.json"
        path.write_text(json.dumps({**sign, **changes}))
        return str(path)

    return write


@pytest.fixture(autouse=True)
def service(monkeypatch, service_url):
    monkeypatch.setenv("LETTERPLY_URL", service_url)


def test_build_writes_the_files_and_says_what_it_did(recipe, tmp_path, capsys):
    assert main(["build", recipe(), "-o", str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / "stack.json").exists()
    assert (tmp_path / "out" / "layers" / "face.svg").exists()
    said = capsys.readouterr().out
    assert said.startswith("Curlew\n")
    assert "files in" in said


def test_plan_writes_programs_that_passed_their_proof(recipe, tmp_path, capsys):
    code = main(["plan", recipe(), "-o", str(tmp_path / "out"), "--json"])
    document = json.loads(capsys.readouterr().out)
    assert document["proved"] is (code == 0)
    programs = list((tmp_path / "out" / "programs").glob("*"))
    assert bool(programs) is (code == 0)


def test_cautions_of_all_sheets_are_told_once(capsys):
    sheets = [{"cautions": ["Eyes.", "Dust."]}, {"cautions": ["Eyes.", "Chips."]}, {}]
    document = {"kind": "plan", "id": "1", "ready": True, "files": [], "sheets": sheets}
    show_result(Result.from_document(document), None, ())
    told = [line for line in capsys.readouterr().out.splitlines() if line.startswith("!")]
    assert told == ["! Eyes.", "! Dust.", "! Chips."]


def test_a_recipe_comes_from_standard_input(sign, monkeypatch, capsys):
    class Stdin:
        buffer = io.BytesIO(json.dumps(sign).encode())

    monkeypatch.setattr("sys.stdin", Stdin)
    assert main(["build", "-", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == "Curlew"


def test_an_input_problem_is_two(recipe, capsys):
    wrong = {"text": "x", "font": "no-such-font", "size": {"cap_height": "40 mm"}}
    assert main(["check", recipe(lettering=wrong)]) == 2
    said = capsys.readouterr().err
    assert "[unknown-font]" in said
    assert "recipe.lettering.font" in said


@pytest.mark.parametrize("content", [None, "{nope", "[]"])
def test_a_recipe_that_cannot_be_read_is_two(content, tmp_path, capsys):
    path = tmp_path / "recipe.json"
    if content is not None:
        path.write_text(content)
    assert main(["build", str(path)]) == 2
    assert "recipe" in capsys.readouterr().err


def test_a_folder_that_cannot_be_written_is_two(recipe, tmp_path, capsys):
    blocked = tmp_path / "blocked"
    blocked.write_text("a file")
    assert main(["build", recipe(), "-o", str(blocked)]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_a_service_that_is_not_there_is_three(recipe, capsys):
    assert main(["build", recipe(), "--url", "http://127.0.0.1:1"]) == 3
    assert "No service answers" in capsys.readouterr().err


def test_blockers_are_one(recipe, capsys):
    hair = {"text": "Curlew", "font": "great-vibes", "size": {"cap_height": "6 mm"}}
    assert main(["check", recipe(lettering=hair)]) == 1
    assert "blocker" in capsys.readouterr().out


@pytest.mark.parametrize("library", ["fonts", "materials", "cutters", "machines", "stock"])
def test_catalogue_lists_are_shown_as_tables_and_as_json(library, capsys):
    assert main([library]) == 0
    table = capsys.readouterr().out
    assert main([library, "--json"]) == 0
    entries = json.loads(capsys.readouterr().out)
    assert entries
    for entry in entries:
        assert entry["key"] in table


def test_a_font_is_added(tmp_path, capsys):
    path = tmp_path / "font.ttf"
    path.write_bytes(shipped_faces()["oswald"].path.read_bytes())
    assert main(["fonts", "add", str(path)]) == 0
    key = capsys.readouterr().out.split()[-1]
    main(["fonts", "--json"])
    assert key in [e["key"] for e in json.loads(capsys.readouterr().out)]
    assert main(["fonts", "add"]) == 2
    assert main(["fonts", "add", str(tmp_path / "none.ttf")]) == 2


def test_a_drawing_is_added_and_what_is_left_out_is_said(tmp_path, capsys):
    path = tmp_path / "disc.svg"
    path.write_text(
        '<svg width="96" height="96"><title>Disc</title><circle cx="48" cy="48" r="48"/>'
        "<text>Knot</text></svg>"
    )
    assert main(["artworks", "add", str(path)]) == 0
    said = capsys.readouterr().out
    assert "text (line 1: 'Knot'): left out" in said
    key = said.split()[-1]
    assert main(["artworks"]) == 0
    assert key in capsys.readouterr().out
    assert main(["artworks", "add", str(path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["key"] == key
    assert main(["artworks", "add"]) == 2
    assert main(["artworks", "add", str(tmp_path / "none.svg")]) == 2
    path.write_text("Knot")
    assert main(["artworks", "add", str(path)]) == 2
    assert "[not-svg]" in capsys.readouterr().err


def test_without_an_address_a_private_service_runs(recipe, monkeypatch, tmp_path, capsys):
    monkeypatch.delenv("LETTERPLY_URL")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert main(["build", recipe()]) == 0
    assert capsys.readouterr().out.startswith("Curlew\n")
    assert (tmp_path / "letterply" / "index.sqlite").exists()


def test_serve_refuses_to_listen_to_the_world_without_keys(capsys, monkeypatch, tmp_path):
    monkeypatch.setenv("LETTERPLY_DATA_FOLDER", str(tmp_path))
    assert main(["serve", "--host", "0.0.0.0"]) == 2
    assert "needs API keys" in capsys.readouterr().err


def test_a_check_repairs_by_limits_of_ones_own(recipe, tmp_path, capsys):
    limits = tmp_path / "limits.json"
    limits.write_text(json.dumps({"materials": {"acrylic-cast": {"min_web": "6 mm"}},
                                  "handling_load_n": 60}))  # fmt: skip
    layers = [
        {
            "name": "face",
            "material": "acrylic-cast",
            "thickness": "3 mm",
            "outline": {"kind": "lettering"},
        }
    ]
    asked = ["check", recipe(layers=layers), "--limits", str(limits), "--json"]
    assert main(asked) == 1
    blocked = json.loads(capsys.readouterr().out)["counts"]["blocker"]
    assert blocked > 0
    main([*asked, "--repair", "--raise-size", "-o", str(tmp_path / "out")])
    document = json.loads(capsys.readouterr().out)
    assert document["counts"]["blocker"] < blocked
    repair = json.loads((tmp_path / "out" / "repair.json").read_text())
    assert repair["counts_before"]["blocker"] == blocked
    assert (tmp_path / "out" / "cutters.png").exists()


def test_a_check_takes_the_use_of_a_sign(recipe, tmp_path, capsys):
    use = tmp_path / "use.json"
    use.write_text('{"raised": true}')
    main(["check", recipe(), "--use", str(use), "--json"])
    found = json.loads(capsys.readouterr().out)["findings"]
    assert {f["code"] for f in found} & {"tactile"}


def test_raising_the_size_is_part_of_a_repair(recipe, capsys):
    assert main(["check", recipe(), "--raise-size"]) == 2
    assert "--raise-size needs --repair" in capsys.readouterr().err


def test_counters_are_used_where_the_command_says_so(recipe, capsys):
    """The dot of an i has room in an O of 150 mm."""
    words = {"text": "Oi", "font": "playfair-display", "size": {"cap_height": "150 mm"}}
    layers = [
        {"name": "face", "material": "mdf", "thickness": "6 mm", "outline": {"kind": "lettering"}}
    ]
    inside = []
    for more in ([], ["--use-counters"]):
        lettered = recipe(lettering=words, layers=layers, align={"kind": "none"})
        main(["plan", lettered, "--json", *more])
        (sheet,) = json.loads(capsys.readouterr().out)["sheets"]
        ring, _, dot = (part["bounds_mm"] for part in sheet["parts"])
        inside.append(
            all(ring[k] < dot[k] for k in (0, 1)) and all(dot[k] < ring[k] for k in (2, 3))
        )
    assert inside == [False, True]


def test_programs_that_were_changed_by_hand_are_proved(recipe, tmp_path, capsys):
    """As written they pass; a lift cut short is told with its line; nothing is rewritten."""
    folder = tmp_path / "out"
    if main(["plan", recipe(), "-o", str(folder), "--accept-unproved"]) not in (0, 1):
        raise AssertionError(capsys.readouterr().err)
    capsys.readouterr()
    assert main(["prove", str(folder)]) == 0
    assert "passed" in capsys.readouterr().out
    assert main(["prove", str(folder), "--shop", "shipped"]) == 0
    assert main(["prove", str(folder), "--shop", "nowhere"]) == 2
    assert "nowhere" in capsys.readouterr().err
    program = sorted((folder / "programs").glob("*"))[-1]
    lines = program.read_bytes().decode().split("\n")
    lifts = [i for i, line in enumerate(lines) if line.startswith("G0 Z5")]
    lines[lifts[len(lifts) // 2]] = "G0 Z0.3"
    changed = "\n".join(lines).encode()
    program.write_bytes(changed)
    assert main(["prove", str(folder), "--json"]) == 1
    document = json.loads(capsys.readouterr().out)
    faults = [f for s in document["sheets"] for f in s["faults"] if f["severity"] == "blocker"]
    assert {f["program"] for f in faults} == {program.name}
    assert {f["code"] for f in faults} & {"low-travel", "no-lift"}
    assert all(f["line"] for f in faults)
    assert program.read_bytes() == changed
    program.unlink()
    assert main(["prove", str(folder)]) == 1
    assert "is not there" in capsys.readouterr().out


def test_a_folder_without_a_plan_is_no_plan(tmp_path, capsys):
    assert main(["prove", str(tmp_path)]) == 2
    assert "there is no plan" in capsys.readouterr().err
