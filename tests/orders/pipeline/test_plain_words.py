"""What a maker reads of an order keeps to plain words: mechanical rules over its papers."""

import json
import re
from collections import Counter

import pypdfium2
import pytest

from letterply.catalogue import load_catalogue
from orders.pipeline.small import drawn, made, plain_order

SENTENCE = re.compile(r"(?<=[.!?])\s+")
FEWEST_WORDS = 4
"""Shorter sentences may stand twice: the label of a part, a heading."""


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Return the files of an order of two tags, path -> bytes."""
    order = plain_order("Tern", "Knot", title="Tags", marks="scribed")
    manifest, vault = made(order, tmp_path_factory.mktemp("vault"))
    there = {f.path: vault.read(f.digest) for f in manifest.files}
    return there | drawn(manifest, vault, manifest.later)


def pages_of(pdf):
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [document[n].get_textpage().get_text_bounded() for n in range(len(document))]
    finally:
        document.close()


def summaries_of(document):
    """Yield every `summary` of a document, and the texts of its faults."""
    if isinstance(document, dict):
        for name, value in document.items():
            if name in ("summary", "text", "why", "reason") and isinstance(value, str):
                yield value
            else:
                yield from summaries_of(value)
    elif isinstance(document, list):
        for value in document:
            yield from summaries_of(value)


def comments_of(program):
    return [line[1:-1] for line in program.splitlines() if line.startswith("(")]


@pytest.fixture(scope="module")
def texts(files):
    """Return what is read of the order, each text with where it stands."""
    found = {}
    for path, data in files.items():
        if path.endswith(".pdf"):
            found |= {(path, n): text for n, text in enumerate(pages_of(data), start=1)}
        elif path.startswith("programs/"):
            found |= {(path, n): t for n, t in enumerate(comments_of(data.decode()), start=1)}
        elif path.startswith("plans/") or path == "order.json":
            told = summaries_of(json.loads(data))
            found |= {(path, n): text for n, text in enumerate(told, start=1)}
    return found


def inner_names():
    """Return the keys that are no words: those of cutters, and of materials of two words."""
    catalogue = load_catalogue()
    keys = [*catalogue.cutters, *catalogue.materials]
    return [key for key in keys if "-" in key]


def test_there_is_something_to_read(texts):
    papers = {path for path, _ in texts}
    assert {"job-sheet.pdf", "labels.pdf", "templates.pdf", "order.json"} <= papers
    assert any(path.startswith("programs/") for path in papers)
    assert any(path.startswith("plans/") for path in papers)


def test_no_key_of_a_cutter_or_material_is_read(texts):
    known = re.compile(rf"(?<![\w.-])({'|'.join(map(re.escape, inner_names()))})(?![\w-])")
    # Programs are files; a maker looks them up by their name.
    told = {at: re.sub(r"sheet-\d[\w.-]*\.nc", "", text) for at, text in texts.items()}
    assert not {at: known.findall(text) for at, text in told.items() if known.search(text)}


def test_no_inner_name_is_read(texts):
    snake = re.compile(r"\b[a-z]+_[a-z_]+\b")
    assert not {at: snake.findall(text) for at, text in texts.items() if snake.search(text)}


def test_figures_are_written_out(texts):
    odd = re.compile(r"\d\.\d{4,}|\de[+-]\d|\b-0 mm|\bnan\b|\binf\b|\b1 (?:parts|sheets|lines)\b")
    assert not {at: odd.findall(text) for at, text in texts.items() if odd.search(text)}


def test_no_sentence_stands_twice_on_a_page(texts):
    twice = {}
    for at, text in texts.items():
        sentences = Counter(SENTENCE.split(" ".join(text.split())))
        again = [s for s, n in sentences.items() if n > 1 and len(s.split()) >= FEWEST_WORDS]
        if again:
            twice[at] = again
    assert not twice


def test_the_proof_is_told_once(texts):
    pages = [text for (path, _), text in texts.items() if path == "job-sheet.pdf"]
    told = [" ".join(page.split()) for page in pages if "Proof passed." in page]
    assert told
    assert all("Proved" not in page and page.count("as wanted") == 1 for page in told)


def test_a_change_of_the_cutter_says_all_that_there_is_to_do(files):
    text = " ".join(" ".join(pages_of(files["job-sheet.pdf"])).split())
    assert "wait until the spindle stands still, change the cutter, zero z again" in text
