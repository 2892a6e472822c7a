"""What can be known about a roof: elements, declared facts and how they are known.

A record is read with a `Vocabulary`: the engine's own facts and those that its rulebooks declare.
A word outside it is a problem, so that a slip of the keyboard can't hide a measurement.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from ridgerule.enclosures import Span, compare
from ridgerule.problems import shown, suggestion, with_article
from ridgerule.quantities import Dimension, Mistake, Quantity, read

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping


class Element(StrEnum):
    """What a fact can be about."""

    ROOF = "roof"
    PLANE = "plane"
    LINE = "line"
    STATION = "station"
    JOINT = "joint"
    OPENING = "opening"
    WALL = "wall"
    ATTIC = "attic"
    DELIVERY = "delivery"
    SAMPLE = "sample"


class LineKind(StrEnum):
    """Where planes end."""

    HIP = "hip"
    RIDGE = "ridge"
    VALLEY = "valley"
    EAVE = "eave"
    RAKE = "rake"


SECTIONS: Mapping[Element, str] = MappingProxyType(
    {
        Element.PLANE: "planes",
        Element.LINE: "lines",
        Element.JOINT: "joints",
        Element.OPENING: "openings",
        Element.WALL: "walls",
        Element.ATTIC: "attics",
        Element.DELIVERY: "deliveries",
        Element.SAMPLE: "samples",
    }
)
"""The record's section for each element that is listed by id."""


class Plain(StrEnum):
    """Facts that are no quantity."""

    YES_NO = "yes or no"
    CHOICE = "choice"
    TEXT = "text"
    DATE = "date"


class How(StrEnum):
    """How a fact is known; a finished roof hides most of what matters."""

    MEASURED = "measured"
    SEEN = "seen"
    CAP_LIFTED = "cap lifted"
    PHOTO_DURING_WORK = "photo during work"
    DOCUMENT = "document"
    STATED = "stated"


class Over(StrEnum):
    """How many readings become one; always said, never guessed."""

    EACH = "each"
    ANY = "any"
    LEAST = "least"
    GREATEST = "greatest"
    MEAN = "mean"
    SPREAD = "spread"
    COUNT = "count"


class Host(StrEnum):
    """What the stations of a fact lie on."""

    LINE = "line"
    PLANE = "plane"
    EITHER = "line or plane"


Value = Quantity | bool | str | dt.date
"""A known value; `Quantity` where the fact has a dimension."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One declared fact: what it is about, how it is measured, what it may say."""

    element: Element
    name: str
    dimension: Dimension | Plain
    measure: str
    """The measuring definition: from where to where, in which plane, per side or total."""
    ask: str = ""
    tool: str = ""
    choices: tuple[str, ...] = ()
    least: Quantity | None = None
    greatest: Quantity | None = None
    graduation: Quantity | None = None
    """The smallest change that its instrument shows; None for the usual one of its dimension."""
    per_side: bool = False
    host: Host = Host.EITHER
    short_form: How = How.MEASURED
    """How the fact is known when the record gives the bare value."""
    section: str = ""
    """The record's top-level section, for roof facts kept outside `roof:`."""
    key: str = ""
    """The key in that section, where it is not the fact's name."""
    origin: str = "engine"
    formula: str = ""
    """For a computed fact: how, in words."""
    source: str = ""
    """For a computed fact: where the formula is from."""
    inputs: tuple[str, ...] = ()
    """For a computed fact: the facts it is computed from."""
    derivation: Callable[..., Any] | None = field(default=None, compare=False, repr=False)
    """For a computed fact: gives its value at a place, from a record and that place."""
    reads: frozenset[str] = frozenset()
    """For a computed fact: the recorded facts of its own element that it rests on."""

    @property
    def needs(self) -> frozenset[str]:
        """The facts that have to be recorded at a place for this one to be known there."""
        return self.reads if self.derivation is not None else frozenset({self.name})

    def __hash__(self) -> int:
        return hash((self.element, self.name))

    @property
    def full_name(self) -> str:
        """The name rulebooks use, such as `station.gap`."""
        return f"{self.element}.{self.name}"


