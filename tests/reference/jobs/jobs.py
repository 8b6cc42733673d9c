"""The eight jobs of a boathouse's inch shop: what is typed for each, and what is asked of it.

Own work, invented for tests: a rowing club whose boats are named after shore birds. What is asked
of a job follows from its own recipe by hand; no figure comes from the code under test.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
SHOP = "boathouse-inch"


@dataclass(frozen=True)
class Job:
    """One job.

    Attributes:
        name: of its folder.
        words: the command line after `letterply`, from this folder; `-o FOLDER` is added.
        programs: least number of programs.
        says: what some paper of it must say.
    """

    name: str
    words: tuple[str, ...]
    programs: int = 1
    says: tuple[str, ...] = ()


def _plan(name: str, *, shop: str = SHOP, **more: object) -> Job:
    return Job(name, ("plan", f"{name}.toml", "--shop", shop), **more)  # type: ignore[arg-type]


JOBS = (
    _plan("blank", programs=2, says=("1 1/2 in",)),  # its fixture, then the disc in it
    _plan("tags", programs=2, says=("6 parts", "1/8 in")),
    _plan("bought_board", says=("1 blank", "3/4 in")),
    _plan("race_board", says=("held by tabs", "14 in × 12 in")),
    _plan("letters", shop="taped.toml", programs=2, says=("double-sided tape",)),
    _plan("script", says=("1/2 in birch plywood",)),
    _plan("ornament", says=("9 in × 6 in",)),
    Job("names", ("order", "names.csv", "--recipe", "names.json", "--shop", SHOP),
        programs=1, says=("50",)),
)  # fmt: skip
