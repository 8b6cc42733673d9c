"""A single job of known length that writes down when it starts and ends: for drills.

`endless` never ends; anything else computes for as long as LETTERPLY_DRILL_S says.
"""

import json
import os
import time

from letterply.storage.records import Finished
from letterply.workers import tell
from orders.drills.quick_task import note


def run_quick_job(kind, request, resources):
    """Answer with the text of the request; every start and end is a row of the log."""
    text = request["recipe"]["lettering"]["text"]
    note("start", text)
    tell("layers", 0.5)
    ends = time.process_time() + float(os.environ["LETTERPLY_DRILL_S"])
    while time.process_time() < ends or text.startswith("endless"):
        pass
    note("end", text)
    headline = {"title": text, "summary": text}
    return Finished("stack.json", {"stack.json": json.dumps({"made": text}).encode()}, headline)
