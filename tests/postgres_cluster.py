"""A PostgreSQL server of our own for tests: made with initdb, gone afterwards.

Where no server is installed the tests that need one skip, and say so.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

_LIMIT_S = 60


def _tool(name: str) -> str | None:
    places = [*Path("/usr/lib/postgresql").glob(f"*/bin/{name}")]
    return shutil.which(name) or (str(sorted(places)[-1]) if places else None)


class Cluster:
    """A running server, reached by a socket in its own folder.

    Args:
        folder: of the server.
        initdb, pg_ctl: its tools.
        small: whether it is to get by with little room: about 45 MB with one database.

    """

    def __init__(self, folder: Path, initdb: str, pg_ctl: str, *, small: bool = False) -> None:
        self._folder = folder
        self._small = small
        self._pg_ctl = pg_ctl
        self._user: str | None = None
        if os.geteuid() == 0:  # the server refuses to run as root
            known = {p.pw_name for p in pwd.getpwall()}
            self._user = "postgres" if "postgres" in known else "nobody"
            shutil.chown(folder, self._user)
        self._data = folder / "data"
        options = ("-U", "letterply", "-A", "trust", "-N", "-E", "UTF8", "--no-locale")
        segments = ("--wal-segsize=1",) if small else ()
        self._run(initdb, "-D", str(self._data), *options, *segments)
        self.start()

    def _run(self, *command: str) -> None:
        subprocess.run(
            command,
            check=True,
            user=self._user,
            cwd=self._folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=_LIMIT_S,
        )

    def start(self) -> None:
        """Start the server and wait until it answers."""
        options = f"-c listen_addresses='' -k {self._folder} -c max_connections=200"
        if self._small:
            options += " -c min_wal_size=2MB -c max_wal_size=8MB"
        log = str(self._folder / "log")
        self._run(self._pg_ctl, "-D", str(self._data), "-o", options, "-l", log, "-w", "start")

    def stop(self) -> None:
        """Stop the server at once, as a restart does: connections break."""
        self._run(self._pg_ctl, "-D", str(self._data), "-m", "fast", "-w", "stop")

    def runs(self) -> bool:
        """Tell whether the server runs."""
        try:
            self._run(self._pg_ctl, "-D", str(self._data), "status")
        except subprocess.CalledProcessError:
            return False
        return True

    def restart(self) -> None:
        """Stop it and start it again."""
        self.stop()
        self.start()

    def new_database(self) -> str:
        """Return the URL of a fresh database."""
        name = f"t{uuid.uuid4().hex[:12]}"
        address = f"host={self._folder} user=letterply"
        with psycopg.connect(f"{address} dbname=postgres", autocommit=True) as db:
            db.execute(f"CREATE DATABASE {name}".encode())
        return f"postgresql+psycopg://letterply@/{name}?host={self._folder}"


@contextlib.contextmanager
def private_cluster(folder: Path | None = None) -> Iterator[Cluster]:
    """Run a server for the length of a block; skip the test where there is none.

    In a folder of its own; in one that is given it gets by with little room.
    """
    initdb, pg_ctl = _tool("initdb"), _tool("pg_ctl")
    if initdb is None or pg_ctl is None:
        pytest.skip("no PostgreSQL server is installed here: what needs one was not tested")
    place = folder or Path(tempfile.mkdtemp(prefix="letterply-pg-"))
    try:
        cluster = Cluster(place, initdb, pg_ctl, small=folder is not None)
        try:
            yield cluster
        finally:
            if cluster.runs():
                cluster.stop()
    finally:
        if folder is None:
            shutil.rmtree(place, ignore_errors=True)
