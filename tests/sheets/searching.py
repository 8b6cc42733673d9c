"""A search to run in other processes, which must be able to import it."""

from __future__ import annotations

import multiprocessing
from multiprocessing.connection import Connection

from letterply.sheets.layouts.bottom_left import Piece
from letterply.sheets.search.strip import search_strip
from sheets.shapes import letters

SIZE = (284.0, 184.0)
TURNS = (0.0, 90.0, 180.0, 270.0)


def some_pieces() -> list[Piece]:
    return [Piece(n, outline, TURNS) for n, outline in enumerate(letters(8, seed=3))]


def search() -> list[tuple[int, float]]:
    found = search_strip(some_pieces(), SIZE, 5.0, seconds=1, seed=1)
    return [(f.index, f.turn_deg) for f in found or ()]


def send_search(pipe: Connection) -> None:
    pipe.send((multiprocessing.current_process().daemon, search()))
