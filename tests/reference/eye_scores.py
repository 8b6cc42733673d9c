"""How well the findings of a check agree with `eye_table.toml`, what a maker would want to be told.

Told are blockers and cautions; notes are not counted either way. A label is hit when a finding
that is told has one of its places in the label's box, widened by 1 mm. A finding is noise when none
of its places lies in a label; one that has a place where the eye could not tell (`unsure`) and none
in a label, or one in a label that turned out doubtful, is not counted.

The first finding is the gravest that is told; what it names first is held against what the eye
fears most, and, as the kinder figure, all of its places.
"""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, TypeAlias

from letterply.jobs.resources import Resources
from letterply.jobs.run import run_job

Box: TypeAlias = tuple[float, float, float, float]
Spot: TypeAlias = tuple[float, float]

TABLE = Path(__file__).parent / "eye_table.toml"
WIDENED_MM = 1.0
SAME_MM = 0.01
CAUSES = {
    "breaks": {"neck", "stroke", "web", "depth", "crumb"},
    "chips": {"neck", "stroke", "web"},
    "drops": {"island"},
    "closes": {"slot"},
    "round corner": {"corner", "slot"},
    "too small": {"crumb"},
}
"""Word of a label -> codes that tell of it."""
_RESOURCES = Resources()


@dataclass(frozen=True, slots=True)
class Label:
    """One thing to be told of a piece: where, and why in a word."""

    piece: str
    box: Box
    word: str
    doubtful: bool


@dataclass(frozen=True, slots=True)
class Project:
    """What the table says of a project."""

    kind: str
    name: str
    recipe: dict[str, Any]
    labels: tuple[Label, ...]
    unsure: tuple[Box, ...]
    fears: Box | None
    fears_doubtful: bool
    pieces: int


@dataclass(slots=True)
class Score:
    """Counts of one kind of project, and lines that say what disagrees."""

    projects: int = 0
    pieces: int = 0
    labels: int = 0
    hit: int = 0
    hit_in_kind: int = 0
    told: int = 0
    noise: int = 0
    unsure: int = 0
    places: int = 0
    stray_places: int = 0
    feared: int = 0
    feared_first: int = 0
    feared_in_first: int = 0
    doubtful: int = 0
    doubtful_hit: int = 0
    doubtful_fears: int = 0
    doubtful_first: int = 0
    lines: list[str] = field(default_factory=list)

    @property
    def recall(self) -> float:
        """Share of labels that are hit; 1 where there are none."""
        return self.hit / self.labels if self.labels else 1.0

    @property
    def recall_in_kind(self) -> float:
        """Share of labels that a finding of their own kind hits."""
        return self.hit_in_kind / self.labels if self.labels else 1.0

    @property
    def noise_share(self) -> float:
        """Share of noise among what is told; 0 where nothing is."""
        return self.noise / self.told if self.told else 0.0

    @property
    def first(self) -> float:
        """Share of feared places that the first finding names; 1 where nothing is feared."""
        return self.feared_first / self.feared if self.feared else 1.0

    def add(self, other: Score) -> None:
        """Add the counts of another score."""
        for name in self.__slots__:
            setattr(self, name, getattr(self, name) + getattr(other, name))


def projects() -> tuple[Project, ...]:
    """Return the table."""
    entries = tomllib.loads(TABLE.read_text("utf-8"))["project"]
    return tuple(_project(entry) for entry in entries)


def _project(entry: Mapping[str, Any]) -> Project:
    name = f"{entry['font']} {entry['text']} {entry['size_mm']} mm"
    labels = [
        Label(piece["name"], _box(box), box[4], doubtful=len(box) > 5)
        for piece in entry["pieces"]
        for box in piece.get("matters", ())
    ]
    return Project(
        entry["kind"],
        name,
        _recipe(entry),
        tuple(labels),
        tuple(map(_box, entry.get("unsure", ()))),
        _box(entry["fears"]) if "fears" in entry else None,
        "fears_doubtful" in entry,
        len(entry["pieces"]),
    )


