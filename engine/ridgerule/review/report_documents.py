"""Reports read back: JSON that ridgerule wrote, or that someone says it did.

A report holds a hundred times what a record holds and nearly always is as it was written. So the
text goes through `json` alone, and where its parts stand is looked up only if something is wrong.
"""

from __future__ import annotations

import hashlib
import json
import re
from bisect import bisect_right
from collections.abc import Mapping
from functools import cached_property
from itertools import islice
from typing import TYPE_CHECKING, NoReturn, TypeAlias

from ridgerule.documents import Document, load_document
from ridgerule.plain_data import MOST_DEPTH, MOST_DIGITS, MOST_PROBLEMS, character, whole_or_text
from ridgerule.problems import InputRejected, Location, Problem, shown

if TYPE_CHECKING:
    import pathlib
    from collections.abc import Generator, Iterator

    from ridgerule.plain_data import Data, Path, Place

MOST_BYTES = 64 * 1024 * 1024
"""Of a report, or of a list of them; that of the demo roof has two million."""
MOST_VALUES = 1_000_000
"""The report of the demo roof has sixty thousand."""
_LONGEST_NAME = 4096
_ADVICE = "take the file as ridgerule wrote it"

# A string left open runs to the end of its line; possessive, so nothing is gone through twice.
_BRACKET = re.compile(r'"[^"\\\n]*+(?:\\.[^"\\\n]*+)*+"?|[\[{]|[\]}]')
_SPACE = re.compile(r"[ \t\n\r]*")
_BARE = re.compile(r'[^\s,\[\]{}:"]+')
_STRINGS = json.JSONDecoder()
_WORDS = ("true", "false", "null")
_HALF = re.compile(r"\\u[dD][89a-fA-F]")


def load_report(path: pathlib.Path) -> Document:
    """Return the JSON document in the file at `path`, however the file is named.

    Raises `InputRejected` as `read_report` does, and where the file can't be read.
    """
    if not path.is_file():
        return load_document(path)  # which says what there is instead
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError:
        return load_document(path)
    return read_report(raw, name=shown(path, most=_LONGEST_NAME))


def read_report(raw: bytes, *, name: str) -> Document:
    """Return the JSON document in `raw`; whether it is a report, its schema says.

    Raises `InputRejected` where it is no JSON, is larger or deeper than any report, or holds a key
    twice or half of a character.
    """
    if len(raw) > MOST_BYTES:
        _refuse(Location(name), f"a file of at most {MOST_BYTES >> 20} MiB", "a larger one")
    text = _decoded(raw, name)
    places = _Places(text)
    _refuse_large(places, name)
    data, is_sound = _parsed(text, name)
    if not is_sound:
        raise InputRejected(islice(_told_unsound(places, name), MOST_PROBLEMS))
    document = Document(
        name=name,
        data=data,
        digest=hashlib.sha256(raw).hexdigest(),
        positions=_Lookup(places, of_keys=False),
        keys=_Lookup(places, of_keys=True),
    )
    if _HALF.search(text) and (halves := tuple(islice(_halves(document), MOST_PROBLEMS))):
        raise InputRejected(halves)
    return document


def _refuse(where: Location, expected: str, found: str) -> NoReturn:
    raise InputRejected([Problem(where, expected, found, _ADVICE)])


def _decoded(raw: bytes, name: str) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        where = Location(name, before.count(b"\n") + 1, column)
        _refuse(where, "UTF-8 text", f"byte 0x{raw[error.start]:02X}")


def _refuse_large(places: _Places, name: str) -> None:
    """Refuse what nests too deep for `json`, and what holds too much to be gone through."""
    text = places.text
    # Commas inside texts are counted too: no matter, there is room enough.
    if text.count(",") > MOST_VALUES:
        _refuse(Location(name), f"at most {MOST_VALUES:,} values in a file", "more than that")
    depth = 0
    for match in _BRACKET.finditer(text):
        piece = match.group()
        if piece in ("[", "{"):
            depth += 1
            if depth > MOST_DEPTH:
                where = Location(name, *places.place(match.start()))
                _refuse(where, f"lists and mappings at most {MOST_DEPTH} deep", "more than that")
        elif piece in ("]", "}"):
            depth -= 1


def _parsed(text: str, name: str) -> tuple[Data, bool]:
    """Return the data of a JSON text, and whether it says each thing once and in whole numbers."""
    unsound: list[str] = []

    def mapping(pairs: list[tuple[str, Data]]) -> dict[str, Data]:
        data = dict(pairs)
        if len(data) < len(pairs):
            unsound.append("a key twice")
        return data

    def number(piece: str) -> int | str:
        value = whole_or_text(piece)
        if isinstance(value, str):
            unsound.append(piece)
        return value

    try:
        data: Data = json.loads(
            text,
            object_pairs_hook=mapping,
            parse_float=number,
            parse_int=number,
            parse_constant=number,
        )
    except json.JSONDecodeError as error:
        where = Location(name, error.lineno, error.colno)
        told = f"{error.msg[:1].lower()}{error.msg[1:]}"
        _refuse(where, "JSON", f"{character(text[error.pos : error.pos + 1])} ({told})")
    return data, not unsound


