"""The earlier release and this one side by side on one database: nothing is lost, both answer.

A long drill (LETTERPLY_DRILLS=long): the earlier release is taken out of the history; where that is
not there the drill skips, aloud.
"""

import contextlib
import io
import os
import subprocess
import sys
import tarfile
import time
from pathlib import Path

import httpx
import pytest

from orders.drills.desk import request_of
from orders.drills.scene import TESTS, wait_until
from orders.pipeline.small import PLAIN

pytestmark = pytest.mark.slow

EARLIER = "b8a107e"
"""The last commit before jobs were shared among processes (layout 0010 of the database)."""

LONG = os.environ.get("LETTERPLY_DRILLS") == "long"
LIMIT_S = 600


@pytest.fixture
def earlier(tmp_path):
    """Give the folder of the earlier release's packages."""
    if not LONG:
        pytest.skip("a long drill: LETTERPLY_DRILLS=long")
    command = ["git", "archive", EARLIER, "service"]
    taken = subprocess.run(command, cwd=TESTS.parent, capture_output=True, check=False)
    if taken.returncode:
        pytest.skip(f"the history has no {EARLIER}: the upgrade was not tried")
    with tarfile.open(fileobj=io.BytesIO(taken.stdout)) as packed:
        packed.extractall(tmp_path / "earlier", filter="data")
    return tmp_path / "earlier" / "service"


@contextlib.contextmanager
def service(folder, packages, data, url):
    """Run a service from these packages; give its address."""
    folder.mkdir()
    environment = {k: v for k, v in os.environ.items() if not k.startswith("LETTERPLY_")}
    environment |= {
        "PYTHONPATH": str(packages), "LETTERPLY_DATA_FOLDER": str(data),
        "LETTERPLY_DATABASE_URL": url, "LETTERPLY_WORKERS": "1", "LETTERPLY_PREVIEW_WORKERS": "0",
    }  # fmt: skip
    ready = folder / "ready"
    command = [sys.executable, "-m", "letterply.api.serve", "--port", "0", "--stop-with-stdin"]
    command += ["--ready-file", str(ready), "--log-level", "warning"]
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=log, env=environment)
    try:
        wait_until(ready.exists, LIMIT_S)
        yield httpx.Client(base_url=ready.read_text(), timeout=LIMIT_S)
    finally:
        process.stdin.close()
        process.wait(60)
    assert process.returncode == 0


def place(api, who):
    """Have a job and an order made by one of them; return where they are."""
    job = api.post("/v1/stacks", json=request_of(who), headers={"Prefer": "respond-async"})
    order = {"recipe": "tag", "recipes": {"tag": PLAIN}, "lines": [f"{who} 1", f"{who} 2"]}
    accepted = api.post("/v1/orders", json=order)
    assert (job.status_code, accepted.status_code) == (202, 202), (job.text, accepted.text)
    return job.headers["location"], f"/v1/orders/{accepted.json()['id']}"


def made(api, where):
    """Wait until something is made; ask for it at one of them."""
    deadline = time.monotonic() + LIMIT_S
    while (state := api.get(where).json()["state"]) not in ("done", "failed"):
        assert time.monotonic() < deadline
        time.sleep(0.5)
    return state == "done"


def test_an_earlier_release_and_this_one_work_side_by_side(tmp_path, cluster, earlier):
    url, data = cluster.new_database(), tmp_path / "data"
    with contextlib.ExitStack() as both:
        old = both.enter_context(service(tmp_path / "old", earlier, data, url))
        before = place(old, "before")
        # Expand: the newer one migrates the tables under the feet of the earlier one.
        new = both.enter_context(
            service(tmp_path / "new", Path(TESTS.parent / "service"), data, url)
        )
        during = [*place(old, "at the old one"), *place(new, "at the new one")]
        for api in (old, new):
            for where in (*before, *during):
                assert made(api, where), where
        print(f"\nFIGURES upgrade, made at both and told by both: {len(before) + len(during)}")
    # Contract: the earlier one is gone, what it made stays.
    with service(tmp_path / "alone", TESTS.parent / "service", data, url) as new:
        for where in (*before, *during):
            assert made(new, where)
