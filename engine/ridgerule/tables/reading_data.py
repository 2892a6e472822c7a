"""A reading as a record holds it: in its short form, or with how it is known and what else is said.

A table's blank under `how` means what a record's short form means: the usual way of the fact, with
the usual instrument. So a photo beside a value does not make it known in a weaker way.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import How, read_value
from ridgerule.misreadings import Mistake
from ridgerule.plain_data import mapping_in
from ridgerule.record import unknown_reason
from ridgerule.tables.keys import NOT_SAID, Part
from ridgerule.tables.listed_text import joined

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from ridgerule.documents import Data
    from ridgerule.facts import Fact

Parts = dict[Part, "Data"]


class Usual(Struct, frozen=True):
    """What a reading's short form says of how it is known, without a word."""

    how: How
    tool: str = ""
    """The usual instrument, if the record lists it."""

    @classmethod
    def of(cls, fact: Fact, instruments: Collection[str]) -> Usual:
        """Return what is usual for a fact, in a record that lists these instruments."""
        return cls(fact.short_form, fact.tool if fact.tool in instruments else "")


def parts_of(data: Data) -> Parts:
    """Return the parts of a reading as a record holds it; blank ones left out."""
    if not isinstance(data, dict):
        return {} if data is None else {Part.VALUE: data}
    return {part: data[part] for part in Part if data.get(part) not in (None, [], "")}


def data_from(parts: Mapping[Part, Data], usual: Usual) -> Data:
    """Return a reading as a record holds it, from what a table says of it."""
    if set(parts) == {Part.VALUE}:
        return parts[Part.VALUE]
    return as_long(lengthened(parts, usual))


def lengthened(parts: Mapping[Part, Data], usual: Usual) -> Parts:
    """Return parts with how the reading is known said, where a blank stands for what is usual."""
    found = dict(parts)
    value = found.get(Part.VALUE)
    if Part.HOW in found or value is None or unknown_reason(value):
        return found
    if usual.how is not How.STATED or Part.BY in found:  # that needs who stated it
        found[Part.HOW] = str(usual.how)
    if usual.tool:
        found.setdefault(Part.WITH, usual.tool)
    return found


def as_long(parts: Mapping[Part, Data]) -> Data:
    """Return the long form of a reading, its parts in the order in which a person writes them."""
    return {
        str(part): parts[part]
        for part in Part
        if part in parts and (part, parts[part]) != (Part.HOW, NOT_SAID)
    }


def is_same(part: Part, one: Data, other: Data, fact: Fact | None) -> bool:
    """Tell whether two cells say the same: as they are written, or as the fact reads them."""
    if part is Part.REPEATS:
        ones, others = _listed(one), _listed(other)
        pairs = zip(ones, others, strict=False)
        return len(ones) == len(others) and all(_is_same_value(a, b, fact) for a, b in pairs)
    if part is Part.VALUE:
        return _is_same_value(one, other, fact)
    return _written(one) == _written(other)


def _is_same_value(one: Data, other: Data, fact: Fact | None) -> bool:
    if (reason := unknown_reason(one)) or unknown_reason(other):
        return reason == unknown_reason(other)
    if fact is not None:
        first, second = read_value(one, fact), read_value(other, fact)
        if not isinstance(first, Mistake) and not isinstance(second, Mistake):
            return first == second
    return _written(one) == _written(other)


def _listed(data: Data) -> list[Data]:
    return data if isinstance(data, list) else [data]


def _written(data: Data) -> object:
    """Return data as it would be written, a list of one as that one."""
    if isinstance(data, list):
        return [_written(item) for item in data] if len(data) != 1 else _written(data[0])
    return data if isinstance(data, dict) else str(data)


def photos_together(one: Data, other: Data) -> Data:
    """Return the photos of both, each once, those of the first first; it itself if it has all."""
    has = [_written(photo) for photo in _flat(one)]
    more = [photo for photo in _flat(other) if _written(photo) not in has]
    return [*_listed(one), *more] if more else one


def _flat(photos: Data) -> Iterator[Data]:
    """Yield photos one by one; lists of them may lie in lists."""
    for photo in _listed(photos):
        if isinstance(photo, list):
            yield from _flat(photo)
        else:
            yield photo


def words_of(data: Data) -> str:
    """Return a reading in words: its value, then in brackets what else is said of it."""
    if isinstance(data, dict) and not set(data) & set(Part):
        return ", ".join(f"{side}: {words_of(reading)}" for side, reading in data.items())
    parts = parts_of(data)
    value = parts.pop(Part.VALUE, None)
    shown = _shown(value) if value is not None else "no value"
    more = [_shown(parts.pop(Part.HOW))] if Part.HOW in parts else []
    more += [f"{part} {_shown(said)}" for part, said in parts.items()]
    return f"{shown} ({', '.join(more)})" if more else shown


def _shown(data: Data) -> str:
    if isinstance(data, bool):
        return "yes" if data else "no"
    if isinstance(data, list):
        return joined(data)
    return str(mapping_in(data).get("file", data))
