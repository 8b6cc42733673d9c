"""From a recipe with blockers to one without: repair, build, check again, a few times. Values only.

A round is kept only if it leaves fewer blockers than there were; what could not be repaired is
told with the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from letterply.checks import Applied, Unrepaired, repair_recipe
from letterply.errors import LetterplyError
from letterply.findings import Finding, Severity
from letterply.requests import Recipe, parse_recipe
from letterply.stacks import Stack
from letterply.units import counted

__all__ = ["Repaired", "Round", "repair_until_clear"]

ROUNDS = 3
"""Strengthened, then grown, then grown once more: what still blocks needs a decision."""


@dataclass(frozen=True, slots=True)
class Round:
    """One round of repair.

    Attributes:
        applied: what was changed in the recipe.
        before, after: blockers before and after it.
        kept: whether the round was kept.
        why: why not, empty when it was.

    """

    applied: tuple[Applied, ...]
    before: int
    after: int
    kept: bool
    why: str = ""


@dataclass(frozen=True, slots=True)
class Repaired:
    """A repaired recipe and what came of it.

    Attributes:
        recipe: in normal form.
        stack: built from it.
        findings: of that stack.
        rounds: in order.
        left: blockers that stay, each with the reason.

    """

    recipe: dict[str, Any]
    stack: Stack
    findings: tuple[Finding, ...]
    rounds: tuple[Round, ...]
    left: tuple[Unrepaired, ...]

    @property
    def changed(self) -> bool:
        """Whether anything was changed."""
        return any(r.kept for r in self.rounds)


def repair_until_clear(
    recipe: Recipe,
    stack: Stack,
    findings: tuple[Finding, ...],
    *,
    build: Callable[[Recipe], Stack],
    check: Callable[[Recipe, Stack], tuple[Finding, ...]],
    gaps_mm: Mapping[str, float],
    raise_size: bool = False,
) -> Repaired:
    """Return the recipe repaired in up to three rounds.

    Args:
        recipe: what to make.
        stack: built from it.
        findings: of that stack.
        build: makes a stack of a recipe.
        check: finds what stands in the way of both.
        gaps_mm: name of a layer -> diameter of the smallest cutter that goes through it.
        raise_size: whether lettering may become larger where nothing else helps.

    """
    now = recipe.model_dump(mode="json")
    rounds: list[Round] = []
    while True:
        blockers = _blockers(findings)
        repair = repair_recipe(now, findings, gaps_mm=gaps_mm, raise_size=raise_size)
        if not blockers or not repair.applied:
            return Repaired(now, stack, findings, tuple(rounds), repair.left)
        if len(rounds) == ROUNDS:
            return Repaired(now, stack, findings, tuple(rounds), _still(findings))
        try:
            wanted = parse_recipe(repair.recipe)
            tried = build(wanted)
        except LetterplyError as exc:
            why = f"with the repair it cannot be built: {exc.message}"
            rounds.append(Round(repair.applied, blockers, blockers, False, why))
            return Repaired(now, stack, findings, tuple(rounds), _all(findings, why))
        found = check(wanted, tried)
        after = _blockers(found)
        if after >= blockers:
            why = f"the repair would leave {counted(after, 'blocker')} instead of {blockers}"
            rounds.append(Round(repair.applied, blockers, after, False, why))
            return Repaired(now, stack, findings, tuple(rounds), _all(findings, why))
        rounds.append(Round(repair.applied, blockers, after, True))
        now, stack, findings = repair.recipe, tried, found


def _blockers(findings: tuple[Finding, ...]) -> int:
    return sum(f.severity is Severity.BLOCKER for f in findings)


def _still(findings: tuple[Finding, ...]) -> tuple[Unrepaired, ...]:
    return _all(findings, f"it is still there after {ROUNDS} rounds of repair")


def _all(findings: tuple[Finding, ...], why: str) -> tuple[Unrepaired, ...]:
    return tuple(Unrepaired(f, why) for f in findings if f.severity is Severity.BLOCKER)
