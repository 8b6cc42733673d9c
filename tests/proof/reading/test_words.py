"""Lines of a program: comments, numbers, letters, modal groups."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from letterply.proof.reading.words import (
    G_GROUPS,
    M_GROUPS,
    ProgramError,
    read_words,
    strip_comments,
)

# NISTIR 6556 (Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3, NIST 2000),
# Table 4, the members that the subset reads. M2, M30 share the group of stops with M0 and M1.
NIST_TABLE_4_G = [
    {"G0", "G1", "G2", "G3", "G80"},
    {"G90", "G91"},
    {"G20", "G21"},
    {"G61", "G61.1", "G64"},
    {"G4", "G53"},
]
NIST_TABLE_4_M = [{"M0", "M1", "M2", "M30"}, {"M3", "M4", "M5"}, {"M7", "M8", "M9"}]


def code_of(line: str) -> str:
    with pytest.raises(ProgramError) as caught:
        read_words(line)
    return caught.value.code


@pytest.mark.parametrize("group", NIST_TABLE_4_G + NIST_TABLE_4_M)
def test_two_words_of_one_modal_group_exclude_each_other(group: set[str]) -> None:
    for first in group:
        for second in group:
            assert code_of(f"{first} {second}") == "modal-conflict"


@pytest.mark.parametrize("line", ["G21 G90 G17 G40 G49 G54 G80 G94 G64", "M6 M3 M8 M0", "G4 G1 P1"])
def test_words_of_different_groups_go_together(line: str) -> None:
    words = read_words(line)
    assert len(words.g) + len(words.m) + len(words.values) == len(line.split())


def test_every_code_of_the_subset_is_in_exactly_one_group() -> None:
    for code in G_GROUPS:
        assert read_words(f"G{code / 10:g}").g == [code]
    for code in M_GROUPS:
        assert read_words(f"M{code}").m == [code]


@pytest.mark.parametrize(
    "line",
    ["G18", "G19", "G41 D1", "G93", "G28", "G92 X0", "G55", "G81 Z-1 R1", "G38.2 Z-1",
     "G2.5 X1", "M60", "M48", "M3.5", "A10", "K2", "E5", "G10 L2 P1"],
)  # fmt: skip
def test_a_word_outside_the_subset_is_refused(line: str) -> None:
    assert code_of(line) == "unknown-word"


@pytest.mark.parametrize(
    "line",
    ["G1 X", "X1.2.3", "X--1", "G1 X1 ?", "X1,5", "G1 X5 (open", "G1 (a (b) c)", "G1 )", "#1=5",
     "G1 X[1+2]", "N100000 G1", "N-1", "N1.5", "G1 N10", "X", "1", "G1 X\u0661", "% G1"],
)  # fmt: skip
def test_text_that_is_no_word_is_a_syntax_error(line: str) -> None:
    assert code_of(line) == "syntax"


def test_an_exponent_is_no_number() -> None:
    assert code_of("X1E3") == "unknown-word"


@pytest.mark.parametrize("line", ["X1 X2", "F100 F200", "I1 I1", "S1 s2", "T1 T1"])
def test_a_letter_twice_is_a_conflict(line: str) -> None:
    assert code_of(line) == "modal-conflict"


def test_more_than_four_m_words_are_refused() -> None:
    assert read_words("M0 M6 M3 M7").m == [0, 6, 3, 7]
    assert code_of("M0 M6 M3 M7 M8") == "modal-conflict"


def test_a_line_holds_256_characters_and_no_more() -> None:
    assert read_words("G1 X1" + " " * 251).values == {"X": 1.0}
    assert code_of("G1 X1" + " " * 252) == "syntax"


def test_blanks_and_case_do_not_matter_even_inside_numbers() -> None:
    assert read_words(" g 1 x + 0 . 5\ty-.25").values == {"X": 0.5, "Y": -0.25}


def test_a_comment_is_left_out_wherever_it_stands() -> None:
    # NISTIR 6556 clause 3.3.4 gives this very line as an example of a comment.
    assert read_words("G80 M5 (stop motion)").m == [5]
    assert strip_comments("(all) G1 (in; between) X1 ; G0 (not open") == " G1  X1 "


def test_a_line_number_says_nothing() -> None:
    words = read_words("/N12345 G1 X1")
    assert (words.g, words.values, words.skippable) == ([10], {"X": 1.0}, True)


@given(st.text(max_size=300))
def test_any_line_is_read_or_refused_by_name(line: str) -> None:
    refused = None
    try:
        read_words(line)
    except ProgramError as problem:
        refused = problem.code
    assert refused in {None, "syntax", "unknown-word", "modal-conflict", "bad-value"}