_WIDEST: Mapping[Dimension, tuple[str | None, str | None]] = MappingProxyType(
    {
        Dimension.LENGTH: ("0 in", "1000 ft"),
        Dimension.AREA: ("0 ft2", None),
        Dimension.SLOPE: ("0:12", None),
        Dimension.ANGLE: ("0 deg", "360 deg"),
        Dimension.TEMPERATURE: ("-60 degC", "120 degC"),
        Dimension.COUNT: ("0", None),
        Dimension.SHARE: ("0 %", None),
    }
)
"""What no reading of a dimension can go beyond, unless its fact says otherwise."""


def value_range(
    dimension: Dimension | Plain, *, least: str | None = None, greatest: str | None = None
) -> tuple[Quantity | None, Quantity | None] | Mistake:
    """Return the least and the greatest value that a fact can have, in its dimension."""
    if not isinstance(dimension, Dimension):
        return None, None
    widest = _WIDEST.get(dimension, (None, None))
    bounds: list[Quantity | None] = []
    for text in (least or widest[0], greatest or widest[1]):
        found = None if text is None else read(text, dimension)
        if isinstance(found, Mistake):
            return found
        bounds.append(found)
    return bounds[0], bounds[1]


def read_graduation(raw: object, dimension: Dimension | Plain) -> Quantity | Mistake:
    """Return the smallest change of a fact that its instrument shows: an exact one, over nothing.

    Of a temperature it is a difference.
    """
    if not isinstance(dimension, Dimension):
        return Mistake("`graduation` beside a quantity", with_article(dimension), "take it out")
    if dimension is Dimension.TEMPERATURE:
        dimension = Dimension.TEMPERATURE_DIFFERENCE
    if isinstance(raw, bool) or not isinstance(raw, (str, int)):
        return Mistake(f"{with_article(dimension)} as a graduation", described(raw), "")
    found = read(raw, dimension)
    if isinstance(found, Quantity) and isinstance(found.amount, Span):
        return Mistake("a graduation that is exact", f"`{shown(raw)}`", "write it as a ratio")
    if isinstance(found, Quantity) and compare(found.amount, 0) != 1:
        return Mistake("a graduation of more than nothing", f"`{shown(raw)}`", _SLIP)
    return found


class FactRef(Struct, frozen=True):
    """A fact as a rulebook names it: `station.gap`, `each plane.slope`, `spread station.gap`."""

    fact: Fact
    over: Over | None = None

    def __str__(self) -> str:
        return f"{self.over} {self.fact.full_name}" if self.over else self.fact.full_name


@dataclass(frozen=True)
class Vocabulary:
    """The facts a record and its rulebooks may name."""

    facts: tuple[Fact, ...]
    by_name: Mapping[str, Fact] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        names = {fact.full_name: fact for fact in self.facts}
        object.__setattr__(self, "by_name", MappingProxyType(names))

    @cached_property
    def by_element(self) -> Mapping[Element, Mapping[str, Fact]]:
        """The facts of each element, by their short names."""
        return MappingProxyType(
            {
                element: MappingProxyType({f.name: f for f in self.facts if f.element is element})
                for element in Element
            }
        )

    def extended(self, facts: Iterable[Fact]) -> Vocabulary:
        """Return this vocabulary with more facts; a name it already has keeps its first meaning."""
        known = self.by_name
        return Vocabulary((*self.facts, *(f for f in facts if f.full_name not in known)))

    def find(self, text: str) -> FactRef | Mistake:
        """Return the fact that `text` names, with its word for one over many if it has one."""
        *words, name = text.split() or [""]
        if len(words) > 1 or not _FULL_NAME.fullmatch(name):
            near = [full for full in self.by_name if full.partition(".")[2] == name]
            advice = f"did you mean {' or '.join(f'`{full}`' for full in near)}?" if near else ""
            expected = "a fact such as `station.gap` or `each plane.slope`"
            return Mistake(expected, f"`{shown(text)}`", advice)
        if words and words[0] not in _OVERS:
            known = ", ".join(f"`{over}`" for over in Over)
            return Mistake(f"one of {known} before `{name}`", f"`{shown(words[0])}`", "")
        if (fact := self.by_name.get(name)) is None:
            return Mistake(
                "a fact that the engine or a loaded rulebook declares",
                f"`{shown(name)}`",
                suggestion(name, self.by_name)
                or "`ridgerule book facts` lists them; declare your own under `facts:`",
            )
        return FactRef(fact, Over(words[0]) if words else None)