def _box(numbers: Sequence[Any]) -> Box:
    left, low, right, high = map(float, numbers[:4])
    return left, low, right, high


def _recipe(entry: Mapping[str, Any]) -> dict[str, Any]:
    """Return the recipe of a project: what a maker of that kind asks for."""
    sheet = {"material": entry["material"], "thickness": entry["thickness_mm"]}
    letters = {"name": "face", **sheet, "outline": {"kind": "lettering"}}
    bridges = {"bridges": {"width": 3}} if entry.get("bridges", True) else {}

    def plate(shape: str, margin: float, work: str = "", **more: Any) -> dict[str, Any]:
        outline = {"kind": "plate", "shape": shape, "margin": margin}
        features = [{"kind": work, **more.pop("how", {})}] if work else []
        return {"name": "board", **sheet, "outline": {**outline, **more}, "features": features}

    layers = {
        "glued script": [
            {**plate("rounded", 18, corner=12), "material": "birch-plywood", "thickness": 9},
            letters,
        ],
        "free script": [{**letters, "outline": {"kind": "lettering", "join": True}}],
        "stacked capitals": [
            {"name": "backer", "material": "mdf", "thickness": 6,
             "outline": {"kind": "lettering", "grow": 4}},
            letters,
        ],
        "stencil": [plate("rectangle", 20, "through_lettering", how=bridges)],
        "tag": [plate("tag", 8, "groove_lettering")],
        "carved board": [plate("rounded", 20, "groove_lettering", corner=10)],
    }[entry["kind"]]  # fmt: skip
    text = {"text": entry["text"], "font": entry["font"], "size": {"cap_height": entry["size_mm"]}}
    return {"title": entry["text"], "lettering": text, "layers": layers}


