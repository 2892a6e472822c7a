"""Photos that a record names: are they there, are they pictures, are they those it says.

A photo lies in the record's folder or below it, reached through no link: a record handed on must
not be able to show a file of whoever reads it. Nothing but the file's first bytes and its digest
is read here.
"""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, BinaryIO

from msgspec import Struct, structs

from ridgerule.photo_names import photos_named

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.record import Record

LARGEST = 64 << 20
"""Photos of more bytes are refused."""
_HEAD = 16
_KINDS = ((b"\xff\xd8\xff", "JPEG"), (b"\x89PNG\r\n\x1a\n", "PNG"))


class Photo(Struct, frozen=True):
    """A photo that is there."""

    name: str
    """As the record names it."""
    path: Path
    kind: str
    """`JPEG`, `PNG` or `WebP`, by its first bytes."""
    size: int
    """In bytes."""


class NoPhoto(Struct, frozen=True):
    """Why a photo that a record names can't be shown."""

    name: str
    reason: str


def look_at(name: str, folder: Path, *, stated_digest: str = "") -> Photo | NoPhoto:
    """Return the photo of a name in a folder, or why there is none that may be shown."""
    if reason := _misnamed(name):
        return NoPhoto(name, reason)
    path = folder.joinpath(*PurePosixPath(name).parts)
    try:
        if reason := _linked(path, folder):
            return NoPhoto(name, reason)
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_NOFOLLOW)
    except OSError:
        return NoPhoto(name, "is not beside the record")
    try:
        found = _opened(handle, stated_digest)
    finally:
        os.close(handle)
    return NoPhoto(name, found) if isinstance(found, str) else Photo(name, path, *found)


def _opened(handle: int, stated_digest: str) -> tuple[str, int] | str:
    """Return the kind and the size of an open photo, or why it is none."""
    status = os.fstat(handle)
    if not stat.S_ISREG(status.st_mode):
        return "is no file"
    if status.st_size > LARGEST:
        return f"is larger than {LARGEST >> 20} MiB"
    kind = _kind(os.pread(handle, _HEAD, 0))
    if not kind:
        return "is no JPEG, PNG or WebP picture"
    with os.fdopen(handle, "rb", closefd=False) as file:
        if stated_digest and _sha256(file) != stated_digest:
            return "is not the file whose SHA-256 the record gives"
    return kind, status.st_size


def with_photos(record: Record, folder: Path) -> Record:
    """Return the record with why each photo that it names can't be shown, where it can't."""
    faults = {
        found.name: found.reason
        for found in photos_beside(record, folder).values()
        if isinstance(found, NoPhoto)
    }
    return structs.replace(record, photo_faults=faults) if faults else record


def photos_beside(record: Record, folder: Path) -> Mapping[str, Photo | NoPhoto]:
    """Return what there is of each photo that a record names, by its name, in its order."""
    named = photos_named(record.document)
    return {name: look_at(name, folder, stated_digest=digest) for name, digest in named.items()}


def digest_of(photo: Photo) -> str:
    """Return the SHA-256 of a photo's file.

    Raises `OSError` where the file is gone meanwhile.
    """
    with photo.path.open("rb") as file:
        return _sha256(file)


def _sha256(file: BinaryIO) -> str:
    return hashlib.file_digest(file, "sha256").hexdigest()  # type: ignore[arg-type] # it can


def _linked(path: Path, folder: Path) -> str:
    """Return that a photo is reached through a link, where it is."""
    inside = (path, *path.parents)
    for here in inside[: inside.index(folder)]:
        if here.is_symlink():
            return "leads through a link, which is not followed"
    return ""


def _misnamed(name: str) -> str:
    """Return what is wrong with a photo's name before any file is looked for."""
    if not name.isprintable():
        return "has control characters in its name"
    windows = PureWindowsPath(name)
    if PurePosixPath(name).is_absolute() or windows.drive or windows.root or "\\" in name:
        return "is not named from the record's own folder"
    if ".." in PurePosixPath(name).parts:
        return "lies outside the record's folder"
    return ""


def _kind(head: bytes) -> str:
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    return next((kind for magic, kind in _KINDS if head.startswith(magic)), "")
