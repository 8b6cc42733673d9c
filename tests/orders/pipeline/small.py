"""A small order that is quick to make, run in this process."""

import csv
import io
import json
from dataclasses import replace

from boathouse import one_layer
from letterply.catalogue import load_catalogue, resolve_shop
from letterply.errors import JobFailed
from letterply.orders.codec import value_of
from letterply.orders.pipeline.answers import Problem, kept
from letterply.orders.pipeline.documents import asked_of, files_of
from letterply.orders.pipeline.layouts import SheetSpec
from letterply.orders.pipeline.part_table import PartRow
from letterply.orders.pipeline.stages import OrderPipeline, run_pipeline
from letterply.orders.pipeline.task_requests import PapersRequest, Sources
from letterply.orders.pipeline.tasks import Task, run_task
from letterply.storage.vault import open_vault
from orders.intake.ordering import read

PLAIN = {
    "title": "{text} tag",
    "lettering": {"text": "{text}", "font": "oswald", "size": {"cap_height": "16 mm"}},
    "layers": [
        {
            "name": "base",
            "material": "mdf",
            "thickness": "6 mm",
            "outline": {"kind": "plate", "margin": "8 mm"},
        },
        {
            "name": "top",
            "material": "mdf",
            "thickness": "3 mm",
            "outline": {"kind": "lettering", "grow": "2 mm", "join": True, "fill_counters": True},
        },
    ],
    "hand_minutes": 5,
    "finishing": ["Paint the edges before glue."],
}

DISC = one_layer(
    "{text}",
    {
        "kind": "blank",
        "shape": "circle",
        "diameter": "30 mm",
        "fixture": {"columns": 2, "rows": 1},
    },
    {"kind": "scribe_lettering", "style": "outline"},
    name="disc",
    material="brass",
    thickness="1.5 mm",
    size={"fit_blank": True},
    title="{text} key disc",
)


def part_row(**more):
    """Return a row of the table of parts: one without a place."""
    row = PartRow(
        mark="1.1.A.face",
        line=1,
        copy=1,
        reference="",
        text="",
        letters="A",
        layer="face",
        material="mdf",
        thickness_mm=3.0,
        width_mm=20.0,
        height_mm=30.0,
        area_mm2=400.0,
        sheet=None,
        x_mm=None,
        y_mm=None,
        turn_deg=None,
        cut_from="front",
        not_placed="",
    )
    return replace(row, **more)


def plain_order(*texts, **more):
    """Return an order of small tags, a line a text."""
    lines = [{"text": t} if isinstance(t, str) else t for t in texts]
    return read({"recipe": "tag", "recipes": {"tag": PLAIN}, "lines": lines, **more})


def made(order, folder, *, earlier=(), log=None, lost=lambda task: False):
    """Run an order in this process; return its manifest and the vault.

    Tasks that are `lost` run out of time.
    """
    place = str(folder)
    vault = open_vault(place)

    def run(stage, tasks):
        answers = {}
        for task in {t.key: t for t in tasks}.values():
            if log is not None and vault.recall(task.key) is None:
                log.append((stage, task.key))
            if lost(task):
                late = JobFailed("It took too long.", code="job-timeout")
                answers[task.key] = kept(Problem.of(late))
                continue
            answers[task.key] = run_task(place, task.kind, task.key, task.args)
        return answers

    pipeline = OrderPipeline(order, Sources({}), vault, tuple(map(SheetSpec.of_earlier, earlier)))
    return run_pipeline(pipeline, run), vault


def file_of(manifest, vault, path):
    """Return a file of an order that was made."""
    if path in manifest.later:
        return drawn(manifest, vault, [path])[path]
    (found,) = [f for f in manifest.files if f.path == path]
    data = vault.read(found.digest)
    assert len(data) == found.size
    return data


def drawn(manifest, vault, paths):
    """Return files of an order that are made when they are asked for, and those made with them."""
    request = value_of(PapersRequest, json.loads(vault.read(manifest.drawn_from)))
    catalogue = load_catalogue(*(vault.path_of(d) for d in request.sources.catalogue))
    asked = asked_of(request, paths, vault, resolve_shop(request.shop, catalogue))
    answers = []
    for each in (*asked.first, *asked.then):
        task = Task.of(each, vault, {})
        answers.append(run_task(str(vault._root), task.kind, task.key, task.args))
    return files_of(answers, vault)


def document_of(manifest, vault):
    """Return `order.json` of an order that was made."""
    return json.loads(file_of(manifest, vault, "order.json"))


def rows_of(manifest, vault):
    """Return the table of its parts, by mark."""
    text = file_of(manifest, vault, "parts.csv").decode("utf-8-sig")
    return {r["mark"]: r for r in csv.DictReader(io.StringIO(text))}


def sheets_of(manifest, vault):
    """Return its sheets as they were laid."""
    return json.loads(vault.read(manifest.layout))["sheets"]
