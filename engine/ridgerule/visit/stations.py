"""The stations that rules need on each line and plane, laid out: how many, where, for which facts.

A rule that needs few stations shares those of one that needs many; each station is made for the
facts that are asked there and no others, so that no cap is lifted twice.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.enclosures import Span
from ridgerule.facts import Element
from ridgerule.quantities import Dimension, Quantity, Units, write
from ridgerule.visit.needs import same_question
from ridgerule.visit.spots import drawn_along, drawn_over, spread_along, spread_over

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ridgerule.audit.plan import Check
    from ridgerule.documents import Path
    from ridgerule.enclosures import Exact
    from ridgerule.record import Place, Record
    from ridgerule.visit.gathering import Gathered
    from ridgerule.visit.sampling import Sample

MOST_STATIONS = 500
"""On one line or plane no more are laid out, whatever a rule asks; the plan says so."""


class Demand(Struct, frozen=True):
    """Stations that one rule needs on one line or plane."""

    host: Path
    check: Check
    facts: frozenset[str]
    """What is read at each of them."""
    made_for: frozenset[str]
    """What a station has to be made for to count."""
    count: int


class Layout(Struct, frozen=True):
    """The stations to be added to one line or plane, and why so many."""

    host: Path
    stations: tuple[Place, ...]
    why: tuple[str, ...]


class Drawing(Struct, frozen=True):
    """How spots are chosen: drawn where there is a seed, else spread evenly."""

    units: Units
    seed: str = ""
    samples: tuple[Sample, ...] = ()

    def sampled(self, host: Path) -> int:
        """Return how many stations a line or plane needs for the sample, if there is one."""
        return max((sample.counts.get(host, 0) for sample in self.samples), default=0)


def with_blank_stations(record: Record) -> Record:
    """Return the record with a blank station on every line and plane, made for every fact."""
    hosts = (*record.places[Element.LINE], *record.places[Element.PLANE])
    return with_stations(record, {host.path: (blank_station(host),) for host in hosts})


def with_stations(record: Record, added: Mapping[Path, Sequence[Place]]) -> Record:
    """Return the record with more stations on its lines and planes."""
    places = {
        element: tuple(
            replace(place, stations=(*place.stations, *added.get(place.path, ())))
            for place in group
        )
        for element, group in record.places.items()
    }
    by_id = {(place.element, place.id): place for group in places.values() for place in group}
    return replace(
        record, places=MappingProxyType(places), by_id=MappingProxyType(by_id), computed={}
    )


def blank_station(
    host: Place,
    index: int = 0,
    *,
    at: str = "",
    length: Quantity | None = None,
    only: frozenset[str] | None = None,
) -> Place:
    """Return a station with no reading, `index` after those that the line or plane has."""
    number = len(host.stations) + index
    return replace(
        host,
        element=Element.STATION,
        id=f"{host.id}/{number}",
        label=f"{host.label} at {at}" if at else f"{host.label} station {number + 1}",
        path=(*host.path, "stations", number),
        readings=MappingProxyType({}),
        lines=(host.id,) if host.element is Element.LINE else (),
        stations=(),
        host=host.element,
        at=length,
        spot=str(length.amount) if length else " ".join(at.casefold().split()),
        only=only,
        photos=(),
        note="",
    )


def demands(gathered: Gathered, record: Record) -> tuple[Demand, ...]:
    """Return what each rule needs of each line's and plane's stations.

    `record` has a blank station on each of them, the last there, which all of it is gathered at.
    """
    blanks = {
        host.stations[-1].path: host
        for element in (Element.LINE, Element.PLANE)
        for host in record.places[element]
    }
    facts: dict[tuple[Path, tuple[object, ...]], set[str]] = {}
    counts: dict[tuple[Path, tuple[object, ...]], int] = {}
    checks = {}
    for need in gathered.needs:
        host = blanks.get(need.place)
        if host is None or need.check is None:
            continue
        key = (host.path, same_question(need.check))
        checks[key] = need.check
        facts.setdefault(key, set()).add(need.fact.name)
        counts[key] = max(counts.get(key, 1), need.stations)
    for path, check, count in gathered.asked_at:
        if (host := blanks.get(path)) is not None:
            key = (host.path, same_question(check))
            checks[key] = check
            facts.setdefault(key, set())
            counts[key] = max(counts.get(key, 1), count)
    return tuple(_demand(key[0], checks[key], frozenset(facts[key]), counts[key]) for key in checks)


def _demand(host: Path, check: Check, facts: frozenset[str], count: int) -> Demand:
    own = check.of.fact.needs if check.at is Element.STATION else facts
    return Demand(host, check, facts | own, own, count)


def layouts(found: Iterable[Demand], record: Record, drawing: Drawing) -> tuple[Layout, ...]:
    """Return the stations that each line and plane still lacks, in the record's order."""
    by_host: dict[Path, list[Demand]] = {}
    for demand in found:
        sampled = drawing.sampled(demand.host) if demand.check.at is Element.STATION else 0
        by_host.setdefault(demand.host, []).append(
            replace(demand, count=max(demand.count, sampled))
        )
    hosts = [*record.places[Element.LINE], *record.places[Element.PLANE]]
    return tuple(
        _layout(host, by_host[host.path], drawing) for host in hosts if host.path in by_host
    )


