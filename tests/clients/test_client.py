"""The clients against a real service."""

import asyncio
import hashlib
import json

import httpx
import pytest

from boathouse import changed
from letterply.lettering.fonts.library import shipped_faces
from letterply_client import (
    AsyncClient,
    BadAnswer,
    Client,
    ConflictProblem,
    InputProblem,
    NotFoundProblem,
    TimedOut,
)


def test_a_stack_is_built_and_downloaded(client, sign, tmp_path):
    result = client.build_stack(sign)
    assert (result.kind, result.title) == ("stack", "Curlew")
    assert result.summary
    written = client.download(result, tmp_path)
    assert {p.relative_to(tmp_path).as_posix() for p in written} == {f.path for f in result.files}
    for file in result.files:
        data = (tmp_path / file.path).read_bytes()
        if file.path.endswith(".json"):
            assert file.size_bytes == len(data)
            assert file.digest == hashlib.blake2b(data, digest_size=16).hexdigest()
        else:
            assert file.size_bytes is None is file.digest
    assert not list(tmp_path.rglob("*.part"))
    assert (tmp_path / "layers" / "face.svg").read_text().lstrip().startswith("<")


def test_a_preview_shows_the_layers_at_once(client, service_url, sign):
    async def again():
        async with AsyncClient(service_url) as other:
            return await other.preview(sign, client="another window")

    found = client.preview(sign, client="window")
    assert [layer["name"] for layer in found["layers"]] == [la["name"] for la in sign["layers"]]
    assert found["svg"].startswith("<")
    assert asyncio.run(again()) == found
    sturdy = changed(sign, layers__0__outline__strengthen="5 mm")
    assert client.preview(sturdy, quick=True)["not_strengthened"] == ["face"]
    assert client.preview(sturdy)["not_strengthened"] == []


def test_only_what_is_asked_for_is_downloaded(client, sign, tmp_path):
    result = client.build_stack(sign)
    written = client.download(result, tmp_path, only=["layers/*.svg", "stack.json"])
    assert {p.name for p in written} == {"face.svg", "stack.json"}


def test_the_same_recipe_has_the_same_id_however_lengths_are_written(client, sign):
    first = client.build_stack(sign)
    other = json.loads(json.dumps(sign))
    other["lettering"]["size"]["cap_height"] = "4 cm"
    assert client.build_stack(other).id == first.id
    assert client.get("stack", first.id) == first


def test_progress_is_told_from_sent_to_done(client, sign):
    seen = []
    fresh = {**sign, "title": "Progress"}
    client.build_stack(fresh, progress=seen.append)
    assert seen[0].state == "sent"
    assert seen[-1].state == "done"
    assert [p.elapsed_s for p in seen] == sorted(p.elapsed_s for p in seen)


def test_a_problem_names_code_field_and_expectation(client, sign):
    wrong = json.loads(json.dumps(sign))
    wrong["lettering"]["size"]["cap_height"] = "40 parsec"
    with pytest.raises(InputProblem) as caught:
        client.check(wrong)
    assert caught.value.code == "unknown-unit"
    assert caught.value.field == "recipe.lettering.size.cap_height"
    assert "mm" in caught.value.expected


def test_a_problem_that_shows_late_is_the_same(client, sign):
    wrong = json.loads(json.dumps(sign))
    wrong["lettering"]["text"] = "Curlew 鷸"
    with pytest.raises(InputProblem) as caught:
        client.build_stack(wrong, progress=lambda _: None)
    assert caught.value.code == "glyph-missing"
    assert caught.value.data["character"] == "鷸"


def test_a_key_belongs_to_one_request(client, sign):
    client.build_stack(sign, key="one")
    client.build_stack(sign, key="one")
    with pytest.raises(InputProblem) as caught:
        client.build_stack({**sign, "title": "Another"}, key="one")
    assert caught.value.code == "idempotency-key-reused"


def test_what_is_not_there_is_named(client):
    with pytest.raises(NotFoundProblem) as caught:
        client.get("stack", "0" * 32)
    assert caught.value.code == "job-not-found"


