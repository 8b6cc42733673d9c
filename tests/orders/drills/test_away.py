"""The database, the bucket or the folder of the artifacts is away in the middle of an order.

It is waited for: nothing that was acknowledged is lost, nothing is made twice, and who asks
meanwhile is answered, or told when to ask again. LETTERPLY_DRILLS=long makes it stay away for a
minute.
"""

import os
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest

from api.test_orders import ORDER
from orders.drills.scene import Scene, wait_until

pytestmark = pytest.mark.slow

AWAY_S = 60.0 if os.environ.get("LETTERPLY_DRILLS") == "long" else 4.0
LATER = {
    **ORDER,
    "title": "Placed while it is away",
    "lines": [{"text": text, "recipe": "tag"} for text in ("late 1", "late 2")],
}


class Folder:
    """The folder of a store that can be taken away, as a disk that is taken off."""

    url = None

    def __init__(self, root):
        self._root, self._aside = root, root.with_name("aside")

    def stop(self):
        """Take it away: nothing is where it was."""
        self._aside.mkdir()
        for name in ("blobs", "incoming", "answers"):
            (self._root / name).rename(self._aside / name)

    def start(self):
        """Bring it back; what was put into its place meanwhile would be lost."""
        for moved in self._aside.iterdir():
            assert not (self._root / moved.name).exists()
            moved.rename(self._root / moved.name)


@pytest.mark.parametrize("what", ["database", "bucket", "folder"])
def test_what_an_order_needs_is_away_for_a_while(tmp_path, cluster, what, request):
    texts = [f"{what} {n}" for n in range(16)]  # all stores of a process hold the same
    place = request.getfixturevalue("object_store") if what == "bucket" else None
    away = {"database": cluster, "bucket": place, "folder": Folder(tmp_path / "data")}[what]
    scene = Scene(tmp_path / "data", cluster.new_database(), 0.2, place and place.url)
    try:
        scene.start()
        with scene.service() as (_, url), httpx.Client(base_url=url, timeout=120) as api:
            wait_until(lambda: api.get("/health/ready").json()["checks"]["lane short"], 120)
            order = scene.submit(texts)
            scene.wait_for_ends(4)
            finished = scene.finished_lines(order)
            away.stop()
            answers = asked_meanwhile(url, order, away)
            before, began = len(scene.rows("start")), time.monotonic()
            assert {a.status_code for a in answers} <= {200, 202, 503}
            assert all("retry-after" in a.headers for a in answers if a.status_code == 503)
            placed = api.post("/v1/orders", json=LATER)
            assert placed.status_code == 202, placed.text
            assert {a.json()["id"] for a in answers if a.status_code == 202} <= {
                placed.json()["id"]
            }
            for each in (order, placed.json()["id"]):
                assert scene.wait_for_end(each, 600.0) == "done"
        again = {text for text, _ in scene.rows("start")[before:]} & finished
        statuses = dict(Counter(a.status_code for a in answers))
        figures = {"again": len(again), "done_after_s": round(time.monotonic() - began, 1)}
        print(f"\nFIGURES {request.node.name} {AWAY_S=} {figures} {statuses=}")
        assert not again
        started = Counter(text for text, _ in scene.rows("start"))
        assert [started[text] for text in ("late 1", "late 2")] == [1, 1]
        document = scene.document(order)
        assert [line["state"] for line in document["lines"]] == ["made"] * len(texts)
        scene.assert_one_answer(order)
    finally:
        scene.close()


def asked_meanwhile(url, order, away):
    """Ask while something is away, and bring it back; return the answers, however late."""

    def ask(method, path, body=None):
        with httpx.Client(base_url=url, timeout=120) as api:
            return api.request(method, path, json=body)

    with ThreadPoolExecutor(8) as threads:
        asked = [
            threads.submit(ask, *question)
            for question in (
                ("GET", f"/v1/orders/{order}"),
                ("GET", f"/v1/jobs/{order}"),
                ("GET", "/v1/fonts"),
                ("POST", "/v1/orders", LATER),
                ("GET", "/health/ready"),
            )
        ]
        time.sleep(AWAY_S)
        away.start()
        return [one.result() for one in asked]
