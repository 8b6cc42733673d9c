"""Requests made from the published description, answers held against it.

`python tests/fuzz/described.py --examples 80` starts a service of its own and runs for long:
for every operation, requests that the description allows and requests that it does not, by
schemathesis. What comes back must have a status, a type, headers and a form that are described; a
request that is allowed may be refused only with a problem whose code is published, and one that is
not allowed must be refused. `--operations` takes a pattern of paths.
"""

from __future__ import annotations

import argparse
import collections
import json
import re
import sys
import tempfile
from pathlib import Path

import httpx
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis.checks import CHECKS
from schemathesis.core.failures import Failure, FailureGroup
from schemathesis.generation.modes import GenerationMode

sys.path.insert(0, str(Path(__file__).parents[1]))

from api.conftest import running
from letterply.api.http.problem_types import PROBLEM_TYPES

CHECKED = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
)
HONEST = {503, 429}
STEWARD = {"name": "steward", "secret": "held-against-the-description", "scopes": ["admin"]}
HEADERS = {"Authorization": f"Bearer {STEWARD['secret']}"}
SETTINGS = {
    "workers": 2,
    "wait_s": 10,
    "time_limit_s": 10,
    "max_waiting": 500,
    "api_keys": json.dumps([STEWARD]),
    "owner_requests_per_minute": 1_000_000,
    "owner_jobs_under_way": 500,
}
"""Of a service that is asked as fast as it answers. With a key: one that was made by chance would
lock everybody else out."""


def described(url):
    """Return the operations that a service describes."""
    schema = schemathesis.openapi.from_dict(httpx.get(f"{url}/openapi.json", timeout=120).json())
    return sorted((found.ok() for found in schema.get_all_operations()), key=lambda o: o.label)


def tried(url, pattern, examples, timeout_s=60.0):
    """Return how many requests were sent, and what was wrong: (operation, what) -> an example."""
    schemathesis.checks.load_all_checks()
    checks = [CHECKS.get_one(name) for name in CHECKED]
    wrong, statuses = {}, collections.Counter()
    for operation in described(url):
        if not re.search(pattern, operation.path):
            continue
        for mode in GenerationMode.POSITIVE, GenerationMode.NEGATIVE:
            try:
                _send(operation, mode, examples, url, timeout_s, checks, wrong, statuses)
            except Exception as exc:  # what cannot be generated is told, and the rest goes on
                if "Unsatisfiable" not in type(exc).__name__:
                    wrong.setdefault((operation.label, f"{type(exc).__name__}: {exc}"[:300]), "")
    return wrong, statuses


def _send(operation, mode, examples, url, timeout_s, checks, wrong, statuses):
    @settings(
        max_examples=examples, deadline=None, database=None, derandomize=True,
        phases=[Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=operation.as_strategy(generation_mode=mode))
    def one(case):
        answer = case.call(base_url=url, timeout=timeout_s, headers=HEADERS)
        statuses[_counted_as(operation, answer)] += 1
        for what in mismatches(case, answer, checks):
            wrong.setdefault((operation.label, what), case.as_curl_command())

    one()


def _counted_as(operation, answer):
    """Return the status of an answer, of an honest refusal with who refused and why."""
    if answer.status_code not in HONEST:
        return answer.status_code
    body = answer.json()
    return f"{answer.status_code} {body.get('code', body.get('missing'))} of {operation.label}"


def mismatches(case, answer, checks):
    """Yield what is wrong with an answer."""
    if answer.status_code in HONEST:
        checks = [check for check in checks if check.__name__ != "not_a_server_error"]
        if "retry-after" not in answer.headers and "health" not in case.path:
            yield f"{answer.status_code} without Retry-After"
    try:
        case.validate_response(answer, checks=checks)
    except (FailureGroup, Failure) as exc:
        for failure in getattr(exc, "exceptions", [exc]):
            detail = f"{failure.title}: {failure.message}"
            yield f"{answer.status_code} {detail}"[:300]
    if answer.status_code >= 400:
        body = answer.json()
        if body.get("code") not in PROBLEM_TYPES and "health" not in case.path:
            yield f"{answer.status_code} {body.get('code')} is not published"


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--examples", type=int, default=80, help="an operation and mode")
    parser.add_argument("--operations", default="", help="pattern of paths")
    given_ = parser.parse_args()
    with (
        tempfile.TemporaryDirectory() as folder,
        running(Path(folder), **SETTINGS) as url,
    ):
        wrong, statuses = tried(url, given_.operations, given_.examples)
    for (label, what), command in sorted(wrong.items()):
        print(f"{label}\n    {what}\n    {command[:600]}")
    by_status = dict(sorted(statuses.items(), key=str))
    print(f"{statuses.total()} requests, {len(wrong)} kinds of mismatch, statuses {by_status}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
