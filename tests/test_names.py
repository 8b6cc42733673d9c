"""Names as papers, programs and file systems can bear them."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.names import ascii_mark, ascii_text, device_free, file_name, visible

BIDI = [chr(c) for c in (0x61C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A))]
"""UAX #9, table of the explicit formatting characters, written out from its text."""


@pytest.mark.parametrize("control", BIDI, ids=lambda c: f"U+{ord(c):04X}")
def test_no_bidi_control_stays_in_a_name(control):
    assert unicodedata.category(control) == "Cf"
    name = f"Avo{control}cet"
    assert visible(name) == ascii_text(name) == ascii_mark(name) == "Avocet"


def test_letters_of_other_scripts_are_told_apart():
    assert ascii_mark("1.face.Ж") == "1.face.U+0416"
    assert ascii_mark("1.face.й") != ascii_mark("1.face.и")
    assert ascii_text("Жй 鷸") == "U+0416 U+0439 U+9DF8"


@given(st.lists(st.text(min_size=1, max_size=4), min_size=2, max_size=2, unique_by=visible))
def test_different_marks_stay_different(marks):
    one, other = (ascii_mark(mark) for mark in marks)
    assert one.isascii()
    # A mark may spell a code point itself; letters of the text are single characters.
    if not any("U+" in mark or " " in mark for mark in marks):
        assert one != other


@given(st.text())
def test_text_for_people_is_ascii(text):
    assert ascii_text(text).isascii()


@pytest.mark.parametrize("name", ["con", "NUL", "Com1.svg", "lpt9.nc", "aux.tar.gz", "prn."])
def test_no_name_is_a_device(name):
    assert device_free(name) == f"_{name}"
    assert file_name(name).startswith("_")
    assert device_free(f"my {name}") == f"my {name}"


@given(st.text())
def test_a_file_name_has_no_end_that_a_file_system_drops(name):
    found = file_name(name)
    assert found == found.strip(". ")
    assert file_name(found) == found


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
