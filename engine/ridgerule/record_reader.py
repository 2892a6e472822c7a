"""Reads a document into the `Record` of a roof, or tells every problem that stands in the way."""

from __future__ import annotations

from contextlib import suppress
from itertools import chain
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec.structs import replace

from ridgerule.coordinates import read_points
from ridgerule.facts import (
    SECTIONS,
    Element,
    Fact,
    Host,
    How,
    LineKind,
    Value,
    Vocabulary,
    described,
    out_of_range,
    read_value,
)
from ridgerule.photo_names import photo_names
from ridgerule.plain_data import MOST_PROBLEMS, items_in, mapping_in, words_in
from ridgerule.problems import (
    InputRejected,
    Location,
    Problem,
    shown,
    suggestion,
    with_article,
)
from ridgerule.quantities import Dimension, Mistake, Quantity, read
from ridgerule.record import (
    COMPLETE_KEYS,
    NOT_RECORDED,
    STRUCTURE,
    Instrument,
    Place,
    Reading,
    Record,
    unknown_reason,
)
from ridgerule.schemas import check

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.coordinates import Coordinates
    from ridgerule.documents import Data, Document, Path

_ANYWHERE = frozenset({"note", "photo"})
_LONG_FORM = frozenset({"value", "how", "with", "when", "by", "repeats", "photo", "note"})


def read_record(document: Document, vocabulary: Vocabulary) -> Record:
    """Return the record in `document`, read with `vocabulary`.

    Raises `InputRejected` with every problem of structure, vocabulary, value and reference.
    """
    structural = check(document, "record")
    reader = _Reader(document, vocabulary)
    record = None
    with suppress(_EnoughTold):
        record = reader.record() if isinstance(document.data, dict) else None
        if record is not None:
            reader.refuse_more_planes(record.places[Element.LINE])
            reader.refuse_nameless_statements(record)
    told = {problem.location for problem in structural}
    problems = (*structural, *(p for p in reader.problems if p.location not in told))
    if problems or record is None:
        raise InputRejected(problems)
    return record


def record_of(document: Document, vocabulary: Vocabulary) -> Record:
    """Return the record in a document that is known to have a record's structure.

    Raises `InputRejected` for values, words and references that can't be read.
    """
    reader = _Reader(document, vocabulary)
    record = None
    with suppress(_EnoughTold):
        record = reader.record()
    if reader.problems or record is None:
        raise InputRejected(reader.problems)
    return record


def rulebooks_named(document: Document) -> tuple[str, ...]:
    """Return the rulebooks that a record lists, before its facts can be read."""
    data = document.data if isinstance(document.data, dict) else {}
    return tuple(name for name in items_in(data.get("rulebooks")) if isinstance(name, str))


def spot_of(at: Quantity | None, written: str) -> str:
    """Return a station's place in one spelling, so that two readings at one place are seen."""
    return str(at.amount) if at is not None else " ".join(written.casefold().split())


class _EnoughTold(Exception):  # noqa: N818 - says what happened; caught where a record is read
    """A record has more problems than are of use; its reader holds those told."""


