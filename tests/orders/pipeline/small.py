"""A small order that is quick to make, run in this process."""

from letterply.errors import JobFailed
from letterply.orders.pipeline.layouts import SheetSpec
from letterply.orders.pipeline.stages import OrderPipeline, run_pipeline
from letterply.orders.pipeline.tasks import Sources, run_task
from letterply.storage.records import facts_of_error
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

DISC = {
    "title": "{text} key disc",
    "lettering": {"text": "{text}", "font": "oswald", "size": {"fit_blank": True}},
    "layers": [
        {
            "name": "disc",
            "material": "brass",
            "thickness": "1.5 mm",
            "outline": {
                "kind": "blank",
                "shape": "circle",
                "diameter": "30 mm",
                "fixture": {"columns": 2, "rows": 1},
            },
            "features": [{"kind": "scribe_lettering", "style": "outline"}],
        }
    ],
}


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
                answers[task.key] = {"ok": False, "problem": facts_of_error(late)}
                continue
            answers[task.key] = run_task(place, task.kind, task.key, task.args)
        return answers

    pipeline = OrderPipeline(order, Sources({}), vault, tuple(map(SheetSpec.of_earlier, earlier)))
    return run_pipeline(pipeline, run), vault
