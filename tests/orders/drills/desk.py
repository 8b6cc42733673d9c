"""A desk: a job service with its pool, as each service has one, without HTTP; for drills.

In this process, on a loop in a thread, or as a process of its own that can be hurt: `python -m
orders.drills.desk ...` keeps a job a line of its input, and prints its id once it is acknowledged.
"""

from __future__ import annotations

import argparse
import asyncio
import subprocess
import sys
import threading
from concurrent.futures import Future
from pathlib import Path
from typing import Any

DEAD_AFTER_S = 2.0


def request_of(text: str) -> dict[str, Any]:
    """Return the request for a stack with this text."""
    face = {"name": "face", "material": "mdf", "thickness": 6, "outline": {"kind": "lettering"}}
    lettering = {"text": text, "font": "lobster", "size": {"cap_height": 40}}
    return {"recipe": {"title": text, "lettering": lettering, "layers": [face]}}


class Desk:
    """A job service on a loop of its own.

    Args:
        root, url, bucket_url: of the store.
        patience_s: how long the database is waited for.

    """

    def __init__(
        self, root: Path, url: str, bucket_url: str | None = None, patience_s: float = 20.0
    ) -> None:
        from letterply.workers import ComputePool

        self._place = root, url, bucket_url
        self._patience_s = patience_s
        self._pool = ComputePool(1, 60, 4_000_000_000, preload=("orders.drills.quick_job",))
        self._pool.start()
        self._loop = asyncio.new_event_loop()
        self._ready: Future[None] = Future()
        self._stop = asyncio.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        self._ready.result(300)

    def _run(self) -> None:
        self._loop.run_until_complete(self._serve())

    async def _serve(self) -> None:
        from letterply.jobs import JobService, RunningPlan
        from letterply.storage import Store
        from orders.drills.quick_job import run_quick_job

        class Unvetted(JobService):
            """Vetting would have each process import the whole house; it has tests of its own."""

            async def _vet(self, *asked: Any) -> None:
                pass

        self.store = Store(*self._place)
        self.store.database._patience_s = self._patience_s
        plan = RunningPlan(run_quick_job, dead_after_s=DEAD_AFTER_S, look_every_s=0.2)
        self.service = Unvetted(self.store, self._pool, plan=plan)
        await self.service.resume()
        self._ready.set_result(None)
        await self._stop.wait()
        await self.service.close()
        self.store.close()

    def ask(self, text: str) -> str:
        """Have a job made; return its id once it is acknowledged."""
        return self._do(self._keep(text))

    def ask_and_wait(self, text: str, wait_s: float) -> Any:
        """Ask for a job and wait for its answer; return the record, None when it takes longer."""
        return self._do(self._wait(text, wait_s))

    async def _keep(self, text: str) -> str:
        handle = await self.service.place("stack", request_of(text))
        await handle.keep()
        return handle.id

    async def _wait(self, text: str, wait_s: float) -> Any:
        return await (await self.service.place("stack", request_of(text))).result(wait_s)

    def look_up(self, id_: str) -> Any:
        """Return what is known of a job."""
        return self._do(self.service.look_up(id_))

    def _do(self, coroutine: Any) -> Any:
        return asyncio.run_coroutine_threadsafe(coroutine, self._loop).result(600)

    def close(self) -> None:
        """Stop in good order."""
        self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(60)
        self._pool.stop()
        self._loop.run_until_complete(self._loop.shutdown_default_executor())
        self._loop.close()


class FarDesk:
    """A desk that is a process of its own, on the store of a scene."""

    def __init__(self, root: Path, url: str, *options: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "orders.drills.desk", str(root), url, *options],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[2],
            text=True,
        )

    def wait_until_ready(self) -> FarDesk:
        """Wait until it takes requests."""
        assert self.process.stdout is not None
        assert self.process.stdout.readline() == "ready\n"
        return self

    def ask(self, text: str) -> str:
        """Have a job made; return its id once it is acknowledged."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(f"{text}\n")
        self.process.stdin.flush()
        return self.process.stdout.readline().strip()

    def end(self) -> None:
        """End it, however it is."""
        self.process.kill()
        self.process.wait(20)
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                pipe.close()


def main() -> None:
    """Keep a job a line, until the input ends."""
    parser = argparse.ArgumentParser()
    parser.add_argument("root", type=Path)
    parser.add_argument("url")
    given = parser.parse_args()
    desk = Desk(given.root, given.url)
    print("ready", flush=True)
    for line in sys.stdin:
        print(desk.ask(line.strip()), flush=True)
    desk.close()


if __name__ == "__main__":
    main()
