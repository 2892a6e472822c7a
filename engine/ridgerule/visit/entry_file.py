"""The file that a visit is written to: one writer at a time, whole at any moment, edits noticed.

An answer is on the disk when `write` returns: the new text is written beside the file, forced to
the disk and put in its place in one step, and the folder is forced to the disk as well.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
from typing import TYPE_CHECKING, TypeVar

from msgspec import Struct

from ridgerule.documents import load_document
from ridgerule.plain_data import MOST_BYTES
from ridgerule.problems import InputRejected, Location, Problem, shown

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from types import TracebackType

Checked = TypeVar("Checked")


class Lock:
    """Held while a visit is written to a file; another process that asks for it is refused."""

    def __init__(self, file: Path) -> None:
        """Take the file whose visit it is; nothing is locked yet."""
        self.file = file
        self._path = file.with_name(f".{file.name}.measure")
        self._handle = -1

    def __enter__(self) -> Lock:
        """Take the lock.

        Raises `InputRejected` where another process has it, or where its file can't be made.
        """
        while self._handle < 0:
            handle = self._opened()
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                os.close(handle)
                found = "another `ridgerule measure` on it"
                self._refuse("a record that nobody else is measuring for", found, "leave that one")
            if self._is_current(handle):
                self._handle = handle
            else:
                os.close(handle)  # whoever had it took it away meanwhile
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Give the lock up."""
        self._path.unlink(missing_ok=True)
        os.close(self._handle)
        self._handle = -1

    def _opened(self) -> int:
        try:
            return os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
        except OSError as error:
            self._refuse("a folder that answers can be written to", in_the_way(error), "copy it")
            raise

    def _is_current(self, handle: int) -> bool:
        try:
            there = self._path.stat()
        except FileNotFoundError:
            return False
        return os.path.samestat(there, os.fstat(handle))

    def _refuse(self, expected: str, found: str, advice: str) -> None:
        told = {
            "copy it": "copy the record to a folder you may write to, and measure there",
            "leave that one": "leave that one first with `q`",
        }
        where = Location(shown(str(self.file), most=4096))
        raise InputRejected([Problem(where, expected, found, told[advice])])


def in_the_way(error: OSError) -> str:
    """Return what keeps a file from being written, in words."""
    if isinstance(error, PermissionError):
        return "a place you may not write to"
    return (error.strerror or "an error of the file system").lower()


class Changed(Exception):  # noqa: N818 - says what happened; caught by whoever writes
    """The file is not the one that was read."""


class Unsaved(Exception):  # noqa: N818 - the same
    """The answer could not be written, and the file is as it was."""


class Text(Struct, frozen=True):
    """A file's bytes as they were read or written last."""

    raw: bytes

    @property
    def digest(self) -> str:
        """SHA-256 of the bytes, in hexadecimal."""
        return hashlib.sha256(self.raw).hexdigest()


def read_text(path: Path, *, name: str) -> Text:
    """Return the bytes of a record's file.

    Raises `InputRejected` where it can't be read or is no document.
    """
    load_document(path, name=name)  # tells of pipes, devices and what can't be read
    try:
        with path.open("rb") as file:
            return Text(file.read(MOST_BYTES + 1))
    except OSError as error:
        where = Location(name)
        told = Problem(where, "a file that can be read", in_the_way(error), "check the path")
        raise InputRejected([told]) from error


def write_text(
    path: Path, before: Text, after: bytes, *, check: Callable[[Path], Checked]
) -> tuple[Text, Checked]:
    """Put new bytes in a file's place; when this returns they are on the disk.

    `check` is shown them in a file of their own first; what it returns is handed on, and what it
    raises leaves the file as it was. Raises `Changed` where the file is no longer `before`, and
    `Unsaved` where it can't be written.
    """
    if not _is_still(path, before):
        raise Changed
    new = path.with_name(f".{path.name}.new")
    try:
        new.unlink(missing_ok=True)
        handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(after)
            file.flush()
            shutil.copymode(path, new)
            os.fsync(file.fileno())
        checked = check(new)
        if not _is_still(path, before):
            raise Changed
        new.replace(path)
        sync_folder(path.parent)
    except OSError as error:
        raise Unsaved(in_the_way(error)) from error
    finally:
        _remove(new)
    return Text(after), checked


def _remove(new: Path) -> None:
    """Take away what is left of a write that was given up; a folder that won't let go keeps it."""
    try:
        new.unlink(missing_ok=True)
    except OSError:
        return


def sync_folder(folder: Path) -> None:
    """Force a folder's list of files to the disk."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _is_still(path: Path, before: Text) -> bool:
    try:
        with path.open("rb") as file:
            now = Text(file.read(MOST_BYTES + 1))
    except OSError:
        return False
    return now.digest == before.digest


def kept_beside(path: Path, line: str) -> Path:
    """Add a line to `FILE.answers`, for an answer that can't go into the record; return its path.

    Raises `Unsaved` where that can't be written either.
    """
    answers = path.with_name(f"{path.name}.answers")
    try:
        with answers.open("a", encoding="utf-8") as file:
            file.write(f"{line}\n")
            file.flush()
            os.fsync(file.fileno())
        sync_folder(path.parent)
    except OSError as error:
        raise Unsaved(in_the_way(error)) from error
    return answers
