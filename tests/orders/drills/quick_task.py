"""A task of known length that writes down when it starts and ends: for drills.

What a line does is in its text: `crash` kills its process, `endless` never ends, `raise` fails,
`sick` never ends until there is a file called `cured` beside the log,
anything else computes for as long as LETTERPLY_DRILL_S says. All other tasks are the real ones.
"""

import os
import signal
import time
from pathlib import Path

from letterply.errors import InputError
from letterply.orders.pipeline.tasks import run_task, task_args
from letterply.storage import full_is_busy
from letterply.storage.vault import open_vault


def run_quick_task(place, kind, key, given):
    """Answer a line with no layers; every start and end is a row of the log."""
    if kind != "line":
        note(kind, key)
        return run_task(place, kind, key, given)
    vault = open_vault(place)
    known = vault.recall(key)
    if known is not None:
        return known
    text = task_args(vault, given)["recipe"]["lettering"]["text"]
    note("start", text)
    if text.startswith("crash"):
        os.kill(os.getpid(), signal.SIGKILL)
    if text.startswith("raise"):
        raise InputError("This line raises.", code="bad-value")
    ends = time.process_time() + float(os.environ["LETTERPLY_DRILL_S"])
    while time.process_time() < ends or text.startswith("endless") or is_sick(text):
        pass
    counts = {"blocker": 0, "caution": 0, "note": 0}
    answer = {
        "ok": True,
        "title": text,
        "size_mm": [1, 1, 1],
        "layers": [],
        "helpers": [],
        "findings": {"summary": "", "counts": counts, "told": []},
    }
    note("end", text)
    with full_is_busy():  # as a real task says it
        vault.note(key, answer)
    return answer


def is_sick(text):
    """Tell whether a line would be made if only something were mended."""
    cure = Path(os.environ["LETTERPLY_DRILL_LOG"]).with_name("cured")
    return text.startswith("sick") and not cure.exists()


def note(what, text):
    """Append a row to the log; rows of several processes do not mix (O_APPEND)."""
    row = f"{what}|{text}|{os.getpid()}|{time.time():.3f}\n".encode()
    handle = os.open(os.environ["LETTERPLY_DRILL_LOG"], os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    try:
        os.write(handle, row)
    finally:
        os.close(handle)
