"""Records: errors survive being written down."""

import json

import pytest

from letterply.errors import Conflict, GlyphMissing, JobFailed, LetterplyError, UnknownName
from letterply.storage.records import Finished, error_from_facts, facts_of_error

ERRORS = [
    GlyphMissing("ß", 3, "lobster", field="recipe.lettering.text"),
    UnknownName("material", "moss", ["mdf"], field="recipe.layers.0.material"),
    Conflict("Again.", code="again"),
    JobFailed("Too long.", code="job-timeout", data={"time_limit_s": 1.5}),
]


@pytest.mark.parametrize("error", ERRORS, ids=lambda e: e.code)
def test_an_error_survives_json(error):
    back = error_from_facts(json.loads(json.dumps(facts_of_error(error))))
    assert type(back) is type(error)
    for name in ("message", "code", "field", "expected", "data"):
        assert getattr(back, name) == getattr(error, name)


@pytest.mark.parametrize("name", ["Sequence", "annotations", "nothing"])
def test_a_class_that_is_no_error_of_ours_becomes_the_base(name):
    facts = facts_of_error(ERRORS[0]) | {"error": name}
    assert type(error_from_facts(facts)) is LetterplyError


def test_a_document_must_be_among_the_artifacts():
    with pytest.raises(ValueError, match="not among"):
        Finished("stack.json", {"other.json": b"{}"}, {})