class _Reader:
    """Reads one document; keeps the problems it meets so that all are told at once."""

    def __init__(self, document: Document, vocabulary: Vocabulary) -> None:
        self.document = document
        self.vocabulary = vocabulary
        self.data = mapping_in(document.data)
        self.problems: list[Problem] = []
        self.plane_ids = tuple(mapping_in(self.data.get("planes")))
        self.instrument_names = frozenset(mapping_in(self.data.get("instruments")))
        self.line_ids = tuple(mapping_in(self.data.get("lines")))

    def record(self) -> Record:
        places = {element: self.section(element) for element in SECTIONS}
        roof = self.roof()
        by_id = {(place.element, place.id): place for group in places.values() for place in group}
        inspection = mapping_in(self.data.get("inspection"))
        books = items_in(self.data.get("rulebooks"))
        return Record(
            document=self.document,
            roof=roof,
            places=MappingProxyType(places),
            complete=self.complete(places),
            apart=self.apart(),
            rulebooks=tuple(words_in(name) for name in books),
            rulebook_paths=tuple(("rulebooks", i) for i in range(len(books))),
            instruments=self.instruments(),
            inspection=MappingProxyType(
                {k: words_in(v) for k, v in inspection.items() if words_in(v)}
            ),
            name=words_in(mapping_in(self.data.get("roof")).get("name")),
            by_id=MappingProxyType(by_id),
        )

    def roof(self) -> Place:
        data = mapping_in(self.data.get("roof"))
        readings = dict(self.readings(Element.ROOF, data, ("roof",), ()))
        for fact in self.vocabulary.by_element[Element.ROOF].values():
            section = mapping_in(self.data.get(fact.section)) if fact.section else {}
            if fact.key in section:
                path = (fact.section, fact.key)
                readings[fact.name] = self.sides(fact, section[fact.key], path, ())
        return Place(
            Element.ROOF,
            words_in(data.get("id")),
            "roof",
            ("roof",),
            MappingProxyType(readings),
            photos=photo_names(data.get("photo")),
            note=words_in(data.get("note")),
        )

    def section(self, element: Element) -> tuple[Place, ...]:
        name = SECTIONS[element]
        found = mapping_in(self.data.get(name)).items()
        return tuple(self.place(element, id_, mapping_in(data), (name, id_)) for id_, data in found)

    def place(self, element: Element, id_: str, data: dict[str, Data], path: Path) -> Place:
        planes, lines = self.touched(element, data, path)
        readings = self.readings_of(element, data, path, self.sides_of(planes))
        place = Place(
            element, id_, f"{element} {id_}", path, readings, planes, lines,
            photos=photo_names(data.get("photo")), note=words_in(data.get("note")),
        )  # fmt: skip
        label = f"{place.kind or element} {id_}"
        stations = tuple(
            self.station(mapping_in(item), (*path, "stations", i), label, place, i)
            for i, item in enumerate(items_in(data.get("stations")))
        )
        plan = self.plan(data, path) if element is Element.LINE else ()
        return replace(place, label=label, stations=stations, plan=plan)

    def plan(self, data: dict[str, Data], path: Path) -> tuple[Coordinates, ...]:
        points, mistakes = read_points(data.get("plan"), (*path, "plan"))
        for where, mistake in mistakes:
            self.tell(where, mistake)
        return points

    def refuse_more_planes(self, lines: tuple[Place, ...]) -> None:
        """Tell of lines that name more planes than can lie beside them."""
        for line in lines:
            most = 1 if line.kind in (LineKind.EAVE, LineKind.RAKE) else 2
            count = len(line.planes or ())
            if count > most:
                told = f"at most {most} beside {with_article(line.kind or line.element)}"
                mistake = Mistake(told, f"{count} planes", "name only those that end there")
                self.tell((*line.path, "between"), mistake)

    def refuse_nameless_statements(self, record: Record) -> None:
        """Tell of readings known only because someone said so, where nobody says who."""
        hosts = [place for group in record.places.values() for place in group]
        for place in (record.roof, *hosts, *(s for host in hosts for s in host.stations)):
            for reading in chain.from_iterable(place.readings.values()):
                if reading.how is How.STATED and reading.value is not None and not reading.by:
                    if reading.path[-1] != "value":
                        continue  # a short form of what is stated by its nature
                    mistake = Mistake("`by:` beside `how: stated`", "nobody", "say who stated it")
                    self.tell(reading.path[:-1], mistake)

    def station(
        self, data: dict[str, Data], path: Path, label: str, host: Place, index: int
    ) -> Place:
        at = self.position(data.get("at"), (*path, "at"), host.element)
        written = at.text if at else words_in(data.get("at"))
        named = not unknown_reason(written)
        sides = self.sides_of(host.planes)
        return Place(
            Element.STATION,
            f"{host.id}/{index}",
            f"{label} at {shown(written)}" if named else f"{label} station {index + 1}",
            path,
            self.readings_of(Element.STATION, data, path, sides, host.element),
            host.planes,
            (host.id,) if host.element is Element.LINE else (),
            host=host.element,
            at=at,
            spot=spot_of(at, written) if named else "",
            only=self.only(data, path),
            photos=photo_names(data.get("photo")),
            note=words_in(data.get("note")),
        )

    def sides_of(self, planes: tuple[str, ...] | None) -> tuple[str, ...]:
        """Return the planes that readings on each side can name: any, where that is not known."""
        return self.plane_ids if planes is None else planes

    def position(self, raw: Data, path: Path, host: Element) -> Quantity | None:
        if host is not Element.LINE or unknown_reason(raw):
            return None
        if not isinstance(raw, (str, int)) or isinstance(raw, bool):
            return None  # the schema has said so
        found = read(raw, Dimension.LENGTH)
        if isinstance(found, Mistake):
            self.tell(path, found)
            return None
        return found

    def only(self, data: dict[str, Data], path: Path) -> frozenset[str] | None:
        if not isinstance(data.get("only"), list):
            return None
        known = self.vocabulary.by_element[Element.STATION]
        names = [words_in(name) for name in items_in(data["only"])]
        for i, name in enumerate(names):
            if name not in known:
                mistake = Mistake("a station fact", f"`{shown(name)}`", suggestion(name, known))
                self.tell((*path, "only", i), mistake)
        for key in data:
            if key in known and key not in names:
                told = Mistake(f"`{key}` among the facts in `only`", "it left out", "add it there")
                self.tell_key((*path, key), told)
        return frozenset(names)

    def touched(
        self, element: Element, data: dict[str, Data], path: Path
    ) -> tuple[tuple[str, ...] | None, tuple[str, ...] | None]:
        """Return the planes and lines that a place names; None where it should and does not."""
        keys = STRUCTURE[element]
        plane_key = next((k for k in ("between", "planes", "plane") if k in keys), None)
        line_key = next((k for k in ("lines", "line") if k in keys), None)
        planes = self.named(data, path, plane_key, self.plane_ids, "plane") if plane_key else ()
        lines = self.named(data, path, line_key, self.line_ids, "line") if line_key else ()
        if element is Element.PLANE:
            planes, lines = (str(path[-1]),), None
        return planes, lines

    def named(
        self, data: dict[str, Data], path: Path, key: str, known: tuple[str, ...], noun: str
    ) -> tuple[str, ...] | None:
        raw = data.get(key)
        if unknown_reason(raw):
            return None
        listed: list[tuple[Data, Path]] = [(raw, (*path, key))]
        if isinstance(raw, list):
            listed = [(item, (*path, key, i)) for i, item in enumerate(raw)]
        names = []
        for item, where in listed:
            name = words_in(item)
            if name in known:
                names.append(name)
            elif name:
                told = suggestion(name, known) or f"add it under `{noun}s:`"
                self.tell(where, Mistake(f"a {noun} of this record", f"`{shown(name)}`", told))
        return tuple(dict.fromkeys(names)) or None

    def readings_of(
        self,
        element: Element,
        data: dict[str, Data],
        path: Path,
        planes: tuple[str, ...],
        host: Element | None = None,
    ) -> Mapping[str, tuple[Reading, ...]]:
        """Return a place's readings by fact."""
        return MappingProxyType(dict(self.readings(element, data, path, planes, host)))

    def readings(
        self,
        element: Element,
        data: dict[str, Data],
        path: Path,
        planes: tuple[str, ...],
        host: Element | None = None,
    ) -> Iterator[tuple[str, tuple[Reading, ...]]]:
        known = self.vocabulary.by_element[element]
        structure = STRUCTURE[element] | _ANYWHERE
        for key, raw in data.items():
            if key in structure:
                continue
            where = (*path, key)
            fact = known.get(key)
            if fact is None:
                self.unknown_fact(key, where, element)
            elif fact.derivation is not None:
                told = Mistake(
                    "a fact that is recorded", f"`{key}`, which is computed", fact.formula
                )
                self.tell_key(where, told)
            elif fact.section:
                expected = f"`{fact.key}` under `{fact.section}:`"
                mistake = Mistake(expected, f"`{key}` here", "move it there")
                self.tell_key(where, mistake)
            elif host and fact.host is not Host.EITHER and fact.host.value != host.value:
                advice = f"put it at a station of a {fact.host}"
                told = Mistake(f"`{key}` on a {fact.host}", f"it on a {host}", advice)
                self.tell_key(where, told)
            else:
                yield key, self.sides(fact, raw, where, planes)

    def unknown_fact(self, key: str, path: Path, element: Element) -> None:
        known = self.vocabulary.by_element[element]
        recorded = (name for name, fact in known.items() if fact.derivation is None)
        words = sorted({*recorded, *STRUCTURE[element], *_ANYWHERE})
        elsewhere = [e for e in Element if key in self.vocabulary.by_element[e]]
        advice = suggestion(key, words) or "`ridgerule book facts` lists what can be recorded"
        if elsewhere:
            owners = " or ".join(with_article(owner) for owner in elsewhere)
            advice = f"`{key}` belongs to {owners}"
        self.tell_key(
            path, Mistake(f"a fact of {with_article(element)}", f"`{shown(key)}`", advice)
        )

    def sides(
        self, fact: Fact, raw: Data, path: Path, planes: tuple[str, ...]
    ) -> tuple[Reading, ...]:
        if not fact.per_side:
            return (self.reading(fact, raw, path),)
        if unknown_reason(raw):
            blank = self.reading(fact, raw, path)
            return (blank,)
        if not isinstance(raw, dict):
            written = f"`{fact.name}: {{{', '.join(f'{p}: …' for p in planes) or 'S: …'}}}`"
            told = Mistake("each side by itself", described(raw), f"write {written}")
            self.tell(path, told)
            return ()
        for side in raw:
            if side not in planes:
                told = Mistake(
                    "a plane that this line lies between",
                    f"`{shown(side)}`",
                    suggestion(side, planes) or f"`between` names {', '.join(planes) or 'none'}",
                )
                self.tell_key((*path, side), told)
        return tuple(self.reading(fact, raw[s], (*path, s), side=s) for s in raw if s in planes)

    def reading(self, fact: Fact, raw: Data, path: Path, *, side: str = "") -> Reading:
        if not isinstance(raw, dict):
            value, unknown = self.value(fact, raw, path)
            return Reading(value, path, unknown, fact.short_form, side, self.usual_tool(fact))
        for key in raw:
            if key not in _LONG_FORM:
                told = Mistake(
                    "a reading's own keys", f"`{shown(key)}`", suggestion(key, _LONG_FORM)
                )
                self.tell_key((*path, key), told)
        value, unknown = self.value(fact, raw.get("value"), (*path, "value"))
        how = words_in(raw.get("how"))
        repeats = (
            self.value(fact, item, (*path, "repeats", i))[0]
            for i, item in enumerate(items_in(raw.get("repeats")))
        )
        return Reading(
            value=value,
            path=(*path, "value") if "value" in raw else path,
            unknown=unknown if "value" in raw else NOT_RECORDED,
            how=How(how) if how in frozenset(How) else None,
            side=side,
            tool=words_in(raw.get("with")),
            by=words_in(raw.get("by")),
            when=words_in(raw.get("when")),
            note=words_in(raw.get("note")),
            photos=photo_names(raw.get("photo")),
            repeats=tuple(value for value in repeats if value is not None),
        )

    def value(self, fact: Fact, raw: Data, path: Path) -> tuple[Value | None, str]:
        if reason := unknown_reason(raw):
            return None, reason
        found = read_value(raw, fact)
        if not isinstance(found, Mistake):
            wrong = out_of_range(found, fact)
            if wrong is None:
                return found, ""
            found = wrong
        self.tell(path, found)
        return None, NOT_RECORDED

    def usual_tool(self, fact: Fact) -> str:
        """Return the instrument that a reading without more is taken with: the fact's own.

        Said to be known in another way, a reading says with what as well.
        """
        return fact.tool if fact.tool in self.instrument_names else ""

    def complete(
        self, places: Mapping[Element, tuple[Place, ...]]
    ) -> Mapping[Element | LineKind, str]:
        said: dict[Element | LineKind, str] = {}
        for key, raw in mapping_in(self.data.get("complete")).items():
            kind = COMPLETE_KEYS.get(key)
            if kind is None or raw not in ("all", "none"):
                continue
            said[kind] = str(raw)
            listed = (
                [line for line in places[Element.LINE] if line.kind is kind]
                if isinstance(kind, LineKind)
                else places[kind]
            )
            if raw == "none" and listed:
                found = f"`none`, and {listed[0].label} in the record"
                told = Mistake(f"`all`, or no {key} in the record", found, "say `all`, or mend it")
                self.tell(("complete", key), told)
        return MappingProxyType(said)

    def apart(self) -> frozenset[frozenset[str]]:
        pairs = items_in(mapping_in(self.data.get("complete")).get("apart"))
        found = set()
        for i, raw in enumerate(pairs):
            names = self.named(
                {"pair": raw}, ("complete", "apart"), "pair", self.plane_ids, "plane"
            )
            if names and len(names) == 2:
                found.add(frozenset(names))
            elif isinstance(raw, list):
                self.tell(("complete", "apart", i), Mistake("two planes", described(raw), ""))
        return frozenset(found)

    def instruments(self) -> Mapping[str, Instrument]:
        found = {}
        for name, raw in mapping_in(self.data.get("instruments")).items():
            data, path = mapping_in(raw), ("instruments", name)
            if {"expanded_uncertainty", "tape_class"} <= data.keys():
                found_both = Mistake(
                    "`expanded_uncertainty` or `tape_class`", "both", "keep the one you go by"
                )
                self.tell_key((*path, "tape_class"), found_both)
            found[name] = Instrument(
                name,
                self.resolution(data, path, "graduation"),
                self.resolution(data, path, "expanded_uncertainty"),
                words_in(data.get("tape_class")),
                words_in(data.get("note")),
            )
        return MappingProxyType(found)

    def resolution(self, data: dict[str, Data], path: Path, key: str) -> Quantity | None:
        """Return an instrument's figure, a length, an angle or a temperature difference."""
        raw = data.get(key)
        if not isinstance(raw, (str, int)) or isinstance(raw, bool):
            return None
        kinds = (
            Dimension.LENGTH, Dimension.ANGLE, Dimension.SLOPE, Dimension.TEMPERATURE_DIFFERENCE,
        )  # fmt: skip
        readings = [read(raw, dimension) for dimension in kinds]
        known = next((found for found in readings if isinstance(found, Quantity)), None)
        if known is None and isinstance(readings[0], Mistake):
            expected = "a length, an angle or a difference of temperature, such as `1/16 in`"
            self.tell((*path, key), replace(readings[0], expected=expected))
        return known

    def tell(self, path: Path, mistake: Mistake) -> None:
        self._tell(self.document.location(path), mistake)

    def tell_key(self, path: Path, mistake: Mistake) -> None:
        self._tell(self.document.key_location(path), mistake)

    def _tell(self, location: Location, mistake: Mistake) -> None:
        self.problems.append(Problem(location, mistake.expected, mistake.found, mistake.advice))
        if len(self.problems) >= MOST_PROBLEMS:
            raise _EnoughTold
