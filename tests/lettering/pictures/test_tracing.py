"""Pictures of letters traced, held against the outlines that FreeType rendered them from."""

import io
import re

import numpy as np
import pytest
from PIL import Image

from lettering.pictures.letters import distances, drawn, outline_of, rendered
from letterply.errors import InputError
from letterply.lettering import Picture, doubts_told, read_picture, trace_picture
from letterply.requests import TraceWish

LETTERS = [("playfair-display", "R"), ("dancing-script", "g"), ("archivo-black", "&")]


def as_file(dark, kind="PNG", **options):
    file = io.BytesIO()
    Image.fromarray(np.uint8(255 * (1 - np.clip(dark, 0, 1)))).save(file, kind, **options)
    return file.getvalue()


def traced(dark, **wishes):
    return trace_picture(read_picture(as_file(dark)), TraceWish(**wishes))


@pytest.mark.parametrize(("face", "letter"), LETTERS)
@pytest.mark.parametrize("px", [148, 295])  # 25 mm at 150 and 300 dpi
def test_an_outline_lies_where_the_letter_was(face, letter, px):
    dark, truth = rendered(face, letter, px)
    found = traced(dark)
    _, most_of, mean = distances(outline_of(found.svg), truth)
    assert mean < 0.15
    assert most_of < 0.4
    assert found.facts["pixels_agree"] > 0.99
    assert found.facts["largest_distance_px"] < 1.5


@pytest.mark.parametrize("kind", ["two tones", "noise"])
def test_hard_edges_and_noise_are_smoothed(kind):
    dark, truth = rendered("pacifico", "a", 295)
    if kind == "noise":
        spoilt = dark + np.random.default_rng(5).normal(0, 0.1, dark.shape)
    else:
        spoilt = (dark > 0.5).astype(float)
    found = traced(spoilt)
    _, most_of, mean = distances(outline_of(found.svg), truth)
    assert mean < 0.2
    assert most_of < 0.5
    assert (found.facts["smoothing_px"] == 0.7) or kind == "noise"
    assert outline_of(found.svg).geom_type == "MultiLineString"


def test_noise_and_coarseness_are_told():
    dark, _ = rendered("zilla-slab", "a", 90)
    grainy = 0.5 * dark + np.random.default_rng(7).normal(0, 0.05, dark.shape)
    told = " ".join(doubts_told(traced(np.clip(grainy, 0, 1), smoothing_px=1.5).facts))
    assert "noisy" in told
    assert "pixels high" in told
    clean, _ = rendered("zilla-slab", "a", 500)
    assert doubts_told(traced(clean).facts) == []


def test_light_ink_on_a_dark_page_and_a_threshold_of_ones_own():
    dark, truth = rendered("lobster", "B", 200)
    light = traced(1 - dark)
    assert light.facts["ink"] == "light"
    assert distances(outline_of(light.svg), truth)[2] < 0.15
    pale = traced(0.4 * dark, threshold=0.1)
    assert pale.facts["threshold"] == 0.1
    assert drawn(pale.svg).area > drawn(traced(0.4 * dark).svg).area


def test_specks_are_left_out_and_counted():
    dark, truth = rendered("lobster", "B", 200)
    dark[3:5, 3:5] = 1.0
    found = traced(dark, smoothing_px=0)
    assert found.facts["specks_left_out"] == 1
    assert distances(outline_of(found.svg), truth)[2] < 0.15
    assert len(outline_of(traced(dark, speck_px=0, smoothing_px=0).svg).geoms) == 1 + len(
        outline_of(found.svg).geoms
    )


def test_the_size_is_what_the_file_says_of_itself():
    dark, _ = rendered("lobster", "B", 200)
    told = trace_picture(read_picture(as_file(dark, dpi=(300, 300))), TraceWish()).svg
    for svg, dpi in ((told, 300), (traced(dark).svg, 96)):
        width = float(re.search(r'width="([0-9.]+)mm"', svg)[1])
        assert width == pytest.approx(dark.shape[1] / dpi * 25.4, rel=1e-3)
    jpeg = trace_picture(read_picture(as_file(dark, "JPEG", quality=95)), TraceWish())
    assert jpeg.facts["pixels_agree"] > 0.99


def test_clear_paper_and_deep_grey_are_read():
    dark, _ = rendered("lobster", "B", 120)
    file = io.BytesIO()
    alpha = np.zeros((*dark.shape, 4), np.uint8)
    alpha[..., 3] = 255 * dark
    Image.fromarray(alpha).save(file, "PNG")
    deep = io.BytesIO()
    Image.fromarray(np.uint16(65535 * (1 - dark))).save(deep, "PNG")
    expected = traced(dark).svg
    for data in (file.getvalue(), deep.getvalue()):
        assert drawn(trace_picture(read_picture(data), TraceWish()).svg).area == pytest.approx(
            drawn(expected).area, rel=0.01
        )


@pytest.mark.parametrize(
    ("picture", "code"),
    [
        (np.zeros((50, 50)), "picture-empty"),
        (np.full((50, 50), 0.3), "picture-empty"),
        (np.random.default_rng(1).random((900, 900)), "picture-too-noisy"),
        (np.pad(np.ones((2, 2)), 40), "picture-empty"),
    ],
)
def test_what_cannot_be_traced_is_said(picture, code):
    with pytest.raises(InputError) as caught:
        trace_picture(Picture(picture.astype(np.float32), None), TraceWish(smoothing_px=0))
    assert caught.value.code == code
    assert caught.value.expected


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 40, "not-a-picture"),
        (b"\xff\xd8\xff\xe0 no picture", "not-a-picture"),
        (as_file(np.zeros((300, 300)))[:120], "not-a-picture"),
        (as_file(np.zeros((6000, 5000))), "picture-too-large"),
        (as_file(np.zeros((4, 4))), "picture-too-small"),
        (b"GIF89a", "not-a-picture"),
    ],
)
def test_damaged_and_outsized_files_are_refused(data, code):
    with pytest.raises(InputError) as caught:
        read_picture(data)
    assert caught.value.code == code
