"""What of a file is read by people, and in which units it speaks.

Sentences of documents, captions of pictures, comments of programs, tables, pages of papers. Fields
of JSON stay in mm, as do the drawings themselves.
"""

import io
import json
import re

import pypdfium2

from letterply.catalogue import load_catalogue

STRAY = {
    "inch": re.compile(r"(?<![A-Za-z_])[cm]m(?![A-Za-z_])|(?<![A-Za-z])m/min|\bkg\b|\d g\b|\d N\b"),
    "mm": re.compile(r"\d/\d+ in\b|\d\.\d+ in\b|in²|in/min|\d lb\b|\d oz\b"),
}
SPOKEN = {"inch": re.compile(r"\d in\b"), "mm": re.compile(r"\d mm\b")}
NAMES = sorted(
    (v.name for values in (load_catalogue().cutters, load_catalogue().machines)
     for v in values.values()),
    key=len, reverse=True,
)  # fmt: skip
"""Names stay as they are given: a cutter called `2 mm end mill` is called so everywhere."""


def strings_of(document, name=""):
    """Yield what of a document is read: all texts but units, keys and sources."""
    if isinstance(document, dict):
        for key, value in document.items():
            if key not in ("unit", "source", "sources", "shop", "expected"):
                yield from strings_of(value, key)
    elif isinstance(document, list):
        for value in document:
            yield from strings_of(value, name)
    elif isinstance(document, str):
        yield document


def read_in(path, data):
    """Return the texts of a file."""
    if path == "request.json":
        return []
    if path.endswith(".json"):
        return list(strings_of(json.loads(data)))
    if path.endswith(".svg"):
        return re.findall(r">([^<>]+)<", data.decode())
    if path.startswith("programs/"):
        return re.findall(r"\(([^)]*)\)", data.decode())
    if path.endswith(".pdf"):
        pages = pypdfium2.PdfDocument(io.BytesIO(data))
        return "\n".join(p.get_textpage().get_text_bounded() for p in pages).splitlines()
    if path.endswith(".csv"):
        return data.decode("utf-8-sig").replace("_mm", " 1 mm").replace("_in", " 1 in").split(",")
    return []


def without_names(text):
    for name in (*NAMES, *(n.partition(",")[0] for n in NAMES)):
        text = text.replace(name, "").replace(name[:1].lower() + name[1:], "")
    return text
