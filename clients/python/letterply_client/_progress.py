"""How far a request is, for the screen: a bar, or lines where output is piped."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from letterply_client import Progress

__all__ = ["shown", "tell_in_lines"]

_WORDS = {
    # what a request is at
    "queued": "waiting for a worker",
    "layers": "making the layers",
    "checks": "checking",
    "nesting": "laying the parts on sheets",
    "cutting": "planning",
    "proof": "proving",
    "survey": "looking at the font",
    "comparison": "comparing fonts",
    "sizes": "trying sizes",
    # what an order is at
    "waiting": "waiting for a worker",
    "lines": "making the lines",
    "pools": "laying the parts on sheets",
    "sheets": "planning and proving the sheets",
    "papers": "writing the papers",
    "done": "done",
}


@contextlib.contextmanager
def shown(doing: str) -> Iterator[Callable[[Progress], None]]:
    """Show on standard error how far a request is while a block runs.

    Args:
        doing: what is being done, as long as nothing more is known.

    """
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
        yield tell_in_lines(
            lambda text: console.print(text, highlight=False, soft_wrap=True), doing
        )
        return
    with Bar(*columns, console=console, transient=True) as bar:
        task = bar.add_task(doing, total=1.0, left="")

        def tell(progress: Progress) -> None:
            left, words = _left(progress), _words(progress, doing)
            bar.update(task, completed=progress.share or 0.0, description=words, left=left)

        yield tell


def tell_in_lines(say: Callable[[str], object], doing: str) -> Callable[[Progress], None]:
    """Return what says how far a request is: whenever its phase changes, and every tenth of it."""
    told: tuple[str, int] | None = None

    def tell(progress: Progress) -> None:
        nonlocal told
        if progress.share is None and progress.state != "queued":
            return
        now = _words(progress, doing), int(10 * (progress.share or 0.0))
        if now != told:
            told = now
            say(", ".join(filter(None, (f"{now[0]}: {10 * now[1]} %", _left(progress)))))

    return tell


def _words(progress: Progress, doing: str) -> str:
    words = _WORDS.get(progress.phase or progress.state, doing)
    sheet = f", sheet {progress.step} of {progress.steps}" if progress.steps > 1 else ""
    return f"{words}{sheet}"


def _left(progress: Progress) -> str:
    seconds = progress.remaining_s
    if not seconds:
        return ""
    return f"about {f'{seconds:.0f} s' if seconds < 90 else f'{seconds / 60:.0f} min'} left"
