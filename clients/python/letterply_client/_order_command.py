"""`letterply order`: a list of names in, a folder ready for the shop out."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from letterply_client._progress import shown
from letterply_client._shop_command import read_shop

if TYPE_CHECKING:
    from letterply_client import Client, OrderWishes, Problem, Result

__all__ = [
    "SEARCH",
    "SHOP",
    "USE_COUNTERS",
    "add_order",
    "commit_order",
    "in_words",
    "mistakes_in_words",
    "run_order",
    "show_commit",
    "show_estimate",
    "with_counters",
]

SHOP = "name of a shop (letterply shop), or file (JSON or TOML) with machine, cutters, stock"
USE_COUNTERS = "lay small parts in the counters of larger ones"
SEARCH = "seconds to search for layouts that need fewer sheets, or less of the last one"
_MOST_TOLD = 25


def add_order(commands: Any, common: argparse.ArgumentParser) -> argparse.ArgumentParser:
    """Add the command and its arguments."""
    order: argparse.ArgumentParser = commands.add_parser(
        "order",
        help="make a whole list: CSV or JSON in, programs and papers out",
        parents=[common],
    )
    order.add_argument(
        "list", type=Path, nargs="?", help="table (CSV) with a text column, or order (JSON)"
    )
    order.add_argument(
        "--again", metavar="ID", help="make what the service lost of an earlier order"
    )
    order.add_argument(
        "--commit", metavar="ID", help="take the sheets of an order out of its shop's stock"
    )
    order.add_argument("--uncommit", metavar="ID", help="put them back")
    order.add_argument("--recipe", help="name of a recipe, or file (JSON), for lines without one")
    order.add_argument("--title", help="what the order is called")
    order.add_argument("--shop", help=SHOP)
    order.add_argument(
        "--marks",
        choices=["drawn", "scribed"],
        help="labels on paper only, or scribed on parts as well",
    )
    order.add_argument("--use-counters", action="store_true", help=USE_COUNTERS)
    order.add_argument("--search", type=int, metavar="S", help=SEARCH)
    order.add_argument("--revises", metavar="ID", help="earlier order whose sheets are kept")
    order.add_argument("--dry-run", action="store_true", help="only say what it takes and costs")
    order.add_argument("-o", "--out", type=Path, help="folder to write the files to")
    order.add_argument(
        "--accept-unproved", action="store_true",
        help="also write programs that have not passed their proof, at your own risk",
    )  # fmt: skip
    order.set_defaults(kind="order")
    return order


def with_counters(
    shop: Mapping[str, Any] | str | None, options: argparse.Namespace
) -> Mapping[str, Any] | str | None:
    """Return a shop, or None for the usual one, with `--use-counters` as it was given."""
    if not getattr(options, "use_counters", False):
        return shop
    named = {"name": shop} if isinstance(shop, str) else shop or {}
    return {**named, "use_counters": True}


def commit_order(options: argparse.Namespace, client: Client) -> Mapping[str, Any] | None:
    """Commit an order, or undo it, where that is asked; return what moved, else None.

    Raises:
        ValueError: a list or `--again` beside it.

    """
    wanted = [w for w in (options.commit, options.uncommit) if w is not None]
    if not wanted:
        return None
    if len(wanted) > 1 or options.list is not None or options.again is not None:
        raise ValueError("name a list, or --again, --commit or --uncommit and the id of an order")
    return client.commit_order(wanted[0], undo=options.commit is None)


def show_commit(document: Mapping[str, Any]) -> None:
    """Print what a commit moved."""
    print(document["summary"])
    for one in document["taken"]:
        print(f"  {one['key']:20} {one['count']} taken, {one['left']} left")
    if document["undone_at"] is None:
        for one in document["added"]:
            count = one["holes"]
            holes = f", {count} {'hole' if count == 1 else 'holes'}" if count else ""
            print(f"  {one['key']:20} new: write this name on it{holes}")


def run_order(
    options: argparse.Namespace, client: Client, read_json: Callable[[str, str], dict[str, Any]]
) -> tuple[Result | None, dict[str, Any]]:
    """Run the command; return the result, or None and an estimate for a dry run.

    Raises:
        OSError: the list cannot be read.
        ValueError: there is no list, or a list beside `--again`.

    """
    if (options.list is None) == (options.again is None):
        raise ValueError("name a list, or --again and the id of an order")
    if options.again is not None:
        with shown("sending the list") as progress:
            return client.order_again(options.again, progress=progress), {}
    wishes: OrderWishes = {
        "title": options.title,
        "marks": options.marks,
        "search_s": options.search,
        "revises": options.revises,
    }
    if options.shop:
        wishes["shop"] = read_shop(options.shop)
    if options.recipe:
        file = Path(options.recipe)
        if file.suffix == ".json":
            wishes["recipes"] = {file.stem: read_json(options.recipe, "recipe")}
            wishes["recipe"] = file.stem
        else:
            wishes["recipe"] = options.recipe
    if options.list.suffix.lower() == ".json":
        whole = read_json(str(options.list), "order")
        lines: Any = whole.pop("lines", [])
        wishes = {**whole, **{k: v for k, v in wishes.items() if v is not None}}  # type: ignore[typeddict-item]
    else:
        lines = options.list.read_bytes()
        wishes.setdefault("title", None)
        wishes["title"] = wishes["title"] or options.list.stem
    if options.use_counters:
        wishes["shop"] = with_counters(wishes.get("shop"), options)
    if options.dry_run:
        return None, dict(client.estimate_order(lines, **wishes))
    with shown("sending the list") as progress:
        return client.order(lines, progress=progress, **wishes), {}


def in_words(problem: Problem) -> str:
    """Return what a problem says: what is wrong, where, what would be right."""
    lines = [f"{problem.detail} [{problem.code}]"]
    if problem.field:
        line = f"line {problem.data['line']}, " if problem.data.get("line") else ""
        lines.append(f"  where:     {line}{problem.field}")
    if problem.expected:
        lines.append(f"  should be: {problem.expected}")
    return "\n".join(lines)


def mistakes_in_words(problem: Problem) -> list[str]:
    """Return the mistakes of an order that was refused, a line of text each."""
    found = problem.data.get("mistakes") or []
    if not found:
        return []
    count = int(problem.data.get("mistake_count", len(found)))
    many = "1 mistake" if count == 1 else f"{count} mistakes"
    told = [f"nothing was made: there {'is' if count == 1 else 'are'} {many} [{problem.code}]"]
    for mistake in found[:_MOST_TOLD]:
        place = [f"line {mistake['line']}"] if mistake.get("line") else []
        if mistake.get("row"):
            place.append(f"row {mistake['row']}")
        if mistake.get("field") and mistake.get("line"):
            place.append(str(mistake["field"]))
        if mistake.get("column"):
            place.append(f"column {mistake['column']}")
        wanted = f" Right would be: {mistake['expected']}." if mistake.get("expected") else ""
        where = ", ".join(place) or mistake.get("field") or "the whole list"
        told.append(f"  {where}: {mistake['message']}{wanted}")
    more = count - len(told) + 1
    return [*told, f"  and {more} more"] if more > 0 else told


def show_estimate(estimate: dict[str, Any]) -> None:
    """Print what a dry run says."""
    print(estimate["summary"])
    for entry in estimate["materials"]:
        short = "" if entry["enough"] else ": NOT ENOUGH"
        name = entry["material"].replace("-", " ")
        print(
            f"  {name}, {entry['thickness']}: takes about {entry['sheets']}, the rack has "
            f"{entry['sheets_on_the_rack']}{short}"
        )
    for lost in estimate.get("not_made", ()):
        where = f"the part {lost['mark']}: " if lost.get("mark") else ""
        where = f"line {lost['line']} of the order: " if lost.get("line") else where
        print(f"  not made: {where}{lost['why']}")
