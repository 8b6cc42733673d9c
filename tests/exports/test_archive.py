"""Bundles: one content, one archive; and no name that could do harm."""

import io
import random
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.exports.archive import stream_zip
from letterply.names import file_name


def zipped(files):
    return b"".join(stream_zip(files, files.__getitem__))


def test_files_come_out_as_they_went_in():
    files = {"b/sheet-1.nc": b"G21\n" * 500, "a.json": b"{}", "empty.txt": b""}
    with zipfile.ZipFile(io.BytesIO(zipped(files))) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == list(files)
        assert {n: archive.read(n) for n in archive.namelist()} == files
        assert {i.date_time for i in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_the_same_files_give_the_same_bytes():
    assert zipped({"a": b"1", "b": b"2"}) == zipped({"a": b"1", "b": b"2"})


def test_no_more_than_one_file_is_held_at_a_time():
    order = []

    def read(name):
        order.append(name)
        return random.Random(name).randbytes(300_000)

    pieces = stream_zip(["a.bin", "b.bin"], read)
    assert len(next(pieces)) <= 262_144
    assert order == ["a.bin"]
    assert sum(map(len, pieces)) > 300_000
    assert order == ["a.bin", "b.bin"]


@pytest.mark.parametrize(
    "name",
    [
        "../up",
        "/root",
        "a/../b",
        "a//b",
        "C:\\x",
        "a\\b",
        "",
        ".",
        "..",
        "a/",
        "nul",
        "con.txt",
        "x\x00y",
        "Ж",
        "a b",
    ],
)
def test_names_that_could_do_harm_are_refused(name):
    with pytest.raises(ValueError, match="no safe name"):
        zipped({name: b""})


def test_names_that_differ_by_case_alone_are_refused():
    with pytest.raises(ValueError, match="twice"):
        zipped({"A.svg": b"", "a.svg": b""})


@given(st.text(max_size=150))
def test_whatever_the_name_it_can_be_bundled(name):
    made = file_name(name)
    assert 0 < len(made) <= 101
    assert file_name(made) == made
    assert zipped({made: b"x"})
