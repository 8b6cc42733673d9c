"""Makes the example projects: starts a service, has each recipe planned, writes what came out.

Beside them a few checks (deploy/checks), which repair what they find, and surveys of fonts
(deploy/surveys), each in a folder of its own. Every table in deploy/orders is made as one order,
with job sheet, labels and templates.

For every recipe in deploy/recipes (for the shop of the same name in deploy/shops, where there is
one) a folder is written: the request, the stack, its findings and
pictures, drawings a layer, sheets, programs, the plan and its proof. Ends with an exit code above
0 when a proof fails or something cannot be made.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import shutil
import sys
import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from letterply_client import Client, ClientError, Progress, Result, private_service

HERE = Path(__file__).parent
RECIPES, CHECKS, SURVEYS = HERE / "recipes", HERE / "checks", HERE / "surveys"
SHOPS = HERE / "shops"
ORDERS = HERE / "orders"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "out", type=Path, nargs="?", default=HERE.parent / "out" / "demo", help="folder to write to"
    )
    parser.add_argument(
        "--serve", action="store_true", help="leave the service and its bench page open at the end"
    )
    options = parser.parse_args()
    out: Path = options.out
    try:
        with private_service(out / ".service") as url, Client(url) as client:
            print(f"letterply {client.version()} at {url}")
            paths = sorted(RECIPES.glob("*.json"))
            failed = [p.stem for p in paths if not make(client, p, out / p.stem)]
            tables = sorted(ORDERS.glob("*.csv"))
            failed += [p.stem for p in tables if not make_order(client, p, out / p.stem)]
            for path in sorted(CHECKS.glob("*.json")):
                asked = json.loads(path.read_text("utf-8"))
                tell(client, client.check(asked.pop("recipe"), **asked), out / path.stem)
            for path in sorted(SURVEYS.glob("*.json")):
                asked = json.loads(path.read_text("utf-8"))
                asked["named"] = asked.pop("set", None)
                tell(client, client.survey(asked.pop("font"), **asked), out / path.stem)
            if options.serve:
                stay_open(url)
    except ClientError as exc:
        print(f"\n{exc}", file=sys.stderr)
        return 3
    if failed:
        print(f"\nnot ready to cut: {', '.join(failed)}", file=sys.stderr)
        return 1
    print(f"\neverything is in {out}")
    return 0


def stay_open(url: str) -> None:
    """Keep the service until somebody interrupts it."""
    print(f"\nthe bench page is at {url}/ with the pieces of the demo; Ctrl-C ends it", flush=True)
    with contextlib.suppress(KeyboardInterrupt):
        threading.Event().wait()


def make(client: Client, path: Path, folder: Path) -> bool:
    """Have one recipe planned and write the result; tell whether it is ready to cut."""
    recipe = json.loads(path.read_text("utf-8"))
    print(f"\n{recipe['title']}")
    began = time.monotonic()
    try:
        own = SHOPS / path.name
        shop = json.loads(own.read_text("utf-8")) if own.exists() else None
        result = client.make_plan(recipe, shop=shop, progress=teller())
    except ClientError as exc:
        print(f"  cannot be made: {exc}")
        return False
    if (folder / "request.json").exists():
        # Made before, perhaps with other sheets: no program of then may lie beside those of now.
        for part in ("layers", "sheets", "programs", "proofs"):
            shutil.rmtree(folder / part, ignore_errors=True)
    written = client.download(result, folder)
    for line in facts(result):
        print(f"  {line}")
    print(f"  {len(written)} files in {folder} ({time.monotonic() - began:.1f} s)")
    return result.ready


def tell(client: Client, result: Result, folder: Path) -> None:
    """Write a check or survey and say what it found."""
    written = client.download(result, folder)
    print(f"\n{result.document['title']}\n  {result.summary}\n  {len(written)} files in {folder}")


def make_order(client: Client, path: Path, folder: Path) -> bool:
    """Have a list made as one order and write the result; tell whether it is ready to cut."""
    title = path.stem.replace("-", " ").capitalize()
    print(f"\n{title}: an order of {len(path.read_text('utf-8').splitlines()) - 1} lines")
    began = time.monotonic()
    try:
        order = client.order(
            path.read_bytes(),
            recipe="rack-sign",
            title=title,
            marks="scribed",
            shop={"hold_down": "tabs"},
            progress=teller(),
        )
    except ClientError as exc:
        print(f"  cannot be made: {exc}")
        return False
    for part in ("sheets", "pictures", "plans", "programs", "proofs"):
        shutil.rmtree(folder / part, ignore_errors=True)
    written = client.download(order, folder)
    quote = order.document["quote"]
    print(f"  {order.summary}")
    print(f"  quote:    {quote['total']:.2f} {quote['currency']}")
    print(f"  {len(written)} files in {folder} ({time.monotonic() - began:.1f} s)")
    print("  begin with job-sheet.pdf")
    return order.ready


def teller() -> Callable[[Progress], None]:
    """Return a function that says so whenever the state of a job changes."""
    said = ""

    def tell(progress: Progress) -> None:
        nonlocal said
        if progress.state not in (said, "sent", "done"):
            said = progress.state
            print(f"  {said} ...", flush=True)

    return tell


def facts(result: Result) -> list[str]:
    """Say what a maker wants to know first."""
    document: Mapping[str, Any] = result.document
    counts, totals = document["counts"], document["totals"]
    lines = [
        f"cuts:     {'yes' if result.ready else 'NO'}"
        f" ({', '.join(f'{n} {word}' + 's' * (n != 1) for word, n in counts.items())})",
        f"proof:    {'passes' if result.proved else 'FAILS'}, sheets: {len(document['sheets'])}",
        f"time:     {document['time_s'] / 60:.0f} min on the machine",
    ]
    for sheet in document["sheets"]:
        stock = sheet["stock"]
        lines.append(
            f"stock:    {stock['material']} {stock['thickness_mm']:g} mm,"
            f" {stock['width_mm']:g} x {stock['height_mm']:g} mm,"
            f" {100 * sheet['used_share']:.0f} % used"
        )
    lines.append(f"programs: {totals['programs']}, tabs: {totals['tabs']}")
    lines += [f"blocker:  {finding['why']}" for finding in result.blockers]
    return lines


if __name__ == "__main__":
    sys.exit(main())
