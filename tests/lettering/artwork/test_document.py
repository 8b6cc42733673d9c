"""XML read so that nothing else is opened, and nothing grows."""

import pytest

from lettering.artwork.drawings import svg
from letterply.lettering.artwork.document import read_document
from letterply.lettering.artwork.model import ArtworkError


def code(data: bytes) -> str:
    with pytest.raises(ArtworkError) as caught:
        read_document(data)
    return caught.value.code


def test_names_lose_their_namespace_and_foreign_ones_go():
    root = read_document(
        b'<s:svg xmlns:s="http://www.w3.org/2000/svg" xmlns:x="urn:x" x:note="1" width="5">'
        b'<x:guide><s:rect width="9"/></x:guide><s:rect xml:space="preserve" height="3"/></s:svg>'
    )
    assert root.attributes == {"width": "5"}
    assert [(e.tag, e.attributes) for e in root.children] == [
        ("rect", {"xml:space": "preserve", "height": "3"})
    ]


def test_a_drawing_without_a_namespace_is_read():
    assert read_document(b'<svg><rect id="a"/></svg>').children[0].id == "a"


def test_a_document_type_alone_is_harmless():
    head = (
        b'<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        b'"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    assert read_document(head + svg("<g/>")).children[0].tag == "g"


@pytest.mark.parametrize(
    "subset",
    [
        '<!ENTITY a "aaaa">',
        '<!ENTITY a SYSTEM "file:///etc/hostname">',
        '<!ENTITY % a SYSTEM "http://example.invalid/x"> %a;',
        '<!ENTITY a "aa"><!ENTITY b "&a;&a;&a;"><!ENTITY c "&b;&b;&b;">',
        '<!NOTATION n SYSTEM "x"><!ENTITY a SYSTEM "x" NDATA n>',
    ],
)
def test_entities_are_refused_whatever_they_stand_for(subset):
    assert code(f"<!DOCTYPE svg [{subset}]>".encode() + svg("<text>&a;</text>")) == (
        "artwork-unreadable"
    )


@pytest.mark.parametrize(
    "data",
    [b"", b"Avocet", b"\x89PNG\r\n", b"<html/>", b'<x:svg xmlns:x="urn:x"/>', b"\x1f\x8b\x08\0"],
)
def test_what_is_no_drawing_is_told_apart(data):
    assert code(data) == "not-svg"


def test_broken_xml_names_its_line():
    with pytest.raises(ArtworkError) as caught:
        read_document(b"<svg>\n<g>\n</svg>")
    assert caught.value.code == "artwork-unreadable"
    assert "line 3" in caught.value.message


def test_an_unknown_encoding_is_refused():
    assert code(b'<?xml version="1.0" encoding="no-such"?><svg/>') in (
        "not-svg",
        "artwork-unreadable",
    )


def test_utf_16_is_read():
    text = '<?xml version="1.0" encoding="UTF-16"?><svg><title>Säbelschnäbler</title></svg>'
    assert read_document(text.encode("utf-16")).children[0].words() == "Säbelschnäbler"


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (svg("<g>" * 200 + "</g>" * 200), "artwork-too-complex"),
        (svg('<x:g xmlns:x="urn:x">' * 200 + "</x:g>" * 200), "artwork-too-complex"),
        (svg("<g/>" * 60_000), "artwork-too-complex"),
        (svg(f"<desc>{'x' * 6_000_000}</desc>"), "artwork-too-large"),
    ],
    ids=["deep", "deep and foreign", "many", "large"],
)
def test_size_depth_and_number_are_limited(data, expected):
    assert code(data) == expected
