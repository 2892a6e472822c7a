"""How tables name what a record holds: places, their keys, the parts of a reading."""

from __future__ import annotations

from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.facts import SECTIONS, Element, Fact, LineKind, Vocabulary
from ridgerule.record import STRUCTURE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.documents import Data
    from ridgerule.problems import Location

ROOF_SECTIONS = ("roof", "dates", "installation", "warranty", "inspection")
"""The sections with facts of the roof itself."""
PLAIN_SECTIONS = (*ROOF_SECTIONS, "complete", "rulebooks")
"""The sections that list no places."""
INSTRUMENTS = "instruments"
PLACE_SECTIONS = tuple(SECTIONS.values())
HOST_SECTIONS = ("planes", "lines")
"""The sections whose places have stations."""
ALL_SECTIONS = (*PLAIN_SECTIONS, INSTRUMENTS, *PLACE_SECTIONS)
"""In the order in which a person writes them."""

ELEMENTS: Mapping[str, Element] = MappingProxyType(
    {section: element for element, section in SECTIONS.items()}
    | dict.fromkeys(ROOF_SECTIONS, Element.ROOF)
)
"""The element of each section."""

NOT_SAID = "not said"
"""What stands for how a reading is known where its long form leaves that open.

A blank means the usual way of its fact, as in a record's short form.
"""


class Part(StrEnum):
    """The parts of a reading in its long form, in the order in which a person writes them."""

    VALUE = "value"
    HOW = "how"
    WITH = "with"
    BY = "by"
    WHEN = "when"
    REPEATS = "repeats"
    PHOTO = "photo"
    NOTE = "note"


class Form(StrEnum):
    """How what stands in a cell is read."""

    FACT = "a value of a fact"
    WORDS = "words"
    DAY = "words, or a day"
    NAMES = "names"
    PAIR = "a pair of planes"
    HOW = "how a reading is known"
    REPEATS = "repeat readings"
    PHOTO = "photos"
    POSITION = "where a station is"
    POINTS = "points in plan"


class Asked(Struct, frozen=True):
    """What a cell is to say: a value of a fact, words, names or the like."""

    form: Form
    fact: Fact | None = None
    unit: str = ""
    """The unit of bare numbers."""


class Station(Struct, frozen=True):
    """A station as a table names it."""

    position: Data = None
    number: int = 0
    """Its number along its line or plane, from 1; 0 where the table gives none."""
    row: int = 0
    """The row it has for itself, where a row is a station; else 0."""


class Spot(Struct, frozen=True):
    """Where in a record something is said: a section, a place in it, a station there."""

    section: str
    place: str = ""
    station: Station | None = None

    @property
    def element(self) -> Element | None:
        """The element that facts here are of, None where there are none."""
        return Element.STATION if self.station is not None else ELEMENTS.get(self.section)


class Cells(Struct, frozen=True):
    """The cells of a row that name what it is about; None where there is none."""

    place: Location | None = None
    position: Location | None = None
    key: Location | None = None
    """Where a cell names the fact; else its column's title does."""


class Told(Struct, frozen=True):
    """One thing that a table says, and the cell that says it."""

    spot: Spot
    key: str
    """The record's key; empty where nothing more is said than that the place is there."""
    part: Part
    data: Data
    where: Location
    side: str = ""
    cells: Cells = Cells()


_STRUCTURE: Mapping[str, Form] = MappingProxyType(
    dict.fromkeys(("id", "name", "from", "plane", "line", "note"), Form.WORDS)
    | dict.fromkeys(("between", "planes", "lines", "only"), Form.NAMES)
    | {"photo": Form.PHOTO, "at": Form.POSITION, "plan": Form.POINTS}
)
"""How the keys are read that are no facts."""
_PARTS: Mapping[Part, Form] = MappingProxyType(
    {
        Part.VALUE: Form.FACT,
        Part.HOW: Form.HOW,
        Part.WITH: Form.WORDS,
        Part.BY: Form.WORDS,
        Part.WHEN: Form.DAY,
        Part.REPEATS: Form.REPEATS,
        Part.PHOTO: Form.PHOTO,
        Part.NOTE: Form.WORDS,
    }
)


def asked_of(
    vocabulary: Vocabulary, spot: Spot, key: str, part: Part = Part.VALUE, unit: str = ""
) -> Asked:
    """Return what a cell says that is about a key of a spot.

    A key that is no fact and no part of a record's structure is read as words: that it is not
    known, the record's own reader tells.
    """
    fact = fact_of(vocabulary, spot, key)
    if fact is not None:
        return Asked(_PARTS[part], fact, unit)
    if (spot.section, key) == ("complete", "apart"):
        return Asked(Form.PAIR)
    form = _STRUCTURE.get(key, Form.WORDS) if is_structure(spot, key) else Form.WORDS
    return Asked(form, None, unit)


def fact_of(vocabulary: Vocabulary, spot: Spot, key: str) -> Fact | None:
    """Return the recorded fact that a key of a spot holds, None where it holds none."""
    element = spot.element
    if element is None or is_structure(spot, key):
        return None
    known = vocabulary.by_element[element]
    if element is Element.ROOF and spot.section != "roof":
        return next((f for f in known.values() if (f.section, f.key) == (spot.section, key)), None)
    fact = known.get(key)
    return None if fact is None or fact.derivation is not None or fact.section else fact


def is_structure(spot: Spot, key: str) -> bool:
    """Tell whether a key of a spot is no fact of it: such as its name or note."""
    element = spot.element
    if element is None:
        return False
    if element is Element.ROOF and spot.section != "roof":
        return False  # `inspection.note` is words of the visit
    return key in STRUCTURE[element] or key in ("note", "photo")


def label_of(section: str, place: str, data: Mapping[str, Data]) -> str:
    """Return a place as a report names it, such as `hip H1`, `dates` or `instrument tape`."""
    if not place:
        return section
    if section == INSTRUMENTS:
        return f"instrument {place}"
    noun = str(ELEMENTS.get(section, section))
    kind = data.get("kind")
    if section == SECTIONS[Element.LINE] and kind in frozenset(LineKind):
        noun = str(kind)
    return f"{noun} {place}"
