"""The tables of what is drawn, noted and refused say what the code does."""

import re
from pathlib import Path

import pytest

import letterply.lettering.artwork
from lettering.artwork.drawings import svg
from letterply.lettering.artwork.omissions import KINDS
from letterply.lettering.artwork.parser import read_artwork
from letterply.lettering.fonts.library import FontLibrary
from reference.drawings.comparing import compare

FOLDER = Path(letterply.lettering.artwork.__file__).parent
SQUARE = '<rect x="10" y="10" width="20" height="20"/>'
FONT = FontLibrary().load("oswald")


def table(heading: str) -> list[list[str]]:
    """Return the rows of the table under a heading."""
    text = (FOLDER / "README.md").read_text().split(f"## {heading}\n")[1].split("\n## ")[0]
    rows = [line.strip("|").split("|") for line in text.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows[2:]]


DRAWN = [(what, example.strip("`")) for what, _, example in table("Drawn")]
NOTED = [(kind, done, example.strip("`")) for kind, done, example in table("Noted")]


@pytest.mark.parametrize(("what", "example"), DRAWN, ids=lambda v: v[:30])
def test_what_is_drawn_is_as_resvg_paints_it_and_not_noted(what, example):
    verdict = compare(svg(example))
    assert (verdict.kind, verdict.notes) == ("same", ()), what


@pytest.mark.parametrize(("kind", "done", "example"), NOTED, ids=lambda v: v[:20])
def test_what_is_noted_is_noted_so(kind, done, example):
    font = FONT if kind in ("text detail", "text on a path") else None
    (note,) = read_artwork("x", svg(SQUARE + example), font).left_out
    assert (note.what, note.done) == (kind.replace("*name*", "bird"), done)


def test_every_kind_of_note_has_a_row():
    assert [kind for kind, _, _ in NOTED] == [*KINDS, "element *name*"]


def test_every_refusal_has_a_row():
    source = "".join(p.read_text() for p in sorted(FOLDER.glob("*.py")))
    raised = set(re.findall(r'ArtworkError\([^)]*?code="([a-z-]+)"', source, re.DOTALL))
    assert {code for code, _ in table("Refused")} == raised
