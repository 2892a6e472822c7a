"""Where reports go: standard output, or a file that is there whole or not at all."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

from msgspec import Struct

from ridgerule.problems import InputRejected, Location, Problem

_UTF8 = ("utf-8", "strict")


class Terminal(Struct, frozen=True):
    """What standard output can show."""

    width: int
    colour: bool
    unicode: bool


def terminal() -> Terminal:
    """Return what standard output can show, as the environment and the terminal say."""
    is_terminal = sys.stdout.isatty()
    plain = "NO_COLOR" in os.environ or os.environ.get("TERM") == "dumb"
    encoding = (sys.stdout.encoding or "ascii").lower().replace("-", "")
    return Terminal(
        width=shutil.get_terminal_size((100, 24)).columns,
        colour=is_terminal and not plain,
        unicode=encoding.startswith("utf"),
    )


def put(text: str, output: Path | None, *, for_people: bool = False) -> None:
    """Write a report to `output`, or to standard output where there is none.

    Files and data are UTF-8; what people read on a terminal is in its own encoding, with what
    that can't show escaped.

    Raises `InputRejected` where the file can't be written; the old file then stays as it was.
    """
    encoding = _terminal_encoding() if for_people and output is None else _UTF8
    put_bytes(text.encode(*encoding), output)


def put_bytes(data: bytes, output: Path | None) -> None:
    """Write a report's bytes to `output`, or to standard output where there is none.

    Raises `InputRejected` where the file can't be written; the old file then stays as it was.
    """
    if output is None:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    try:
        _replace(output, data)
    except OSError as error:
        where = Location(str(output))
        found = _in_the_way(error)
        advice = "choose another place with `--output`"
        raise InputRejected([Problem(where, "a file that can be written", found, advice)]) from None


def _in_the_way(error: OSError) -> str:
    """Return what was found instead of a file that can be written."""
    match error:
        case FileNotFoundError():
            return "no such folder"
        case IsADirectoryError():
            return "a folder"
        case PermissionError():
            return "a place you may not write to"
        case _:
            return (error.strerror or "an error of the file system").lower()


def _terminal_encoding() -> tuple[str, str]:
    return sys.stdout.encoding or "utf-8", "backslashreplace"


def _replace(output: Path, data: bytes) -> None:
    if output.exists() and not output.is_file():
        output.write_bytes(data)  # a device or a pipe: nothing to keep whole
        return
    output = output.resolve()  # a link stays a link
    folder = output.parent
    handle, name = tempfile.mkstemp(prefix=f".{output.name}.", dir=folder)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        _same_mode(Path(name), output)
        Path(name).replace(output)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _same_mode(new: Path, old: Path) -> None:
    """Give a new file the permissions of the one it replaces, or those a new file gets."""
    if old.exists():
        shutil.copymode(old, new)
        return
    mask = os.umask(0)
    os.umask(mask)
    new.chmod(0o666 & ~mask)
