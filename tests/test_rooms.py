"""Rooms know each other by their front doors: what a package's `__init__` offers, and no more."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import letterply

ROOT = Path(letterply.__file__).parent
ROOMS = sorted(p.name for p in ROOT.iterdir() if (p / "__init__.py").is_file())


def imports_of(file: Path) -> Iterator[tuple[int, str]]:
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            yield node.lineno, node.module
        elif isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)


@pytest.mark.parametrize("room", ROOMS)
def test_no_room_reaches_into_the_inside_of_another(room: str) -> None:
    reached = [
        f"{file.relative_to(ROOT)}:{line} {module}"
        for file in sorted((ROOT / room).rglob("*.py"))
        for line, module in imports_of(file)
        if (steps := module.split("."))[0] == "letterply"
        and len(steps) > 2
        and steps[1] in ROOMS
        and steps[1] != room
    ]
    assert not reached


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_says_what_goes_in_and_what_comes_out(room: str) -> None:
    text = ast.get_docstring(ast.parse((ROOT / room / "__init__.py").read_text("utf-8")))
    assert text is not None
    assert len(text.splitlines()) >= 3
