"""The private service: there for a block, and no longer."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from letterply_client import Client, NotReachable, ServiceFailed, private_service


def test_it_is_gone_after_the_block_and_leaves_its_folder(tmp_path):
    with private_service(tmp_path / "data") as url:
        assert url.startswith("http://127.0.0.1:")
        with Client(url) as client:
            assert client.version()
    with Client(url) as client, pytest.raises(NotReachable):
        client.version()
    assert (tmp_path / "data" / "index.sqlite").exists()


def test_a_service_that_cannot_start_says_why(tmp_path, monkeypatch):
    monkeypatch.setenv("LETTERPLY_WORKERS", "none")
    with pytest.raises(ServiceFailed, match="LETTERPLY_WORKERS: "), private_service(tmp_path):
        pass


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_it_stops_when_the_process_that_started_it_is_killed(tmp_path):
    script = tmp_path / "parent.py"
    script.write_text(
        "import sys, time\n"
        "from letterply_client import private_service\n"
        f"with private_service({str(tmp_path / 'data')!r}) as url:\n"
        "    print(url, flush=True)\n"
        "    time.sleep(60)\n"
    )
    parent = subprocess.Popen([sys.executable, script], stdout=subprocess.PIPE, text=True)
    url = parent.stdout.readline().strip()
    assert httpx.get(f"{url}/health/live").status_code == 200
    os.kill(parent.pid, signal.SIGKILL)
    parent.communicate()
    deadline = time.monotonic() + 15
    while answers(url) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not answers(url)
    assert Path(tmp_path / "data").exists()


def answers(url):
    try:
        return httpx.get(f"{url}/health/live", timeout=2).status_code == 200
    except httpx.HTTPError:
        return False
