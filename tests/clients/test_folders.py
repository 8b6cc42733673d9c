"""Folders of results: an old file never lies beside a new one, files of others are left alone."""

import hashlib
import json

import pytest

from letterply_client._errors import BadAnswer
from letterply_client._folders import LIST_NAME, Replacement, local_paths
from letterply_client.command import main

FIRST = {"plan.json": b"1", "programs/sheet-1.nc": b"old 1", "programs/sheet-2.nc": b"old 2"}
HELD_BACK = {"plan.json": b"2", "sheets/sheet-1.svg": b"<svg/>"}


def put(folder, result, files):
    replacement = Replacement(folder, result, tuple(files))
    replacement.begin()
    for path, data in files.items():
        there = replacement.place_of(path)
        there.parent.mkdir(parents=True, exist_ok=True)
        there.write_bytes(data)
        replacement.added(path, hashlib.blake2b(data, digest_size=16).hexdigest())
    replacement.end()


def content(folder):
    """Return what lies in a folder, by path, the list left out."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and p.name != LIST_NAME
    }


def test_a_plan_without_programs_leaves_none_of_the_plan_before(tmp_path):
    put(tmp_path / "out", "a", FIRST)
    assert content(tmp_path / "out") == FIRST
    put(tmp_path / "out", "b", HELD_BACK)
    assert content(tmp_path / "out") == HELD_BACK
    assert not (tmp_path / "out" / "programs").exists()


def test_files_of_others_stay(tmp_path):
    (tmp_path / "notes").mkdir()
    (tmp_path / "notes" / "jig.txt").write_bytes(b"mine")
    put(tmp_path, "a", FIRST)
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "photo.jpg").write_bytes(b"mine too")
    put(tmp_path, "b", HELD_BACK)
    mine = {"notes/jig.txt": b"mine", "sheets/photo.jpg": b"mine too"}
    assert content(tmp_path) == HELD_BACK | mine
    put(tmp_path, "c", {"stack.json": b"{}"})
    assert content(tmp_path) == {"stack.json": b"{}"} | mine


@pytest.mark.parametrize(
    ("path", "data"),
    [("plan.json", b"mine"), ("programs/sheet-9.nc", b"mine"), ("programs/sheet-1.nc", b"edited")],
    ids=["in the way", "beside programs", "changed by hand"],
)
@pytest.mark.parametrize("files", [FIRST, {"plan.json": b"2"}], ids=["programs", "none"])
def test_a_folder_is_refused_as_it_is_where_files_of_others_are_in_the_way(
    tmp_path, path, data, files
):
    if data == b"edited":
        put(tmp_path, "a", FIRST)
    (tmp_path / path).parent.mkdir(exist_ok=True)
    (tmp_path / path).write_bytes(data)
    before = content(tmp_path)
    with pytest.raises(FileExistsError, match=path):
        put(tmp_path, "b", files)
    assert content(tmp_path) == before


def test_more_files_of_the_same_result_join_those_that_are_there(tmp_path):
    put(tmp_path, "a", {"plan.json": b"1"})
    put(tmp_path, "a", {"stack.json": b"{}"})
    assert content(tmp_path) == {"plan.json": b"1", "stack.json": b"{}"}
    put(tmp_path, "b", {"stack.json": b"{}"})
    assert content(tmp_path) == {"stack.json": b"{}"}


@pytest.mark.parametrize("broken_after", range(8))
def test_a_run_that_is_cut_off_leaves_files_of_one_result_only(tmp_path, monkeypatch, broken_after):
    """Every step that takes a file away or puts one there is a place to stop."""
    put(tmp_path, "a", FIRST)
    left = [broken_after]

    def breaking(name):
        step = getattr(type(tmp_path), name)

        def broken(self, *given, **named):
            if left[0] == 0:
                raise KeyboardInterrupt
            left[0] -= 1
            return step(self, *given, **named)

        monkeypatch.setattr(type(tmp_path), name, broken)

    for name in ("unlink", "replace", "rmdir"):
        breaking(name)
    new = {"plan.json": b"2", "programs/sheet-1.nc": b"new 1"}
    with pytest.raises(KeyboardInterrupt):
        put(tmp_path, "b", new)
    monkeypatch.undo()
    there = {p: d for p, d in content(tmp_path).items() if not p.startswith(".letterply-new")}
    there = {p: d for p, d in there.items() if not p.endswith(".part")}
    assert there.items() <= FIRST.items() or there.items() <= new.items()
    put(tmp_path, "c", HELD_BACK)
    assert content(tmp_path).items() >= HELD_BACK.items()
    assert not (tmp_path / "programs").exists()


@pytest.mark.parametrize("damage", [b"", b"[]", b'{"files": {"../x": []}, "result": "a"}'])
def test_a_list_that_cannot_be_read_is_no_leave_to_delete(tmp_path, damage):
    put(tmp_path, "a", FIRST)
    (tmp_path / LIST_NAME).write_bytes(damage)
    with pytest.raises(FileExistsError, match="cannot be read"):
        put(tmp_path, "b", HELD_BACK)
    assert content(tmp_path) == FIRST


def test_names_are_such_as_every_file_system_takes():
    found = local_paths(
        ["layers/con.svg", "layers/COM1", "layers/a.", "layers/B.svg", "layers/b.svg", "x \u202ey"]
    )
    assert list(found.values()) == [
        "layers/_con.svg", "layers/_COM1", "layers/a", "layers/B.svg", "layers/b-2.svg", "x -y",
    ]  # fmt: skip
    for path in ("../x", "/x", "a\\b", "c:x", "."):
        with pytest.raises(BadAnswer):
            local_paths([path])


def test_the_command_replaces_what_it_wrote(tmp_path, sign, service_url, monkeypatch, capsys):
    monkeypatch.setenv("LETTERPLY_URL", service_url)
    recipe, out = tmp_path / "recipe.json", tmp_path / "out"
    recipe.write_text(json.dumps(sign))
    assert main(["check", str(recipe), "-o", str(out)]) in (0, 1)
    assert (out / "cutters.svg").exists()
    (out / "mine.txt").write_text("mine")
    assert "replaced" not in capsys.readouterr().err
    assert main(["build", str(recipe), "-o", str(out)]) == 0
    assert f"replaced an earlier result in {out}" in capsys.readouterr().err
    assert main(["build", str(recipe), "-o", str(out)]) == 0
    assert "replaced" not in capsys.readouterr().err
    assert not (out / "cutters.svg").exists()
    assert (out / "stack.json").exists()
    assert (out / "mine.txt").read_text() == "mine"
    (out / "stack.json").write_text("changed")
    assert main(["build", str(recipe), "-o", str(out)]) == 2
    assert "was changed" in capsys.readouterr().err
    assert (out / "stack.json").read_text() == "changed"
