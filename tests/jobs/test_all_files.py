"""Every file of the projects that ship can be made from their stored answers."""

import json
from pathlib import Path

import pytest

from letterply.jobs.files import make_files
from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job

DEPLOY = Path(__file__).parents[2] / "deploy"


@pytest.mark.parametrize("path", sorted((DEPLOY / "recipes").glob("*.json")), ids=lambda p: p.stem)
def test_all_files_of_a_check_are_made(path):
    shop = DEPLOY / "shops" / path.name
    request = {"recipe": json.loads(path.read_text("utf-8"))}
    if shop.exists():
        request["shop"] = json.loads(shop.read_text("utf-8"))
    done = run_job("check", request, Resources())
    assert set(make_files(done.answer, done.later)) == set(done.later)
    for finding in json.loads(done.artifacts["findings.json"])["findings"]:
        assert all(len(place) == 2 for place in finding["data"].get("places", ()))
