"""A rule's own cases: small roofs made from the facts that are given, judged as any roof is.

A list of values stands for several places (planes, stations, sides); one value for every one.
What a case doesn't give is unknown. Short forms are taken as known in the way the rule accepts,
so that a case about evidence writes the long form.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.asking import asking_of, at_place
from ridgerule.documents import Document
from ridgerule.facts import SECTIONS, Element, Fact, Host, How, Vocabulary
from ridgerule.record import COMPLETE_KEYS
from ridgerule.record_reader import record_of

if TYPE_CHECKING:
    from ridgerule.audit.findings import Finding
    from ridgerule.audit.plan import Case, Check
    from ridgerule.documents import Data

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
    record = record_of(_document(check, case, vocabulary), vocabulary)
    if check.at is Element.ROOF:
        place = record.roof
    elif check.at is Element.STATION:
        host = Element.PLANE if check.host is Host.PLANE else Element.LINE
        place = record.places[host][0].stations[0]
    else:
        place = record.places[check.at][0]
    return CaseResult(check, case, at_place(asking_of(check, record), place))


def _document(check: Check, case: Case, vocabulary: Vocabulary) -> Document:
    data = _Roof(check, case, vocabulary).data()
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

    def data(self) -> dict[str, Data]:
        planes = _IDS[: self.count(Element.PLANE, least=2 if self.needs(Element.LINE) else 1)]
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
                    **_touches(element, planes),
                    **self.stations_of(element, i, planes),
                    **self.facts(element, i, planes),
                }
                for i, id_ in enumerate(ids)
            }
        return data

    def needs(self, element: Element) -> bool:
        if element is self.check.at or any(fact.element is element for fact, _ in self.given):
            return True
        on_line = self.check.host is not Host.PLANE
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
        """Return the stations of the first line, or of the first plane for rules on planes."""
        host = Element.PLANE if self.check.host is Host.PLANE else Element.LINE
        if element is not host or index or not self.needs(Element.STATION):
            return {}
        count = self.count(Element.STATION, least=1)
        return {
            "stations": [
                {"at": f"{i + 1} ft", **self.facts(Element.STATION, i, planes)}
                for i in range(count)
            ]
        }

    def shown(self, fact: Fact, value: Data) -> Data:
        """Return a given value with evidence that the rule accepts, where it asks for some."""
        evidence = self.check.evidence
        if fact.full_name != self.check.of.fact.full_name:
            return value
        if evidence.how is None and not evidence.photo:
            return value
        how = next((h for h in How if evidence.how is None or h in evidence.how), How.MEASURED)

        def long_form(item: Data) -> Data:
            if isinstance(item, dict):
                return item
            return {"value": item, "how": str(how), "photo": "case.jpg"}

        return [long_form(item) for item in value] if isinstance(value, list) else long_form(value)


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


def _touches(element: Element, planes: str) -> dict[str, Data]:
    match element:
        case Element.LINE:
            return {"between": list(planes)}
        case Element.JOINT | Element.DELIVERY:
            return {"lines": ["A"]}
        case Element.OPENING | Element.WALL:
            return {"plane": "A"}
        case Element.ATTIC:
            return {"planes": list(planes), "lines": ["A"]}
        case Element.SAMPLE:
            return {"plane": "A"}
        case _:
            return {}
