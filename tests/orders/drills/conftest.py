"""What drills share."""

import contextlib
import os
import subprocess
import tempfile
from pathlib import Path

import httpx
import psycopg
import pytest
from moto.server import ThreadedMotoServer

from orders.drills.scene import wait_until
from postgres_cluster import private_cluster


@contextlib.contextmanager
def file_system(place, size):
    """Mount a file system of a size in memory for the length of a block; skip where none can be."""
    command = ["mount", "-t", "tmpfs", "-o", f"size={size},mode=0755", "tmpfs", str(place)]
    if os.geteuid() != 0 or subprocess.run(command, check=False, capture_output=True).returncode:
        pytest.skip("no file system can be mounted here: a full disk was not tried")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.fixture
def small_disk(tmp_path):
    """Give a file system of 24 MB."""
    place = tmp_path / "disk"
    place.mkdir()
    with file_system(place, "24m"):
        yield place


class ObjectStore:
    """An object store that can be stopped and started; what it holds stays."""

    def __init__(self):
        self.url, self._port = "s3://boats/store", 0
        self.start()

    @property
    def address(self):
        """Where it is."""
        return "http://{}:{}".format(*self._server.get_host_and_port())

    def start(self):
        """Start it, where it was before."""
        self._server = ThreadedMotoServer(ip_address="127.0.0.1", port=self._port, verbose=False)
        self._server.start()
        self._port = self._server.get_host_and_port()[1]

    def stop(self):
        """Stop it: nothing answers there."""
        self._server.stop()


@pytest.fixture
def object_store(monkeypatch):
    """Give an object store with a bucket, that this process and its children may use."""
    made = ObjectStore()
    for name, value in {
        "AWS_ENDPOINT_URL": made.address, "AWS_ALLOW_HTTP": "true",
        "AWS_ACCESS_KEY_ID": "avocet", "AWS_SECRET_ACCESS_KEY": "curlew", "AWS_REGION": "us-east-1",
    }.items():  # fmt: skip
        monkeypatch.setenv(name, value)
    httpx.put(f"{made.address}/boats").raise_for_status()
    yield made
    made.stop()


class FullServer:
    """A PostgreSQL server whose disk can be filled up."""

    def __init__(self, disk, cluster):
        self.cluster, self.url = cluster, cluster.new_database()
        self._filler = disk / "filler"

    def fill(self):
        """Fill its disk up until it takes nothing any more."""
        with self._filler.open("wb", buffering=0) as out, contextlib.suppress(OSError):
            while out.write(b"\0" * 65536) == 65536:
                pass
        wait_until(lambda: not self._takes_something(), 120)

    def _takes_something(self):
        try:
            with psycopg.connect(self.url.replace("+psycopg", ""), autocommit=True) as db:
                db.execute("CREATE TABLE IF NOT EXISTS ballast (it bytea)")
                db.execute("INSERT INTO ballast VALUES (%s)", (os.urandom(100_000),))
        except psycopg.OperationalError:  # its disk is full, or it is down for that
            return False
        return True

    def make_room(self):
        """Make room again; start it where that took it down. Tell whether it was down."""
        self._filler.unlink()
        down = not self.cluster.runs()
        if down:
            self.cluster.start()
        return down


@pytest.fixture
def full_server():
    """Give a server whose data lie on a file system of 80 MB of their own."""
    place = Path(tempfile.mkdtemp(prefix="letterply-pg-"))
    try:
        with file_system(place, "80m"), private_cluster(place) as cluster:
            yield FullServer(place, cluster)
    finally:
        place.rmdir()
