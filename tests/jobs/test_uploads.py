"""Files at the border: kept when usable, and only then; parsed in a worker within limits."""

import asyncio

import pytest

from letterply.errors import FontError, InputError, JobFailed
from letterply.jobs.uploads import take_upload
from letterply.lettering.fonts.library import shipped_faces
from letterply.storage.records import UploadKind
from letterply.storage.store import Store
from letterply.workers.pool import ComputePool

GOOD = shipped_faces()["lobster"].path.read_bytes()
SQUARE = b'<svg width="96" height="96"><title>Knot</title><rect width="48" height="48"/></svg>'
BOMB = b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><svg><text>&b;</text></svg>'


def take(folder, kind, *files, time_limit_s=30):
    async def main():
        store = Store(folder)
        pool = ComputePool(1, time_limit_s, 4_000_000_000)
        pool.start()
        try:
            return [await take_upload(store, pool, kind, data) for data in files]
        finally:
            pool.stop()
            store.close()

    return asyncio.run(main())


def files_below(folder):
    return sorted(
        p.name for p in folder.rglob("*") if p.is_file() and not p.name.startswith("index.sqlite")
    )


def test_a_drawing_is_kept_once(tmp_path):
    (drawing, new), (again, new_again) = take(tmp_path, UploadKind.ARTWORK, SQUARE, SQUARE)
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
        take(tmp_path, UploadKind.ARTWORK, data)
    assert caught.value.code == code
    assert files_below(tmp_path) == []


def test_a_drawing_that_takes_too_long_is_given_up(tmp_path):
    # Thousands of lines that all cross each other.
    lines = "".join(f"L{i * 7919 % 1000} {i * 104729 % 1000}" for i in range(60_000))
    data = f'<svg width="999" height="999"><path d="M0 0{lines}"/></svg>'.encode()
    with pytest.raises(JobFailed) as caught:
        take(tmp_path, UploadKind.ARTWORK, data, time_limit_s=3)
    assert caught.value.code == "job-timeout"
    assert files_below(tmp_path) == []


def test_a_font_is_kept_once(tmp_path):
    (font, new), (again, new_again) = take(tmp_path, UploadKind.FONT, GOOD, GOOD)
    assert (new, new_again) == (True, False)
    assert font == again
    assert font.name == "Lobster Regular"
    assert font.description["units_per_em"] > 0
    assert files_below(tmp_path) == [font.digest]


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
        take(tmp_path, UploadKind.FONT, data)
    assert caught.value.code == code
    assert caught.value.field == "font"
    assert files_below(tmp_path) == []
