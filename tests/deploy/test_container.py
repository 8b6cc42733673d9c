"""The steps of the container file on a bare Debian, and what they make, run as the image says."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from bare_machine import Image, bare_system, build

ROOT = Path(__file__).parents[2]
NEEDED = ("debootstrap", "bwrap", "unshare", "setpriv")

# Inside the container: makes a key, starts the service, waits until it is ready, asks it for a
# preview and a plan, and stops it.
VISIT = """
import json, os, signal, subprocess, sys, time, urllib.request

start = sys.argv[1:]
made = subprocess.run([*start, "keys", "make", "boathouse"], capture_output=True, text=True)
assert made.returncode == 0, made.stderr
key = made.stdout.strip()
serving = subprocess.Popen([*start, "serve"])
url = "http://127.0.0.1:8467"

def ask(path, body=None):
    headers = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
    data = None if body is None else json.dumps(body).encode()
    with urllib.request.urlopen(urllib.request.Request(url + path, data, headers)) as answer:
        return json.load(answer)

for _ in range(600):
    try:
        if ask("/health/ready")["status"] == "ready":
            break
    except OSError:
        assert serving.poll() is None, "the service ended"
    time.sleep(0.2)
else:
    raise AssertionError("not ready")
recipe = {
    "title": "Dunlin",
    "lettering": {"text": "Dunlin", "font": "lobster", "size": {"cap_height": 30}},
    "layers": [
        {"name": "face", "material": "mdf", "thickness": 3, "outline": {"kind": "lettering"}}
    ],
}
preview = ask("/v1/previews", {"recipe": recipe})
plan = ask("/v1/plans", {"recipe": recipe})
serving.send_signal(signal.SIGTERM)
ended = serving.wait(30)
compiled = os.environ["NUMBA_CACHE_DIR"]
new = [
    name
    for folder, _, names in os.walk(compiled)
    for name in names
    if not os.path.exists(os.path.join(folder, name).replace(compiled, "/opt/letterply/kernels"))
]
can_write = os.access("/opt/letterply", os.W_OK) or os.access("/etc", os.W_OK)
print(json.dumps({"layers": len(preview["layers"]), "proved": plan["proved"],
                  "ended": ended in (0, -signal.SIGTERM),
                  "user": os.getuid(), "compiled_again": new, "can_write": can_write}))
"""


@pytest.fixture(scope="module")
def wheels(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Fetch the very files that the locks name, from wherever this machine's pip knows."""
    folder = tmp_path_factory.mktemp("wheels")
    for lock in ("service", "build"):
        subprocess.run(
            [sys.executable, "-m", "pip", "download", "--quiet", "--require-hashes"]
            + ["--only-binary", ":all:", "--dest", str(folder)]
            + ["-r", str(ROOT / f"deploy/supply/{lock}.lock")],
            check=True,
        )
    return folder


@pytest.fixture(scope="module")
def image(wheels: Path, tmp_path_factory: pytest.TempPathFactory) -> Image:
    missing = [tool for tool in NEEDED if shutil.which(tool) is None]
    if missing or os.geteuid() != 0:
        pytest.skip(f"a bare system needs root and {', '.join(missing) or 'nothing else'}")
    place = tmp_path_factory.mktemp("container")
    bare = bare_system(place / "bare", "bookworm")
    shutil.copytree(wheels, bare / "wheels")
    told = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": "/wheels"}
    return build(ROOT / "deploy/container/Containerfile", ROOT, bare, place, told)


def test_the_container_is_built_from_nothing_and_answers(image: Image, tmp_path: Path) -> None:
    assert not (image.root / "build").exists(), "the last stage has what runs, no more"
    data = tmp_path / "data"
    data.mkdir()
    visit = image.root / "opt/visit.py"
    visit.write_text(VISIT)
    done = image.run(
        ["/opt/letterply/bin/python", "/opt/visit.py", *image.entry], data, limit_s=300
    )

    assert done.returncode == 0, done.stderr[-3000:]
    found = json.loads(done.stdout.splitlines()[-1])
    assert found == {
        "layers": 1,
        "proved": True,
        "ended": True,
        "user": 10001,
        "compiled_again": [],
        "can_write": False,
    }
    assert image.command == ["serve"]


def test_what_is_in_the_container_is_told_with_its_licences(image: Image, tmp_path: Path) -> None:
    python = image.root / "opt/letterply/bin/python"
    described = subprocess.run(
        [sys.executable, ROOT / "deploy/supply/describe.py", python, tmp_path],
        capture_output=True,
        text=True,
    )
    assert described.returncode == 0, described.stderr
    told = (tmp_path / "licences.md").read_text("utf-8")
    assert told == (ROOT / "deploy/supply/licences.md").read_text("utf-8")
