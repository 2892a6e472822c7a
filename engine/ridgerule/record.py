"""The record of one roof: what was seen and measured, as frozen values that know their place.

`record_reader` makes them from a document; nothing here knows a rule.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, cast

from msgspec import Struct

from ridgerule.facts import SECTIONS, Element, How, LineKind, Value

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.coordinates import Coordinates
    from ridgerule.documents import Document, Path
    from ridgerule.problems import Location
    from ridgerule.quantities import Quantity

NOT_RECORDED = "not recorded"
LEFT_BLANK = "left blank"
UNKNOWN_WORDS = MappingProxyType(
    {"unknown": "unknown", "can't reach": "can't reach", "cannot reach": "can't reach"}
)
"""What an inspector writes instead of a value, and the reason it gives."""


def unknown_reason(raw: object) -> str:
    """Return why what stands in a record is no value: blank, or a word for not knowing; or ""."""
    if raw is None:
        return LEFT_BLANK
    if not isinstance(raw, str):
        return ""
    word = " ".join(raw.casefold().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'").split())
    return UNKNOWN_WORDS.get(word, "") if word else LEFT_BLANK


STRUCTURE: Mapping[Element, frozenset[str]] = MappingProxyType(
    {
        Element.ROOF: frozenset({"id", "name"}),
        Element.PLANE: frozenset({"name", "stations"}),
        Element.LINE: frozenset({"name", "between", "from", "plan", "stations"}),
        Element.STATION: frozenset({"at", "only"}),
        Element.JOINT: frozenset({"name", "lines"}),
        Element.OPENING: frozenset({"name", "plane"}),
        Element.WALL: frozenset({"name", "plane"}),
        Element.ATTIC: frozenset({"name", "planes", "lines"}),
        Element.DELIVERY: frozenset({"name", "lines"}),
        Element.SAMPLE: frozenset({"name", "plane", "line"}),
    }
)
"""The keys of each element that are no facts; `note` and `photo` go anywhere."""

COMPLETE_KEYS: Mapping[str, Element | LineKind] = MappingProxyType(
    {f"{kind}s": kind for kind in LineKind}
    | {section: element for element, section in SECTIONS.items() if element is not Element.LINE}
)
"""The kinds of place a record can say it lists in full, or has none of."""


class Reading(Struct, frozen=True):
    """One fact at one place: a known value, or why it is unknown."""

    value: Value | None
    path: Path
    unknown: str = ""
    how: How | None = None
    side: str = ""
    tool: str = ""
    by: str = ""
    when: str = ""
    note: str = ""
    photos: tuple[str, ...] = ()
    repeats: tuple[Value, ...] = ()


class Place(Struct, frozen=True):
    """One roof, plane, line, station, joint …: where a rule can be asked."""

    element: Element
    id: str
    label: str
    path: Path
    readings: Mapping[str, tuple[Reading, ...]]
    """By fact name; one reading, or one a side for facts measured per side."""
    planes: tuple[str, ...] | None = ()
    """The planes it touches; None where the record doesn't say."""
    lines: tuple[str, ...] | None = ()
    stations: tuple[Place, ...] = ()
    host: Element | None = None
    """For a station: whether it lies on a line or on a plane."""
    at: Quantity | None = None
    """For a station on a line: its distance from the named end."""
    spot: str = ""
    """For a station: where it lies, in one spelling; empty where that is not known."""
    only: frozenset[str] | None = None
    """For a station: the facts it was made for, where it was not made for all."""
    photos: tuple[str, ...] = ()
    note: str = ""
    plan: tuple[Coordinates, ...] = ()
    """For a line: its points in plan, from the end that stations count from; for drawings alone."""

    @property
    def kind(self) -> LineKind | None:
        """The kind of a line, where it is known."""
        reading = self.readings.get("kind")
        if self.element is not Element.LINE or reading is None or reading[0].value is None:
            return None
        return LineKind(cast("str", reading[0].value))


class Instrument(Struct, frozen=True):
    """What a reading was taken with."""

    name: str
    graduation: Quantity | None = None
    expanded_uncertainty: Quantity | None = None
    tape_class: str = ""
    """`I`, `II` or `III`, as it is printed on a tape."""
    note: str = ""


class Record(Struct, frozen=True):
    """What is known of one roof."""

    document: Document
    roof: Place
    places: Mapping[Element, tuple[Place, ...]]
    """Every place but the stations, which lie under their lines and planes."""
    complete: Mapping[Element | LineKind, str]
    """`all` or `none` for the kinds of place the record says it lists in full."""
    apart: frozenset[frozenset[str]]
    """Pairs of planes stated not to meet."""
    rulebooks: tuple[str, ...]
    rulebook_paths: tuple[Path, ...]
    instruments: Mapping[str, Instrument]
    inspection: Mapping[str, str]
    """The visit in words: inspector, weather, access …"""
    name: str
    by_id: Mapping[tuple[Element, str], Place]
    photo_faults: Mapping[str, str] = {}
    """Why photos that it names can't be shown, by name, where someone has looked for them."""
    computed: dict[tuple[object, ...], object] = {}
    """A memo of what one audit has computed from it; no part of what it says."""

    def location(self, path: Path) -> Location:
        """Return the line and column of a node of the record's file."""
        return self.document.location(path)

    def every_place(self) -> Iterator[Place]:
        """Yield the roof and every place of it, stations under the place they lie on."""
        yield self.roof
        for found in self.places.values():
            for place in found:
                yield place
                yield from place.stations

    def reading_at(self, path: Path) -> Reading | None:
        """Return the reading that stands at a path of the record's file, None where none does."""
        key = ("readings by path",)
        if key not in self.computed:
            self.computed[key] = {
                reading.path: reading
                for place in self.every_place()
                for readings in place.readings.values()
                for reading in readings
            }
        return cast("dict[Path, Reading]", self.computed[key]).get(path)
