"""What a drawing is read as, and what is left out: always said, never dropped in silence."""

import pytest

from lettering.artwork.drawings import read, svg, told
from letterply.lettering.artwork.drawing import draw, room_px
from letterply.lettering.artwork.model import ArtworkError
from letterply.lettering.artwork.parser import read_artwork

SQUARE = '<rect x="10" y="10" width="20" height="20"/>'


@pytest.mark.parametrize(
    ("body", "what"),
    [
        ("<text x='5'>Avocet</text>", {"text": 1}),
        ("<image href='data:image/png;base64,AAAA' width='9' height='9'/>", {"image": 1}),
        (
            "<image href='http://example.invalid/a.png'/>",
            {"image": 1, "external reference": 1},
        ),
        ("<script>1</script>", {"script": 1}),
        ("<foreignObject><div/></foreignObject>", {"embedded page": 1}),
        ("<use href='other.svg#a'/>", {"external reference": 1}),
        ("<use href='#nobody'/>", {"reference without target": 1}),
        ("<g id='a'><use href='#a'/></g>", {"reference to itself": 1}),
        ("<newThing/>", {"element newThing": 1}),
        ("<rect width='9' height='9' mask='url(#m)'/>", {"mask": 1}),
        ("<rect width='9' height='9' filter='url(#f)'/>", {"filter": 1}),
        ("<rect width='9' height='9' opacity='.5'/>", {"transparency": 1}),
        ("<rect width='9' height='9' onclick='x()'/>", {"script": 1}),
        ("<rect width='9' height='9' transform='spin(3)'/>", {"transform": 1}),
        ("<rect width='9 apples' height='9'/>", {"length": 1}),
        ("<rect width='9' height='9'><animate attributeName='x'/></rect>", {"animation": 1}),
        ("<path d='M0 0L9 9L0 9x'/><path d='M0 0L9'/>", {"path data": 2}),
        ("<path d='L0 0L9 9L0 9'/>", {"path data": 1}),
        ("<polygon points='1 1 9 9 5 4 3'/>", {"points": 1}),
        (
            "<path d='M0 0L9 9' stroke='red' marker-end='url(#m)' stroke-linejoin='arcs'/>",
            {"marker": 1, "line join": 1},
        ),
        ("<style>g:has(rect) {fill: none}</style>", {"style rule": 1}),
        ("<style>@import url(http://example.invalid/a.css);</style>", {"style sheet": 1}),
        ("<rect x='200' width='9' height='9'/>", {"beyond the page": 1}),
        ("<rect width='9' height='9' clip-path='circle(3px)'/>", {"clip path": 1}),
        ("<rect width='9' height='9' clip-path='url(x.svg#c)'/>", {"external reference": 1}),
        (
            "<radialGradient id='g'><stop/><stop offset='1'/></radialGradient>"
            "<rect width='9' height='9' fill='url(#g)'/>",
            {"gradient": 1},
        ),
    ],
)
def test_what_is_not_taken_as_drawn_is_listed(body, what):
    artwork = read(SQUARE + body)
    assert told(artwork) == what
    assert all(n.done and n.remedy and n.where for n in artwork.left_out)


def test_what_is_never_drawn_is_not_worth_a_word():
    body = (
        "<title>A</title><desc>b</desc><metadata><x/></metadata><defs><rect width='9' height='9'/>"
        "</defs><symbol/><linearGradient id='g'/>"
    )
    assert told(read(body + SQUARE)) == {}
    assert read(body + SQUARE).title == "A"


def test_a_text_names_its_words_and_line():
    artwork = read(SQUARE + "\n<text>Avocet <tspan>II</tspan></text>")
    assert artwork.left_out[0].where == ("line 2: 'Avocet II'",)


@pytest.mark.parametrize(
    "body",
    ["", "<text>a</text>", "<rect width='9' height='9' fill='none'/>", "<g display='none'>"
     "<rect width='9' height='9'/></g>"],
)  # fmt: skip
def test_a_drawing_without_anything_to_cut_is_refused(body):
    with pytest.raises(ArtworkError) as caught:
        read(body)
    assert caught.value.code == "artwork-empty"


@pytest.mark.parametrize(
    "root", ['width="0" height="10"', 'viewBox="0 0 0 10"', 'width="-5" height="5"']
)
def test_a_page_without_extent_shows_nothing(root):
    with pytest.raises(ArtworkError) as caught:
        read(SQUARE, root)
    assert caught.value.code == "artwork-empty"


@pytest.mark.parametrize(
    ("root", "size"),
    [
        ('width="200mm" height="100mm" viewBox="0 0 400 200"', (755.9055, 377.9528)),
        ('viewBox="0 0 40 20"', (40, 20)),
        ('width="80" viewBox="0 0 40 20"', (80, 40)),
        ('height="80" viewBox="0 0 40 20"', (160, 80)),
        ('width="100%" height="100%" viewBox="0 0 40 20"', (40, 20)),
        ("", None),
    ],
)
def test_the_page_has_the_size_that_it_says(root, size):
    found = read(SQUARE, root).size_px
    assert found == (None if size is None else pytest.approx(size, rel=1e-6))


def test_references_that_multiply_are_limited():
    body = '<g id="a0"><rect width="9" height="9"/></g>'
    for level in range(12):
        body += f'<g id="a{level + 1}">' + f'<use href="#a{level}"/>' * 10 + "</g>"
    with pytest.raises(ArtworkError) as caught:
        read(body)
    assert caught.value.code == "artwork-too-complex"


def test_the_room_for_words_is_found_and_not_cut():
    artwork = read(SQUARE + '<g transform="translate(5 5)"><rect id="letters" x="40" y="30" '
                   'width="30" height="20" fill="none"/></g>')  # fmt: skip
    assert room_px(artwork) == pytest.approx((45, 35, 75, 55))
    assert draw(artwork, 1, 0.01).area == pytest.approx(400)
    assert room_px(read(SQUARE)) is None


def test_ids_and_colours_pick_what_is_drawn():
    artwork = read(
        '<g id="wing"><rect width="10" height="10" fill="red"/></g>'
        '<rect x="20" width="5" height="5" fill="#00f" stroke="red" stroke-width="1"/>'
    )
    assert draw(artwork, 1, 0.01, ("wing",)).area == pytest.approx(100)
    # The red line covers half a unit of the blue all round.
    assert draw(artwork, 1, 0.01, ("#0000ff",)).area == pytest.approx(16)
    assert draw(artwork, 1, 0.01, ("#ff0000",)).area == pytest.approx(100 + 36 - 16)


def test_reading_is_the_same_every_time():
    data = svg(SQUARE + '<circle cx="50" cy="50" r="20" stroke="#000"/>')
    first, second = (draw(read_artwork("a", data), 0.7, 0.01) for _ in range(2))
    assert first.wkb == second.wkb


def test_a_detail_without_number_is_refused_not_drawn():
    with pytest.raises(ArtworkError) as caught:
        draw(read(f'<path d="M0 0{"a1e-9 1e9 3 1 1 5 5" * 3000}"/>'), 1, 0.001)
    assert caught.value.code == "artwork-too-complex"
