"""Readings along one line or plane, and the limits they are held against, ready to be drawn.

There is one strip for each fact that a rule failed or stayed open on at a host, with every rule
on that fact there: the limit that governs stands first.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.audit.judge import Setting, judge
from ridgerule.audit.subjects import subjects
from ridgerule.audit.together import Relation
from ridgerule.audit.words import limit_words, plain_name
from ridgerule.facts import Element, FactRef, Over
from ridgerule.plain_data import mapping_in, words_in
from ridgerule.quantities import Dimension, Quantity, Units
from ridgerule.record import NOT_RECORDED
from ridgerule.reports.drawing_findings import DRAWN, Numbered, gravest, numbered
from ridgerule.reports.drawing_limits import Ranges, accepted, middle
from ridgerule.reports.drawing_scale import system
from ridgerule.reports.figures import reading_words, units_written, value_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.audit.plan import Check
    from ridgerule.audit.subjects import Subject
    from ridgerule.documents import Data
    from ridgerule.enclosures import Exact
    from ridgerule.facts import Fact
    from ridgerule.record import Place, Record
    from ridgerule.reports.view import View

_JUDGED = (Outcome.FAIL, Outcome.NOT_VERIFIED, Outcome.PASS)
_OF_EACH = (None, Over.EACH)


class Mark(Struct, frozen=True):
    """One reading, or one that is missing, at a station."""

    label: str
    """The station's own name, such as `hip H1 at 9 ft`."""
    where: str
    """The station's place as it was written; empty where nobody wrote one."""
    at: Exact | None
    """How far along the line it lies, in nanometres; None where that is no distance."""
    side: str
    value: Exact | None
    """The reading in base units; None where it is unknown or no quantity."""
    text: str
    """The reading in words, or why there is none."""
    is_known: bool
    outcome: Outcome | None
    """What its rules came to; None where none asks it of this station by itself."""
    numbers: tuple[int, ...]
    """The failed and open findings at its station."""
    accepted: tuple[Ranges | None, ...]
    """What each rule of the strip accepts here, in their order; None where no range says it."""


class StripRule(Struct, frozen=True):
    """One rule on the strip's fact, in words."""

    rule: str
    title: str
    limit: str
    said: str
    """How it lies to the other rules, or what the readings come to together; may be empty."""
    aim: str
    aims: Ranges
    outcome: Outcome
    numbers: tuple[int, ...]


class Strip(Struct, frozen=True):
    """The readings of one fact along one host."""

    host: str
    element: Element
    fact: Fact
    start: str
    """The end that distances count from; empty where it is not recorded."""
    length: Exact | None
    marks: tuple[Mark, ...]
    rules: tuple[StripRule, ...]
    lacks: tuple[str, ...]
    """What is open on the host as a whole."""
    units: Units
    distance_units: Units

    @property
    def name(self) -> str:
        """The fact's name in words."""
        return self.fact.name.replace("_", " ")

    @property
    def dimension(self) -> Dimension | None:
        """The dimension of its readings, None where they are no quantities."""
        dimension = self.fact.dimension
        return dimension if isinstance(dimension, Dimension) else None


def strips_of(audit: Audit, view: View) -> tuple[Strip, ...]:
    """Return a strip for each host and fact of its stations that has a failed or open finding.

    In the order of the view's findings. A host where nothing was read has nothing to draw, and
    a single yes or no says more in words.
    """
    groups: dict[tuple[object, str], list[Numbered]] = defaultdict(list)
    for pair in numbered(audit, view):
        check, host = pair.finding.check, _host(audit.record, pair.finding.place)
        if check is None or host is None or pair.finding.outcome not in _JUDGED:
            continue
        if check.of.fact.element is Element.STATION and check.of.over is not Over.COUNT:
            groups[host.path, check.of.fact.full_name].append(pair)
    found = (
        _Layout(audit, view.settings.units, group).strip()
        for group in groups.values()
        if any(pair.finding.outcome in DRAWN for pair in group)
    )
    return tuple(strip for strip in found if strip is not None)


