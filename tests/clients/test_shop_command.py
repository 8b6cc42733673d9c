"""A shop from an empty machine: begun as a file, stored, used, added to, shown again."""

import json
import tomllib

import pytest

from letterply_client.command import main


@pytest.fixture(autouse=True)
def service(monkeypatch, service_url, client):
    monkeypatch.setenv("LETTERPLY_URL", service_url)
    yield
    for shop in client.shops():
        client.delete_shop(shop.key)


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_a_new_shop_is_stored_used_and_added_to(units, tmp_path, capsys):
    file = tmp_path / "boathouse.toml"
    assert main(["shop", "new", "boathouse", "--units", units, "-o", str(file)]) == 0
    assert main(["shop", "put", str(file)]) == 0
    assert main(["shop", "use", "boathouse"]) == 0
    cutter = ["--like", "flat-1588", "--diameter", "0.0621 in", "--title", "Sixteenth"]
    assert main(["shop", "add-cutter", "boathouse", "sixteenth", *cutter]) == 0
    sheet = ["--material", "mdf", "--thickness", "1/4 in", "--width", "24 in", "--height", "12 in"]
    assert main(["shop", "add-sheet", "boathouse", *sheet, "--count", "3", "--offcut"]) == 0
    capsys.readouterr()
    again = tmp_path / "again.toml"
    assert main(["shop", "show", "boathouse", "-o", str(again)]) == 0
    shop = tomllib.loads(again.read_text())
    assert (shop["name"], shop["units"]) == ("boathouse", units)
    assert shop["cutters"][-1] == "sixteenth"
    assert shop["stock"][-1] == {
        "key": "sheet-4", "material": "mdf", "thickness": "1/4 in", "width": "24 in",
        "height": "12 in", "count": 3, "offcut": True,
    }  # fmt: skip
    assert main(["stock"]) == 0
    assert ("24 in" in capsys.readouterr().out) == (units == "inch")
    assert main(["shop", "list"]) == 0
    assert "the default" in capsys.readouterr().out
    assert main(["shop", "use", "boathouse", "--no"]) == 0
    assert main(["shop", "delete", "boathouse"]) == 0


def test_a_shop_is_changed_in_an_editor(tmp_path, monkeypatch, capsys, client):
    client.put_shop("shed", {"units": "inch", "hold_down": "tape"})
    monkeypatch.setenv("VISUAL", "sed -i s/tape/skin/")
    assert main(["shop", "edit", "shed"]) == 0
    assert client.shop("shed")["shop"]["hold_down"] == "skin"


def test_mistakes_of_a_file_are_told_line_by_line(tmp_path, capsys):
    file = tmp_path / "shed.toml"
    file.write_text('units = "feet"\n\nhold_down = "glue"\n')
    assert main(["shop", "put", str(file)]) == 2
    told = capsys.readouterr().err
    assert "line 1, units" in told
    assert "line 3, hold_down" in told


def test_a_call_names_a_shop_or_a_file(tmp_path, capsys, client, sign):
    client.put_shop("shed", {"units": "inch"})
    file = tmp_path / "sign.json"
    file.write_text(json.dumps(sign))
    main(["build", str(file), "--shop", "shed", "--json"])
    assert json.loads(capsys.readouterr().out)["shop"]["name"] == "shed"
    assert main(["build", str(file), "--shop", "attic"]) == 2
    assert "attic" in capsys.readouterr().err
