"""Bundles: one content, one archive; and no name that could do harm."""

import io
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.exports.archive import zip_bytes
from letterply.names import file_name


def test_files_come_out_as_they_went_in():
    files = {"b/sheet-1.nc": b"G21\n" * 500, "a.json": b"{}", "empty.txt": b""}
    with zipfile.ZipFile(io.BytesIO(zip_bytes(files))) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == sorted(files)
        assert {n: archive.read(n) for n in archive.namelist()} == files
        assert {i.date_time for i in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_the_order_of_the_files_does_not_matter():
    one = zip_bytes({"a": b"1", "b": b"2"})
    assert one == zip_bytes({"b": b"2", "a": b"1"})


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
        zip_bytes({name: b""})


def test_names_that_differ_by_case_alone_are_refused():
    with pytest.raises(ValueError, match="twice"):
        zip_bytes({"A.svg": b"", "a.svg": b""})


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("Avocet rack sign.svg", "Avocet-rack-sign.svg"),
        ("../../etc/passwd", "etc-passwd"),
        ("1.face.A.nc", "1.face.A.nc"),
        ("CON", "_CON"),
        ("   ", "file"),
        ("x" * 200 + ".svg", "x" * 96 + ".svg"),
    ],
)
def test_a_name_is_made_safe(name, safe):
    assert file_name(name) == safe


@given(st.text(max_size=150))
def test_whatever_the_name_it_can_be_bundled(name):
    made = file_name(name)
    assert 0 < len(made) <= 101
    assert file_name(made) == made
    assert zip_bytes({made: b"x"})
