"""The shape of a record as typed structs, so that a line is decoded and checked in one go.

What does not fit (an unknown key, a number with a fraction, a rare form) is not wrong by that: it
is read by the ordinary reader, which tells what is wrong if anything is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, Union

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType, defstruct

from ridgerule.facts import SECTIONS, Element, Fact, Host, How, Plain, Vocabulary
from ridgerule.record import COMPLETE_KEYS, STRUCTURE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

MOST_LINE = 40_000
"""Bytes of a line that is decoded this way: too few for more values than a file may hold."""
MOST_WORDS = 20_000
_MOST_WHOLE = 10**14
_Field = tuple[str, Any, Any]

_WORDS: Any = Union[Annotated[str, Meta(max_length=MOST_WORDS)], None, UnsetType]  # noqa: UP007
_SOME: Any = Annotated[str, Meta(min_length=1)]
_PHOTO: Any = Union[_SOME, Annotated[tuple[_SOME, ...], Meta(min_length=1)], UnsetType]  # noqa: UP007
_WHOLE: Any = Annotated[int, Meta(ge=0, le=_MOST_WHOLE)]
_HOW: Any = Union[Literal[tuple(how.value for how in How)], None, UnsetType]  # noqa: UP007
_SAID: Any = Union[Literal["all", "none", "unknown"], None, UnsetType]  # noqa: UP007
_NAMES: Any = Union[Annotated[tuple[str, ...], Meta(min_length=1)], UnsetType]  # noqa: UP007
_OPTIONS: dict[str, Any] = {"frozen": True, "forbid_unknown_fields": True, "gc": False}


def attribute(key: str) -> str:
    """Return the attribute that holds a key of the record: a key may be a word of Python's."""
    return f"{key}_"


class Shapes(Struct, frozen=True):
    """The structs that records of one vocabulary are decoded into."""

    record: type
    long_forms: tuple[type, ...]
    facts: Mapping[tuple[Element, Element | None], tuple[Fact, ...]]
    """The facts that can stand at an element, by its host where it is a station."""
    decode: Any
    """From a line to a struct; raises `msgspec.MsgspecError` for whatever does not fit."""


def shapes_of(vocabulary: Vocabulary) -> Shapes:
    """Return the structs for records read with a vocabulary."""
    long_forms = {kind: _long_form(name, value) for kind, (name, value) in _VALUES.items()}
    facts: dict[tuple[Element, Element | None], tuple[Fact, ...]] = {}
    types: dict[tuple[Element, Element | None], Any] = {}
    for host in (Element.LINE, Element.PLANE):
        facts[Element.STATION, host] = _recorded(vocabulary, Element.STATION, host)
        types[Element.STATION, host] = _element(
            Element.STATION, facts[Element.STATION, host], long_forms, f"{host.name.title()}Station"
        )
    for element in SECTIONS:
        facts[element, None] = _recorded(vocabulary, element)
        extra: tuple[_Field, ...] = ()
        if element in (Element.LINE, Element.PLANE):
            stations = types[Element.STATION, element]
            extra = (_field("stations", Union[_many(stations), UnsetType]),)  # noqa: UP007
        types[element, None] = _element(
            element, facts[element, None], long_forms, element.name.title(), extra
        )
    facts[Element.ROOF, None] = _recorded(vocabulary, Element.ROOF)
    record = _record(facts[Element.ROOF, None], types, long_forms)
    decode: Any = msgspec.json.Decoder(record).decode
    return Shapes(record, tuple(long_forms.values()), facts, decode)


def is_decodable(fact: Fact) -> bool:
    """Tell whether a recorded fact has a field; the schema of records knows no other sides."""
    if fact.derivation is not None:
        return False
    return fact.origin == "engine" or not (fact.per_side or fact.section)


def _recorded(
    vocabulary: Vocabulary, element: Element, host: Element | None = None
) -> tuple[Fact, ...]:
    known = vocabulary.by_element[element].values()
    kept = [fact for fact in known if is_decodable(fact)]
    if host is not None:
        kept = [f for f in kept if f.host is Host.EITHER or f.host.value == host.value]
    return tuple(kept)


_VALUES: dict[str, tuple[str, Any]] = {
    "words": ("LongWords", Union[str, _WHOLE]),  # noqa: UP007
    "yes or no": ("LongYesNo", Union[bool, str]),  # noqa: UP007
}
"""What can stand as a value, so that no `true` is taken for a 1."""


def _kind(fact: Fact) -> str:
    return "yes or no" if fact.dimension is Plain.YES_NO else "words"


