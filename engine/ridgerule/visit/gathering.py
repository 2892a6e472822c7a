"""All that the rules in use need of a record: asked at the places that an audit would ask them at.

Where a date that is not known yet picks a rulebook's edition, every edition it may be is asked.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import chain
from math import ceil
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.editions import editions_in_use
from ridgerule.audit.judge import Setting, holds
from ridgerule.audit.scopes import Scopes
from ridgerule.enclosures import divide, high
from ridgerule.facts import Element, FactRef, Host, LineKind
from ridgerule.quantities import Dimension, Quantity
from ridgerule.visit.gaps import gaps, unlisted_kinds
from ridgerule.visit.givens import NO_MATTER_WHAT, further
from ridgerule.visit.needs import Aim, Gatherer, Need, Purpose, same_question
from ridgerule.visit.warranties import stated_conditions
from ridgerule.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from ridgerule.audit.editions import InUse
    from ridgerule.audit.plan import Check, Edition, Plan
    from ridgerule.documents import Path
    from ridgerule.record import Place, Record
    from ridgerule.visit.gaps import Gap
    from ridgerule.visit.givens import Given

_MEETING = frozenset({LineKind.HIP, LineKind.RIDGE, LineKind.VALLEY})


class Gathered(Struct, frozen=True):
    """What has to be known, and what the outline leaves out of itself."""

    needs: tuple[Need, ...]
    gaps: tuple[Gap, ...]
    books: Mapping[tuple[object, ...], tuple[str, ...]]
    """The rulebooks that each rule counts in, by `same_question`."""
    asked_at: tuple[tuple[Path, Check, int], ...]
    """The stations that rules on stations are asked at, with how many their line needs."""
    doubts: tuple[str, ...]
    """Why an edition is not sure, where no date that is missing would tell."""


def gather(plan: Plan, record: Record) -> Gathered:
    """Return what the rulebooks of a plan need to know of a record."""
    gatherer, scopes = Gatherer(record), Scopes(record)
    doubts = [doubt for used in editions_in_use(plan, record) if (doubt := _doubt(used, record))]
    for used in editions_in_use(plan, record):
        _date(gatherer, plan, used)
    questions = _questions(plan, record)
    asked_at = tuple(asked for check, _ in questions for asked in _asked(gatherer, check, scopes))
    kinds = _kinds(check for check, _ in questions if scopes.of(check).truth is not False)
    gatherer.gaps.update(dict.fromkeys(unlisted_kinds(record, kinds)))
    if _MEETING & set(kinds) and len(record.places[Element.PLANE]) > 1:
        _neighbours(gatherer, plan)
    for title, condition in stated_conditions(plan, record):
        aim = Aim(Purpose.WARRANTY, about=title)
        gatherer.condition(condition, record.roof, given=NO_MATTER_WHAT, aim=aim)
    books: dict[tuple[object, ...], tuple[str, ...]] = {
        same_question(check): names for check, names in questions
    }
    return Gathered(
        tuple(gatherer.needs.values()), tuple(gatherer.gaps), books, asked_at, tuple(doubts)
    )


def possible_editions(plan: Plan, record: Record) -> Iterator[Edition]:
    """Yield the editions that may be in force, of each rulebook those that its date leaves open."""
    for used in editions_in_use(plan, record):
        yield from used.possible or (used.edition,)


def _questions(plan: Plan, record: Record) -> tuple[tuple[Check, tuple[str, ...]], ...]:
    """Return the rules to ask, each once, with the rulebooks that they count in."""
    found: dict[tuple[object, ...], tuple[Check, dict[str, None]]] = {}
    for edition in possible_editions(plan, record):
        for check in edition.checks:
            found.setdefault(same_question(check), (check, {}))[1][edition.book.name] = None
    return tuple((check, tuple(books)) for check, books in found.values())


def _date(gatherer: Gatherer, plan: Plan, used: InUse) -> None:
    """Gather the date that picks a rulebook's edition, where that is not known."""
    kind = used.edition.book.in_force_by
    fact = plan.vocabulary.by_name.get(f"roof.{kind}_date") if kind and used.doubt else None
    if fact is not None:
        roof = gatherer.record.roof
        aim = Aim(Purpose.EDITION, about=used.edition.book.id)
        gatherer.fact(FactRef(fact), roof, given=NO_MATTER_WHAT, aim=aim)


def _doubt(used: InUse, record: Record) -> str:
    """Return why an edition is not sure though the date that would tell is known or of no use."""
    kind = used.edition.book.in_force_by
    readings = record.roof.readings.get(f"{kind}_date", ()) if kind else ()
    is_dated = bool(readings) and readings[0].value is not None
    return used.doubt if kind is None or is_dated else ""


