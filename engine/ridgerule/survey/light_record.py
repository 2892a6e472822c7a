"""The ordinary record of a line that was decoded, read in whole or only where it is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import msgspec
from msgspec import UNSET

from ridgerule.documents import Document
from ridgerule.facts import Element, How, out_of_range, read_value
from ridgerule.problems import InputRejected
from ridgerule.quantities import Mistake
from ridgerule.record import unknown_reason
from ridgerule.record_reader import _EnoughTold, _Reader

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from ridgerule.documents import Data, Path
    from ridgerule.facts import Fact, Vocabulary
    from ridgerule.record import Reading, Record

NOWHERE: MappingProxyType[object, tuple[int, int]] = MappingProxyType({})


def plain_document(line: bytes) -> Document:
    """Return a line as a document without places inside it."""
    return Document("record.json", msgspec.json.decode(line), "", NOWHERE, NOWHERE)  # type: ignore[arg-type]


def light_record(line: bytes, vocabulary: Vocabulary) -> Record:
    """Return the record in a line that is known to have a record's structure.

    Raises `InputRejected` for values, words and references that can't be read.
    """
    return _whole_record(plain_document(line), vocabulary)


def seldom_read_record(line: bytes, vocabulary: Vocabulary) -> Record:
    """Return the record in a line that has no problem, read where it is looked at."""
    return _SeldomReader(plain_document(line), vocabulary).record()


def light_roof(line: bytes, vocabulary: Vocabulary) -> Record:
    """Return the record in a line as if it spoke of the roof as a whole alone."""
    data = msgspec.json.decode(line)
    kept = {key: data[key] for key in _WHOLE if key in data}
    document = Document("record.json", kept, "", NOWHERE, NOWHERE)  # type: ignore[arg-type]
    return _whole_record(document, vocabulary)


def _whole_record(document: Document, vocabulary: Vocabulary) -> Record:
    """Return a document's record with every check of the ordinary reader but the schema's."""
    reader = _Reader(document, vocabulary)
    record = None
    with suppress(_EnoughTold):
        record = reader.record()
        reader.refuse_more_planes(record.places[Element.LINE])
        reader.refuse_nameless_statements(record)
    if reader.problems or record is None:
        raise InputRejected(reader.problems)
    return record


_WHOLE = ("record", "roof", "dates", "installation", "warranty", "inspection")


def is_readable(fact: Fact, part: object) -> bool:
    """Tell whether a reading, as it stands in a key, can be read as its fact."""
    if part is UNSET:
        return True
    if not fact.per_side:
        return _is_readable_once(fact, part)
    if isinstance(part, tuple):
        return all(one is UNSET or _is_readable_once(fact, one) for one in part)
    return bool(unknown_reason(part))


def _is_readable_once(fact: Fact, part: object) -> bool:
    if not isinstance(part, tuple):
        return _is_value(fact, part)
    value, how, _, no_name, repeats = part
    value = None if value is UNSET else value
    if how == How.STATED and no_name and not unknown_reason(value):
        return False
    values = (value, *(() if repeats is UNSET else repeats))
    return all(_is_value(fact, each) for each in values)


def _is_value(fact: Fact, raw: object) -> bool:
    if unknown_reason(raw):
        return True
    found = read_value(raw, fact)
    return not isinstance(found, Mistake) and out_of_range(found, fact) is None


class _SeldomReader(_Reader):
    """Reads the readings of a place when they are asked for."""

    def readings_of(
        self,
        element: Element,
        data: dict[str, Data],
        path: Path,
        planes: tuple[str, ...],
        host: Element | None = None,
    ) -> Mapping[str, tuple[Reading, ...]]:
        return _Later(lambda: dict(self.readings(element, data, path, planes, host)))


class _Later(Mapping[str, "tuple[Reading, ...]"]):
    """Readings that are made when they are first looked at."""

    def __init__(self, made: Callable[[], dict[str, tuple[Reading, ...]]]) -> None:
        self._made: Callable[[], dict[str, tuple[Reading, ...]]] | None = made
        self._readings: dict[str, tuple[Reading, ...]] = {}

    def _all(self) -> dict[str, tuple[Reading, ...]]:
        if self._made is not None:
            self._readings, self._made = self._made(), None
        return self._readings

    def get(self, key: str, default: Any = None) -> Any:  # noqa: ANN401 - as a mapping's
        return self._all().get(key, default)

    def __getitem__(self, key: str) -> tuple[Reading, ...]:
        return self._all()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._all())

    def __len__(self) -> int:
        return len(self._all())
