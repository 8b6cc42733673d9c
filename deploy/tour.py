"""Makes the pictures of the README's tour from the files that the demo leaves.

Usage: python deploy/tour.py OUT, after bash deploy/demo.sh OUT. The pictures are the program's
own, copied as they are; nothing is drawn by hand.
"""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path

TOUR = Path(__file__).parent / "tour"

PICTURES = {
    "sign.png": "avocet-rack-sign/stack.png",
    "sign-exploded.png": "avocet-rack-sign/exploded.png",
    "sign-findings.png": "avocet-rack-sign/findings.png",
    "sign-cutters.png": "avocet-rack-sign/sheets/sheet-1-cutters.png",
    "sign-face-proof.png": "avocet-rack-sign/proofs/sheet-1.png",
    "sign-board-proof.png": "avocet-rack-sign/proofs/sheet-2.png",
    "sign-board-carved.png": "avocet-rack-sign/proofs/sheet-2-carved.png",
    "letters.png": "rack-letters/stack.png",
    "letters-proof.png": "rack-letters/proofs/sheet-2.png",
    "tag.png": "locker-tag/stack.png",
    "tag-clamps.png": "locker-tag/proofs/sheet-1.png",
    "stencil-repair.png": "boat-stencil/repair.png",
    "stencil-cutters.png": "boat-stencil/cutters.png",
    "name-repair.png": "turnstone-name/repair.png",
    "survey-text.png": "godwit-in-three-hands/survey.png",
}
"""Name in the tour -> file of the demo."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path, help="folder that the demo has written")
    out: Path = parser.parse_args().out
    missing = [source for source in PICTURES.values() if not (out / source).is_file()]
    if missing:
        print(f"run deploy/demo.sh first: {', '.join(missing)} missing", file=sys.stderr)
        return 1
    TOUR.mkdir(exist_ok=True)
    for name, source in PICTURES.items():
        shutil.copyfile(out / source, TOUR / name)
    print(f"{len(PICTURES)} pictures in {TOUR}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
