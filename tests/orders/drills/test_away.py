"""The database, or the place of the artifacts, is away in the middle of an order: it is waited for.

LETTERPLY_DRILLS=long makes them stay away for a minute.
"""

import os
import time

import pytest

from orders.drills.scene import Scene

pytestmark = pytest.mark.slow

AWAY_S = 60.0 if os.environ.get("LETTERPLY_DRILLS") == "long" else 4.0


@pytest.mark.parametrize("what", ["database", "artifacts"])
def test_what_an_order_needs_is_away_for_a_while(tmp_path, cluster, object_store, what, request):
    texts = [f"{what} {n}" for n in range(16)]  # all stores of a process hold the same
    away = {"database": cluster, "artifacts": object_store}[what]
    scene = Scene(tmp_path / "data", cluster.new_database(), 0.2, object_store.url)
    try:
        scene.start()
        order = scene.submit(texts)
        scene.wait_for_ends(4)
        finished = scene.finished_lines(order)
        away.stop()
        time.sleep(AWAY_S)
        away.start()
        before, began = len(scene.rows("start")), time.monotonic()
        assert scene.wait_for_end(order, 600.0) == "done"
        again = {text for text, _ in scene.rows("start")[before:]} & finished
        figures = {"again": len(again), "done_after_s": round(time.monotonic() - began, 1)}
        print(f"\nFIGURES {request.node.name} {AWAY_S=} {figures}")
        assert not again
        document = scene.document(order)
        assert [line["state"] for line in document["lines"]] == ["made"] * len(texts)
        scene.assert_one_answer(order)
    finally:
        scene.close()