def findings_of(recipe: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return what a real check says of a recipe, as its document has it, the gravest first.

    The shop has the sheets that it takes; its rack is that of the catalogue.
    """
    kinds = dict.fromkeys((layer["material"], layer["thickness"]) for layer in recipe["layers"])
    stock = [
        {"material": material, "thickness": thickness, "width": 600, "height": 400}
        for material, thickness in kinds
    ]
    answer = run_job("check", {"recipe": recipe, "shop": {"stock": stock}}, _RESOURCES)
    found: list[dict[str, Any]] = json.loads(answer.artifacts["findings.json"])["findings"]
    return found


def _spots(finding: Mapping[str, Any]) -> list[Spot]:
    """Return the places of a finding, its own first."""
    points = (finding["where"] or {}).get("points_mm", [])
    xs, ys = [x for x, _ in points], [y for _, y in points]
    middle = [(sum(xs) / len(xs), sum(ys) / len(ys))] if points else []
    others = [(x, y) for x, y in finding["data"].get("places", [])]
    return [*middle, *(o for o in others if not middle or math.dist(o, middle[0]) > SAME_MM)]


def _within(spot: Spot, box: Box, widened: float = WIDENED_MM) -> bool:
    left, low, right, high = box
    return (
        left - widened <= spot[0] <= right + widened and low - widened <= spot[1] <= high + widened
    )


def _in_any(spot: Spot, boxes: Iterable[Box]) -> bool:
    return any(_within(spot, box) for box in boxes)


@cache
def scores() -> dict[str, Score]:
    """Return the scores by kind of project, each recipe checked once."""
    found: dict[str, Score] = {}
    for project in projects():
        found.setdefault(project.kind, Score()).add(_judge(project, findings_of(project.recipe)))
    return found


def total() -> Score:
    """Return the scores of all kinds together."""
    whole = Score()
    for score in scores().values():
        whole.add(score)
    return whole


def _judge(project: Project, findings: Sequence[Mapping[str, Any]]) -> Score:
    told = [f for f in findings if f["severity"] in ("blocker", "caution")]
    score = Score(projects=1, pieces=project.pieces)
    spots = [(spot, finding["code"]) for finding in told for spot in _spots(finding)]
    for label in project.labels:
        codes = {code for spot, code in spots if _within(spot, label.box)}
        if label.doubtful:
            score.doubtful += 1
            score.doubtful_hit += bool(codes)
            continue
        score.labels += 1
        score.hit += bool(codes)
        score.hit_in_kind += bool(codes & CAUSES[label.word])
        if not codes & CAUSES[label.word]:
            told_as = f"told as {', '.join(sorted(codes))}" if codes else "missed"
            score.lines.append(
                f"{project.name}: {label.word} of {label.piece} {label.box} {told_as}"
            )
    for finding in told:
        _weigh(finding, project, score)
    if project.fears is not None:
        _look_first(told, project, project.fears, score)
    return score


def _look_first(
    told: Sequence[Mapping[str, Any]], project: Project, fears: Box, score: Score
) -> None:
    """Count whether what comes first is what the eye fears most."""
    first = _spots(told[0]) if told else []
    if project.fears_doubtful:
        score.doubtful_fears += 1
        score.doubtful_first += any(_within(spot, fears) for spot in first[:1])
        return
    score.feared += 1
    score.feared_first += any(_within(spot, fears) for spot in first[:1])
    score.feared_in_first += any(_within(spot, fears) for spot in first)
    if not any(_within(spot, fears) for spot in first[:1]):
        said = f"first told {told[0]['code']} at {_words(first[0])}" if first else "nothing is told"
        score.lines.append(f"{project.name}: fears {fears}, {said}")


def _weigh(finding: Mapping[str, Any], project: Project, score: Score) -> None:
    """Count a finding that is told: right, noise, or not counted."""
    sure = [label.box for label in project.labels if not label.doubtful]
    unsure = [*project.unsure, *(label.box for label in project.labels if label.doubtful)]
    spots = _spots(finding)
    stray = [s for s in spots if not _in_any(s, sure) and not _in_any(s, unsure)]
    score.places += len(spots)
    score.stray_places += len(stray)
    if any(_in_any(s, sure) for s in spots):
        score.told += 1
    elif len(stray) < len(spots):
        score.unsure += 1
    else:
        score.told += 1
        score.noise += 1
        score.lines.append(
            f"{project.name}: noise {finding['severity']} {finding['code']} at "
            f"{_words(spots[0]) if spots else 'no place'}: {finding['why']}"
        )


def _words(spot: Spot) -> str:
    return f"{spot[0]:.1f}, {spot[1]:.1f}"


def report() -> str:
    """Return the table of scores by kind, then every disagreement."""
    rows = [
        "kind                projects pieces  labels  hit recall   told noise share   "
        "fears first share"
    ]
    lines: list[str] = []
    for kind, score in (*scores().items(), ("all", total())):
        rows.append(
            f"{kind:20}{score.projects:8}{score.pieces:7}{score.labels:8}{score.hit:5}"
            f"{score.recall:7.3f}{score.told:7}{score.noise:6}{score.noise_share:6.3f}"
            f"{score.feared:8}{score.feared_first:6}{score.first:6.2f}"
        )
        if kind != "all":
            lines += [f"{kind}: {line}" for line in score.lines]
    whole = total()
    rows += [
        f"{whole.hit_in_kind} of {whole.labels} labels are hit by a finding of their own kind "
        f"({whole.recall_in_kind:.3f}).",
        f"What the eye fears is among all places of the first finding in {whole.feared_in_first} "
        f"of {whole.feared} projects.",
        f"Not counted: {whole.unsure} findings where the eye could not tell, {whole.doubtful} "
        f"labels and {whole.doubtful_fears} fears that turned out doubtful; with these, "
        f"{whole.hit + whole.doubtful_hit} of {whole.labels + whole.doubtful} labels are hit, "
        f"{whole.feared_first + whole.doubtful_first} of {whole.feared + whole.doubtful_fears} "
        "fears come first.",
        f"Of {whole.places} places of findings that are told {whole.stray_places} lie in no label.",
    ]
    return "\n".join([*rows, "", *lines])