_FULL_NAME = re.compile(r"[a-z]+\.[a-z][a-z0-9_]*", re.ASCII)
_OVERS = frozenset(Over)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_YES_NO = MappingProxyType({"yes": True, "true": True, "no": False, "false": False})


def names_a_fact(text: object) -> bool:
    """Tell whether `text` is written like a fact (`element.name`) rather than like a value."""
    if not isinstance(text, str) or not text:
        return False
    name = text.split()[-1] if text.split() else ""
    return bool(_FULL_NAME.fullmatch(name)) and name.split(".")[0] in _ELEMENTS


_ELEMENTS = frozenset(Element)


def read_value(raw: object, fact: Fact) -> Value | Mistake:
    """Return what `raw`, as it stands in a file, says of `fact`."""
    match fact.dimension:
        case Dimension():
            return _read_quantity(raw, fact, fact.dimension)
        case Plain.YES_NO:
            return _read_yes_no(raw)
        case Plain.CHOICE:
            return _read_choice(raw, fact)
        case Plain.DATE:
            return read_date(raw)
        case Plain.TEXT:
            return _read_text(raw)


def _read_quantity(raw: object, fact: Fact, dimension: Dimension) -> Value | Mistake:
    if isinstance(raw, bool) or not isinstance(raw, (str, int)):
        return Mistake(f"{with_article(dimension)} for `{fact.name}`", described(raw), "")
    return read(raw, dimension)


def _read_yes_no(raw: object) -> Value | Mistake:
    if isinstance(raw, bool):
        return raw
    if isinstance(raw, str) and raw.lower() in _YES_NO:
        return _YES_NO[raw.lower()]
    return Mistake("`yes` or `no`", described(raw), "write `unknown` if it could not be told")


def _read_choice(raw: object, fact: Fact) -> Value | Mistake:
    word = str(raw) if isinstance(raw, (str, int)) and not isinstance(raw, bool) else None
    if word in fact.choices:
        return word
    listed = ", ".join(f"`{choice}`" for choice in fact.choices)
    return Mistake(f"one of {listed}", described(raw), suggestion(word or "", fact.choices))


def read_date(raw: object) -> dt.date | Mistake:
    """Return the calendar date that `raw` writes as year-month-day (ISO 8601)."""
    expected = "a date such as `2026-03-02`"
    if not isinstance(raw, str) or not _DATE.fullmatch(raw):
        return Mistake(expected, described(raw), "write it as year-month-day, in digits")
    try:
        return dt.date.fromisoformat(raw)
    except ValueError:
        return Mistake(expected, described(raw), "there is no such day")


def _read_text(raw: object) -> Value | Mistake:
    if isinstance(raw, (str, int)) and not isinstance(raw, bool):
        return str(raw)
    return Mistake("text", described(raw), "put quotes round it")


def out_of_range(value: Value, fact: Fact) -> Mistake | None:
    """Return what is wrong with a value outside the range its fact can have, or None."""
    if not isinstance(value, Quantity):
        return None
    found = f"`{shown(value.text)}`"
    if fact.least is not None and compare(value.amount, fact.least.amount) == -1:
        return Mistake(f"`{fact.name}` of at least {fact.least.text}", found, _SLIP)
    if fact.greatest is not None and compare(value.amount, fact.greatest.amount) == 1:
        slip = _COMMA_SLIP if "," in value.text else _SLIP
        return Mistake(f"`{fact.name}` of at most {fact.greatest.text}", found, slip)
    return None


_SLIP = "check the reading and its unit"
_COMMA_SLIP = "a comma parts thousands; write decimals with a point"


def described(raw: object) -> str:
    """Return what stands in a file, in words fit for a message."""
    match raw:
        case None:
            return "nothing"
        case "":
            return "an empty text"
        case bool():
            return f"`{str(raw).lower()}`"
        case list():
            return "a list"
        case dict():
            return "a mapping"
        case _:
            return f"`{shown(raw)}`"
