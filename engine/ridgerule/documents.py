"""Text -> plain data, with line and column of every node, and a digest of the file.

The data is what the author wrote: `7:12`, `0123`, `905.10`, `on` and `2026-03-02` stay text, and
whatever in YAML would say one thing and mean another is refused. Size and depth are bounded.
"""

from __future__ import annotations

import errno
import hashlib
import pathlib
import stat
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.json_documents import read_json
from ridgerule.plain_data import (
    CONTROLS,
    MOST_BYTES,
    MOST_DEPTH,
    MOST_NODES,
    MOST_TEXT,
    Data,
    Path,
    Place,
    ReadingStopped,
    Scalar,
    Sheet,
    character,
)
from ridgerule.problems import InputRejected, Location, Problem, shown
from ridgerule.yaml_documents import read_yaml

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "MOST_BYTES",
    "MOST_DEPTH",
    "MOST_NODES",
    "MOST_TEXT",
    "Data",
    "Document",
    "Path",
    "Scalar",
    "load_document",
    "read_document",
]


class Document(Struct, frozen=True):
    """A file as it was read: its data, where each part of it stands, and what it was read from."""

    name: str
    """The path as shown to the user."""
    data: Data
    digest: str
    """SHA-256 of the raw bytes, in hexadecimal."""
    positions: Mapping[Path, Place]
    """Line and column, from 1, where each node's value begins."""
    keys: Mapping[Path, Place]
    """Line and column, from 1, of each mapping key, under the path of its value."""

    def location(self, path: Path = ()) -> Location:
        """Return the place of the value at `path`, or of its nearest ancestor that is there."""
        while path and path not in self.positions:
            path = path[:-1]
        return Location(self.name, *self.positions.get(path, (1, 1)))

    def key_location(self, path: Path) -> Location:
        """Return the place of the key that `path` ends in, or else of the value at `path`."""
        place = self.keys.get(path)
        return Location(self.name, *place) if place else self.location(path)


def load_document(path: pathlib.Path, *, name: str | None = None) -> Document:
    """Return the document in the file at `path`, called `name` (else the path) in messages.

    Raises InputRejected where the file can't be read or is not what it should be.
    """
    # A path can hold escapes that a terminal would obey, and bytes that are no text.
    name = shown(path, most=_LONGEST_NAME) if name is None else name
    try:
        if told := _special(path.stat().st_mode):
            raise InputRejected([Problem(Location(name), "a file that can be read", *told)])
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        found, advice = _unreadable(path, error)
        problem = Problem(Location(name), "a file that can be read", found, advice)
        raise InputRejected([problem]) from error
    return read_document(raw, name=name)


_LONGEST_NAME = 4096


def _special(mode: int) -> tuple[str, str] | None:
    """Return what stands at a path that reading might never come to the end of."""
    if stat.S_ISREG(mode) or stat.S_ISDIR(mode):
        return None
    found = "a pipe" if stat.S_ISFIFO(mode) else "a device or socket"
    return found, "save what comes out of it to a file, and name that"


def _unreadable(path: pathlib.Path, error: OSError | ValueError) -> tuple[str, str]:
    """Return what was found instead of a file that can be read, and what to do about it."""
    match error:
        case FileNotFoundError():
            return "nothing at this path", "check the spelling and the folder"
        case PermissionError() if not path.is_dir():
            return "a file you may not read", "ask its owner for leave to read it"
        # Windows says "permission denied" of a folder.
        case IsADirectoryError() | PermissionError():
            return "a folder", "name a file inside it"
        case OSError() if error.errno == errno.ELOOP:
            return "a link that leads back to itself", "name the file that is meant"
        case OSError():
            return (error.strerror or "an error of the file system").lower(), "check the path"
        case _:
            return "a path with a NUL character in it", "check the path"


def read_document(raw: bytes, *, name: str) -> Document:
    """Return the document in `raw`: JSON if `name` ends in .json, else YAML.

    Raises InputRejected with every problem that could be told.
    """
    sheet = Sheet(name, "")
    data: Data = None
    try:
        sheet.text = _decoded(raw, sheet)
        _refuse_controls(sheet)
        is_json = pathlib.PurePath(name).suffix.lower() == ".json"
        data = read_json(sheet) if is_json else read_yaml(sheet)
    except ReadingStopped:
        pass  # the sheet says why
    if sheet.problems:
        raise InputRejected(sheet.problems)
    return Document(
        name=name,
        data=data,
        digest=hashlib.sha256(raw).hexdigest(),
        positions=MappingProxyType(sheet.positions),
        keys=MappingProxyType(sheet.keys),
    )


def _decoded(raw: bytes, sheet: Sheet) -> str:
    """Return the text of UTF-8 bytes, line ends as one character, a byte-order mark left out."""
    if len(raw) > MOST_BYTES:
        sheet.stop(
            (0, 0),
            expected=f"a file of at most {MOST_BYTES // 2**20} MiB",
            found="a larger one",
            advice="split the file",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = error.object[: error.start].decode("utf-8").replace("\r\n", "\n")
        line_start = before.rfind("\n") + 1
        sheet.refuse(
            (before.count("\n") + 1, len(before) - line_start + 1),
            expected="UTF-8 text",
            found=f"byte 0x{error.object[error.start]:02X} (byte {error.start + 1} of the file)",
            advice="save the file as UTF-8",
        )
        raise ReadingStopped from error
    # One after the other, so that no three copies of a large text are held at a time.
    text = text.replace("\r\n", "\n")
    return text.replace("\r", "\n")


def _refuse_controls(sheet: Sheet) -> None:
    """Refuse characters that can't be seen and that no one writes on purpose."""
    text, line, line_start = sheet.text, 1, 0
    for match in CONTROLS.finditer(text):
        # Counted on from the one before: a large file is not gone through for each.
        index, counted = match.start(), line_start
        line += text.count("\n", counted, index)
        line_start = max(counted, text.rfind("\n", counted, index) + 1)
        sheet.refuse(
            (line, index - line_start + 1),
            expected="text without control characters",
            found=character(match.group()),
            advice="take it out",
        )
    if sheet.problems:
        raise ReadingStopped
