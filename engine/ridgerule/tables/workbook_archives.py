"""Is a file a workbook that may be unpacked: asked of its ZIP directory, before anything is read.

A workbook is a ZIP file of XML parts. What would unpack to far more than it is, holds a document
type (so that entities could be expanded) or is locked is refused here.
"""

from __future__ import annotations

import zlib
from io import BytesIO
from typing import NoReturn
from zipfile import BadZipFile, ZipFile, ZipInfo

from ridgerule.problems import InputRejected, Location, Problem, shown

MOST_PARTS = 1_000
"""Files inside one workbook, pictures among them."""
MOST_UNPACKED = 64 << 20
"""Bytes of all of a workbook's parts, unpacked."""
MOST_RATIO = 100
"""Times the packed size that a part may come to, once it is larger than `_SMALL`."""
_SMALL = 1 << 20

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""How the older compound files begin: workbooks before .xlsx, and those with a password."""
_LOCKED = "EncryptedPackage".encode("utf-16-le")
_XML = (".xml", ".rels", ".vml")
_LOCKED_PART = 0x1
"""The bit of a ZIP entry's flags that says it is encrypted."""

A_WORKBOOK = "a workbook (.xlsx)"


def check_archive(raw: bytes, *, name: str) -> None:
    """Return where the bytes of a file are a workbook that may be unpacked.

    Raises `InputRejected` where they are not.
    """
    if raw.startswith(_OLE):
        if _LOCKED in raw:
            _refuse(name, "a workbook with a password", "save it without one")
        _refuse(name, "an older workbook or document (.xls)", "save it as .xlsx, or as CSV UTF-8")
    try:
        with ZipFile(BytesIO(raw)) as archive:
            _check_sizes(archive.infolist(), name)
            if "mimetype" in archive.namelist():
                _refuse(name, "a workbook of another kind (.ods)", "save it as .xlsx, or as CSV")
            if "[Content_Types].xml" not in archive.namelist():
                _refuse(name, "a ZIP file of something else", "name a workbook")
            for part in archive.infolist():
                if part.filename.lower().endswith(_XML):
                    _check_markup(archive.read(part), part.filename, name)
    except (BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        found = f"a file that can't be unpacked ({shown(error)})"
        _refuse(name, found, "save it again from the spreadsheet")


def _check_sizes(parts: list[ZipInfo], name: str) -> None:
    if len(parts) > MOST_PARTS:
        _refuse(name, f"more than {MOST_PARTS:,} parts in it", "save the readings by themselves")
    if any(part.flag_bits & _LOCKED_PART for part in parts):
        _refuse(name, "a workbook with a password", "save it without one")
    # Reading a part stops at the size that the directory states for it, so that this is a bound.
    if sum(part.file_size for part in parts) > MOST_UNPACKED:
        found = f"one that unpacks to more than {MOST_UNPACKED >> 20} MiB"
        _refuse(name, found, "save the readings by themselves, without pictures")
    for part in parts:
        if part.file_size > max(_SMALL, MOST_RATIO * part.compress_size):
            found = f"`{shown(part.filename)}` in it, which unpacks to over {MOST_RATIO} times"
            _refuse(name, found, "save the readings by themselves in a new workbook")


def _check_markup(text: bytes, part: str, name: str) -> None:
    """Refuse XML in which entities could be declared; no spreadsheet writes any."""
    if b"\x00" in text[:4] or text.startswith((b"\xff\xfe", b"\xfe\xff")):
        _refuse(name, f"`{shown(part)}` in it, which is no UTF-8", "save it again as .xlsx")
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
        found = f"`{shown(part)}` in it, with a document type of its own"
        _refuse(name, found, "save it again from the spreadsheet")


def _refuse(name: str, found: str, advice: str) -> NoReturn:
    raise InputRejected([Problem(Location(name), A_WORKBOOK, found, advice)]) from None
