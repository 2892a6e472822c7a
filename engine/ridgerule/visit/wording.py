"""What a plan says of a question: how it is asked, how its answer is written, when it is asked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.judge import Setting, picked_row
from ridgerule.audit.limits import Limit, Table
from ridgerule.audit.words import condition_words, limit_words, plain_fact
from ridgerule.facts import Element, Fact, FactRef, Over, Plain
from ridgerule.quantities import Dimension, Quantity, Units, units_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from ridgerule.audit.plan import Check
    from ridgerule.record import Place, Record
    from ridgerule.visit.gaps import Gap
    from ridgerule.visit.givens import Given

_BOTH: Mapping[Dimension, str] = {
    Dimension.SLOPE: "7:12, or 30 deg",
    Dimension.ANGLE: "120 deg",
    Dimension.COUNT: "2",
    Dimension.SHARE: "40 %",
    Dimension.DURATION: "30 days",
    Dimension.CALENDAR_MONTHS: "6 months",
}
_EXAMPLES: Mapping[Units, Mapping[Dimension, str]] = {
    Units.INCH: {
        **_BOTH,
        Dimension.LENGTH: "3 1/16 in",
        Dimension.AREA: "120 ft2",
        Dimension.TEMPERATURE: "68 degF",
        Dimension.TEMPERATURE_DIFFERENCE: "5 degF",
        Dimension.EXPANSION: "45 ppm/degF",
        Dimension.NET_FREE_AREA_PER_LENGTH: "18 in2/ft",
    },
    Units.METRIC: {
        **_BOTH,
        Dimension.LENGTH: "78 mm",
        Dimension.AREA: "11 m2",
        Dimension.TEMPERATURE: "20 degC",
        Dimension.TEMPERATURE_DIFFERENCE: "3 degC",
        Dimension.EXPANSION: "80 um/m/degC",
        Dimension.NET_FREE_AREA_PER_LENGTH: "380 cm2/m",
    },
}
_FINE = frozenset({"caliper", "micrometer"})
_FINE_EXAMPLES: Mapping[Units, str] = {Units.INCH: "0.594 in, or 19/32 in", Units.METRIC: "15.1 mm"}
_AT: Mapping[Units, str] = {Units.INCH: "2 ft 6 in", Units.METRIC: "0.75 m"}
_TOUCHED: Mapping[tuple[Element, str], str] = {
    (Element.LINE, "between"): "Which planes does it lie between?",
    (Element.JOINT, "lines"): "Which lines meet here?",
    (Element.OPENING, "plane"): "Which plane is it in?",
    (Element.WALL, "plane"): "Which plane does it meet?",
    (Element.ATTIC, "planes"): "Which planes lie over it?",
    (Element.ATTIC, "lines"): "Which ridges and hips let its air out?",
    (Element.DELIVERY, "lines"): "Which lines is it for?",
    (Element.SAMPLE, "plane"): "Which plane is it of?",
    (Element.SAMPLE, "line"): "Which line is it of?",
    (Element.STATION, "at"): "Where is it?",
}
_PLANE_KEYS = frozenset({"between", "planes", "plane"})


def units_in(record: Record) -> Units:
    """Return the system that most of a record's lengths are written in; inches for none."""
    hosts = [place for group in record.places.values() for place in group]
    places = [record.roof, *hosts, *(station for host in hosts for station in host.stations)]
    texts = [
        reading.value.text
        for place in places
        for readings in place.readings.values()
        for reading in readings
        if isinstance(reading.value, Quantity) and reading.value.dimension is Dimension.LENGTH
    ]
    texts += [place.at.text for place in places if place.at is not None]
    found = [units_of(text) for text in texts]
    return Units.METRIC if found.count(Units.METRIC) > found.count(Units.INCH) else Units.INCH


def example(fact: Fact, units: Units) -> str:
    """Return how an answer is written: an example, or the words to choose from."""
    match fact.dimension:
        case Dimension.LENGTH if fact.tool in _FINE:
            return _FINE_EXAMPLES[units]
        case Dimension():
            return _EXAMPLES[units][fact.dimension]
        case Plain.YES_NO:
            return "yes or no"
        case Plain.CHOICE:
            return either(fact.choices)
        case Plain.DATE:
            return "year-month-day"
        case Plain.TEXT:
            return "in words"


def question(fact: Fact) -> str:
    """Return the question that asks for a fact."""
    return fact.ask or f"{fact.name.replace('_', ' ').capitalize()}?"


def gap_question(gap: Gap, place: Place | None) -> str:
    """Return the question that asks for what an outline leaves out of itself."""
    if place is not None:
        return _TOUCHED[place.element, gap.key]
    return f"Are all {gap.key} listed?"


def gap_example(gap: Gap, record: Record, place: Place | None, units: Units) -> str:
    """Return how the answer to such a question is written."""
    if place is None:
        return "all, or none if there are none"
    if place.element is Element.STATION:
        on_line = place.host is Element.LINE
        return _AT[units] if on_line else "in words"
    element = Element.PLANE if gap.key in _PLANE_KEYS else Element.LINE
    return ", ".join(touched.id for touched in record.places[element][:2])


def limit_at(check: Check, record: Record, place: Place, units: Units | None) -> str:
    """Return a rule's limit in words, a table's by its row where the record picks one."""
    return _limit(check.limit, Setting(record, place), units)


def _limit(limit: Limit, setting: Setting, units: Units | None) -> str:
    if isinstance(limit, Table):
        row, _ = picked_row(setting, limit)
        if row is not None:
            return _limit(row.limit, setting, units)
    return limit_words(limit, units, name=fact_words)


def aim_words(check: Check, units: Units | None) -> str:
    """Return a rule's aim in words, empty for a rule without one."""
    return limit_words(check.aim, units, name=fact_words) if check.aim is not None else ""


def fact_words(ref: FactRef) -> str:
    """Return what a rule asks, in words, without the element that it is about."""
    name = ref.fact.name.replace("_", " ")
    match ref.over:
        case None | Over.EACH | Over.ANY:
            return name
        case Over.COUNT:
            return f"number of {name} readings"
        case over:
            return f"{over} {name}"


def subject_words(check: Check, fact: Fact) -> str:
    """Return what a rule's limit is on, where that is not a fact's own reading."""
    of = check.of
    itself = of.fact == fact and of.over in (None, Over.EACH, Over.ANY)
    if itself:
        return ""
    return f"{of.over}" if of.fact == fact else fact_words(of)


def only_if(ways: Sequence[frozenset[Given]], element: Element, units: Units | None) -> str:
    """Return what has to hold for a question to be asked; nothing where it is always asked."""
    if not ways or any(not way for way in ways):
        return ""

    def named(ref: FactRef) -> str:
        own = ref.fact.element is element
        return ref.fact.name.replace("_", " ") if own else plain_fact(ref.fact)

    told = []
    for way in ways:
        parts = sorted(condition_words(given.condition, units, name=named) for given in way)
        told.append(" and ".join(dict.fromkeys(parts)))
    return " or ".join(dict.fromkeys(told))


def either(words: Iterable[str]) -> str:
    """Return words as a sentence joins alternatives; nothing for none."""
    listed = list(words)
    return f"{', '.join(listed[:-1])} or {listed[-1]}" if len(listed) > 1 else "".join(listed)
