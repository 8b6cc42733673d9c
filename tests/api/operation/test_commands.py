"""What an operator does on the command line, each by one command, on every kind of store."""

import json
import logging
import os
import subprocess
import sys
import uuid
from pathlib import Path
from types import SimpleNamespace

import httpx
import pytest
from moto.server import ThreadedMotoServer

from letterply.storage import (
    Finished,
    KeyRecord,
    Store,
    UploadKind,
    canonical_json,
    hold,
    insert_waiting,
    open_vault,
    tables,
)
from letterply_client.command import main

OPEN_ORDER, JOB, OTHER = "0" * 32, "a" * 32, "b" * 32


@pytest.fixture(scope="module")
def server():
    """Run a server that speaks S3, of our own; give its address."""
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    made = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    made.start()
    host, port = made.get_host_and_port()
    yield f"http://{host}:{port}"
    made.stop()


@pytest.fixture
def place(tmp_path, request, monkeypatch):
    """Give a function that makes an empty store of a kind; returns its settings."""

    def make(kind):
        root = tmp_path / uuid.uuid4().hex[:8]
        settings = {"LETTERPLY_DATA_FOLDER": str(root)}
        if kind == "server":
            cluster, address = (request.getfixturevalue(n) for n in ("cluster", "server"))
            bucket = f"boats-{uuid.uuid4().hex[:12]}"
            httpx.put(f"{address}/{bucket}").raise_for_status()
            settings["LETTERPLY_DATABASE_URL"] = str(cluster.new_database())
            settings["LETTERPLY_BUCKET_URL"] = f"s3://{bucket}/store"
            for name, value in {
                "AWS_ENDPOINT_URL": address, "AWS_ACCESS_KEY_ID": "k", "AWS_REGION": "us-east-1",
                "AWS_SECRET_ACCESS_KEY": "s", "AWS_ALLOW_HTTP": "true",
                "AWS_VIRTUAL_HOSTED_STYLE_REQUEST": "false",
            }.items():  # fmt: skip
                monkeypatch.setenv(name, value)
        return settings

    return make


@pytest.fixture
def letterply(monkeypatch, capsys):
    """Give the command line, run in this process with settings of its own."""

    def run(settings, *arguments):
        with monkeypatch.context() as patch:
            for name, value in settings.items():
                patch.setenv(name, value)
            capsys.readouterr()
            code = main([str(a) for a in arguments])
        said = capsys.readouterr()
        return SimpleNamespace(returncode=code, stdout=said.out, stderr=said.err)

    return run


def store_of(settings):
    return Store(
        *(
            kind(settings[name]) if name in settings else None
            for kind, name in (
                (Path, "LETTERPLY_DATA_FOLDER"),
                (str, "LETTERPLY_DATABASE_URL"),
                (str, "LETTERPLY_BUCKET_URL"),
            )
        )
    )


def fill(store):
    """Keep something of every kind, for two owners; return the digests of it."""
    finished = Finished("it.json", {"it.json": b"{}", "x.svg": b"<svg/>"}, {"title": "Knot"})
    key = KeyRecord("house\nmine", "f" * 32, JOB)
    store.save_done(JOB, "stack", {"recipe": {"title": "Knot ü"}}, finished, [key])
    store.of("club").save_done(OTHER, "check", {}, finished)
    store.add_upload(UploadKind.FONT, "own-1", b"font", "one", {"family": "One"})
    store.of("club").add_upload(UploadKind.ARTWORK, "artwork-1", b"<svg/>", "two", {})
    vault = open_vault(store.place)
    vault.note("1" * 32, {"part": vault.write(b"part")})
    content = vault.write(canonical_json({"order": {}}))

    def order(db):
        insert_waiting(db, OPEN_ORDER, "order", {"title": "Racks"})
        hold(db, ("club",), "order", OPEN_ORDER)
        db.execute(
            tables.orders.insert().values(
                job=OPEN_ORDER, attempt=1, content=content, phase="lines", lines=3, designs=3,
                tasks_total=3, tasks_done=1, last_event=0, began_at=1.0, phase_at=1.0, generation=1,
            )
        )  # fmt: skip

    store.database.write(order)


def everything(store):
    """Return all rows but those of workers, and all files that they name."""

    def look(db):
        return {
            t.name: sorted(json.dumps(list(row), default=str) for row in db.execute(t.select()))
            for t in tables.metadata.sorted_tables
            if t.name not in ("workers", "orders")
        }

    files = {}
    for owner, job in (("house", JOB), ("club", OTHER)):
        for a in store.of(owner).job(job).artifacts:
            files[owner, a.path] = store.read(a)
    files["font"] = store.path_of(store.upload(UploadKind.FONT, "own-1").digest).read_bytes()
    vault = open_vault(store.place)
    answer = vault.recall("1" * 32)
    files["part"] = vault.read(answer["part"])
    return store.database.read(look), files


