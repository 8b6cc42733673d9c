"""Identity of jobs: what decides an id, and nothing else."""

from letterply.jobs.identity import job_id, texts_in


def test_id_depends_on_kind_request_and_sources():
    request = {"recipe": {"title": "Avocet"}}
    ids = {
        job_id("stack", request),
        job_id("check", request),
        job_id("stack", {"recipe": {"title": "Curlew"}}),
        job_id("stack", request, ["a"]),
        job_id("stack", request, ["b"]),
    }
    assert len(ids) == 5


def test_id_does_not_depend_on_the_order_of_sources():
    assert job_id("stack", {}, ["a", "b", "a"]) == job_id("stack", {}, ["b", "a"])


def test_id_depends_on_the_version_of_the_engine(monkeypatch):
    before = job_id("stack", {})
    monkeypatch.setattr("letterply.jobs.identity.ENGINE_VERSION", "another")
    assert job_id("stack", {}) != before


def test_every_text_is_found_at_any_depth():
    value = {"font": "own-1", "layers": [{"lettering": {"font": "own-2"}}], "copies": 3}
    assert sorted(texts_in(value)) == ["own-1", "own-2"]
