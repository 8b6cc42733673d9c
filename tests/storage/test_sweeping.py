"""Sweeping: what nobody needs goes, and nothing else, whoever writes meanwhile."""

import os
import time
from pathlib import Path

import pytest

from letterply.errors import NotFound
from letterply.storage import (
    Finished,
    Store,
    SweepRules,
    UploadKind,
    canonical_json,
    open_vault,
    sweep,
    tables,
)
from letterply.storage.folders import shrink_folder

NOW = SweepRules(grace_s=0.0, answers_s=0.0)
"""Whatever is there may go at once."""


@pytest.fixture
def store(tmp_path, database_url):
    made = Store(tmp_path / "data", database_url)
    yield made
    made.close()


def finished(text):
    return Finished("it.json", {"it.json": text.encode(), "x.svg": b"<svg/>"}, {"title": text})


def save(store, name, kind="stack"):
    return store.save_done(name * 32, kind, {}, finished(name))


def blobs(store):
    return {p.name for p in (store.root / "blobs").glob("*/*")}


def age(store, seconds):
    for path in (store.root / "blobs").glob("*/*"):
        os.utime(path, (time.time() - seconds,) * 2)


def order(store, *, phase, began_at, content):
    """Keep an order that stands where it is said to."""
    from letterply.storage import hold, insert_waiting

    def write(db):
        insert_waiting(db, "f" * 32, "order", {})
        hold(db, (store.owner,), "order", "f" * 32)
        db.execute(
            tables.orders.insert().values(
                job="f" * 32, attempt=1, content=content, phase=phase, lines=1, designs=1,
                tasks_total=0, tasks_done=0, last_event=0, began_at=began_at, phase_at=began_at,
            )
        )  # fmt: skip

    store.database.write(write)


def test_what_is_held_stays_and_what_was_let_go_goes(store):
    kept, gone = save(store, "a"), save(store, "b")
    store.let_go("stack", gone.id)
    font = store.add_upload(UploadKind.FONT, "own-1", b"font", "one", {})
    drawing = store.add_upload(UploadKind.ARTWORK, "artwork-1", b"drawing", "one", {})
    store.let_go("artwork", drawing.id)
    swept = sweep(store, NOW)
    # What both jobs have made alike belongs to the one that is left.
    assert swept.blobs == 2
    assert swept.freed_bytes == len(b"b") + len(b"drawing")
    assert blobs(store) == {a.digest for a in kept.artifacts} | {font.digest}
    assert store.is_whole(store.job(kept.id))


def test_what_was_written_a_moment_ago_stays_its_row_may_still_come(store):
    digest, _ = store.keep_file(b"a moment ago")
    assert sweep(store, SweepRules()).blobs == 0
    age(store, 7200)
    # Somebody stores the same bytes again: they count as new.
    store.keep_file(b"a moment ago")
    assert sweep(store, SweepRules()).blobs == 0
    age(store, 7200)
    assert sweep(store, SweepRules(), keep=[digest]).blobs == 0
    assert sweep(store, SweepRules()).blobs == 1


def test_two_owners_and_the_job_goes_with_the_last(store):
    save(store, "a")
    store.of("club").hold("stack", "a" * 32)
    assert store.let_go("stack", "a" * 32) is False
    with pytest.raises(NotFound):
        store.job("a" * 32)
    assert store.of("club").job("a" * 32).id == "a" * 32
    assert store.of("club").let_go("stack", "a" * 32) is True
    with pytest.raises(NotFound):
        store.job_of_any("a" * 32)


def test_old_results_go_and_what_runs_stays(store):
    save(store, "a")
    store.keep_waiting("b" * 32, "stack", {})
    time.sleep(0.05)
    rules = SweepRules(keep_s=0.01, grace_s=0.0, answers_s=0.0)
    assert sweep(store, rules).jobs == ("a" * 32,)
    assert [j.id for j in store.jobs("stack", limit=9)[0]] == ["b" * 32]
    assert blobs(store) == set()


def test_above_its_size_an_owner_loses_the_oldest_first_and_others_none(store):
    for name in "abcd":
        save(store, name)
        save(store.of("club"), name)
    size = len("a") + len(b"<svg/>")
    save(store, "e")
    rules = SweepRules(keep_bytes=3 * size, grace_s=0.0)
    sweep(store, rules)
    assert [j.id[0] for j in store.jobs("stack", limit=9)[0]] == ["e", "d", "c"]
    assert [j.id[0] for j in store.of("club").jobs("stack", limit=9)[0]] == ["d", "c", "b"]


@pytest.mark.parametrize("phase", ["lines", "done"])
def test_what_an_open_order_needs_stays(store, phase):
    vault = open_vault(store.place)
    font = vault.write(b"a font that was deleted since")
    part = vault.write(b"a part that was made")
    vault.note("1" * 32, {"part": part})
    content = vault.write(canonical_json({"sources": {"fonts": {"own-1": font}}}))
    order(store, phase=phase, began_at=time.time() - 5, content=content)
    if phase == "done":
        store.let_go("order", "f" * 32)
    swept = sweep(store, SweepRules(keep_s=0.0, grace_s=0.0, answers_s=0.0))
    left = {font, part, content} if phase == "lines" else set()
    assert blobs(store) == left
    assert (vault.recall("1" * 32) is not None) == (phase == "lines")
    assert swept.answers == (0 if phase == "lines" else 1)


def test_an_answer_that_was_recalled_lately_stays(store):
    vault = open_vault(store.place)
    vault.note("1" * 32, {"part": vault.write(b"part")})
    file = next((store.root / "answers").glob("*/*.json"))
    os.utime(file, (1, 1))
    assert vault.peek("1" * 32) is not None
    assert file.stat().st_mtime == 1
    assert vault.recall("1" * 32) is not None
    assert sweep(store, SweepRules(grace_s=0.0)).answers == 0


def test_a_sweep_between_bytes_and_row_takes_nothing(store):
    """The bytes are old and nobody's; a writer stores them again, its row is still to come."""
    save(store, "a")
    store.let_go("stack", "a" * 32)
    age(store, 7200)
    store.blobs.put(finished("a").artifacts)
    assert sweep(store, SweepRules()).blobs == 0
    assert store.is_whole(save(store, "a"))


def test_a_blob_that_is_stored_while_it_is_swept_is_put_back(store):
    """The sweep has decided; then somebody marks it as new."""
    digest, path = store.keep_file(b"once more")
    before = path.stat().st_mtime - 1
    assert store.blobs.remove(digest, before) == 0
    assert store.blobs.holds(digest)
    assert store.blobs.remove(digest, before + 10) == len(b"once more")
    assert not store.blobs.holds(digest)
    assert store.blobs.remove(digest, before + 10) == 0


def test_only_this_user_reads_what_is_stored(store):
    save(store, "a")
    open_vault(store.place).note("1" * 32, {})
    for path in [store.root, *store.root.rglob("*")]:
        assert path.stat().st_mode & 0o777 == (0o700 if path.is_dir() else 0o600), path


def test_a_folder_above_its_size_loses_what_was_not_used_for_longest(tmp_path):
    for n in range(10):
        file = tmp_path / str(n)
        file.write_bytes(b"x" * 10)
        os.utime(file, (n, n))
    assert shrink_folder(tmp_path, 100) == 0
    assert shrink_folder(tmp_path, 90) == 40
    assert sorted(p.name for p in tmp_path.iterdir()) == ["4", "5", "6", "7", "8", "9"]
    assert shrink_folder(Path(tmp_path / "none"), 1) == 0
