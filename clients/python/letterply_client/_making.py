# ruff: noqa: PT028 - a test piece is no test
"""What is said to the service to have something made, and how its answers are read."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping
from typing import Any, Unpack

from letterply_client._calls import Answer, Ask, Call, ask
from letterply_client._errors import BadAnswer, TimedOut, problem_from
from letterply_client._means import LIMIT_S
from letterply_client._results import Progress, Result
from letterply_client._wishes import (
    CheckWishes,
    PieceWishes,
    PlanWishes,
    SizeWishes,
    SurveyWishes,
    piece_request,
    recipe_request,
    survey_request,
)

__all__ = [
    "build_stack",
    "check",
    "find_size",
    "get",
    "make_plan",
    "preview",
    "prove",
    "result_of",
    "survey",
    "test_piece",
]

_JSON = {"Content-Type": "application/json"}
_NOT_KNOWN: Mapping[str, Any] = {}
_LOOK_EVERY_S = 1
_WAIT_S = 20


def preview(
    recipe: Mapping[str, Any],
    *,
    client: str | None = None,
    shop: Mapping[str, Any] | str | None = None,
    quick: bool = False,
) -> Call[Mapping[str, Any]]:
    """Return the layers of a recipe, not checked and not kept, fast enough to follow typing.

    Args:
        recipe: what to make, as JSON values.
        client: a name for what shows it: a newer question of the same name overtakes those
            that wait (`ConflictProblem`, `overtaken`).
        shop: whose materials count.
        quick: leave out strengthening, which takes longest: layers in `not_strengthened` of the
            answer are shown without, and not as they will be cut.

    """
    wishes = {k: v for k, v in (("client", client), ("shop", shop), ("quick", quick)) if v}
    body = json.dumps({"recipe": dict(recipe), **wishes})
    answer = yield from ask(Ask("POST", "/v1/previews", _JSON, content=body.encode()))
    found: Mapping[str, Any] = answer.json()
    return found


def prove(
    plan: str,
    programs: Mapping[str, str],
    *,
    shop: Mapping[str, Any] | str | None = None,
) -> Call[Mapping[str, Any]]:
    """Return the proof of a plan's programs as they are now; nothing is kept.

    Args:
        plan: id of the plan.
        programs: name -> text of every program; one that is left out is not there.
        shop: where they are to be run; the plan's own, as it was then, where it is left out.

    Raises:
        NotFoundProblem: the service has no such plan.

    """
    wishes = {"shop": shop} if shop else {}
    body = json.dumps({"plan": plan, "programs": dict(programs), **wishes})
    answer = yield from ask(Ask("POST", "/v1/proofs", _JSON, content=body.encode()))
    found: Mapping[str, Any] = answer.json()
    return found


def build_stack(
    recipe: Mapping[str, Any],
    *,
    shop: Mapping[str, Any] | str | None = None,
    progress: Callable[[Progress], None] | None = None,
    limit_s: float = LIMIT_S,
    key: str | None = None,
) -> Call[Result]:
    """Have a stack built from a recipe.

    Args:
        recipe: what to make, as JSON values.
        shop: where it will be cut; then the answer says what is refused there.
        progress: told how far it is, about once a second.
        limit_s: give up after so long.
        key: idempotency key.

    """
    request = {"recipe": dict(recipe), **({"shop": shop} if shop else {})}
    return _make("stack", request, progress=progress, limit_s=limit_s, key=key)


def check(
    recipe: Mapping[str, Any],
    *,
    progress: Callable[[Progress], None] | None = None,
    limit_s: float = LIMIT_S,
    key: str | None = None,
    **wishes: Unpack[CheckWishes],
) -> Call[Result]:
    """Have a stack checked: what stands in the way of cutting it; see `build_stack`.

    `wishes` are those of `CheckWishes`: shop, limits, use of the sign, repair.
    """
    request = recipe_request(recipe, wishes)
    return _make("check", request, progress=progress, limit_s=limit_s, key=key)


def make_plan(
    recipe: Mapping[str, Any],
    *,
    progress: Callable[[Progress], None] | None = None,
    limit_s: float = LIMIT_S,
    key: str | None = None,
    **wishes: Unpack[PlanWishes],
) -> Call[Result]:
    """Have sheets, programs and their proof made; see `build_stack`.

    `wishes` are those of `PlanWishes`: shop, limits, use of the sign, seconds of a search.
    """
    request = recipe_request(recipe, wishes)
    return _make("plan", request, progress=progress, limit_s=limit_s, key=key)


def find_size(
    recipe: Mapping[str, Any],
    *,
    progress: Callable[[Progress], None] | None = None,
    limit_s: float = LIMIT_S,
    key: str | None = None,
    **wishes: Unpack[SizeWishes],
) -> Call[Result]:
    """Have a question of size answered: how large, how small, how wide; see `build_stack`.

    `wishes` are those of `SizeWishes`: one question, and shop, limits, use of the sign.
    """
    request = recipe_request(recipe, wishes)
    return _make("size", request, progress=progress, limit_s=limit_s, key=key)


def test_piece(
    kind: str,
    material: str,
    thickness: float | str,
    *,
    progress: Callable[[Progress], None] | None = None,
    limit_s: float = LIMIT_S,
    key: str | None = None,
    **wishes: Unpack[PieceWishes],
) -> Call[Result]:
    """Have a test piece made: its programs, their proof, and `piece.pdf` to write on.

    Args:
        kind: `diameter`, `fit`, `angle`, `feed`, `line` or `flatness`.
        material: key of what it is cut from.
        thickness: of the sheet, mm or text with a unit.
        progress: told how far it is, about once a second.
        limit_s: give up after so long.
        key: idempotency key.
        wishes: cutter, plug or dowel, step, size, shop: see `PieceWishes`.

    """
    request = piece_request(kind, material, thickness, wishes)
    return _make("test-piece", request, progress=progress, limit_s=limit_s, key=key)


def survey(
    font: str,
    *,
    progress: Callable[[Progress], None] | None = None,
    limit_s: float = LIMIT_S,
    key: str | None = None,
    **wishes: Unpack[SurveyWishes],
) -> Call[Result]:
    """Have the glyphs of a font looked at: smallest sizes, weakest spots, what closes.

    Args:
        font: key of the font.
        progress: told how far it is, about once a second.
        limit_s: give up after so long.
        key: idempotency key.
        wishes: what to look at and for what, see `SurveyWishes`.

    """
    request = survey_request(font, wishes)
    return _make("survey", request, progress=progress, limit_s=limit_s, key=key)


def get(kind: str, id: str) -> Call[Result]:
    """Return a result that was made before."""
    path = f"/v1/{kind}s/{id}"
    return result_of((yield from ask(Ask("GET", path, {"Accept": "application/json"}))))


def result_of(answer: Answer) -> Result:
    """Return the result that an answer describes; raises `BadAnswer`."""
    try:
        return Result.from_document(answer.json())
    except (KeyError, TypeError, AttributeError) as exc:
        raise BadAnswer(f"The result lacks {exc}.") from exc


def _make(
    kind: str,
    request: Mapping[str, Any],
    *,
    progress: Callable[[Progress], None] | None,
    limit_s: float,
    key: str | None,
) -> Call[Result]:
    """Have something made and wait for it."""
    began = time.monotonic()

    def tell(state: str, far: Mapping[str, Any] = _NOT_KNOWN) -> None:
        if progress is None:
            return
        phase, step, steps = far.get("phase", ""), far.get("step", 0), far.get("steps", 0)
        elapsed_s = time.monotonic() - began
        progress(Progress(state, elapsed_s, far.get("share"), None, phase, step, steps))

    wait_s = _LOOK_EVERY_S if progress is not None else _WAIT_S
    headers = {**_JSON, "Prefer": f"respond-async, wait={wait_s}"}
    if key is not None:
        headers["Idempotency-Key"] = f'"{key}"'
    body = json.dumps(request, allow_nan=False).encode()
    tell("sent")
    answer = yield from ask(Ask("POST", f"/v1/{kind}s", headers, content=body))
    if answer.status == 202:
        job = answer.json()
        while job["state"] in ("queued", "running"):
            tell(job["state"], job.get("progress") or _NOT_KNOWN)
            if time.monotonic() - began > limit_s:
                raise TimedOut(f"The {kind} was not finished within {limit_s:g} s.")
            wish = {"Prefer": f"wait={wait_s}"}
            look = Ask("GET", job["links"]["self"], wish, patient=True)
            job = (yield from ask(look)).json()
        if job["state"] == "failed":
            raise problem_from(job["problem"], job["problem"]["status"])
        answer = yield from ask(Ask("GET", job["links"]["result"], {"Accept": "application/json"}))
    tell("done")
    return result_of(answer)
