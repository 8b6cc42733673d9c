"""The earlier release and this one side by side on one database: nothing is lost, both answer.

A long drill (LETTERPLY_DRILLS=long): the earlier release is taken out of the history; where that is
not there the drill skips, aloud.
"""

import contextlib
import io
import os
import shutil
import subprocess
import sys
import tarfile
import time

import httpx
import pytest

from orders.drills.desk import request_of
from orders.drills.scene import TESTS, wait_until
from orders.pipeline.small import PLAIN

pytestmark = [pytest.mark.slow, pytest.mark.timeout(3600)]

EARLIER = "b8a107e"
"""The last commit before jobs were shared among processes (layout 0010 of the database)."""

LONG = os.environ.get("LETTERPLY_DRILLS") == "long"
LIMIT_S = 900
COMPILED = shutil.ignore_patterns("__pycache__")


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


@pytest.fixture
def present(tmp_path):
    """Give a copy of this release's packages: they stay as they are while the drill runs."""
    return shutil.copytree(TESTS.parent / "service", tmp_path / "present", ignore=COMPILED)


class Service:
    """A service that runs from these packages, with a worker for orders once it needs one."""

    def __init__(self, folder, packages, data, url):
        folder.mkdir()
        environment = {k: v for k, v in os.environ.items() if not k.startswith("LETTERPLY_")}
        environment |= {
            "PYTHONPATH": str(packages), "LETTERPLY_DATA_FOLDER": str(data),
            "LETTERPLY_DATABASE_URL": url, "LETTERPLY_WORKERS": "1",
            "LETTERPLY_PREVIEW_WORKERS": "0",
        }  # fmt: skip
        self._ready, self._log = folder / "ready", folder / "log"
        command = [sys.executable, "-m", "letterply.api.serve", "--port", "0"]
        command += ["--stop-with-stdin", "--ready-file", str(self._ready)]
        with self._log.open("wb") as log:
            self.process = subprocess.Popen(
                [*command, "--log-level", "warning"],
                stdin=subprocess.PIPE, stderr=log, env=environment,
            )  # fmt: skip

    def __enter__(self):
        wait_until(lambda: self._ready.exists() or self.process.poll() is not None, LIMIT_S)
        assert self.process.poll() is None, self.told()
        self.api = httpx.Client(base_url=self._ready.read_text(), timeout=LIMIT_S)
        return self

    def __exit__(self, *_):
        self.end()

    def end(self):
        """Stop it in good order; once more changes nothing."""
        self.process.stdin.close()
        self.process.wait(LIMIT_S)
        self.api.close()

    def told(self):
        """Return what it wrote to its log."""
        return self._log.read_text()

    def place(self, who):
        """Have a job and an order made; return where they are."""
        asked = {"json": request_of(who), "headers": {"Prefer": "respond-async"}}
        job = self.api.post("/v1/stacks", **asked)
        order = {"recipe": "tag", "recipes": {"tag": PLAIN}, "lines": [f"{who} 1", f"{who} 2"]}
        accepted = self.api.post("/v1/orders", json=order)
        assert (job.status_code, accepted.status_code) == (202, 202), (job.text, accepted.text)
        return job.headers["location"], f"/v1/orders/{accepted.json()['id']}"

    def state(self, where):
        """Return what it says of something now: its state, and why it failed."""
        answer = self.api.get(where)
        assert answer.status_code == 200, answer.text
        found = answer.json()
        return found["state"], (found.get("problem") or {}).get("code")


def made(services, places):
    """Wait until each says of each that it is made; none may say anything worse meanwhile."""
    deadline = time.monotonic() + LIMIT_S
    left = [(service, where) for service in services for where in places]
    while left:
        assert time.monotonic() < deadline, left
        told = [(service, where, service.state(where)) for service, where in left]
        worse = [(where, said) for _, where, said in told if said[0] in ("failed", "cancelled")]
        assert not worse
        left = [(service, where) for service, where, said in told if said[0] != "done"]
        time.sleep(0.5)


def test_an_earlier_release_and_this_one_work_side_by_side(tmp_path, cluster, earlier, present):
    url, data = cluster.new_database(), tmp_path / "data"
    with contextlib.ExitStack() as both:
        old = both.enter_context(Service(tmp_path / "old", earlier, data, url))
        before = old.place("before")
        # Expand: the newer one changes the tables under the feet of the earlier one.
        new = both.enter_context(Service(tmp_path / "beside", present, data, url))
        during = [*old.place("at the old one"), *new.place("at the new one")]
        made((old, new), (*before, *during))
        print(f"\nFIGURES upgrade, made at both and told by both: {len(before) + len(during)}")
        # Contract: the earlier one goes in the middle of what it took.
        job, order = old.place("as it went")
        old.end()
        assert old.process.returncode == 0, old.told()
        made((new,), (order, *before, *during))
        wait_until(lambda: new.state(job)[0] in ("done", "failed"), LIMIT_S)
        state, code = new.state(job)
        print(f"FIGURES upgrade, a job that the earlier one left: {state} {code}")
        assert state == "done" or code == "job-outdated"
        again = new.api.post("/v1/stacks", json=request_of("as it went"))
        assert again.is_success, again.text
    late = Service(tmp_path / "late", earlier, data, url)
    late.process.communicate(timeout=LIMIT_S)
    assert late.process.returncode != 0
    assert "a later version" in late.told()
