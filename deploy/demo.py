"""Makes the example projects: starts a service, has each recipe planned, writes what came out.

For every recipe in deploy/recipes a folder is written: the request, the stack, its findings and
pictures, drawings a layer, sheets, programs, the plan and its proof. Ends with an exit code above
0 when a proof fails or something cannot be made.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from letterply_client import Client, ClientError, Progress, Result, private_service

RECIPES = Path(__file__).parent / "recipes"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path, help="folder to write to")
    out: Path = parser.parse_args().out
    failed = []
    try:
        with private_service(out / ".service") as url, Client(url) as client:
            print(f"letterply {client.version()} at {url}")
            for path in sorted(RECIPES.glob("*.json")):
                if not make(client, path, out / path.stem):
                    failed.append(path.stem)
    except ClientError as exc:
        print(f"\n{exc}", file=sys.stderr)
        return 3
    if failed:
        print(f"\nnot ready to cut: {', '.join(failed)}", file=sys.stderr)
        return 1
    print(f"\neverything is in {out}")
    return 0


def make(client: Client, path: Path, folder: Path) -> bool:
    """Have one recipe planned and write the result; tell whether it is ready to cut."""
    recipe = json.loads(path.read_text("utf-8"))
    print(f"\n{recipe['title']}")
    began = time.monotonic()
    try:
        result = client.make_plan(recipe, progress=tell)
    except ClientError as exc:
        print(f"  cannot be made: {exc}")
        return False
    written = client.download(result, folder)
    print(f"  {result.summary}")
    for line in facts(result):
        print(f"  {line}")
    print(f"  {len(written)} files in {folder} ({time.monotonic() - began:.1f} s)")
    return bool(result.proved) and not result.blockers


def tell(progress: Progress) -> None:
    if progress.state not in ("sent", "done"):
        print(f"  ... {progress.state}, {progress.elapsed_s:.0f} s", flush=True)


def facts(result: Result) -> list[str]:
    """Say what a maker wants to know first."""
    document: Mapping[str, Any] = result.document
    return [f"proof: {'passes' if result.proved else 'FAILS'}", f"findings: {len(document)}"]


if __name__ == "__main__":
    sys.exit(main())
