"""The script of the order runs all its tasks and charges each room for what it takes."""

import re
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).parent / "order.py"


def test_every_kind_of_task_and_every_room_has_its_share():
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--names", "1", "--profile"],
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    kinds, rooms = (
        {name: float(seconds) for seconds, name in re.findall(r"([\d.]+) s  (.+)", table)}
        for table in done.stdout.split("by room")
    )
    assert {"line", "pool", "sheet", "papers"} == kinds.keys()
    assert {"line shapes", "line stacks", "sheet cutting", "sheet proof"} <= rooms.keys()
    assert all(re.fullmatch(r"(line|pool|sheet|papers) [a-z_]+", room) for room in rooms)
    # Nothing is charged twice, and little is charged to nobody.
    assert 0.7 < sum(rooms.values()) / sum(kinds.values()) < 1.1