@pytest.mark.parametrize(
    ("source", "target"), [("file", "server"), ("server", "file"), ("file", "file")]
)
def test_a_backup_restored_elsewhere_answers_the_same_ids(
    letterply, place, tmp_path, source, target
):
    here, there = place(source), place(target)
    store = store_of(here)
    fill(store)
    made, secret = store.access.make("rower", "club")
    before = everything(store)
    store.close()
    saved = letterply(here, "backup", tmp_path / "saved")
    assert saved.returncode == 0, saved.stderr
    for path in (tmp_path / "saved").rglob("*"):
        assert path.stat().st_mode & 0o077 == 0, path
    again = letterply(here, "backup", tmp_path / "saved")
    assert (again.returncode, "not empty" in again.stderr) == (2, True)
    restored = letterply(there, "restore", tmp_path / "saved")
    assert restored.returncode == 0, restored.stderr
    twice = letterply(there, "restore", tmp_path / "saved")
    assert (twice.returncode, "already" in twice.stderr) == (2, True)

    store = store_of(there)
    assert everything(store) == before
    assert store.access.find(secret).id == made.id
    # What was open is begun anew by the next worker, and new rows follow the old ones.
    row = store.database.read(lambda db: db.execute(tables.orders.select()).one())
    assert (row.job, row.phase, row.generation) == (OPEN_ORDER, "lines", 0)
    store.save_done("c" * 32, "stack", {}, Finished("i", {"i": b"1"}, {}))
    assert [j.id for j in store.jobs("stack", limit=5)[0]] == ["c" * 32, JOB]
    store.access.make("second", "club")
    store.close()


@pytest.mark.parametrize("kind", ["file", "server"])
def test_keys_doctor_migrate_and_sweep_in_one_command_each(letterply, place, kind):
    settings = place(kind)
    ill = letterply({**settings, "LETTERPLY_HOST": "0.0.0.0"}, "doctor")
    assert ill.returncode == 1
    assert "missing API keys" in ill.stdout
    moved = letterply(settings, "migrate")
    assert moved.returncode == 0, moved.stderr
    assert moved.stdout.startswith("tables: none -> ")
    made = letterply(settings, "keys", "make", "bench", "--owner", "club", "--days", "1")
    assert made.returncode == 0, made.stderr
    secret = made.stdout.strip()
    listed = letterply(settings, "keys", "list")
    assert "owner club, bench: read,write, until " in listed.stdout
    assert secret not in listed.stdout
    store = store_of(settings)
    assert store.access.find(secret).valid
    revoked = letterply(settings, "keys", "revoke", listed.stdout.split()[0])
    assert "revoked" in revoked.stdout
    assert not store.access.find(secret).valid
    store.close()
    swept = letterply(settings, "sweep")
    assert swept.returncode == 0, swept.stderr
    assert swept.stdout.startswith("0 jobs, 0 orders")
    well = letterply({**settings, "LETTERPLY_HOST": "0.0.0.0"}, "doctor")
    assert well.returncode == 0, well.stdout
    assert well.stdout.count("fine") >= 6


@pytest.mark.parametrize(
    ("settings", "command", "says"),
    [
        ({"LETTERPLY_API_KEYS": "[{"}, "serve", "LETTERPLY_API_KEYS: is not JSON"),
        (
            {"LETTERPLY_API_KEYS": '[{"name": "a", "secret": "short"}]'},
            "serve",
            "LETTERPLY_API_KEYS [0] [secret]: a secret has at least 16 characters",
        ),
        ({"LETTERPLY_PORT": "many"}, "serve", "LETTERPLY_PORT: "),
        ({"LETTERPLY_WORKERS": "0"}, "worker", "LETTERPLY_WORKERS: "),
        ({"LETTERPLY_DATA_FOLDER": "/dev/null/x"}, "serve", "LETTERPLY_DATA_FOLDER: "),
        ({"LETTERPLY_DATA_FOLDER": "/dev/null/x"}, "worker", "LETTERPLY_DATA_FOLDER: "),
        ({"LETTERPLY_DATABASE_URL": "mysql://x"}, "migrate", "LETTERPLY_DATABASE_URL: "),
        (
            {"LETTERPLY_DATABASE_URL": "sqlite:////dev/null/x"},
            "keys list",
            "LETTERPLY_DATABASE_URL: ",
        ),
    ],
)
def test_what_is_wrong_with_a_setting_is_one_sentence_with_its_name(
    letterply, tmp_path, settings, command, says
):
    usual = {"LETTERPLY_DATA_FOLDER": str(tmp_path / "data"), "LETTERPLY_PORT": "0"}
    ended = letterply(usual | settings, *command.split())
    assert ended.returncode == 2
    assert says in ended.stderr
    assert len(ended.stderr.strip().splitlines()) == 1, ended.stderr


def test_a_folder_that_is_no_backup_is_refused(letterply, tmp_path):
    (tmp_path / "empty").mkdir()
    settings = {"LETTERPLY_DATA_FOLDER": str(tmp_path / "data")}
    ended = letterply(settings, "restore", tmp_path / "empty")
    assert (ended.returncode, "no whole backup" in ended.stderr) == (2, True)


def test_a_service_that_cannot_start_says_so_in_one_line(tmp_path):
    """As a process of its own: nothing else reaches its output, no trace above all."""
    settings = {"LETTERPLY_DATA_FOLDER": str(tmp_path), "LETTERPLY_CATALOGUE_FILES": '["/no.toml"]'}
    ended = subprocess.run(
        [sys.executable, "-m", "letterply.api.serve"],
        env={**os.environ, **settings}, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert ended.returncode == 2
    assert len(ended.stderr.strip().splitlines()) == 1, ended.stderr
    assert "/no.toml" in ended.stderr
