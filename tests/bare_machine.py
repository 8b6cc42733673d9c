"""A bare Debian in a folder, and a reading of a Containerfile that runs its steps there.

What a container engine would do, without one: each stage begins with a bare system, `COPY` copies,
`RUN` runs in it as root, `ENV`, `WORKDIR`, `USER`, `ENTRYPOINT` and `CMD` are kept. What is made is
then run with bubblewrap as the image says: as its user, with no privilege, nothing to write to but
what is mounted, and no network but its own loopback.
"""

from __future__ import annotations

import json
import shlex
import shutil
import subprocess
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from dockerfile_parse import DockerfileParser

__all__ = ["Image", "bare_system", "build"]

_PATH = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"


@dataclass
class Image:
    """A stage as far as it is made."""

    root: Path
    environment: dict[str, str] = field(default_factory=lambda: {"PATH": _PATH})
    folder: str = "/"
    user: str = "0:0"
    entry: list[str] = field(default_factory=list)
    command: list[str] = field(default_factory=list)

    def run(
        self, command: Sequence[str], data: Path, *, limit_s: float
    ) -> subprocess.CompletedProcess[str]:
        """Run a command as a container of this image would; `data` is mounted for its data."""
        uid, gid = self.user.split(":")
        shutil.chown(data, int(uid), int(gid))
        sandbox = ["bwrap", "--ro-bind", str(self.root), "/", "--proc", "/proc", "--dev", "/dev"]
        sandbox += ["--perms", "1777", "--tmpfs", "/dev/shm"]
        sandbox += ["--perms", "1777", "--tmpfs", "/tmp", "--bind", str(data), "/var/lib/letterply"]
        sandbox += ["--unshare-net", "--unshare-pid", "--die-with-parent", "--clearenv"]
        for name, value in self.environment.items():
            sandbox += ["--setenv", name, value]
        sandbox += ["--chdir", self.folder]
        as_user = ["setpriv", "--reuid", uid, "--regid", gid, "--clear-groups"]
        as_user += ["--no-new-privs", "--bounding-set", "-all"]
        return subprocess.run(
            [*sandbox, "--", *as_user, *command], capture_output=True, text=True, timeout=limit_s
        )


def bare_system(folder: Path, suite: str, packages: Sequence[str] = ()) -> Path:
    """Make the least Debian that boots nothing; returns its folder."""
    with_ = [f"--include={','.join(packages)}"] if packages else []
    subprocess.run(
        ["debootstrap", "--variant=minbase", *with_, suite, str(folder)],
        check=True,
        stdout=subprocess.DEVNULL,
    )
    for name in ("resolv.conf", "hosts"):
        shutil.copy(f"/etc/{name}", folder / "etc" / name)
    return folder


def build(
    containerfile: Path, context: Path, bare: Path, place: Path, told: Mapping[str, str]
) -> Image:
    """Run the steps of a Containerfile.

    Args:
        containerfile: read as Dockerfiles are.
        context: what `COPY` copies from.
        bare: a bare system, copied for each stage.
        place: folder for the stages.
        told: environment of each `RUN` beside what the file says (where packages come from).

    """
    with containerfile.open("rb") as file:
        steps = DockerfileParser(fileobj=file).structure
    stages: dict[str, Image] = {}
    image: Image | None = None
    for step in steps:
        kind, value = step["instruction"], step["value"]
        if kind == "COMMENT":
            continue
        if kind == "FROM":
            name = value.split(" AS ")[1] if " AS " in value else "last"
            root = place / name
            subprocess.run(["cp", "-a", str(bare), str(root)], check=True)
            image = stages[name] = Image(root)
            continue
        assert image is not None
        _step(image, kind, value, context, stages, told)
    assert image is not None
    return image


def _step(
    image: Image,
    kind: str,
    value: str,
    context: Path,
    stages: Mapping[str, Image],
    told: Mapping[str, str],
) -> None:
    if kind == "RUN":
        _run(image, value, told)
    elif kind == "COPY":
        _copy(image, shlex.split(value), context, stages)
    elif kind == "ENV":
        for pair in shlex.split(value):
            name, _, said = pair.partition("=")
            image.environment[name] = said.replace("$PATH", image.environment["PATH"])
    elif kind == "WORKDIR":
        image.folder = value
        (image.root / value.lstrip("/")).mkdir(parents=True, exist_ok=True)
    elif kind == "USER":
        image.user = value
    elif kind == "ENTRYPOINT":
        image.entry = json.loads(value)
    elif kind == "CMD":
        image.command = json.loads(value)
    elif kind != "EXPOSE":
        raise AssertionError(f"a step that is not tried here: {kind} {value}")


def _run(image: Image, line: str, told: Mapping[str, str]) -> None:
    script = f"cd {shlex.quote(image.folder)} && {line}"
    environment = {**image.environment, **told, "HOME": "/root", "LC_ALL": "C.UTF-8"}
    chrooted = 'mount -t proc proc "$0/proc" && exec chroot "$0" sh -ec "$1"'
    done = subprocess.run(
        ["unshare", "--mount", "sh", "-c", chrooted, str(image.root), script],
        env={"DEBIAN_FRONTEND": "noninteractive", **environment},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, f"{line}\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"


def _copy(image: Image, words: Sequence[str], context: Path, stages: Mapping[str, Image]) -> None:
    origin, words = context, list(words)
    if words[0].startswith("--from="):
        origin = stages[words.pop(0).removeprefix("--from=")].root
    *sources, to = words
    target = (
        image.root / to.lstrip("/")
        if to.startswith("/")
        else image.root / image.folder.lstrip("/") / to
    )
    for source in sources:
        found = origin / source.lstrip("/")
        if found.is_dir():
            shutil.copytree(
                found,
                target,
                dirs_exist_ok=True,
                symlinks=True,
                ignore=shutil.ignore_patterns("__pycache__", "*.egg-info"),
            )
        elif len(sources) > 1 or to.endswith("/"):
            target.mkdir(parents=True, exist_ok=True)
            shutil.copy2(found, target)
        else:
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(found, target)