def _asked(gatherer: Gatherer, check: Check, scopes: Scopes) -> Iterator[tuple[Path, Check, int]]:
    """Gather what a rule needs everywhere; yield the stations that it is asked at."""
    record = gatherer.record
    scope = scopes.of(check)
    if scope.truth is False:
        return
    given = NO_MATTER_WHAT
    if check.scope is not None and scope.truth is None:
        applies = Aim(Purpose.APPLIES, check)
        gatherer.condition(check.scope, record.roof, given=given, aim=applies)
        given = further(record, record.roof, check.scope, given)
    for place in _places(check, record):
        stations = 1
        if check.at is Element.STATION:
            stations = _demanded(gatherer, check, place, given)
            yield place.path, check, stations
        gatherer.rule(check, place, given=given, stations=stations)


def _places(check: Check, record: Record) -> Iterator[Place]:
    """Yield the places that a rule is asked at; of stations those made for it."""
    if check.at is Element.ROOF:
        yield record.roof
    elif check.at is not Element.STATION:
        yield from record.places[check.at]
    else:
        for host in hosts_of(check, record):
            for station in host.stations:
                if station.only is None or check.of.fact.needs <= station.only:
                    yield station


def hosts_of(check: Check, record: Record) -> Iterator[Place]:
    """Yield the lines and planes at whose stations a rule is asked, unless they rule it out."""
    lines = record.places[Element.LINE] if check.host is not Host.PLANE else ()
    planes = record.places[Element.PLANE] if check.host is not Host.LINE else ()
    for host in (*lines, *planes):
        decides = check.host_when
        if decides is None or holds(Setting(record, host), decides).truth is not False:
            yield host


def host_of(station: Place, record: Record) -> Place:
    """Return the line or plane that a station lies on."""
    element = station.host or Element.LINE
    return record.by_id[element, str(station.path[1])]


def _demanded(gatherer: Gatherer, check: Check, station: Place, given: frozenset[Given]) -> int:
    """Return how many stations a rule demands on a station's line or plane, as far as is known."""
    demand = check.stations
    if demand is None:
        return 1
    host = host_of(station, gatherer.record)
    # To count as read, a station needs the fact itself, whatever else would meet the limit.
    aim = Aim(Purpose.JUDGED, check, evidence=check.evidence)
    if (
        check.when is None
        or holds(Setting(gatherer.record, station), check.when).truth is not False
    ):
        rest = given if check.when is None else further(gatherer.record, station, check.when, given)
        gatherer.fact(check.of, station, given=rest, aim=aim)
    if demand.one_per is None:
        return demand.at_least
    name = "length" if demand.one_per.dimension is Dimension.LENGTH else "area"
    size = _size(host, name)
    if size is None:
        _measure(gatherer, host, name, check)
        return demand.at_least
    most = high(divide(size.amount, demand.one_per.amount))
    return max(demand.at_least, ceil(most if most is not None else Fraction(0)))


def _size(host: Place, name: str) -> Quantity | None:
    readings = host.readings.get(name, ())
    value = readings[0].value if readings else None
    return value if isinstance(value, Quantity) else None


def _measure(gatherer: Gatherer, host: Place, name: str, check: Check) -> None:
    """Gather the size of a line or plane that tells how many stations it needs."""
    fact = VOCABULARY.by_element[host.element][name]
    aim = Aim(Purpose.STATIONS, check)
    gatherer.reading(fact, host, given=NO_MATTER_WHAT, aim=aim)


def _neighbours(gatherer: Gatherer, plan: Plan) -> None:
    """Gather what tells which planes are neighbours, and whether a line lies between them."""
    record, facts = gatherer.record, plan.vocabulary.by_name
    aim = Aim(Purpose.NEIGHBOURS)
    for place in record.places[Element.PLANE]:
        gatherer.fact(FactRef(facts["plane.faces"]), place, given=NO_MATTER_WHAT, aim=aim)
    for line in record.places[Element.LINE]:
        gatherer.fact(FactRef(facts["line.kind"]), line, given=NO_MATTER_WHAT, aim=aim)
        gatherer.gaps.update(dict.fromkeys(gaps(record, line, Element.PLANE)))


def _kinds(checks: Iterable[Check]) -> tuple[Element | LineKind, ...]:
    """Return the kinds of place that rules are asked at, in the order that records have them."""
    found = set(chain.from_iterable(map(_kinds_of, checks)))
    ordered: tuple[Element | LineKind, ...] = (*LineKind, *Element)
    return tuple(kind for kind in ordered if kind in found)


def _kinds_of(check: Check) -> Iterator[Element | LineKind]:
    yield from check.kinds
    if check.at is Element.STATION:
        if check.host is not Host.LINE:
            yield Element.PLANE
    elif not check.kinds and check.at is not Element.ROOF:
        yield check.at