def _host(record: Record, place: Place) -> Place | None:
    """Return the line or plane that a finding's stations lie on."""
    if place.element in (Element.LINE, Element.PLANE):
        return place
    if place.element is not Element.STATION or place.host is None:
        return None
    element = Element.LINE if place.host is Element.LINE else Element.PLANE
    return record.by_id[element, str(place.path[1])]


class _Asked(Struct, frozen=True):
    """One rule with its findings on the host."""

    check: Check
    pairs: tuple[Numbered, ...]
    said: str


class _Layout:
    """Lays out the strip of one fact on one host, from the findings on it."""

    def __init__(self, audit: Audit, units: Units | None, group: Sequence[Numbered]) -> None:
        self.audit = audit
        self.record = audit.record
        self.units = units
        self.group = group

    def strip(self) -> Strip | None:
        """Return the strip, None where its readings say nothing that a drawing would add."""
        first = self.group[0].finding
        host = _host(self.record, first.place)
        if host is None or first.check is None:
            return None
        fact = first.check.of.fact
        stations = [s for s in host.stations if s.only is None or fact.needs <= s.only]
        if not stations:
            return None
        rules = self.rules(fact)
        marks = tuple(mark for station in stations for mark in self.marks(station, fact, rules))
        if not _says_something(marks):
            return None
        length = next((reading.value for reading in host.readings.get("length", ())), None)
        reach = length if isinstance(length, Quantity) else None
        written = [station.at.text for station in stations if station.at is not None]
        return Strip(
            host=host.label,
            element=host.element,
            fact=fact,
            start=words_in(_data(self.record, host).get("from")),
            length=middle(reach.amount) if reach else None,
            marks=marks,
            rules=tuple(self.worded(rule) for rule in rules),
            lacks=tuple(dict.fromkeys(self.lacks())),
            units=self.units or units_written(first),
            distance_units=system([*written, *([reach.text] if reach else [])], self.units),
        )

    def rules(self, fact: Fact) -> list[_Asked]:
        """Return the rules on the fact; where their limits were put in order, in that order."""
        found: dict[object, list[Numbered]] = defaultdict(list)
        for pair in self.group:
            if pair.finding.check is not None:
                found[_key(pair.finding.check)].append(pair)
        paths = {pair.finding.place.path for pair in self.group}
        ranks: dict[object, tuple[int, str]] = {}
        for together in self.audit.together:
            if together.place.path in paths and together.of.fact == fact:
                for rank, finding in enumerate(together.findings):
                    if finding.check is not None:
                        said = _relation(together.relation, rank)
                        ranks.setdefault(_key(finding.check), (rank, said))
        keys = sorted(found, key=lambda key: ranks[key][0] if key in ranks else len(found))
        checks = ((key, found[key][0].finding.check) for key in keys)
        return [
            _Asked(check, tuple(found[key]), ranks[key][1] if key in ranks else "")
            for key, check in checks
            if check is not None
        ]

    def lacks(self) -> Iterator[str]:
        """Yield what is open on the host itself, such as too few stations."""
        for pair in self.group:
            finding = pair.finding
            at_host = finding.place.element is not Element.STATION
            is_apart = finding.check is not None and finding.check.at is Element.STATION
            if at_host and is_apart and finding.outcome is Outcome.NOT_VERIFIED:
                yield finding.reason

    def worded(self, asked: _Asked) -> StripRule:
        """Return a rule in words, with what its readings come to together."""
        check = asked.check
        shown = [pair.view for pair in asked.pairs]
        limits = [*dict.fromkeys(one.limit for one in shown if one.limit)]
        is_of_each = check.of.over in _OF_EACH
        come_to = [] if is_of_each else [self.come_to(pair.finding) for pair in asked.pairs]
        setting = Setting(self.record, asked.pairs[0].finding.place, check.evidence)
        aims = accepted(setting, check.aim) if check.aim and is_of_each else None
        return StripRule(
            rule=shown[0].rule,
            title=shown[0].title,
            limit=limits[0] if len(limits) == 1 else limit_words(check.limit, self.units),
            said="; ".join(filter(None, (*dict.fromkeys(come_to), asked.said))),
            aim=limit_words(check.aim, self.units) if check.aim else "",
            aims=aims or (),
            outcome=gravest(one.outcome for one in shown),
            numbers=tuple(one.number for one in shown if one.outcome in DRAWN),
        )

    def come_to(self, finding: Finding) -> str:
        """Return what a word makes of many readings: `spread of station gap 9/16 in`."""
        name = plain_name(finding.check.of) if finding.check else ""
        return f"{name} {value_words(finding, self.units)}".rstrip()

    def marks(self, station: Place, fact: Fact, rules: Sequence[_Asked]) -> Iterator[Mark]:
        """Yield the readings of the fact at a station, one a side where it is per side."""
        items = subjects(self.record, station, FactRef(fact, Over.EACH)).items
        here = [
            pair for rule in rules for pair in rule.pairs if pair.finding.place.path == station.path
        ]
        ranges = tuple(self.accepted(station, rule) for rule in rules)
        raw = words_in(_data(self.record, station).get("at"))
        for item in items:
            value = item.value
            alone = len(items) == 1
            came_to = {pair.view.number: self.outcome(pair, item, alone=alone) for pair in here}
            yield Mark(
                label=station.label,
                where=station.at.text if station.at else raw if station.spot else "",
                at=middle(station.at.amount) if station.at else None,
                side=_side(item, station),
                value=middle(value.amount) if isinstance(value, Quantity) else None,
                text=self.reading(item),
                is_known=value is not None,
                outcome=gravest(came_to.values()) if came_to else None,
                numbers=tuple(n for n, outcome in came_to.items() if outcome in DRAWN),
                accepted=ranges,
            )

    def reading(self, item: Subject) -> str:
        """Return a reading in words, or why there is none."""
        if item.value is not None and item.used:
            return reading_words(item.used[0], self.units)
        return item.missing[0].reason if item.missing else NOT_RECORDED

    def accepted(self, station: Place, asked: _Asked) -> Ranges | None:
        """Return what a rule accepts of a reading at a station, where it is asked of each."""
        check = asked.check
        asks_here = any(
            pair.finding.place.path in (station.path, station.path[:2]) for pair in asked.pairs
        )
        if check.of.over not in _OF_EACH or not asks_here:
            return None
        return accepted(Setting(self.record, station, check.evidence), check.limit)

    def outcome(self, pair: Numbered, item: Subject, *, alone: bool) -> Outcome:
        """Return what a finding comes to for one of the readings that it judged."""
        finding = pair.finding
        if alone or finding.check is None or not finding.measured:
            return finding.outcome
        setting = Setting(self.record, finding.place, finding.check.evidence)
        truth = judge(setting, finding.check.limit, item).truth
        return {True: Outcome.PASS, False: Outcome.FAIL, None: Outcome.NOT_VERIFIED}[truth]


def _says_something(marks: Sequence[Mark]) -> bool:
    known = [mark for mark in marks if mark.is_known]
    return bool(known) and (len(marks) > 1 or known[0].value is not None)


def _key(check: Check) -> tuple[object, FactRef]:
    return check.identity, check.of


def _relation(relation: Relation, rank: int) -> str:
    match relation:
        case Relation.GOVERNS:
            return "governs" if rank == 0 else "under it"
        case Relation.SIDE_BY_SIDE:
            return "both hold"
        case Relation.CONFLICT:
            return "conflict" if rank < 2 else "besides"


def _side(item: Subject, station: Place) -> str:
    """Return the plane that a reading per side is of; empty for any other."""
    if item.used:
        lead, label = f"{station.label}, side ", item.used[0].place
        return label.removeprefix(lead) if label.startswith(lead) else ""
    return item.missing[0].side if item.missing else ""


def _data(record: Record, place: Place) -> dict[str, Data]:
    """Return what stands in the record's file at a place."""
    data: Data = record.document.data
    for step in place.path:
        if isinstance(data, list) and isinstance(step, int):
            data = data[step]
        else:
            data = mapping_in(data).get(str(step))
    return mapping_in(data)
