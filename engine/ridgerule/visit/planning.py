"""The plan of a visit, from the rulebooks and whatever is recorded of the roof so far.

Pure: the same plan, record and settings give the same visit.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.facts import Element
from ridgerule.quantities import Quantity
from ridgerule.visit.bringing import to_bring, tools_of
from ridgerule.visit.gaps import Gap
from ridgerule.visit.gathering import Gathered, gather
from ridgerule.visit.minding import mind
from ridgerule.visit.questions import Asking, Question, questions_of
from ridgerule.visit.sampling import Certainty, Pieces, pieces_of, samples
from ridgerule.visit.stations import Drawing, demands, layouts, with_blank_stations, with_stations
from ridgerule.visit.stops import VisitPart, end_named, end_taken, parts_of
from ridgerule.visit.wording import example, question, units_in
from ridgerule.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.audit.plan import Plan
    from ridgerule.documents import Path
    from ridgerule.quantities import Units
    from ridgerule.record import Place, Record
    from ridgerule.visit.stations import Demand, Layout


class VisitSettings(Struct, frozen=True):
    """How a plan is made."""

    seed: str = ""
    """Stations are drawn with it; spread evenly where there is none."""
    certainty: Certainty | None = None
    units: Units | None = None
    """For limits and positions; where None, limits as written and positions as the record is."""


class VisitPlan(Struct, frozen=True):
    """A visit: what to bring, what to mind, and every question in the order of the walk."""

    record: Record
    """The outline, its planned stations among its own."""
    rulebooks: tuple[str, ...]
    """As they were asked for: `id` or `id@edition`."""
    parts: tuple[VisitPart, ...]
    bring: tuple[str, ...]
    tools: tuple[str, ...]
    mind: tuple[str, ...]
    """What is particular to this visit: caps to be lifted, editions in doubt, what narrows it."""
    samples: tuple[str, ...]
    """What samples without a fault would show."""
    ends: Mapping[Path, str]
    """The end that each line's new stations count from, where the outline names none."""
    units: Units
    seed: str = ""
    own_rulebooks: tuple[str, ...] = ()
    """The outline's own rulebooks, where it speaks of facts that those asked for don't know."""

    @property
    def questions(self) -> Iterator[Question]:
        """Every question, in the order of the walk."""
        for part in self.parts:
            for stop in part.stops:
                yield from stop.everything


def plan_visit(plan: Plan, record: Record, settings: VisitSettings | None = None) -> VisitPlan:
    """Return the plan of a visit after which no reading that the rulebooks ask for is missing.

    ValueError for a certainty that is not between 0 and 1.
    """
    settings = settings or VisitSettings()
    units = settings.units or units_in(record)
    found = _demands(plan, record)
    drawing = _drawing(found, record, settings, units)
    laid = layouts(found, record, drawing)
    whole = with_stations(record, {layout.host: layout.stations for layout in laid})
    gathered = _with_spots(gather(plan, whole), whole)
    places = MappingProxyType({place.path: place for place in _places(whole)})
    asked = questions_of(Asking(whole, gathered, places, units, settings.units))
    pieces = _pieces(whole, settings)
    asked = (*asked, *_sample_questions(whole, asked, pieces, units))
    ends = _ends(record, laid)
    parts = parts_of(whole, asked, why={layout.host: layout.why for layout in laid}, ends=ends)
    return VisitPlan(
        record=whole,
        rulebooks=tuple(planned.reference for planned in plan.books),
        parts=parts,
        bring=tuple(to_bring(parts)),
        tools=tools_of(asked),
        mind=tuple(mind(plan, whole, gathered, asked)),
        samples=(
            *(sample.statement for sample in drawing.samples),
            *(f"{id_}: {found.statement}" for id_, found in pieces.items()),
        ),
        ends=ends,
        units=units,
        seed=settings.seed,
        own_rulebooks=record.rulebooks if _speaks_of_others(plan, record) else (),
    )


def _speaks_of_others(plan: Plan, record: Record) -> bool:
    """Tell whether a record has facts that a plan's rulebooks don't declare."""
    known = plan.vocabulary.by_element
    return any(
        name not in known[place.element] for place in _places(record) for name in place.readings
    )


def _demands(plan: Plan, record: Record) -> tuple[Demand, ...]:
    """Return the stations that rules need, found by putting a blank one on every line and plane."""
    blank = with_blank_stations(record)
    return demands(gather(plan, blank), blank)


def _drawing(
    found: Sequence[Demand], record: Record, settings: VisitSettings, units: Units
) -> Drawing:
    if settings.certainty is None:
        return Drawing(units, settings.seed)
    sampled = {demand.host for demand in found if demand.check.at is Element.STATION}
    hosts = [
        host
        for element in (Element.LINE, Element.PLANE)
        for host in record.places[element]
        if host.path in sampled
    ]
    return Drawing(units, settings.seed, samples(hosts, settings.certainty, seed=settings.seed))


def _places(record: Record) -> Iterator[Place]:
    yield record.roof
    for group in record.places.values():
        for place in group:
            yield place
            yield from place.stations


def _with_spots(gathered: Gathered, record: Record) -> Gathered:
    """Return what was gathered, with the question where each station is that has no spot yet."""
    needed = {need.place for need in gathered.needs}
    nameless = tuple(
        Gap(place.path, "at")
        for place in _places(record)
        if place.element is Element.STATION and not place.spot and place.path in needed
    )
    return replace(gathered, gaps=(*gathered.gaps, *nameless))


def _pieces(record: Record, settings: VisitSettings) -> Mapping[str, Pieces]:
    """Return how many pieces of each counted sample to look at, by its id."""
    if settings.certainty is None:
        return {}
    found = {}
    for place in record.places[Element.SAMPLE]:
        lot = _count(place, "lot")
        if lot and _count(place, "inspected") is None:
            seed = f"{settings.seed} samples/{place.id}" if settings.seed else ""
            found[place.id] = pieces_of(lot, settings.certainty, seed=seed)
    return found


def _count(place: Place, name: str) -> int | None:
    readings = place.readings.get(name, ())
    value = readings[0].value if readings else None
    amount = value.amount if isinstance(value, Quantity) else None
    return amount if isinstance(amount, int) else None


def _sample_questions(
    record: Record, asked: Sequence[Question], pieces: Mapping[str, Pieces], units: Units
) -> Iterator[Question]:
    """Yield what is asked of counted samples that no rule asks for."""
    known = {question.path for question in asked}
    for id_, found in pieces.items():
        place = record.by_id[Element.SAMPLE, id_]
        for name in ("inspected", "faulty"):
            fact = VOCABULARY.by_element[Element.SAMPLE][name]
            told = Question(
                place=place.path,
                key=name,
                ask=question(fact),
                write_as=example(fact, units),
                fact=fact,
                known=_which(found) if name == "inspected" else "",
            )
            if told.path not in known:
                yield told


def _which(pieces: Pieces) -> str:
    numbers = ", ".join(map(str, pieces.numbers))
    which = f": numbers {numbers}" if numbers else ", drawn at random"
    return f"look at {pieces.count} of {pieces.lot}{which}"


def _ends(record: Record, laid: Sequence[Layout]) -> Mapping[Path, str]:
    """Return the ends that new stations count from, on lines of which the outline names none."""
    counted = {
        layout.host for layout in laid if any(station.at is not None for station in layout.stations)
    }
    return MappingProxyType(
        {
            line.path: end_taken(line)
            for line in record.places[Element.LINE]
            if line.path in counted and not end_named(record, line)
        }
    )