def _told_unsound(places: _Places, name: str) -> Iterator[Problem]:
    """Yield each key that stands in a mapping twice, and each number that is not whole."""
    seen: set[Path] = set()
    for path, key, at in places.walked():
        if path in seen and key is not None:
            where = Location(name, *places.place(key))
            yield Problem(where, "each key once", f"`{shown(path[-1])}` again", _ADVICE)
        seen.add(path)
        bare = _BARE.match(places.text, at)
        if bare and bare.group() not in _WORDS and isinstance(whole_or_text(bare.group()), str):
            where = Location(name, *places.place(at))
            told = f"a whole number of at most {MOST_DIGITS} digits, or text"
            yield Problem(where, told, f"`{shown(bare.group())}`", _ADVICE)


def _halves(document: Document) -> Iterator[Problem]:
    """Yield where a text, or a key, holds half of a surrogate pair, which no file can hold."""
    for path in document.positions:
        value: Data = document.data
        for step in path:
            value = value[step]  # type: ignore[index]
        key = path[-1] if path else ""
        for text, where in ((key, document.key_location(path)), (value, document.location(path))):
            if isinstance(text, str) and not _is_whole(text):
                yield Problem(where, "whole characters", f"half of one in `{shown(text)}`", _ADVICE)


def _is_whole(text: str) -> bool:
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


_Stop: TypeAlias = "tuple[Path, int | None, int]"
"""A path, where its key stands if it has one, and where its value does, both from 0."""


class _Places:
    """Where the parts of a JSON text stand, looked up the first time that anyone asks."""

    def __init__(self, text: str) -> None:
        self.text = text

    def place(self, index: int) -> Place:
        """Return line and column, from 1, of the character at `index`."""
        line = bisect_right(self._line_starts, index)
        return line, index - self._line_starts[line - 1] + 1

    @cached_property
    def _line_starts(self) -> list[int]:
        return [0, *(match.end() for match in re.finditer("\n", self.text))]

    @cached_property
    def by_path(self) -> dict[Path, tuple[int | None, int]]:
        """Where the key and the value of each path stand in the text."""
        return {path: (key, value) for path, key, value in self.walked()}

    def walked(self) -> Iterator[_Stop]:
        """Yield each value in the order of the text, which has to be JSON."""
        yield from self._value((), None, self._past_space(0))

    def _value(self, path: Path, key: int | None, at: int) -> Generator[_Stop, None, int]:
        """Yield a value and all that is in it; return where it ends."""
        yield path, key, at
        match self.text[at]:
            case "{":
                return (yield from self._mapping(path, at))
            case "[":
                return (yield from self._list(path, at))
            case '"':
                return _STRINGS.raw_decode(self.text, at)[1]
            case _:
                bare = _BARE.match(self.text, at)
                return bare.end() if bare else len(self.text)

    def _mapping(self, path: Path, at: int) -> Generator[_Stop, None, int]:
        at = self._past_space(at + 1)
        while self.text[at] != "}":
            key, end = _STRINGS.raw_decode(self.text, at)
            value = self._past_space(self._past_space(end) + 1)  # what is left out is the colon
            end = yield from self._value((*path, key), at, value)
            at = self._past_comma(end)
        return at + 1

    def _list(self, path: Path, at: int) -> Generator[_Stop, None, int]:
        at = self._past_space(at + 1)
        index = 0
        while self.text[at] != "]":
            end = yield from self._value((*path, index), None, at)
            at = self._past_comma(end)
            index += 1
        return at + 1

    def _past_space(self, at: int) -> int:
        space = _SPACE.match(self.text, at)
        return space.end() if space else at

    def _past_comma(self, at: int) -> int:
        """Return where the next item begins, or the closing bracket stands."""
        at = self._past_space(at)
        return self._past_space(at + 1) if self.text[at] == "," else at


class _Lookup(Mapping["Path", "Place"]):
    """Line and column of values, or of keys, by path."""

    def __init__(self, places: _Places, *, of_keys: bool) -> None:
        self._places = places
        self._of_keys = of_keys

    def __getitem__(self, path: Path) -> Place:
        key, value = self._places.by_path[path]
        at = key if self._of_keys else value
        if at is None:
            raise KeyError(path)
        return self._places.place(at)

    def __iter__(self) -> Iterator[Path]:
        paths = self._places.by_path.items()
        return (path for path, (key, _) in paths if key is not None or not self._of_keys)

    def __len__(self) -> int:
        return sum(1 for _ in self)
