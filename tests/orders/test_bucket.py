"""Artifacts in an object store: the same promises as in a folder; here a store in a folder."""

import json

import pytest

from letterply.errors import LetterplyError
from letterply.orders.places import split_place, vault_place
from letterply.orders.records import Finished
from letterply.orders.store import SqlStore
from letterply.orders.work.vault import open_vault
from orders.work.small import made, plain_order

FINISHED = Finished("stack.json", {"stack.json": b"{}", "a/b.svg": b"<svg/>"}, {"title": "Knot"})


@pytest.fixture
def bucket(tmp_path):
    (tmp_path / "bucket").mkdir()
    return f"file://{tmp_path / 'bucket'}"


def test_a_job_is_found_whole_and_checked(tmp_path, bucket):
    store = SqlStore(tmp_path / "near", None, bucket)
    record = store.save_done("a" * 32, "stack", {}, FINISHED)
    assert {a.path: store.read(a) for a in record.artifacts} == dict(FINISHED.artifacts)
    assert store.is_whole(record)
    (kept,) = (tmp_path / "bucket").rglob(record.artifact("a/b.svg").digest)
    assert store.path_of(kept.name).read_bytes() == b"<svg/>"
    kept.write_bytes(b"<gvs/>")
    with pytest.raises(LetterplyError, match="damaged"):
        store.read(record.artifact("a/b.svg"))
    kept.unlink()
    assert not store.is_whole(record)
    store.close()


def test_fonts_are_files_of_this_machine(tmp_path, bucket):
    store = SqlStore(tmp_path / "near", None, bucket)
    font = store.add_font("own-1", b"font", "Knot", {})
    assert store.path_of(font.digest).read_bytes() == b"font"
    other = SqlStore(tmp_path / "far", None, bucket)
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
    one = there["files"][0]
    assert len(far.read(one["digest"])) == one["size"]
    assert far.recall("0" * 32) is None
    with pytest.raises(ValueError, match="no key"):
        far.recall("../x")


def test_the_first_answer_counts(tmp_path, bucket):
    vault = open_vault(vault_place(tmp_path / "near", bucket))
    vault.note("1" * 32, {"ok": True})
    vault.note("1" * 32, {"ok": False})
    assert json.dumps(vault.recall("1" * 32)) == '{"ok": true}'
