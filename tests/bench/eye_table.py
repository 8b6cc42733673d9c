"""Findings beside what an eye saw: `python tests/bench/eye_table.py` prints the scores by kind.

Recall of what matters (aim 0.97), noise among blockers and cautions (aim 0.10 at most), and how
often the first finding is what the eye fears most (aim 0.90); then every disagreement. The table is
`tests/reference/eye_table.toml`, written before any check ran.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from reference.eye_scores import report

if __name__ == "__main__":
    print(report())
