"""What people read of an order is made once somebody asks for it."""

import json

import pytest

from letterply.catalogue import load_catalogue, resolve_shop
from letterply.orders.codec import value_of
from letterply.orders.pipeline.documents import asked_of
from letterply.orders.pipeline.task_requests import PapersRequest, TaskKind
from orders.pipeline.small import drawn, made, plain_order


@pytest.fixture(scope="module")
def tags(tmp_path_factory):
    """Return a finished order, two lines of one design, and its vault."""
    return made(plain_order("Knot", "Knot"), tmp_path_factory.mktemp("tags"))


def asked(manifest, vault, *paths):
    """Return the tasks that make files."""
    request = value_of(PapersRequest, json.loads(vault.read(manifest.drawn_from)))
    found = asked_of(request, paths, vault, resolve_shop(request.shop, load_catalogue()))
    return [r.kind for r in (*found.first, *found.then)]


def test_programs_and_proof_are_there_and_what_shows_them_is_listed(tags):
    manifest, _ = tags
    there = {f.path for f in manifest.files}
    assert {"order.json", "parts.csv", "quote.json", "plans/sheet-1.json"} <= there
    assert any(path.startswith("programs/") for path in there)
    sheet = {"pictures/sheet-1.png", "proofs/sheet-1.png", "sheets/sheet-1.dxf"}
    assert {"job-sheet.pdf", "labels.pdf", "templates.pdf"} | sheet <= set(manifest.later)
    assert there.isdisjoint(manifest.later)


def test_no_more_is_made_than_was_asked_for(tags):
    assert asked(*tags, "labels.pdf") == [TaskKind.DOCUMENTS]
    assert asked(*tags, "sheets/sheet-1.dxf") == [TaskKind.DRAWINGS]
    assert asked(*tags, "labels.pdf", "templates.pdf") == [TaskKind.DOCUMENTS] * 2
    sheets = {path for path in tags[0].later if path.startswith("sheets/") and ".dxf" in path}
    # Lines of one design are drawn once, with their layers apart and together.
    pictures = [TaskKind.PICTURE] * 2 + [TaskKind.DRAWINGS] * len(sheets)
    assert asked(*tags, "job-sheet.pdf") == [*pictures, TaskKind.DOCUMENTS]


def test_every_file_that_is_listed_can_be_had_and_is_the_same_whenever_it_is_made(tags, tmp_path):
    first = drawn(*tags, tags[0].later)
    assert set(first) == set(tags[0].later)
    assert drawn(*made(plain_order("Knot", "Knot"), tmp_path), ["templates.pdf"]).items() <= (
        first.items()
    )
    assert drawn(*tags, tags[0].later) == first
