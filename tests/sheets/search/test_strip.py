"""The strip search: useful when it works, harmless when it does not."""

import json
import multiprocessing
import subprocess
import sys
from pathlib import Path

import pebble
import pytest
from shapely import Polygon, box
from shapely.affinity import affine_transform

from letterply.sheets.layouts.bottom_left import Piece
from letterply.sheets.search import strip as strip_search
from letterply.stacks.model import rigid
from sheets.searching import SIZE, TURNS, search, send_search, some_pieces


def test_a_searched_strip_keeps_distance_and_size():
    pieces = some_pieces()
    found = strip_search.search_strip(pieces, SIZE, 5.0, seconds=1, seed=1)
    assert found
    laid = [
        affine_transform(
            Polygon(pieces[f.index].outline.exterior), rigid(f.turn_deg, f.x_mm, f.y_mm)
        )
        for f in found
    ]
    assert len(laid) == len(pieces)
    usable = box(0, 0, *SIZE).buffer(1e-6)
    for number, one in enumerate(laid):
        assert usable.covers(one)
        assert all(one.distance(other) >= 5.0 for other in laid[:number])


def test_it_works_inside_a_daemonic_process():
    ours, theirs = multiprocessing.get_context("spawn").Pipe()
    child = multiprocessing.get_context("spawn").Process(
        target=send_search, args=(theirs,), daemon=True
    )
    child.start()
    assert ours.poll(60)
    daemon, found = ours.recv()
    child.join(10)
    assert daemon
    assert len(found) == 8


def test_it_works_inside_a_pool_of_workers():
    with pebble.ProcessPool(1, context=multiprocessing.get_context("spawn")) as pool:
        assert len(pool.schedule(search, timeout=60).result()) == 8


def test_a_panic_of_the_library_ends_nothing_and_says_nothing(capfd):
    """A piece higher than the strip makes it panic; the guard against that is left out here."""
    too_high = [[0, 0], [50, 0], [50, 150], [0, 150]]
    job = {
        "height": 100.0,
        "separation": 1.0,
        "seconds": 1,
        "seed": 1,
        "items": [{"id": "0", "shape": too_high, "turns": [0.0]}],
    }
    done = subprocess.run(
        [sys.executable, str(strip_search._PROGRAM)],
        input=json.dumps(job).encode(),
        capture_output=True,
        check=False,
    )
    assert b"panicked" in done.stderr  # or this test would show nothing
    assert strip_search._run(job) is None
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("height", [184.0, 184.0 - 1e-3, 400.0])
def test_a_piece_as_high_as_the_strip_is_never_handed_over(monkeypatch, height):
    monkeypatch.setattr(strip_search, "_run", lambda job: pytest.fail("handed over"))
    pieces = [Piece(0, box(0, 0, 50, height), (0.0, 180.0))]
    assert strip_search.search_strip(pieces, SIZE, 5.0, seconds=1, seed=1) is None


def test_nothing_to_search_is_no_search():
    assert strip_search.search_strip([], SIZE, 5.0, seconds=1, seed=1) is None


@pytest.mark.parametrize(
    "program",
    [
        "raise SystemExit(3)",
        "import os; os.abort()",
        "print('no answer')",
        "print('[]')",
        "import time; time.sleep(30)",
    ],
)
def test_a_search_that_dies_babbles_or_hangs_is_none(tmp_path: Path, monkeypatch, program):
    script = tmp_path / "child.py"
    script.write_text(program)
    monkeypatch.setattr(strip_search, "_PATIENCE_S", 0.5)
    assert strip_search._run({"seconds": 0}, script) is None


@pytest.mark.parametrize(
    "placed",
    [
        [["7", 0.0, 0.0, 0.0]],
        [["0", 0.0, 0.0, 0.0], ["0", 0.0, 0.0, 0.0]],
        [["0", 0.0, 0.0]],
        [["0", "left", 0.0, 0.0]],
        [],
    ],
)
def test_an_answer_that_does_not_fit_the_question_is_none(placed):
    pieces = [Piece(0, box(0, 0, 10, 10), (0.0,))]
    assert strip_search._read({"placed": placed}, pieces, *SIZE) is None


def test_turns_are_the_allowed_ones_exactly():
    pieces = [Piece(0, box(0, 0, 10, 20), TURNS)]
    answer = {"placed": [["0", -89.999999, 0.0, 0.0]]}
    (found,) = strip_search._read(answer, pieces, *SIZE)
    assert found.turn_deg == 270.0
