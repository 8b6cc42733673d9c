"""Every block of a job's smallest end mills taken out by itself: refused, or harmless.

    .venv/bin/python tests/reference/corner_blocks.py "demo: rack sign" inlay

takes jobs of `tests/bench/minutes.py`. The blocks are those of the programs of the smallest end
mill of each sheet on which several are used: what it cuts is what the others do not reach. What the
proof lets pass is judged by `cut_again`, which shares no code with it, on a window of the sheet.
A line is told for each block, a sum for each sheet; the exit code is 1 where harm is let pass.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "bench")]

from letterply.catalogue import CutterKind
from letterply.cutting.plan import plan_sheet
from reference.changed_programs import prove
from reference.cut_again import CELL_MM, Base, harm, touched

_BLOCK = re.compile(r"G0 X[^\n]*\n(?:G0 Z(?!5\n)[^\n]*\n)?(?:G[123][^\n]*\n)+")
"""From the travel to its first cut up to the lift after its last one."""

_ROUND_MM = 5.0
"""So far round what changed a sheet is cut again: a tab there is looked at whole."""


def corner_blocks(of: Base) -> Iterator[tuple[str, int, str]]:
    """Yield program, line and the text without it, for each block of the smallest end mill."""
    cutters = {p.name: of.cutters[p.cutters[0]] for p in of.plan.programs}
    sizes = {name: c.diameter_mm for name, c in cutters.items() if c.kind is CutterKind.FLAT}
    if len(set(sizes.values())) < 2:
        return
    for name in (n for n in sizes if sizes[n] == min(sizes.values())):
        text = of.texts[name]
        for block in _BLOCK.finditer(text):
            line = text.count("\n", 0, block.start()) + 1
            yield name, line, text[: block.start()] + text[block.end() :]


def tried(of: Base, catalogue: Any) -> Iterator[tuple[str, int, str, str]]:
    """Yield program, line, the codes of blockers, and the harm where there is none."""
    for name, line, text in corner_blocks(of):
        texts = of.texts | {name: text}
        proof = prove(of, texts, catalogue)
        codes = sorted({f.code for f in proof.faults if f.severity == "blocker"})
        harmed, window = "", touched(of, texts)
        if proof.passed and window is not None:
            harmed = harm(
                replace(of, within=window.grown(int(_ROUND_MM / CELL_MM), of.whole)), texts
            )
        yield name, line, " ".join(codes), harmed


def main() -> int:
    """Try the blocks of jobs; the exit code is 1 when a harmful one passes the proof."""
    import minutes

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="+", choices=list(minutes.JOBS))
    missed = 0
    for title in parser.parse_args().names:
        job = minutes.JOBS[title]()
        for sheet, spacing in job.sheets:
            plan = plan_sheet(sheet, job.shop, job.catalogue, spacing)
            texts = {p.name: p.text for p in plan.programs}
            of = Base(title, plan, job.shop, texts, [p.part.outline for p in plan.sheet.parts])
            found: Counter[str] = Counter()
            for name, line, codes, harmed in tried(of, job.catalogue):
                found["refused" if codes else "harmful" if harmed else "harmless"] += 1
                print(f"{name} {line}: {codes or harmed or 'harmless'}", flush=True)
            missed += found["harmful"]
            parts = ", ".join(sorted(p.mark for p in plan.sheet.parts)[:4])
            print(f"{title}, sheet {sheet.number} ({parts}): {dict(found)}", flush=True)
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
