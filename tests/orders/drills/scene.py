"""The scene of a drill: a store, an order of quick lines, workers that can be hurt."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import sqlalchemy as sa

from letterply.catalogue.loading import load_catalogue
from letterply.orders.engine.engine import prepare
from letterply.orders.intake.reading import Order
from letterply.orders.service import OrderService
from letterply.orders.states import OrderState
from letterply.storage import tables
from letterply.storage.store import Store
from letterply.storage.vault import open_vault
from orders.pipeline.small import plain_order

TESTS = Path(__file__).parents[2]


class Worker:
    """A worker process."""

    def __init__(self, scene: Scene, *options: str) -> None:
        self._scene = scene
        environment = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join(filter(None, (str(TESTS), os.environ.get("PYTHONPATH")))),
            "LETTERPLY_DRILL_LOG": str(scene.log),
            "LETTERPLY_DRILL_S": str(scene.line_s),
        }
        self._log = (scene.root / f"worker-{len(scene.workers)}.log").open("wb")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "orders.drills.worker_process", str(scene.root), scene.url,
             *(("--bucket", scene.bucket_url) if scene.bucket_url else ()), *options],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._log,
            env=environment,
            cwd=TESTS,
        )  # fmt: skip
        self.name = ""
        self.children: set[int] = set()

    def wait_until_ready(self) -> Worker:
        """Wait until it takes tasks."""
        assert self.process.stdout is not None
        self.name = self.process.stdout.readline().decode().strip()
        assert self.name, Path(self._log.name).read_text()
        return self

    def note_children(self) -> None:
        """Remember the processes that it started, with theirs."""
        self.children |= descendants(self.process.pid)

    def signal(self, what: int) -> None:
        """Send it a signal."""
        self.note_children()
        self.process.send_signal(what)

    def freeze(self) -> None:
        """Stop it where it is, but not in the middle of a write to a file that others need."""
        with self._scene.nobody_writes():
            self.signal(signal.SIGSTOP)
            self.wait_until_frozen()

    def wait_until_frozen(self) -> None:
        """Wait until it does nothing any more."""
        wait_until(lambda: state_of(self.process.pid) == "T", 60)

    def kill(self) -> None:
        """End it as a power cut does."""
        self.signal(signal.SIGKILL)
        self.process.wait(20)

    def end(self) -> None:
        """Stop it in good order."""
        self.note_children()
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGCONT)
            assert self.process.stdin is not None
            self.process.stdin.close()
            try:
                self.process.wait(60)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        if self.process.stdout is not None:
            self.process.stdout.close()
        if self.process.stdin is not None and not self.process.stdin.closed:
            self.process.stdin.close()
        self._log.close()


class Scene:
    """A store and what happens in it."""

    def __init__(
        self, root: Path, url: str, line_s: float = 0.1, bucket_url: str | None = None
    ) -> None:
        self.root, self.url, self.line_s, self.bucket_url = root, url, line_s, bucket_url
        root.mkdir(parents=True, exist_ok=True)
        self.log = root / "drill.log"
        self.log.touch()
        self.workers: list[Worker] = []
        self.store = Store(root, url, bucket_url)
        prepare(url)
        self.counter = OrderService(self.store, None, load_catalogue())  # type: ignore[arg-type]

    def close(self) -> None:
        """Stop everything that is left."""
        for worker in self.workers:
            worker.end()
        self.counter.close()
        self.store.close()

    def start(self, *options: str) -> Worker:
        """Start a worker and wait until it takes tasks."""
        worker = Worker(self, *options)
        self.workers.append(worker)
        return worker.wait_until_ready()

    def start_two(self, *options: str) -> tuple[Worker, Worker]:
        """Start two workers side by side."""
        first = Worker(self, *options)
        self.workers.append(first)
        second = Worker(self, *options)
        self.workers.append(second)
        return first.wait_until_ready(), second.wait_until_ready()

    @contextlib.contextmanager
    def nobody_writes(self) -> Iterator[None]:
        """Hold the one lock for writing that SQLite has; a server needs no such care."""
        if not self.url.startswith("sqlite"):
            yield
            return
        with self.store.database.engine.begin():
            yield

    @contextlib.contextmanager
    def service(self) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
        """Run the service on the store, without a worker of its own; give process and address."""
        ready = self.root / "ready"
        environment = {
            **{k: v for k, v in os.environ.items() if not k.startswith("LETTERPLY_")},
            "LETTERPLY_DATA_FOLDER": str(self.root),
            "LETTERPLY_DATABASE_URL": self.url,
            "LETTERPLY_ORDER_WORKER": "none",
            "LETTERPLY_WORKERS": "1",
            "LETTERPLY_PREVIEW_WORKERS": "0",
            **({"LETTERPLY_BUCKET_URL": self.bucket_url} if self.bucket_url else {}),
        }
        command = [sys.executable, "-m", "letterply.api.serve", "--port", "0"]
        command += ["--ready-file", str(ready), "--log-level", "warning"]
        with (self.root / "service.log").open("wb") as log:
            process = subprocess.Popen(command, stderr=log, env=environment)
        try:
            wait_until(ready.exists, 120)
            yield process, ready.read_text()
        finally:
            process.kill()
            process.wait(20)

    def submit(self, texts: list[str]) -> str:
        """Place an order, a line a text; return its id."""
        state, _ = asyncio.run(self.counter.place(self.order(texts)))
        return state.id

    def order(self, texts: list[str]) -> Order:
        """Return an order, a line a text."""
        return plain_order(*texts)

    def rows(self, what: str) -> list[tuple[str, int]]:
        """Return text and process of the rows of one kind in the log."""
        rows = [row.split("|") for row in self.log.read_text().splitlines()]
        return [(row[1], int(row[2])) for row in rows if row[0] == what]

    def wait_for_ends(self, count: int, limit_s: float = 240.0) -> None:
        """Wait until so many lines have been computed."""
        wait_until(lambda: len(self.rows("end")) >= count, limit_s)

    def wait_for_end(self, order_id: str, limit_s: float = 300.0) -> str:
        """Wait until nothing more happens to an order; return its last phase."""
        book = self.counter.book
        wait_until(lambda: book.state(order_id).final, limit_s)
        return book.state(order_id).phase

    def finished_lines(self, order_id: str) -> set[str]:
        """Return the texts of the lines that are on record as finished."""
        events = self.counter.book.events(order_id, limit=10_000)
        keys = {e.data["key"] for e in events if e.kind == "task"}
        return self._texts(order_id, keys)

    def again(self, order_id: str) -> OrderState:
        """Ask once more for what an order lost."""
        return asyncio.run(self.counter.again(order_id))

    def cancel(self, order_id: str) -> OrderState:
        """Stop an order."""
        return asyncio.run(self.counter.cancel(order_id))

    def _texts(self, order_id: str, keys: set[str]) -> set[str]:
        found = set()
        for key in keys:
            answer = open_vault(self.store.place).recall(key)
            if answer is not None and answer["ok"]:
                found.add(answer["title"])
        return found

    def document(self, order_id: str) -> dict[str, object]:
        """Return the answer of an order."""
        record = self.store.job(order_id)
        artifact = record.artifact("order.json")
        assert artifact is not None
        found: dict[str, object] = json.loads(self.store.read(artifact))
        return found

    def assert_one_answer(self, order_id: str) -> None:
        """Assert that the order ended once, its events without gaps, told once an attempt."""
        events = self.counter.book.events(order_id, limit=10_000)
        assert [e.number for e in events] == list(range(1, len(events) + 1))
        assert [e.kind for e in events].count("done") == 1
        assert events[-1].kind == "done"
        keys = Counter(e.data["key"] for e in events if e.kind == "task")
        assert max(keys.values()) <= self.counter.book.state(order_id).attempt

    def assert_nothing_left_over(self) -> None:
        """Assert that no process of a worker that is gone is alive."""
        gone = [w for w in self.workers if w.process.poll() is not None]
        wait_until(lambda: not any(alive(p) for w in gone for p in w.children), 10)

    def beat_age_s(self, name: str) -> float:
        """Return how long ago a worker last said that it is there."""
        wanted = sa.select(tables.workers.c.beat_at).where(tables.workers.c.id == name)
        return time.time() - float(
            self.store.database.read(lambda db: db.execute(wanted).scalar_one())
        )


def wait_until(holds, limit_s: float) -> None:
    """Wait until something holds."""
    deadline = time.monotonic() + limit_s
    while not holds():
        assert time.monotonic() < deadline, "it did not happen in time"
        threading.Event().wait(0.05)


def state_of(pid: int) -> str:
    """Return the state of a process as one letter (proc(5)); Z when it is gone."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return "Z"


def alive(pid: int) -> bool:
    """Tell whether a process is there; one that waits to be reaped is not."""
    return state_of(pid) != "Z"


def descendants(pid: int) -> set[int]:
    """Return all processes below one."""
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                after = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            parents.setdefault(int(after[1]), []).append(int(entry.name))
    found: set[int] = set()
    waiting = [pid]
    while waiting:
        children = parents.get(waiting.pop(), [])
        found.update(children)
        waiting += children
    return found