def test_catalogue_lists_are_listed(client):
    assert "lobster" in [f.key for f in client.fonts()]
    assert "mdf" in [m.key for m in client.materials()]
    assert {c.key for c in client.cutters()}
    assert {m.key for m in client.machines()}
    assert {s.facts["material"] for s in client.stock()} <= {m.key for m in client.materials()}


def test_a_font_of_ones_own_can_be_used(client, sign, tmp_path):
    path = tmp_path / "font.ttf"
    path.write_bytes(shipped_faces()["varela-round"].path.read_bytes())
    font = client.upload_font(path)
    assert font.key.startswith("own-")
    assert client.font(font.key).facts["family"] == "Varela Round"
    own = json.loads(json.dumps(sign))
    own["lettering"]["font"] = font.key
    shipped = json.loads(json.dumps(sign))
    shipped["lettering"]["font"] = "varela-round"
    drawings = []
    for recipe in (own, shipped):
        result = client.build_stack(recipe)
        file = next(f for f in result.files if f.path == "layers/face.svg")
        drawings.append(client.fetch(file))
    assert drawings[0] == drawings[1]


def test_a_drawing_of_ones_own_can_be_used(client, sign, tmp_path):
    path = tmp_path / "disc.svg"
    path.write_text('<svg width="96" height="96"><circle cx="48" cy="48" r="48"/></svg>')
    drawing = client.upload_artwork(path)
    assert drawing.key in [a.key for a in client.artworks()]
    assert client.artwork(drawing.key).facts["ink"]["pieces"] == 1
    outline = {"kind": "artwork", "artwork": {"id": drawing.key, "size": {"width": 300}}}
    own = {**sign, "layers": [{**sign["layers"][0], "outline": outline}]}
    (layer,) = client.build_stack(own).document["layers"]
    assert layer["parts"][0]["width_mm"] == pytest.approx(300, abs=0.01)


def test_a_file_that_is_no_font_is_refused(client, tmp_path):
    path = tmp_path / "note.ttf"
    path.write_text("not a font")
    before = client.fonts()
    with pytest.raises(InputProblem) as caught:
        client.upload_font(path)
    assert caught.value.code == "not-a-font"
    assert client.fonts() == before


def test_patience_ends(sign):
    job = {"state": "running", "links": {"self": "/v1/jobs/1", "result": "/v1/plans/1"}}

    def answer(request):
        return httpx.Response(202 if request.method == "POST" else 200, json=job)

    seen = []
    with (
        Client(transport=httpx.MockTransport(answer)) as client,
        pytest.raises(TimedOut, match=r"0\.05 s"),
    ):
        client.make_plan(sign, limit_s=0.05, progress=seen.append)
    assert seen[-1].state == "running"


def test_bytes_that_changed_on_the_way_are_refused(client, sign):
    result = client.build_stack(sign)
    file = result.files[0]
    swapped = type(file)(**{n: getattr(file, n) for n in file.__slots__} | {"digest": "0" * 32})
    with pytest.raises(BadAnswer):
        client.fetch(swapped)


def test_the_async_client_does_the_same(service_url, client, sign, tmp_path):
    async def use():
        async with AsyncClient(service_url) as other:
            results = await asyncio.gather(*(other.build_stack(sign) for _ in range(4)))
            written = await other.download(results[0], tmp_path, only=["*.json"])
            with pytest.raises(InputProblem):
                await other.check({"title": "x"})
            return results, written, await other.materials()

    results, written, materials = asyncio.run(use())
    assert {r.id for r in results} == {client.build_stack(sign).id}
    assert all(p.exists() for p in written)
    assert materials == client.materials()


def test_conflicts_are_of_their_own_kind():
    assert issubclass(ConflictProblem, Exception)
    assert not issubclass(ConflictProblem, InputProblem)


def test_a_client_closes_with_its_block(service_url):
    with Client(service_url) as client:
        client.version()
    with pytest.raises(RuntimeError):
        client.version()
