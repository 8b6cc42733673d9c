"""Drawings at the border: kept when usable, and only then; parsed in a worker within limits."""

import asyncio
import sqlite3
import time

import pytest

from letterply.errors import InputError, JobFailed, NotFound
from letterply.jobs.artworks import take_artwork
from letterply.storage.store import SqlStore
from letterply.workers.pool import ComputePool

SQUARE = b'<svg width="96" height="96"><title>Knot</title><rect width="48" height="48"/></svg>'
BOMB = b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><svg><text>&b;</text></svg>'


def take(folder, *files, time_limit_s=30):
    async def main():
        store = SqlStore(folder)
        pool = ComputePool(1, time_limit_s, 4_000_000_000)
        pool.start()
        try:
            return [await take_artwork(store, pool, data) for data in files]
        finally:
            pool.stop()
            store.close()

    return asyncio.run(main())


def files_below(folder):
    return sorted(
        p.name for p in folder.rglob("*") if p.is_file() and not p.name.startswith("index.sqlite")
    )


def test_a_drawing_is_kept_once(tmp_path):
    (drawing, new), (again, new_again) = take(tmp_path, SQUARE, SQUARE)
    assert (new, new_again) == (True, False)
    assert drawing == again
    assert drawing.name == "Knot"
    assert drawing.id.startswith("art-")
    assert drawing.description["ink"]["width_mm"] == pytest.approx(12.7)
    assert files_below(tmp_path) == [drawing.digest]


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"Knot", "not-svg"),
        (SQUARE[:60], "artwork-unreadable"),
        (BOMB, "artwork-unreadable"),
        (b"<svg/>", "artwork-empty"),
        (b"<svg><g>" * 300, "artwork-too-complex"),
    ],
    ids=["text", "cut off", "entities", "empty", "deep"],
)
def test_what_is_no_usable_drawing_leaves_nothing(tmp_path, data, code):
    with pytest.raises(InputError) as caught:
        take(tmp_path, data)
    assert caught.value.code == code
    assert files_below(tmp_path) == []


def test_a_drawing_that_takes_too_long_is_given_up(tmp_path):
    # Thousands of lines that all cross each other.
    lines = "".join(f"L{i * 7919 % 1000} {i * 104729 % 1000}" for i in range(60_000))
    data = f'<svg width="999" height="999"><path d="M0 0{lines}"/></svg>'.encode()
    began = time.monotonic()
    with pytest.raises(JobFailed) as caught:
        take(tmp_path, data, time_limit_s=3)
    assert caught.value.code == "job-timeout"
    assert time.monotonic() - began < 15
    assert files_below(tmp_path) == []


def test_a_store_of_before_drawings_were_kept_gets_its_table(tmp_path):
    SqlStore(tmp_path).close()
    db = sqlite3.connect(tmp_path / "index.sqlite")
    for later in (
        "DROP TABLE artworks",
        "ALTER TABLE orders DROP COLUMN generation",
        "ALTER TABLE workers DROP COLUMN generation",
    ):
        db.execute(later)
    db.execute("UPDATE letterply_layout SET version_num = '0002'")
    db.commit()
    db.close()
    store = SqlStore(tmp_path)
    assert store.artworks(limit=5) == ((), False)
    with pytest.raises(NotFound) as caught:
        store.artwork("art-none")
    assert caught.value.code == "artwork-not-found"
    store.close()


def test_drawings_are_listed_in_pages_by_name(tmp_path):
    store = SqlStore(tmp_path)
    for name in ("Knot", "Dunlin", "Avocet"):
        store.add_artwork(f"art-{name}", name.encode(), name, {"title": name})
    first, more = store.artworks(limit=2)
    rest, none = store.artworks(limit=2, after=first[-1].id)
    assert [a.name for a in (*first, *rest)] == ["Avocet", "Dunlin", "Knot"]
    assert (more, none) == (True, False)
    store.close()
