"""Problems: RFC 9457 from errors, by one table."""

import re
from pathlib import Path

import pytest

import letterply
from letterply.api.http.problem_types import PROBLEM_TYPES
from letterply.api.http.problems import HttpProblem, problem_document, problem_response, status_of
from letterply.errors import Conflict, GlyphMissing, InputError, JobFailed, LetterplyError, NotFound
from letterply.findings import FINDING_CODES


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (InputError("x", code="anything"), 422),
        (GlyphMissing("ß", 1, "lobster", field="f"), 422),
        (NotFound("job", "x"), 404),
        (Conflict("x", code="idempotency-key-running"), 409),
        (Conflict("x", code="idempotency-key-reused"), 422),
        (JobFailed("x", code="job-crashed"), 500),
        (JobFailed("x", code="job-timeout"), 422),
        (JobFailed("x", code="service-busy"), 503),
        (LetterplyError("x", code="anything"), 500),
        (HttpProblem("x", code="body-too-large"), 413),
    ],
)
def test_the_table_gives_the_status(error, status):
    assert status_of(error) == status


def test_a_problem_has_the_standard_members_and_the_facts():
    """RFC 9457 section 3.1; extension members follow under their own names."""
    error = GlyphMissing("ß", 3, "lobster", field="recipe.lettering.text")
    assert problem_document(error, "urn:uuid:1") == {
        "type": "/problems/glyph-missing",
        "title": "The font lacks a character",
        "status": 422,
        "detail": error.message,
        "instance": "urn:uuid:1",
        "code": "glyph-missing",
        "field": "recipe.lettering.text",
        "expected": "text that the font covers, or another font",
        "character": "ß",
        "codepoint": "U+00DF",
        "position": 3,
        "font": "lobster",
    }


def test_facts_cannot_take_the_place_of_standard_members():
    error = InputError("x", code="y", data={"status": 200, "type": "evil", "code": "z", "more": 1})
    document = problem_document(error)
    assert (document["status"], document["type"], document["code"]) == (422, "/problems/y", "y")
    assert document["more"] == 1


def test_the_response_says_what_it_is_and_is_not_cached():
    response = problem_response(JobFailed("Busy.", code="service-busy"))
    assert response.headers["content-type"] == "application/problem+json"
    assert response.headers["cache-control"] == "no-store"
    assert int(response.headers["retry-after"]) > 0


def test_every_code_in_the_engine_has_a_published_type():
    root = Path(letterply.__file__).parent
    found = set()
    for path in root.rglob("*.py"):
        text = path.read_text("utf-8")
        found.update(re.findall(r'\bcode="([a-z]+(?:-[a-z]+)*)"', text))
        found.update(f"{kind}-not-found" for kind in re.findall(r'\bNotFound\("([a-z]+)"', text))
        found.update(re.findall(r'"code": "([a-z]+(?:-[a-z]+)*)"', text))
    unpublished = found - set(PROBLEM_TYPES) - set(FINDING_CODES) - INNER
    assert unpublished == set()


INNER = {
    "no",
    # Of a preview that a newer one overtakes: told as `overtaken`.
    "job-abandoned",
    # What a command of the operator says, never an answer.
    "bad-settings", "folder-not-empty", "keys-needed", "not-a-backup", "store-not-empty",
}  # fmt: skip
"""Codes in docstrings and commands."""
