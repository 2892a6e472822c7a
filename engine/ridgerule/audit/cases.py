"""A rule's own cases: small roofs made from the facts that are given, judged as any roof is.

A list of values stands for several places (planes, stations, sides); one value for every one.
What a case doesn't give is unknown. Short forms are taken as known in the way the rule accepts,
so that a case about evidence writes the long form.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct, structs

from ridgerule.audit.asking import asking_of, at_place
from ridgerule.documents import Document
from ridgerule.facts import SECTIONS, Element, Fact, Host, How, Vocabulary
from ridgerule.record import COMPLETE_KEYS
from ridgerule.record_reader import record_of
from ridgerule.rulebook import DecisionRule

if TYPE_CHECKING:
    from ridgerule.audit.findings import Finding
    from ridgerule.audit.plan import Case, Check
    from ridgerule.documents import Data
    from ridgerule.record import Place, Record

_ON_LINES = (Element.JOINT, Element.ATTIC, Element.DELIVERY)
_IDS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


class CaseResult(Struct, frozen=True):
    """A case, and what came out of it."""

    check: Check
    case: Case
    finding: Finding

    @property
    def as_expected(self) -> bool:
        """Did what the author expected come out."""
        return self.finding.outcome is self.case.expect


def run_cases(check: Check, vocabulary: Vocabulary) -> tuple[CaseResult, ...]:
    """Return what comes out of each of a rule's cases.

    Raises `InputRejected`, located at the case, for a given value that can't be read.
    """
    return tuple(run_case(check, case, vocabulary) for case in check.cases)


def run_case(check: Check, case: Case, vocabulary: Vocabulary) -> CaseResult:
    """Return what comes out of one case; coverage by stations and scope are not part of it."""
    return judged(check, case, *laid_out(check, case, vocabulary))


def judged(check: Check, case: Case, record: Record, place: Place) -> CaseResult:
    """Return what comes out of a case that is laid out already."""
    # A case's readings are as sure as they can be: it shows the rule, not an instrument.
    exact = structs.replace(check, decision=DecisionRule.SIMPLE)
    return CaseResult(check, case, at_place(asking_of(exact, record), place))


def laid_out(check: Check, case: Case, vocabulary: Vocabulary) -> tuple[Record, Place]:
    """Return a case as the record of a small roof, and the place that the rule is asked at.

    Raises `InputRejected`, located at the case, for a given value that can't be read.
    """
    roof = _Roof(check, case, vocabulary)
    record = record_of(_document(roof.data(), case), vocabulary)
    if check.at is Element.ROOF:
        return record, record.roof
    if check.at is Element.STATION:
        return record, record.places[roof.host][0].stations[0]
    return record, record.places[check.at][0]


def _document(data: Data, case: Case) -> Document:
    where = (case.location.line, case.location.column)
    return Document(
        name=case.location.file,
        data=data,
        digest="",
        positions=MappingProxyType({(): where}),
        keys=MappingProxyType({}),
    )


class _Roof:
    """Lays the facts of one case out as the data of a record."""

    def __init__(self, check: Check, case: Case, vocabulary: Vocabulary) -> None:
        self.check = check
        self.given: list[tuple[Fact, Data]] = []
        for name, value in case.given.items():
            fact = vocabulary.by_name[name.split()[-1]]
            self.given.append((fact, self.shown(fact, value)))
        self.host = self.host_of_stations()

    def host_of_stations(self) -> Element:
        """Return what the stations lie on: as the rule says, or where it is asked."""
        hosts = {fact.host for fact, _ in self.given if fact.element is Element.STATION}
        hosts = (hosts | {self.check.host}) - {Host.EITHER}
        if self.check.at is Element.PLANE or Host.PLANE in hosts:
            return Element.PLANE
        on_roof = self.check.at is Element.ROOF and Host.LINE not in hosts
        given = {fact.element for fact, _ in self.given}
        # Asked of all the roof's stations, a line without any would leave more to be read.
        return Element.PLANE if on_roof and Element.LINE not in given else Element.LINE

    def data(self) -> dict[str, Data]:
        on_line = self.needs(Element.LINE)
        planes = _IDS[: self.count(Element.PLANE, least=2 if on_line else 1)]
        lines = _IDS[: self.count(Element.LINE, least=1)] if on_line else ""
        data: dict[str, Data] = {
            "record": 1,
            "roof": {"id": "case", **self.facts(Element.ROOF, 0, planes)},
            "complete": dict.fromkeys(COMPLETE_KEYS, "all"),
        }
        for fact, value in self.given:
            if fact.section:
                section = data.setdefault(fact.section, {})
                if isinstance(section, dict):
                    section[fact.key] = value
        for element, section_name in SECTIONS.items():
            if element is not Element.PLANE and not self.needs(element):
                continue
            ids = planes if element is Element.PLANE else _IDS[: self.count(element, least=1)]
            data[section_name] = {
                id_: {
                    **_touches(element, planes, lines),
                    **self.stations_of(element, i, planes),
                    **self.facts(element, i, _sides_of(element, id_, planes)),
                }
                for i, id_ in enumerate(ids)
            }
        return data

    def needs(self, element: Element) -> bool:
        if element is self.check.at or any(fact.element is element for fact, _ in self.given):
            return True
        on_line = self.host is Element.LINE
        return element is Element.LINE and (
            self.check.at in _ON_LINES or (on_line and self.needs(Element.STATION))
        )

    def count(self, element: Element, *, least: int) -> int:
        lists = [
            len(value)
            for fact, value in self.given
            if fact.element is element and not fact.per_side and isinstance(value, list)
        ]
        return max([least, *lists])

    def facts(self, element: Element, index: int, planes: str) -> dict[str, Data]:
        return {
            fact.name: _sides(value, index, planes) if fact.per_side else _nth(value, index)
            for fact, value in self.given
            if fact.element is element and not fact.section
        }

    def stations_of(self, element: Element, index: int, planes: str) -> dict[str, Data]:
        """Return the stations of a line or plane: all on the first; those of a roof in turn."""
        if element is not self.host or not self.needs(Element.STATION):
            return {}
        in_turn = self.check.at is Element.ROOF
        hosts = len(planes) if element is Element.PLANE else self.count(Element.LINE, least=1)
        count = self.count(Element.STATION, least=1)
        if index and not in_turn:
            return {}
        return {
            "stations": [
                {"at": f"{i + 1} ft", **self.facts(Element.STATION, i, planes)}
                for i in range(index, count, hosts if in_turn else 1)
            ]
        }

    def shown(self, fact: Fact, value: Data) -> Data:
        """Return a given value with evidence that the rule accepts, where it asks for some.

        It may ask that of what the fact is computed from, and of others that meet its limit.
        """
        evidence = self.check.evidence
        if fact.element not in (self.check.at, self.check.of.fact.element):
            return value
        if evidence.how is None and not evidence.photo:
            return value
        how = next((h for h in How if evidence.how is None or h in evidence.how), How.MEASURED)

        def long_form(item: Data) -> Data:
            if isinstance(item, list):
                return [long_form(inner) for inner in item]
            if isinstance(item, dict):
                return item
            return {"value": item, "how": str(how), "photo": "case.jpg"}

        return long_form(value)


def _nth(value: Data, index: int) -> Data:
    if not isinstance(value, list):
        return value
    return value[index] if index < len(value) else None


def _sides(value: Data, index: int, planes: str) -> Data:
    """Return a per-side fact: a list goes to the sides in turn, a list of lists to stations."""
    if isinstance(value, list) and value and isinstance(value[0], list):
        value = _nth(value, index)
    if isinstance(value, list):
        return dict(zip(planes, value, strict=False))
    return dict.fromkeys(planes, value)


def _sides_of(element: Element, id_: str, planes: str) -> str:
    """Return the planes that a place has sides to."""
    if element in (Element.OPENING, Element.WALL, Element.SAMPLE):
        return planes[0]
    return id_ if element is Element.PLANE else planes


def _touches(element: Element, planes: str, lines: str) -> dict[str, Data]:
    match element:
        case Element.LINE:
            return {"between": list(planes)}
        case Element.JOINT | Element.DELIVERY:
            return {"lines": list(lines)}
        case Element.OPENING | Element.WALL:
            return {"plane": planes[0]}
        case Element.ATTIC:
            return {"planes": list(planes), "lines": list(lines)}
        case Element.SAMPLE:
            return {"plane": planes[0], **({"line": lines[0]} if lines else {})}
        case _:
            return {}
