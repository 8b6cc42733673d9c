"""The script of the order runs all its tasks and charges each room for what it takes."""

import re

from bench.order import LINES, profiled


def test_every_kind_of_task_and_every_room_has_its_share():
    spent = profiled(b"".join(LINES.read_bytes().splitlines(keepends=True)[:2]))
    assert {"line", "pool", "sheet", "papers"} == spent.kinds.keys()
    rooms = {room for room, seconds in spent.rooms.items() if seconds > 0.05}
    assert {"line shapes", "line stacks", "sheet cutting", "sheet proof"} <= rooms
    assert all(re.fullmatch(r"(line|pool|sheet|papers) [a-z]+", room) for room in spent.rooms)
    # Nothing is charged twice, and little is charged to nobody.
    assert 0.7 < spent.rooms.total() / spent.kinds.total() < 1.1
