"""A list of names as one order: vetted whole, sheets shared, a job sheet for the shop.

    python batch_order.py boats.csv --recipe rack-sign -o rack

The table needs a column `text`; `quantity`, `size`, `font`, `material`, `recipe` and `reference`
are optional. It asks the service at LETTERPLY_URL, or runs one of its own for the call.
"""

import argparse
import contextlib
import os
from pathlib import Path

from letterply_client import Client, InputProblem, Problem, private_service


def main() -> int:
    """Run the script; return its exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("table", type=Path)
    parser.add_argument("--recipe", default="rack-sign")
    parser.add_argument("-o", "--out", type=Path, required=True)
    wish = parser.parse_args()
    with contextlib.ExitStack() as stack:
        url = os.environ.get("LETTERPLY_URL") or stack.enter_context(private_service())
        client = stack.enter_context(Client(url))
        table, terms = wish.table.read_bytes(), {"recipe": wish.recipe, "title": wish.table.stem}
        try:
            print(client.estimate_order(table, **terms)["summary"])
            order = client.order(table, progress=tell, **terms)
        except InputProblem as problem:
            print(problem)
            for mistake in problem.data.get("mistakes", ()):
                print(
                    f"  line {mistake['line']}, {mistake.get('column', '')}: {mistake['message']}"
                )
            return 2
        except Problem as problem:
            print(f"{problem} [{problem.code}]")
            return 3
        files = client.download(order, wish.out)
        print(f"{order.summary}\n{len(files)} files in {wish.out}, begin with job-sheet.pdf")
        for line in order.document["lines"]:
            print(f"  {line['line']:>3} {line['text']}: {line['state']}, sheets {line['sheets']}")
    return 0 if order.ready else 1


def tell(progress):
    """Say how far it is."""
    print(f"  {progress.state}: {100 * (progress.share or 0):.0f} %", flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
