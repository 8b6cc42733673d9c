"""What is damaged is told honestly and made again: files, answers of tasks, near copies."""

import pytest

from letterply.errors import LetterplyError
from letterply.storage.blobs import BlobFolder
from letterply.storage.bucket import BlobBucket
from letterply.storage.records import Finished, UploadKind
from letterply.storage.store import Store
from letterply.storage.vault import BucketVault, FolderVault, named_bytes
from orders.pipeline.small import made, plain_order

FILES = {"stack.json": b"{}", "stack.png": b"picture of a knot"}
KEY = "1" * 32


def flip(path):
    """Change one byte of a file and leave its size as it is."""
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))


def in_bucket(folder):
    (folder / "bucket").mkdir(exist_ok=True)
    return f"file://{folder / 'bucket'}"


@pytest.fixture(params=["folder", "bucket"])
def blobs(request, tmp_path):
    """Give a place for blobs of each kind, and where the file of one lies."""
    if request.param == "folder":
        here = BlobFolder(tmp_path / "store")
        return here, here.path
    url = in_bucket(tmp_path)
    return (
        BlobBucket(url, tmp_path / "near"),
        lambda name: tmp_path / "bucket" / "blobs" / name[:2] / name,
    )


@pytest.fixture(params=["folder", "bucket"])
def vault(request, tmp_path):
    """Give a vault of each kind, and where the answer of the task lies."""
    place = tmp_path / ("store" if request.param == "folder" else "bucket")
    if request.param == "folder":
        made = FolderVault(place)
    else:
        made = BucketVault(in_bucket(tmp_path), tmp_path / "near")
    return made, place / "answers" / KEY[:2] / f"{KEY}.json"


def test_a_flipped_byte_is_seen_and_stored_anew(blobs):
    here, place = blobs
    name = here.put({"it": b"picture of a knot"})["it"]
    assert here.holds(name)
    flip(place(name))
    assert not here.holds(name)
    with pytest.raises(LetterplyError, match="damaged"):
        here.read(name)
    assert here.put({"it": b"picture of a knot"})["it"] == name
    assert here.read(name) == b"picture of a knot"


@pytest.mark.parametrize("url", [None, in_bucket])
def test_a_job_with_a_flipped_byte_is_not_whole_until_it_is_made_again(tmp_path, url):
    store = Store(tmp_path / "near", None, url and url(tmp_path))
    done = Finished("stack.json", FILES, {"title": "Knot"})
    record = store.save_done("a" * 32, "stack", {}, done)
    name = record.artifact("stack.png").digest
    root = tmp_path / ("bucket" if url else "near")
    flip(root / "blobs" / name[:2] / name)
    assert not store.is_whole(record)
    assert store.is_whole(store.save_done("a" * 32, "stack", {}, done))
    store.close()


def test_a_font_that_is_damaged_is_given_to_nobody(tmp_path):
    store = Store(tmp_path)
    font = store.add_upload(UploadKind.FONT, "own-1", b"outlines of letters", "Knot", {})
    flip(store.path_of(font.digest))
    with pytest.raises(LetterplyError, match="damaged"):
        store.path_of(font.digest)
    store.close()


def test_a_near_copy_that_is_damaged_is_fetched_again(tmp_path):
    bucket = BlobBucket(in_bucket(tmp_path), tmp_path / "near")
    name = bucket.put({"it": b"outlines of letters"})["it"]
    flip(bucket.path(name))
    assert bucket.path(name).read_bytes() == b"outlines of letters"


@pytest.mark.parametrize(
    "damage", [b"", b'{"ok": tr', b"\xff\xfe\x00", b"[]", b'"ok"', b"{}"], ids=repr
)
def test_an_answer_that_cannot_be_read_is_overwritten(vault, damage):
    where = vault[1]
    vault[0].note(KEY, {"ok": True, "parts": 3})
    where.write_bytes(damage)
    assert vault[0].recall(KEY) is None
    vault[0].note(KEY, {"ok": True, "parts": 3})
    assert vault[0].recall(KEY) == {"ok": True, "parts": 3}


def test_an_answer_with_a_flipped_byte_is_none_though_it_may_be_json(vault):
    vault[0].note(KEY, {"ok": True, "parts": 3})
    where = vault[1]
    where.write_bytes(where.read_bytes().replace(b"3", b"2"))
    assert vault[0].recall(KEY) is None


def test_an_answer_that_names_damaged_bytes_is_overwritten_any_other_stays(vault):
    here = vault[0]
    name = here.write(b"picture of a knot")
    here.note(KEY, {"ok": True, "file": name})
    here.note(KEY, {"ok": True, "file": "another"})
    assert here.recall(KEY) == {"ok": True, "file": name}
    here.note("2" * 32, {"ok": True, "file": "f" * 32})
    assert not here.is_whole(here.recall("2" * 32))
    here.note("2" * 32, {"ok": True, "file": name})
    assert here.recall("2" * 32) == {"ok": True, "file": name}


def test_an_order_finds_its_answers_whole_and_makes_again_what_is_not(tmp_path):
    order = plain_order("Knot")
    there, vault = made(order, tmp_path)
    answers = sorted((tmp_path / "answers").rglob("*.json"))
    for path in answers:
        answer = vault.recall(path.stem)
        assert vault.is_whole(answer), "an answer names bytes by a digest that is not theirs"
    for name in sorted({n for p in answers for n in named_bytes(vault.recall(p.stem))}):
        flip(BlobFolder(tmp_path).path(name))
    flip(answers[0])
    answers[-1].write_bytes(b"")
    assert made(order, tmp_path)[0] == there
    assert all(len(vault.read(f.digest)) == f.size for f in there.files)
