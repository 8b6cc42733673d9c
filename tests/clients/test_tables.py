"""What the command prints: where a finding is, and mistakes with place and way out."""

import pytest

from letterply_client import InputProblem, Progress
from letterply_client._order_command import mistakes_in_words, show_estimate
from letterply_client._progress import tell_in_lines
from letterply_client._tables import _place


@pytest.mark.parametrize(
    ("finding", "said"),
    [
        ({"layer": "face", "part": "face.y"}, "face: y"),
        ({"layer": "face", "part": "face.y-2"}, "face: y (no. 2)"),
        ({"layer": "board", "part": "board"}, "board"),
        ({"layer": "board", "part": "board-3"}, "board: piece 3"),
        (
            {"part": "1.face.y", "data": {"sheet": 2, "line": 12}},
            "sheet 2, line 12 of its program",
        ),
        ({}, ""),
    ],
)
def test_a_place_is_told_in_words(finding, said):
    assert _place(finding) == said


def test_each_mistake_is_told_once_with_its_place_and_what_would_be_right():
    one = {"line": 1, "row": 2, "column": "size", "message": "Too large.", "expected": "26 mm"}
    two = {"line": 0, "row": 0, "column": "", "message": "Too long.", "field": "title"}
    found = {"code": "order-not-accepted", "detail": "Too large.", "mistakes": [one, two]}
    assert mistakes_in_words(InputProblem({**found, "mistake_count": 3}, 422)) == [
        "nothing was made: there are 3 mistakes [order-not-accepted]",
        "  line 1, row 2, column size: Too large. Right would be: 26 mm.",
        "  title: Too long.",
        "  and 1 more",
    ]
    assert mistakes_in_words(InputProblem({"code": "bad-size", "detail": "Too large."}, 422)) == []


def test_an_estimate_names_what_cannot_be_made(capsys):
    show_estimate(
        {
            "summary": "An estimate.",
            "materials": [
                {"material": "birch-plywood", "thickness_mm": 9.0, "thickness": "9 mm", "sheets": 2,
                 "sheets_on_the_rack": 1, "enough": False},
            ],
            "not_made": [
                {"line": 3, "why": "It took too long."},
                {"mark": "1.1.A.face", "why": "It is larger than the sheet."},
            ],
        }
    )  # fmt: skip
    assert capsys.readouterr().out.splitlines() == [
        "An estimate.",
        "  birch plywood, 9 mm: takes about 2, the rack has 1: NOT ENOUGH",
        "  not made: line 3 of the order: It took too long.",
        "  not made: the part 1.1.A.face: It is larger than the sheet.",
    ]


def test_where_there_is_no_screen_progress_is_told_in_lines():
    said = []
    tell = tell_in_lines(said.append, "sending")
    for state, share, left in [
        ("lines", 0.0, None), ("lines", 0.04, 200.0), ("lines", 0.31, 100.0), ("lines", 0.33, 90.0),
        ("sheets", 0.52, 40.0), ("done", 1.0, None),
    ]:  # fmt: skip
        tell(Progress(state, 1.0, share, left))
    assert [line.partition(": ")[2] for line in said] == [
        "0 %", "30 %, about 2 min left", "50 %, about 40 s left", "100 %",
    ]  # fmt: skip
