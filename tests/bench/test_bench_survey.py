"""The benchmark of the survey runs and prints its table. What it measures is told, not asserted."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).parent / "survey.py"


def test_the_quick_benchmark_prints_its_table(tmp_path):
    figures = tmp_path / "figures.json"
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--quick", "--json", str(figures)],
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    assert re.search(
        r"^playfair-display: \d+ glyphs, \d+ pieces, \d+ sides, \d+ shapes$", done.stdout, re.M
    )
    (found,) = json.loads(figures.read_text())["fonts"]
    for key in ("first_s", "again_s", "diagrams_s", "raster_s"):
        assert found[key]["median"] > 0
    assert found["first_over_diagrams"]["median"] > 1
    assert found["first_over_again"]["median"] > 1
    assert found["peak_mb"] > 50