def _long_form(name: str, value: Any) -> type:  # noqa: ANN401 - a type
    fields = [
        _field("value", Union[value, None, UnsetType]),  # noqa: UP007
        _field("how", _HOW),
        _field("with", _WORDS),
        _field("when", _WORDS),
        _field("by", Union[_SOME, UnsetType]),  # noqa: UP007
        _field("repeats", Union[tuple[Union[str, _WHOLE], ...], UnsetType]),  # noqa: UP007
        _field("photo", _PHOTO),
        _field("note", _WORDS),
    ]
    return _struct(name, fields)


def _reading(fact: Fact, long_forms: Mapping[str, type]) -> Any:  # noqa: ANN401 - a type
    kind = _kind(fact)
    value = _VALUES[kind][1]
    one: Any = _either(value, long_forms[kind], None)
    if fact.per_side:
        return Union[_mapping(one), str, None, UnsetType]  # noqa: UP007
    return Union[one, UnsetType]  # noqa: UP007


def _element(
    element: Element,
    facts: Iterable[Fact],
    long_forms: Mapping[str, type],
    name: str,
    extra: tuple[_Field, ...] = (),
) -> type:
    types = {
        "between": _NAMES, "planes": _NAMES, "lines": _NAMES,
        "plane": Union[str, UnsetType], "line": Union[str, UnsetType],  # noqa: UP007
        "only": _NAMES, "plan": Union[tuple[tuple[str, str], ...], UnsetType],  # noqa: UP007
        "at": _WORDS, "from": _WORDS, "name": _WORDS,
    }  # fmt: skip
    keys = sorted(STRUCTURE[element] - {"stations"})
    fields = [_field(key, types[key]) for key in keys]
    fields += [_field("note", _WORDS), _field("photo", _PHOTO), *extra]
    fields += [_field(fact.name, _reading(fact, long_forms)) for fact in facts]
    return _struct(name, fields)


def _record(
    roof_facts: Iterable[Fact],
    types: Mapping[tuple[Element, Element | None], Any],
    long_forms: Mapping[str, type],
) -> type:
    id_ = Annotated[str, Meta(min_length=1, max_length=200)]
    sections: dict[str, list[Any]] = {
        "roof": [("id_", id_), _field("name", _WORDS), _field("note", _WORDS),
                 _field("photo", _PHOTO)],
        "dates": [], "installation": [], "warranty": [],
        "inspection": [_field(key, _WORDS) for key in _VISIT],
    }  # fmt: skip
    for fact in roof_facts:
        key = fact.key if fact.section else fact.name
        sections[fact.section or "roof"].append(_field(key, _reading(fact, long_forms)))
    apart = Union[tuple[tuple[str, str], ...], UnsetType]  # noqa: UP007
    complete = [_field(key, _SAID) for key in COMPLETE_KEYS] + [_field("apart", apart)]
    figure = Union[str, None, UnsetType]  # noqa: UP007
    instrument = _struct(
        "Instrument",
        [
            _field("graduation", figure), _field("expanded_uncertainty", figure),
            _field("tape_class", Union[Literal["I", "II", "III"], UnsetType]),  # noqa: UP007
            _field("note", _WORDS),
        ],
    )  # fmt: skip
    books = tuple[Annotated[str, Meta(min_length=1, max_length=200)], ...]
    fields: list[Any] = [
        ("record_", Literal[1]),
        ("roof_", _struct("Roof", sections.pop("roof"))),
        *(_part(name, _struct(name.title(), parts)) for name, parts in sections.items()),
        _part("complete", _struct("Complete", complete)),
        _field("rulebooks", Union[books, UnsetType]),  # noqa: UP007
        _field("instruments", Union[_mapping(instrument), UnsetType]),  # noqa: UP007
    ]
    for element, section in SECTIONS.items():
        listed: Any = _mapping(types[element, None])
        fields.append(_field(section, Union[listed, UnsetType]))  # noqa: UP007
    return _struct("Record", fields)


_VISIT = ("inspector", "body", "client", "purpose", "method", "weather", "access", "note")


def _part(name: str, struct: type) -> _Field:
    return _field(name, Union[struct, UnsetType])  # noqa: UP007


def _either(*types: Any) -> Any:  # noqa: ANN401 - types
    """Return the type of what is one of several."""
    return Union[types]  # noqa: UP007 - of types told by name


def _mapping(value: Any) -> Any:  # noqa: ANN401 - types
    """Return the type of a mapping from text."""
    return dict.__class_getitem__((str, value))


def _many(item: Any) -> Any:  # noqa: ANN401 - types
    """Return the type of a list, kept as a tuple."""
    return tuple.__class_getitem__((item, ...))


def _field(key: str, type_: Any) -> _Field:  # noqa: ANN401 - a type
    return attribute(key), type_, UNSET


def _struct(name: str, fields: Iterable[Any]) -> type:
    listed = list(fields)
    names = {field[0]: field[0].removesuffix("_") for field in listed}
    return defstruct(name, listed, rename=names, **_OPTIONS)
