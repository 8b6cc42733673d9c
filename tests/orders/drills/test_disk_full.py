"""The disk fills up in the middle of an order: nothing is half stored, and room mends it.

A small file system in memory stands for the disk; where none can be mounted the drill skips, aloud.
"""

import contextlib
import os
import time

import pytest

from orders.drills.scene import Scene

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_full_disk_loses_nothing_and_room_mends_it(small_disk, kind, request):
    """On SQLite the database is on the disk that fills up; the server has another one."""
    url = f"sqlite:///{small_disk / 'data' / 'index.sqlite'}"
    if kind == "postgresql":
        url = request.getfixturevalue("cluster").new_database()
    scene = Scene(small_disk / "data", url, 0.1)
    try:
        scene.start()
        order = scene.submit([f"line {n}" for n in range(10)])
        scene.wait_for_ends(3)
        filler = small_disk / "filler"
        with filler.open("wb") as out, contextlib.suppress(OSError):
            while True:
                out.write(b"\0" * 65536)
        with contextlib.suppress(Exception), filler.open("ab", buffering=0) as out:
            while True:
                out.write(b"\0")
        finished = {text for text, _ in scene.rows("end")}
        for worker in scene.workers:
            worker.kill()
        filler.unlink()
        before = len(scene.rows("start"))
        done = scene.finished_lines(order)
        scene.start()
        assert scene.wait_for_end(order) in ("done", "failed")
        if scene.counter.book.state(order).phase == "failed":
            # It said that it failed: asked for again it is made, with what was finished before.
            assert scene.submit([f"line {n}" for n in range(10)]) == order
            assert scene.wait_for_end(order) == "done"
        document = scene.document(order)
        failed = [la for la in document["lines"] if la["state"] == "failed"]
        assert len(document["lines"]) == 10
        assert not {la["text"] for la in failed} & done
        started = [t for t, _ in scene.rows("start")[before:]]
        assert not set(started) & done
        assert finished >= done
    finally:
        scene.close()


def test_a_server_whose_disk_is_full_is_waited_for(tmp_path, full_server, request):
    """The worker goes on as soon as there is room; no finished line is computed again."""
    away_s = 60.0 if os.environ.get("LETTERPLY_DRILLS") == "long" else 4.0
    texts = [f"line {n}" for n in range(16)]
    scene = Scene(tmp_path / "data", full_server.url, 0.2)
    try:
        scene.start()
        order = scene.submit(texts)
        scene.wait_for_ends(4)
        full_server.fill()
        time.sleep(away_s)
        ended = {text for text, _ in scene.rows("end")}
        before = len(scene.rows("start"))
        down = full_server.make_room()
        began = time.monotonic()
        assert scene.wait_for_end(order, 600.0) == "done"
        took = round(time.monotonic() - began, 1)
        print(f"\nFIGURES {request.node.name} {away_s=} {down=} done_after_s={took}")
        again = {text for text, _ in scene.rows("start")[before:]} & ended
        assert not again
        document = scene.document(order)
        assert [line["state"] for line in document["lines"]] == ["made"] * len(texts)
        scene.assert_one_answer(order)
    finally:
        scene.close()
