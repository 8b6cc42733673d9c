"""Fonts at the border: kept when usable, and only then."""

import asyncio

import pytest

from letterply.errors import FontError
from letterply.jobs.fonts import take_font
from letterply.lettering.fonts.library import shipped_faces
from letterply.storage.store import SqlStore
from letterply.workers.pool import ComputePool


def take(folder, *files):
    async def main():
        store = SqlStore(folder)
        pool = ComputePool(1, 30, 4_000_000_000)
        pool.start()
        try:
            return [await take_font(store, pool, data) for data in files]
        finally:
            pool.stop()
            store.close()

    return asyncio.run(main())


def files_below(folder):
    return sorted(
        p.name for p in folder.rglob("*") if p.is_file() and not p.name.startswith("index.sqlite")
    )


def test_a_font_is_kept_once(tmp_path):
    data = shipped_faces()["lobster"].path.read_bytes()
    (font, new), (again, new_again) = take(tmp_path, data, data)
    assert (new, new_again) == (True, False)
    assert font == again
    assert font.name == "Lobster Regular"
    assert font.description["units_per_em"] > 0
    assert files_below(tmp_path) == [font.digest]


GOOD = shipped_faces()["lobster"].path.read_bytes()


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"not a font", "not-a-font"),
        (b"\0\1\0\0" + b"\0" * 100, "font-without-outlines"),
        (GOOD[:2000], "font-unreadable"),
        (b"wOF2" + GOOD[4:5000], "font-unreadable"),
    ],
    ids=["text", "only a signature", "cut off", "another wrapper"],
)
def test_what_is_no_usable_font_leaves_nothing(tmp_path, data, code):
    with pytest.raises(FontError) as caught:
        take(tmp_path, data)
    assert caught.value.code == code
    assert caught.value.field == "font"
    assert files_below(tmp_path) == []
