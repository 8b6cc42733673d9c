"""Proofs of programs as they are now: what is refused, and with which field."""

from __future__ import annotations


def test_a_plan_that_is_not_there_is_not_found(api):
    answer = api.post("/v1/proofs", json={"plan": "0" * 32, "programs": {"a.nc": "M30"}})
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_request_without_programs_says_so(api):
    answer = api.post("/v1/proofs", json={"plan": "0" * 32})
    assert answer.status_code == 422
    assert answer.json()["field"] == "programs"


def test_proofs_are_described(api):
    described = api.get("/openapi.json").json()
    assert "post" in described["paths"]["/v1/proofs"]
    assert "ProofDocument" in described["components"]["schemas"]
