"""Places of artifacts as one text, which a worker process can be handed: folder, and bucket."""

from __future__ import annotations

from pathlib import Path

__all__ = ["split_place", "vault_place"]

_BORDER = "\n"


def vault_place(root: Path, bucket_url: str | None = None) -> str:
    """Return the text for a folder, and a bucket where there is one."""
    return f"{root}{_BORDER}{bucket_url}" if bucket_url else str(root)


def split_place(place: str) -> tuple[Path, str | None]:
    """Return folder and bucket of a text.

    >>> split_place(vault_place(Path("a"), "s3://b/c"))[1]
    's3://b/c'

    """
    root, _, bucket = place.partition(_BORDER)
    return Path(root), bucket or None