def _layout(host: Place, found: Sequence[Demand], drawing: Drawing) -> Layout:
    """Return the stations that a line or plane lacks, each made for what is read there."""
    drawn = _drawn_sample(host, found, drawing)
    if drawn is not None:
        return Layout(host.path, drawn, _why(host, found, len(drawn)))
    lacking = [(demand, _lacking(demand, host)) for demand in found]
    new = min(max((count for _, count in lacking), default=0), MOST_STATIONS)
    made_for: list[set[str]] = [set() for _ in range(new)]
    for demand, count in lacking:
        for i in _among(min(count, new), new):
            made_for[i] |= demand.facts
    spots = [*_spots(host, new, drawing, taken=host.stations), *[("", None)] * new]
    stations = (
        blank_station(host, i, at=at, length=length, only=frozenset(only))
        for i, (only, (at, length)) in enumerate(zip(made_for, spots, strict=False))
    )
    return Layout(host.path, tuple(stations), _why(host, found, new))


def _drawn_sample(
    host: Place, found: Sequence[Demand], drawing: Drawing
) -> tuple[Place, ...] | None:
    """Return the stations of a drawn sample that are not there yet; None where none is drawn.

    What was read elsewhere, wherever somebody chose to, is no part of the sample.
    """
    if not drawing.seed or not drawing.sampled(host.path):
        return None
    count = min(max(demand.count for demand in found), MOST_STATIONS)
    spots = _spots(host, count, drawing, taken=())
    if not spots:
        return None
    stations: list[Place] = []
    for at, length in spots:
        station = blank_station(host, len(stations), at=at, length=length)
        there = [other for other in host.stations if other.spot == station.spot]
        lacking = [demand for demand in found if not any(_serves(s, demand) for s in there)]
        if lacking:
            only = frozenset().union(*(demand.facts for demand in lacking))
            stations.append(replace(station, only=only))
    return tuple(stations)


def _serves(station: Place, demand: Demand) -> bool:
    return station.only is None or demand.made_for <= station.only


def _lacking(demand: Demand, host: Place) -> int:
    """Return how many stations a rule still needs; two at one spot count once."""
    made = [station for station in host.stations if _serves(station, demand)]
    placed = {s.spot for s in made if s.spot}
    nameless = sum(not s.spot for s in made)
    return max(0, demand.count - len(placed) - nameless)


def _among(count: int, total: int) -> list[int]:
    """Return `count` of `total` numbers from 0, spread evenly."""
    return [(2 * i + 1) * total // (2 * count) for i in range(count)]


def _spots(
    host: Place, count: int, drawing: Drawing, *, taken: Sequence[Place]
) -> list[tuple[str, Quantity | None]]:
    """Return the spots of new stations, as they are written; none where no length is known."""
    seed = f"{drawing.seed} {host.path[0]}/{host.path[1]}" if drawing.seed else ""
    if host.element is Element.PLANE:
        used = [station.spot for station in taken if station.spot]
        over = drawn_over(count, taken=used, seed=seed) if seed else spread_over(count, taken=used)
        return [(spot, None) for spot in over]
    length = length_of(host)
    if length is None:
        return []
    at: list[Exact] = [
        station.at.amount
        for station in taken
        if station.at is not None and not isinstance(station.at.amount, Span)
    ]
    units = drawing.units
    if seed:
        found = drawn_along(count, length=length.amount, taken=at, units=units, seed=seed)
    else:
        found = spread_along(count, length=length.amount, taken=at, units=units)
    texts = [write(spot, Dimension.LENGTH, units=units) for spot in found]
    return [
        (text, Quantity(Dimension.LENGTH, spot, text))
        for text, spot in zip(texts, found, strict=True)
    ]


def length_of(host: Place) -> Quantity | None:
    """Return the recorded length of a line, None where it is not known."""
    readings = host.readings.get("length", ())
    value = readings[0].value if readings else None
    return value if isinstance(value, Quantity) else None


def _why(host: Place, found: Sequence[Demand], new: int) -> tuple[str, ...]:
    """Return why there are so many stations, one rule or sample after the other."""
    told: dict[str, None] = {}
    for demand in found:
        stations = demand.check.stations
        if stations is None:
            continue
        per = f", one for each {stations.one_per.text}" if stations.one_per else ""
        told[f"{demand.check.rule.full_id}: at least {stations.at_least}{per}"] = None
        size = "length" if host.element is Element.LINE else "area"
        if stations.one_per is not None and size not in host.readings:
            told[f"its {size} is not recorded: measure it, and plan again if more are due"] = None
    if new >= MOST_STATIONS:
        told[f"no more than {MOST_STATIONS} are laid out here, whatever is asked"] = None
    return tuple(told)
