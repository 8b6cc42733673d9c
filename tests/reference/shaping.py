"""Words of twelve scripts and how HarfBuzz's own command-line tool shapes them.

Run as a program it writes `shaped_words.json` anew, with the `hb-shape` of the machine:

    PYTHONPATH=tests python tests/reference/shaping.py
"""

from __future__ import annotations

import json
import subprocess
import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

from letterply.lettering.fonts.font import Font
from letterply.lettering.fonts.library import shipped_faces
from letterply.lettering.fonts.loading import load_font
from letterply.lettering.setting.shaping import shape_line

__all__ = ["RECORD", "TASKS", "Task", "ask_hb_shape", "font_file", "ours", "word_font"]

HERE = Path(__file__).parent
RECORD = HERE / "shaped_words.json"


@dataclass(frozen=True)
class Task:
    """One text to be shaped."""

    script: str
    font: str
    text: str
    features: dict[str, int] = field(default_factory=dict)
    axes: dict[str, float] = field(default_factory=dict)
    language: str = "und"

    def __str__(self) -> str:
        more = [f"{k}={v}" for k, v in (self.features | self.axes).items()]
        return " ".join([self.script, self.font, self.text, *more, self.language])


def _tasks() -> list[Task]:
    raw = tomllib.loads((HERE / "words.toml").read_text("utf-8"))
    settings = [Task("settings", **entry) for entry in raw.pop("settings")]
    words = [Task(script, e["font"], word) for script, e in raw.items() for word in e["words"]]
    return [*words, *settings]


TASKS = _tasks()


def font_file(key: str) -> Path:
    """Return the file of a font: of the library, or of a package that is no family."""
    if key in shipped_faces():
        return shipped_faces()[key].path
    spec = find_spec(key.replace("-", "_"))
    assert spec is not None
    assert spec.origin is not None
    (file,) = Path(spec.origin).parent.glob("*.otf")
    return file


@lru_cache
def word_font(key: str) -> Font:
    """Return a font by its key."""
    return load_font(key, font_file(key).read_bytes())


def ours(task: Task) -> list[list[float]]:
    """Return glyph, cluster, x, y and advance of every glyph as we shape them, font units."""
    font = word_font(task.font).at(task.axes)
    language = "" if task.language == "und" else task.language
    line = shape_line(font, task.text, features=task.features, language=language)
    return [[g.glyph, g.cluster, g.x, g.y, g.advance] for g in line.glyphs]


def ask_hb_shape(task: Task) -> list[list[float]]:
    """Return the same from the command-line tool."""
    command = ["hb-shape", "--output-format=json", "--no-glyph-names", "--shapers=ot"]
    command += ["--remove-default-ignorables", f"--language={task.language}"]
    if task.features:
        command.append("--features=" + ",".join(f"{t}={v}" for t, v in task.features.items()))
    if task.axes:
        command.append("--variations=" + ",".join(f"{t}={v}" for t, v in task.axes.items()))
    command += [f"--font-file={font_file(task.font)}", f"--text={task.text}"]
    answer = subprocess.run(command, capture_output=True, check=True)
    found: list[list[float]] = []
    x = y = 0
    for glyph in json.loads(answer.stdout):
        place = x + glyph["dx"], y + glyph["dy"]
        found.append([glyph["g"], glyph["cl"], *place, glyph["ax"]])
        x, y = x + glyph["ax"], y + glyph["ay"]
    return found


def main() -> None:
    """Write the record."""
    version = subprocess.run(["hb-shape", "--version"], capture_output=True, check=True).stdout
    rows = [
        f"{json.dumps(str(t), ensure_ascii=False)}: {json.dumps(ask_hb_shape(t))}" for t in TASKS
    ]
    text = ",\n".join([f'"tool": {json.dumps(version.decode().splitlines()[0])}', *rows])
    RECORD.write_text(f"{{\n{text}\n}}\n", "utf-8")


if __name__ == "__main__":
    main()
