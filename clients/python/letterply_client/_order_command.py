"""`letterply order`: a list of names in, a folder ready for the shop out."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from letterply_client import Client, OrderWishes, Problem, Progress, Result

__all__ = [
    "DOING",
    "USE_COUNTERS",
    "add_order",
    "in_words",
    "mistakes_in_words",
    "run_order",
    "show_estimate",
    "with_counters",
]

DOING = {
    "stack": "making the layers",
    "check": "checking",
    "plan": "planning and proving",
    "survey": "looking at the font",
}
"""What a command does while it waits, by its kind."""

USE_COUNTERS = "lay small parts in the counters of larger ones"
_MOST_TOLD = 25
_PHASES = {
    "waiting": "waiting for a worker",
    "lines": "making the lines",
    "pools": "laying the parts on sheets",
    "sheets": "planning and proving the sheets",
    "papers": "writing the papers",
    "done": "done",
}


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
    order.add_argument("--recipe", help="name of a recipe, or file (JSON), for lines without one")
    order.add_argument("--title", help="what the order is called")
    order.add_argument("--shop", help="file (JSON) with machine, cutters, stock")
    order.add_argument(
        "--marks",
        choices=["drawn", "scribed"],
        help="labels on paper only, or scribed on parts as well",
    )
    order.add_argument("--use-counters", action="store_true", help=USE_COUNTERS)
    order.add_argument("--search", type=int, metavar="S", help="seconds for tighter layouts")
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
    shop: Mapping[str, Any] | None, options: argparse.Namespace
) -> Mapping[str, Any] | None:
    """Return a shop, or None for the usual one, with `--use-counters` as it was given."""
    if not getattr(options, "use_counters", False):
        return shop
    return {**(shop or {}), "use_counters": True}


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
        with _bar() as progress:
            return client.order_again(options.again, progress=progress), {}
    wishes: OrderWishes = {
        "title": options.title,
        "marks": options.marks,
        "search_s": options.search,
        "revises": options.revises,
    }
    if options.shop:
        wishes["shop"] = read_json(options.shop, "shop")
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
    with _bar() as progress:
        return client.order(lines, progress=progress, **wishes), {}


@contextlib.contextmanager
def _bar() -> Iterator[Callable[[Progress], None]]:
    """Show a bar on standard error while a block runs; where that is no screen, tell lines."""
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn
    from rich.progress import Progress as Bar

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TextColumn("{task.fields[left]}"),
    )
    console = Console(stderr=True)
    if not console.is_terminal:
        yield _lines(lambda text: console.print(text, highlight=False, soft_wrap=True))
        return
    with Bar(*columns, console=console, transient=True) as bar:
        task = bar.add_task("sending the list", total=1.0, left="")

        def tell(progress: Progress) -> None:
            bar.update(
                task,
                completed=progress.share or 0.0,
                description=_PHASES.get(progress.state, progress.state),
                left=_left(progress),
            )

        yield tell


def _lines(say: Callable[[str], object]) -> Callable[[Progress], None]:
    """Return what says how far an order is: whenever its phase changes, and every tenth of it."""
    told: tuple[str, int] | None = None

    def tell(progress: Progress) -> None:
        nonlocal told
        now = progress.state, int(10 * (progress.share or 0.0))
        if now != told:
            told = now
            words = _PHASES.get(progress.state, progress.state)
            say(", ".join(filter(None, (f"{words}: {10 * now[1]} %", _left(progress)))))

    return tell


def _left(progress: Progress) -> str:
    return f"about {_time(progress.remaining_s)} left" if progress.remaining_s else ""


def _time(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"


def in_words(problem: Problem) -> str:
    """Return what a problem says: what is wrong, where, what would be right."""
    lines = [f"{problem.detail} [{problem.code}]"]
    if problem.field:
        lines.append(f"  where:     {problem.field}")
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
            f"  {name}, {entry['thickness_mm']:g} mm: takes about {entry['sheets']}, the rack has "
            f"{entry['sheets_on_the_rack']}{short}"
        )
    for lost in estimate.get("not_made", ()):
        where = f"the part {lost['mark']}: " if lost.get("mark") else ""
        where = f"line {lost['line']} of the order: " if lost.get("line") else where
        print(f"  not made: {where}{lost['why']}")
