"""Folders that results are written to: an old file never lies beside a new one.

A list in the folder says which files letterply wrote there, and of which result. When another
result comes, all that is listed goes before anything new is put there, so that even a run that
is cut off leaves files of one result only. Files of others are never deleted or overwritten:
where they are in the way, the folder is refused with the reason and stays as it is.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

from letterply_client._errors import BadAnswer

__all__ = ["LIST_NAME", "Replacement", "local_paths", "result_in"]

LIST_NAME = "letterply-files.json"
_STAGING = ".letterply-new"
_PROGRAMS = "programs"

_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\.|$)", re.IGNORECASE)
"""Names that one common system takes for devices, whatever their extension."""


def local_paths(paths: Iterable[str]) -> dict[str, str]:
    """Return path of the service -> path below a folder, as every common file system takes it.

    Raises:
        BadAnswer: for a path that leads out of the folder.

    >>> local_paths(["layers/con.svg", "layers/Top.svg", "layers/top.svg", "a. /b"])
    {'layers/con.svg': 'layers/_con.svg', 'layers/Top.svg': 'layers/Top.svg',
     'layers/top.svg': 'layers/top-2.svg', 'a. /b': 'a/b'}

    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for path in paths:
        steps = PurePosixPath(path)
        if steps.is_absolute() or ".." in steps.parts or "\\" in path or ":" in path:
            raise BadAnswer(f"The service names a file {path!r}, which lies outside of the result.")
        plain = PurePosixPath(*(_plain(step) for step in steps.parts))
        if not plain.parts:
            raise BadAnswer(f"The service names a file {path!r}, which is no name.")
        local, count = plain, 1
        # Small letters and capitals are one to some file systems.
        while str(local).casefold() in taken:
            count += 1
            local = plain.with_name(f"{plain.stem}-{count}{plain.suffix}")
        taken.add(str(local).casefold())
        found[path] = str(local)
    return found


def _plain(step: str) -> str:
    kept = "".join(c if c.isprintable() and c not in '<>"|?*' else "-" for c in step)
    kept = kept.rstrip(". ") or "_"
    return f"_{kept}" if _RESERVED.match(kept) else kept


def result_in(folder: Path) -> str | None:
    """Return the id of the result whose files lie in a folder, None where there are none."""
    try:
        found = json.loads((folder / LIST_NAME).read_bytes())
        return str(found["result"]) if found["files"] else None
    except (OSError, ValueError, TypeError, KeyError):
        return None


@dataclass(slots=True)
class Replacement:
    """Puts the files of a result in the place of those of an earlier one.

    Args:
        folder: where.
        result: id of the result; files of the same result that are there already stay.
        paths: what will be written, below the folder.

    """

    folder: Path
    result: str
    paths: tuple[str, ...]
    _old: dict[str, list[str]] = field(default_factory=dict)
    _stays: dict[str, list[str]] = field(default_factory=dict)
    _new: dict[str, list[str]] = field(default_factory=dict)

    def begin(self) -> None:
        """Make room beside; raises `FileExistsError` when files of others are in the way."""
        self.folder.mkdir(parents=True, exist_ok=True)
        known = self._listed()
        self._old = known.get("files", {})
        for path, digests in sorted(self._old.items()):
            there = self.folder / path
            if there.is_file() and _digest(there.read_bytes()) not in digests:
                raise FileExistsError(
                    f"{there} was changed since letterply wrote it: move it away, or name another "
                    "folder"
                )
        ours = {path.casefold() for path in self._old}
        programs = [
            p.relative_to(self.folder).as_posix()
            for p in sorted((self.folder / _PROGRAMS).rglob("*"))
            if not p.is_dir()
        ]
        for path in (*self.paths, *programs):
            there = self.folder / path
            if path.casefold() not in ours and (there.exists() or there.is_symlink()):
                raise FileExistsError(
                    f"{there} is there already and was not written by letterply: move it away, or "
                    "name another folder"
                )
        if known.get("result") == self.result:
            self._stays = {p: d for p, d in self._old.items() if p not in self.paths}
        shutil.rmtree(self._staging, ignore_errors=True)

    def place_of(self, path: str) -> Path:
        """Return where a file is to be written: beside."""
        return self._staging / path

    def added(self, path: str, digest: str) -> None:
        """Count a file as written."""
        self._new[path] = [digest]

    def end(self) -> None:
        """Take the earlier files away, then put the new ones in their place."""
        every = {p: sorted({*self._old.get(p, ()), *self._new.get(p, ())})
                 for p in sorted({*self._old, *self._new})}  # fmt: skip
        # Of no result: a run that is cut off from here on leaves nothing that stays.
        self._write_list("", every)
        for path in sorted(self._old.keys() - self._stays.keys()):
            (self.folder / path).unlink(missing_ok=True)
            self._prune(PurePosixPath(path).parent)
        for path in sorted(self._new):
            target = self.folder / path
            target.parent.mkdir(parents=True, exist_ok=True)
            (self._staging / path).replace(target)
        shutil.rmtree(self._staging, ignore_errors=True)
        self._write_list(self.result, self._stays | self._new)

    @property
    def _staging(self) -> Path:
        return self.folder / _STAGING

    def _listed(self) -> dict[str, Any]:
        try:
            found = json.loads((self.folder / LIST_NAME).read_bytes())
            local_paths(found["files"])
            return found  # type: ignore[no-any-return]
        except FileNotFoundError:
            return {}
        except (ValueError, TypeError, KeyError, BadAnswer) as exc:
            raise FileExistsError(
                f"{self.folder / LIST_NAME} cannot be read, so nobody knows which files there are "
                "letterply's: name another folder"
            ) from exc

    def _write_list(self, result: str, files: Mapping[str, list[str]]) -> None:
        told = {"result": result, "files": dict(sorted(files.items()))}
        waiting = self.folder / f".{LIST_NAME}.{uuid.uuid4().hex}.part"
        try:
            waiting.write_text(json.dumps(told, indent=1, ensure_ascii=False), "utf-8")
            waiting.replace(self.folder / LIST_NAME)
        finally:
            waiting.unlink(missing_ok=True)

    def _prune(self, below: PurePosixPath) -> None:
        for step in (below, *below.parents):
            if step.parts:
                try:
                    (self.folder / step).rmdir()
                except OSError:  # not empty, or gone
                    return


def _digest(data: bytes) -> str:
    return hashlib.blake2b(data, digest_size=16).hexdigest()
