"""Artifacts in an object store: the same promises as in a folder; on a real server, too."""

import json
import logging
import uuid

import httpx
import obstore
import pytest
from moto.server import ThreadedMotoServer

from letterply.errors import LetterplyError
from letterply.storage.bucket import open_bucket
from letterply.storage.places import split_place, vault_place
from letterply.storage.records import FAULTS, Finished, UploadKind
from letterply.storage.store import Store
from letterply.storage.vault import open_vault
from orders.pipeline.small import made, plain_order

FINISHED = Finished("stack.json", {"stack.json": b"{}", "a/b.svg": b"<svg/>"}, {"title": "Knot"})


@pytest.fixture(scope="module")
def server():
    """Run a server that speaks S3, of our own; give its address."""
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    made = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    made.start()
    host, port = made.get_host_and_port()
    yield f"http://{host}:{port}"
    made.stop()


@pytest.fixture(params=["folder", "s3"])
def bucket(request, tmp_path, monkeypatch):
    """Give the URL of an empty bucket: a folder, then one on the server."""
    if request.param == "folder":
        (tmp_path / "bucket").mkdir()
        return f"file://{tmp_path / 'bucket'}"
    server = request.getfixturevalue("server")
    name = f"boats-{uuid.uuid4().hex[:12]}"
    httpx.put(f"{server}/{name}").raise_for_status()
    reach(monkeypatch, server)
    return f"s3://{name}/store"


def reach(monkeypatch, server):
    """Say where the server is, as an operator does: in the environment."""
    for variable, value in {
        "AWS_ENDPOINT_URL": server,
        "AWS_ALLOW_HTTP": "true",
        "AWS_ACCESS_KEY_ID": "avocet",
        "AWS_SECRET_ACCESS_KEY": "curlew",
        "AWS_REGION": "us-east-1",
    }.items():
        monkeypatch.setenv(variable, value)


def test_a_job_is_found_whole_and_checked(tmp_path, bucket):
    store = Store(tmp_path / "near", None, bucket)
    record = store.save_done("a" * 32, "stack", {}, FINISHED)
    assert {a.path: store.read(a) for a in record.artifacts} == dict(FINISHED.artifacts)
    assert store.is_whole(record)
    digest = record.artifact("a/b.svg").digest
    assert store.path_of(digest).read_bytes() == b"<svg/>"
    objects, place = open_bucket(bucket), f"blobs/{digest[:2]}/{digest}"
    obstore.put(objects, place, b"<gvs/>")
    with pytest.raises(LetterplyError, match="damaged"):
        store.read(record.artifact("a/b.svg"))
    obstore.delete(objects, place)
    assert not store.is_whole(record)
    store.close()


def test_a_server_that_is_gone_is_named_and_no_answer_is_kept(tmp_path, monkeypatch):
    reach(monkeypatch, "http://127.0.0.1:9")  # discard (RFC 863): nobody listens there
    vault = open_vault(vault_place(tmp_path / "near", "s3://boats/gone"))
    with pytest.raises(LetterplyError) as caught:
        vault.recall("1" * 32)
    assert caught.value.code == "store-unreachable"
    assert caught.value.code in FAULTS


def test_fonts_are_files_of_this_machine(tmp_path, bucket):
    store = Store(tmp_path / "near", None, bucket)
    font = store.add_upload(UploadKind.FONT, "own-1", b"font", "Knot", {})
    assert store.path_of(font.digest).read_bytes() == b"font"
    other = Store(tmp_path / "far", None, bucket)
    assert other.path_of(font.digest).read_bytes() == b"font"
    with store.set_aside(b"x") as path:
        assert path.read_bytes() == b"x"
    store.close()
    other.close()


def test_an_order_is_made_in_a_bucket_as_in_a_folder(tmp_path, bucket):
    order = plain_order("Knot")
    place = vault_place(tmp_path / "near", bucket)
    assert split_place(place) == (tmp_path / "near", bucket)
    there, _vault = made(order, place)
    here, _ = made(order, tmp_path / "folder")
    assert there == here
    far = open_vault(vault_place(tmp_path / "far", bucket))
    one = there.files[0]
    assert len(far.read(one.digest)) == one.size
    assert far.recall("0" * 32) is None
    with pytest.raises(ValueError, match="no key"):
        far.recall("../x")


def test_the_first_answer_counts(tmp_path, bucket):
    vault = open_vault(vault_place(tmp_path / "near", bucket))
    vault.note("1" * 32, {"ok": True})
    vault.note("1" * 32, {"ok": False})
    assert json.dumps(vault.recall("1" * 32)) == '{"ok": true}'
