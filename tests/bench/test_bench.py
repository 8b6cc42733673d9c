"""The benchmark runs and prints its table. What it measures is told, not asserted."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).parent / "run.py"


def test_the_quick_benchmark_prints_its_table(tmp_path):
    """Every room and kernel has a figure, and every kernel was asked something."""
    figures = tmp_path / "figures.json"
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--quick", "--json", str(figures)],
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    assert re.search(r"^lobster, 6 letters \(\d+ parts, \d+ vertices\)$", done.stdout, re.M)
    assert re.search(r"whole way / kernels +\d+\.\d\d ", done.stdout)
    found = json.loads(figures.read_text())
    assert {"cpu", "python", "geos", "numpy"} <= set(found["where"])
    (situation,) = found["situations"]
    assert situation["size"]["unplaced"] == 0
    assert set(situation["rooms_s"]) == {
        "lettering", "stacks", "checks", "nesting", "cutting", "proof", "exports",
    }  # fmt: skip
    assert all(v["median"] > 0 for v in situation["rooms_s"].values())
    assert all(count > 0 for count in situation["calls"].values())
    assert all(v["median"] > 0 for v in situation["kernels_s"].values())
    assert situation["ratio"]["median"] > 1
