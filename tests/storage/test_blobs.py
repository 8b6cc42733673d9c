"""Blobs: whole or not there at all."""

import os
import time

import pytest

from letterply.errors import LetterplyError
from letterply.storage.blobs import BlobFolder
from letterply.storage.identity import digest


def files_below(folder):
    return sorted(p for p in folder.rglob("*") if p.is_file())


def test_what_is_put_is_read_back(tmp_path):
    blobs = BlobFolder(tmp_path)
    digests = blobs.put({"a": b"Avocet", "b": b"Curlew", "c": b"Avocet"})
    assert digests["a"] == digests["c"] == digest(b"Avocet")
    assert blobs.read(digests["b"]) == b"Curlew"
    assert len(files_below(tmp_path)) == 2


@pytest.mark.parametrize("damage", [b"Avocat", b"", None])
def test_a_damaged_blob_is_not_given_out(tmp_path, damage):
    blobs = BlobFolder(tmp_path)
    name = blobs.put({"a": b"Avocet"})["a"]
    if damage is None:
        blobs.path(name).unlink()
    else:
        blobs.path(name).write_bytes(damage)
    with pytest.raises(LetterplyError) as caught:
        blobs.read(name)
    assert caught.value.code == "artifact-damaged"


def test_putting_again_repairs_a_damaged_blob(tmp_path):
    blobs = BlobFolder(tmp_path)
    name = blobs.put({"a": b"Avocet"})["a"]
    blobs.path(name).write_bytes(b"Avocat")
    blobs.put({"a": b"Avocet"})
    assert blobs.read(name) == b"Avocet"


def test_a_write_that_fails_leaves_nothing(tmp_path, monkeypatch):
    blobs = BlobFolder(tmp_path)

    def full(_handle):
        raise OSError("no space left on device")

    monkeypatch.setattr("letterply.storage.blobs.os.fsync", full)
    with pytest.raises(OSError, match="no space"):
        blobs.put({"a": b"Avocet"})
    assert files_below(tmp_path) == []


def test_a_file_set_aside_is_gone_afterwards(tmp_path):
    blobs = BlobFolder(tmp_path)
    with blobs.set_aside(b"Dunlin") as path:
        assert path.read_bytes() == b"Dunlin"
    assert files_below(tmp_path) == []


def test_left_overs_of_a_dead_process_are_swept_and_fresh_ones_kept(tmp_path):
    BlobFolder(tmp_path)
    old, fresh = tmp_path / "incoming" / "old", tmp_path / "incoming" / "fresh"
    for path in (old, fresh):
        path.write_bytes(b"half a fi")
    long_ago = time.time() - 7200
    os.utime(old, (long_ago, long_ago))
    BlobFolder(tmp_path)
    assert files_below(tmp_path) == [fresh]


def test_a_name_that_is_no_digest_is_a_mistake(tmp_path):
    with pytest.raises(ValueError, match="no digest"):
        BlobFolder(tmp_path).path("../index.sqlite")
