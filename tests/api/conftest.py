"""A real service in a process of its own, shared by the tests of this folder."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time

import httpx
import pytest


def start(folder, **settings):
    """Start the service with these settings; return the process and its address."""
    ready = folder / "ready"
    ready.unlink(missing_ok=True)
    environment = {k: v for k, v in os.environ.items() if not k.startswith("LETTERPLY_")}
    environment |= {f"LETTERPLY_{k.upper()}": str(v) for k, v in settings.items()}
    environment["LETTERPLY_DATA_FOLDER"] = str(folder / "data")
    command = [sys.executable, "-m", "letterply.api.serve", "--port", "0", "--stop-with-stdin"]
    command += ["--ready-file", str(ready), "--log-level", "warning"]
    with (folder / "log").open("ab") as log:
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=log, env=environment)
    deadline = time.monotonic() + 900
    while not ready.exists():
        assert process.poll() is None, (folder / "log").read_text()
        assert time.monotonic() < deadline
        time.sleep(0.02)
    return process, ready.read_text()


@contextlib.contextmanager
def running(folder, **settings):
    """Run the service with these settings for the length of a block; give its address."""
    process, url = start(folder, **settings)
    try:
        yield url
    finally:
        process.stdin.close()
        process.wait(120)
    assert process.returncode == 0


@pytest.fixture(scope="session")
def room(tmp_path_factory):
    """Give the folder of the shared service."""
    return tmp_path_factory.mktemp("service")


@pytest.fixture(scope="session")
def service_url(room):
    with running(room, workers=2, wait_s=60, short_wait_s=240) as url:
        yield url


@pytest.fixture
def api(service_url):
    with httpx.Client(base_url=service_url, timeout=300) as client:
        yield client


@pytest.fixture(scope="session")
def run_service():
    """Give the function that runs a service with settings of its own."""
    return running


@pytest.fixture(scope="session")
def start_service():
    """Give the function that starts a service and leaves it to the test to end it."""
    return start


def result_of(api, path, body):
    """Have a job done, however long it takes; return what it made, or the problem that it met."""
    answer = api.post(path, json=body)
    while answer.status_code == 202 or answer.json().get("state") in ("queued", "running"):
        answer = api.get(answer.json()["links"]["self"], headers={"Prefer": "wait=60"})
    told = answer.json()
    if "state" not in told:
        return told
    return told["problem"] if told["state"] == "failed" else api.get(told["links"]["result"]).json()
