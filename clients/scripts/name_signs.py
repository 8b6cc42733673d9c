"""A sign for each name: planned one by one, and said at once whether it can be cut.

    python name_signs.py Avocet Curlew Dunlin --font lobster --size "40 mm" -o signs

It asks the service at LETTERPLY_URL, or runs one of its own for the call. For many names that share
sheets, see batch_order.py.
"""

import argparse
import contextlib
import os
from pathlib import Path

from letterply_client import Client, Problem, private_service


def main() -> int:
    """Run the script; return its exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="+", metavar="name")
    parser.add_argument("--font", default="lobster")
    parser.add_argument("--size", default="40 mm", help="height of a capital")
    parser.add_argument("--material", default="mdf")
    parser.add_argument("--thickness", default="6 mm")
    parser.add_argument("-o", "--out", type=Path)
    wish = parser.parse_args()
    ready = True
    with contextlib.ExitStack() as stack:
        url = os.environ.get("LETTERPLY_URL") or stack.enter_context(private_service())
        client = stack.enter_context(Client(url))
        for number, name in enumerate(wish.names, start=1):
            layer = {"name": "face", "material": wish.material, "thickness": wish.thickness}
            recipe = {
                "title": f"{name} sign",
                "lettering": {"text": name, "font": wish.font, "size": {"cap_height": wish.size}},
                "layers": [layer | {"outline": {"kind": "lettering", "join": True}}],
            }
            try:
                plan = client.make_plan(recipe)
            except Problem as problem:
                print(f"{name}: {problem} [{problem.code}]")
                return 2
            print(f"{name}: {plan.summary}")
            ready = ready and plan.ready
            if wish.out:
                client.download(plan, wish.out / f"{number:02}")
    return 0 if ready else 1


if __name__ == "__main__":
    raise SystemExit(main())
