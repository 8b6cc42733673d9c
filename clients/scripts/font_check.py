"""Which of several fonts can be cut smallest for a text, and what stands in the way.

    python font_check.py "Godwit" lobster pacifico dancing-script --thickness "3 mm" -o checked

It asks the service at LETTERPLY_URL, or runs one of its own for the call. With -o the pictures
with the weak spots and the tables are written, a folder a font.
"""

import argparse
import contextlib
import os
from pathlib import Path

from letterply_client import Client, Problem, private_service


def main() -> int:
    """Run the script; return its exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("text")
    parser.add_argument("fonts", nargs="+", metavar="font")
    parser.add_argument("--material", default="acrylic-cast")
    parser.add_argument("--thickness", default="3 mm")
    parser.add_argument("--cutter", default="flat-1")
    parser.add_argument("-o", "--out", type=Path)
    wish = parser.parse_args()
    with contextlib.ExitStack() as stack:
        url = os.environ.get("LETTERPLY_URL") or stack.enter_context(private_service())
        client = stack.enter_context(Client(url))
        terms = {
            "material": wish.material,
            "thickness": wish.thickness,
            "cutters": [wish.cutter],
        }
        first, *others = wish.fonts
        try:
            best = client.survey(first, text=wish.text, compare=others, **terms)
            print(best.summary)
            for entry in best.document["comparison"]:
                size = entry["smallest_cap_height_mm"]
                said = "cannot be cut" if size is None else f"from {size:g} mm capitals"
                print(f"  {entry['font']}: {said}; {entry.get('governing') or entry['problem']}")
            print(best.document["licence"]["licence_caution"])
            for font in wish.fonts if wish.out else ():
                result = client.survey(font, text=wish.text, **terms)
                client.download(result, wish.out / font, only=["survey.*", "findings.json"])
        except Problem as problem:
            print(f"{problem} [{problem.code}]")
            return 2
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
