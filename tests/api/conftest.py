"""A real service in a process of its own, shared by the tests of this folder."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time

import httpx
import pytest


@contextlib.contextmanager
def running(folder, **settings):
    """Run the service with these settings; give its address."""
    ready = folder / "ready"
    environment = {k: v for k, v in os.environ.items() if not k.startswith("LETTERPLY_")}
    environment |= {f"LETTERPLY_{k.upper()}": str(v) for k, v in settings.items()}
    environment["LETTERPLY_DATA_FOLDER"] = str(folder / "data")
    command = [sys.executable, "-m", "letterply.api.serve", "--port", "0", "--stop-with-stdin"]
    command += ["--ready-file", str(ready), "--log-level", "warning"]
    log = (folder / "log").open("wb")
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=log, env=environment)
    try:
        deadline = time.monotonic() + 60
        while not ready.exists():
            assert process.poll() is None, (folder / "log").read_text()
            assert time.monotonic() < deadline
            time.sleep(0.02)
        yield ready.read_text()
    finally:
        process.stdin.close()
        process.wait(30)
        log.close()
    assert process.returncode == 0


@pytest.fixture(scope="session")
def room(tmp_path_factory):
    """Give the folder of the shared service."""
    return tmp_path_factory.mktemp("service")


@pytest.fixture(scope="session")
def service_url(room):
    with running(room, workers=2, wait_s=60) as url:
        yield url


@pytest.fixture
def api(service_url):
    with httpx.Client(base_url=service_url, timeout=60) as client:
        yield client
