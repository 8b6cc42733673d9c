"""Templates over HTTP."""

import tomllib


def test_the_list_has_recipes_and_addresses(api):
    items = api.get("/v1/templates").json()["items"]
    assert [t["key"] for t in items][:2] == ["sign", "letters"]
    for item in items:
        assert api.get(item["links"]["self"]).json() == item
        assert tomllib.loads(api.get(item["links"]["toml"]).text) == item["recipe"]


def test_words_font_and_size_are_put_in(api):
    wishes = {"text": 'Kn"ot', "font": "pacifico", "size": "30 mm"}
    lettering = api.get("/v1/templates/tag", params=wishes).json()["recipe"]["lettering"]
    assert (lettering["text"], lettering["font"]) == ('Kn"ot', "pacifico")
    assert lettering["size"] == {"cap_height": "30 mm"}


def test_a_picture_is_made_by_the_service(api):
    picture = api.get("/v1/templates/tag.svg", params={"text": "12"})
    assert picture.headers["content-type"] == "image/svg+xml"
    assert picture.headers["content-security-policy"].endswith("sandbox")
    assert picture.text.startswith("<svg")
    other = api.get("/v1/templates/tag.svg", params={"text": "27"})
    assert other.text != picture.text


def test_what_is_not_there_is_told(api):
    assert api.get("/v1/templates/boat").json()["code"] == "template-not-found"
    assert api.get("/v1/templates/sign.png").json()["code"] == "file-not-found"
    assert api.get("/v1/templates/sign", params={"size": "big"}).json()["code"] == "bad-length"
