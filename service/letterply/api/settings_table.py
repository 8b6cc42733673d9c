"""The table of all settings, made from the settings: `python -m letterply.api.settings_table`."""

from __future__ import annotations

import re
from typing import Any

from pydantic_core import PydanticUndefined

from letterply.api.settings import Settings

__all__ = ["settings_table"]

_HEAD = """\
# Settings

Every setting of the service and its workers is an environment variable; lists and maps are JSON.
A value that cannot be is said by the name of its variable, and the service does not start. This
table is made from the settings themselves (`python -m letterply.api.settings_table`).

| variable | usual value | may be | what it is |
|---|---|---|---|
"""
_COMPUTED = {"data_folder": "`$XDG_DATA_HOME/letterply`", "workers": "cores, 4 at most"}


def settings_table() -> str:
    """Return the table as Markdown."""
    schema = Settings.model_json_schema()["properties"]
    lines = []
    for name, field in Settings.model_fields.items():
        about = re.sub(r"\s+", " ", field.description or "").replace("|", "\\|")
        lines.append(
            f"| `LETTERPLY_{name.upper()}` | {_usual(name, field.default)} "
            f"| {_may_be(schema[name])} | {about} |\n"
        )
    return _HEAD + "".join(lines)


def _usual(name: str, default: Any) -> str:
    if name in _COMPUTED or default is PydanticUndefined:
        return _COMPUTED.get(name, "")
    if default is None or default in ((), {}):
        return "none"
    return f"`{default}`"


def _may_be(schema: dict[str, Any]) -> str:
    found = next((s for s in schema.get("anyOf", ()) if s.get("type") != "null"), schema)
    if "enum" in found:
        return ", ".join(f"`{value}`" for value in found["enum"])
    if "pattern" in found:
        return f"`{found['pattern']}`".replace("|", "\\|")
    words = {"integer": "whole number", "array": "JSON list", "object": "JSON map"}
    said = words.get(found.get("type", ""), found.get("type", "text"))
    said = {"string": "folder" if found.get("format") == "path" else "text"}.get(said, said)
    limits = [
        f"{sign} {found[key]:g}"
        for key, sign in (
            ("minimum", "at least"), ("exclusiveMinimum", "above"), ("maximum", "at most"),
        )
        if key in found
    ]  # fmt: skip
    return " ".join([said, *limits])


if __name__ == "__main__":
    print(settings_table(), end="")
