"""Test pieces from the command line and the client: cut, measured, kept, looked at again."""

from __future__ import annotations

import asyncio
import json

import pytest

from letterply_client import AsyncClient
from letterply_client.command import main

STUFF = ["--material", "birch-plywood", "--thickness", "6.5", "--shop", "shed"]


@pytest.fixture(autouse=True)
def shed(monkeypatch, service_url, client):
    monkeypatch.setenv("LETTERPLY_URL", service_url)
    client.put_shop("shed", {"units": "inch", "machine": "plain-router-inch", "hold_down": "tape"})
    yield
    client.delete_shop("shed")


def test_a_dowel_ladder_is_cut_measured_and_shown(tmp_path, capsys, client):
    folder = str(tmp_path / "dowels")
    assert main(["test-piece", "fit", *STUFF, "--dowel", "6", "-o", folder]) == 0
    assert (tmp_path / "dowels" / "piece.pdf").read_bytes().startswith(b"%PDF")
    assert "test piece " in capsys.readouterr().out
    assert main(["shop", "measured", "shed", folder, "fits=c", "--dry-run"]) == 0
    assert "nothing is kept" in capsys.readouterr().out
    assert main(["shop", "measured", "shed", folder, "fits=c"]) == 0
    assert "0.002 in" in capsys.readouterr().out
    (fit,) = client.shop("shed")["shop"]["fits"]
    assert (fit["kind"], fit["into"], fit["clearance"]) == ("dowel", "birch-plywood", 0.05)
    assert main(["shop", "measured", "shed"]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    assert line.endswith("clearance of dowels of 0.2362 in in birch plywood: 0.002 in ± 0.0011 in")
    assert main(["shop", "measured", "shed", folder, "fits=z"]) == 2
    assert "no step of the ladder" in capsys.readouterr().err
    assert main(["shop", "measured", "shed", folder, "fits"]) == 2
    assert main(["shop", "measured", "shed", str(tmp_path), "fits=c"]) == 2


def test_the_client_makes_and_measures_without_and_with_waiting(service_url, client):
    piece = client.test_piece("angle", "birch-plywood", 6.5, cutter="vbit-60", shop="shed")
    assert piece.ready
    reads = piece.document["reads"]
    middle = {r["name"]: (r["to_mm"][0] - r["from_mm"][0]) / 25.4 for r in reads}
    told = client.take_measured("shed", piece.id, middle, resolution="0.001 in", keep=False)
    assert told["changes"][0]["new"] == pytest.approx(60, abs=0.2)

    async def again():
        async with AsyncClient(service_url) as service:
            same = await service.test_piece(
                "angle", "birch-plywood", 6.5, cutter="vbit-60", shop="shed"
            )
            return same.id, await service.take_measured("shed", same.id, middle)

    id_, kept = asyncio.run(again())
    assert (id_, kept["kept"]) == (piece.id, True)


def test_json_is_printed_as_it_came(capsys):
    assert main(["test-piece", "flatness", *STUFF, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["piece_kind"] == "flatness"
