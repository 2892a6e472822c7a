"""The blank record of a visit: YAML with every question as a comment over an empty key.

What the outline says is kept; its comments are not, since only its data is known. Comments stand
on lines of their own: after a value on the same line one would be refused.
"""

from __future__ import annotations

import json
import textwrap
from typing import TYPE_CHECKING

from ridgerule.documents import read_document
from ridgerule.facts import SECTIONS, Element, How
from ridgerule.plain_data import items_in, mapping_in
from ridgerule.problems import InputRejected
from ridgerule.record import LEFT_BLANK, unknown_reason
from ridgerule.reports.cautions import CAUTIONS
from ridgerule.reports.visible import visible
from ridgerule.reports.visit_plan_words import (
    asked_if,
    demanded_words,
    how_words,
    must_be,
    so_far,
    written_words,
)
from ridgerule.visit.stops import station_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.documents import Data, Path
    from ridgerule.record import Place
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.questions import Question

SCHEMA = "record.schema.json"
"""The file beside it that editors complete it from."""
_WIDTH = 98
_ORDER = (
    *("record", "roof", "dates", "installation", "warranty", "inspection", "complete"),
    *("rulebooks", "instruments"),
    *SECTIONS.values(),
)
_VISIT = ("date", "inspector", "weather", "access")
"""What is written down of every visit, whether a rule asks or not."""
_FIGURES = ("graduation", "expanded_uncertainty")
_SAID: Mapping[Path, tuple[str, ...]] = {
    ("instruments",): ("each with its smallest division, and its uncertainty if it has a paper",),
    ("rulebooks",): ("the rulebooks that this was planned by",),
}


def blank_record(plan: VisitPlan) -> str:
    """Return the text of the blank record."""
    data = _filled(plan)
    comments = _Comments(plan)
    lines = (*_opening(plan), *_mapping(data, (), comments))
    return "\n".join(lines) + "\n"


def _opening(plan: VisitPlan) -> Iterator[str]:
    yield f"# yaml-language-server: $schema=./{SCHEMA}"
    yield "#"
    filling = (
        "Fill in what stands after each colon and leave the lines that begin with a mark as they "
        "are. What could not be told is `unknown` or `can't reach`; what is left empty counts as "
        "not recorded. Readings are written as on the roof: 3 1/16 in, 2 ft 4 1/2 in, 78 mm, "
        "7:12, 30 deg."
    )
    long_form = (
        "A reading with `value:` below it also takes `how:` and `photo:`, and if need be `by:`, "
        "`with:` and `note:`. How is one of: " + ", ".join(How) + "."
    )
    for words in ("Before anyone goes up:", *CAUTIONS, *plan.mind, filling, long_form):
        yield from _comment(words)
        yield "#"


# data


def _filled(plan: VisitPlan) -> dict[str, Data]:
    """Return the outline's data with an empty key for every question."""
    data = _copied(mapping_in(plan.record.document.data))
    data["rulebooks"] = [*_rulebooks(plan)]
    for path, end in plan.ends.items():
        _at(data, path)["from"] = end
    _add_stations(data, plan)
    inspection = _at(data, ("inspection",))
    for key in _VISIT:
        inspection.setdefault(key, None)
    for tool in plan.tools:
        instrument = _at(data, ("instruments", tool))
        for key in _FIGURES:
            instrument.setdefault(key, None)
    for question in plan.questions:
        _add(_at(data, question.place), question)
    return {key: _stations_last(data[key]) for key in _ORDER if key in data}


def _copied(data: Mapping[str, Data]) -> dict[str, Data]:
    return {key: _copy(value) for key, value in data.items()}


def _copy(data: Data) -> Data:
    match data:
        case dict():
            return {key: _copy(value) for key, value in data.items()}
        case list():
            return [_copy(item) for item in data]
        case _:
            return data


def _rulebooks(plan: VisitPlan) -> Iterator[str]:
    """Yield the rulebooks asked for, and the record's own where it speaks of facts of theirs."""
    yield from plan.rulebooks
    yield from (name for name in plan.own_rulebooks if name not in plan.rulebooks)


def _at(data: dict[str, Data], path: Path) -> dict[str, Data]:
    """Return the mapping at a path, made where there is none."""
    here: Data = data
    for step in path:
        if isinstance(here, list) and isinstance(step, int):
            if here[step] is None:
                here[step] = {}
            here = here[step]
        elif isinstance(here, dict):
            if not isinstance(here.get(str(step)), (dict, list)):
                here[str(step)] = {}
            here = here[str(step)]
    if not isinstance(here, dict):
        raise TypeError(f"no mapping at {path}")
    return here


def _add_stations(data: dict[str, Data], plan: VisitPlan) -> None:
    """Add the stations that the outline does not have, each with its spot and its facts."""
    for element in (Element.LINE, Element.PLANE):
        for host in plan.record.places[element]:
            mapping = _at(data, host.path) if host.stations else {}
            listed = [*items_in(mapping.get("stations"))]
            listed.extend(map(_station, host.stations[len(listed) :]))
            if host.stations:
                mapping["stations"] = listed


def _station(station: Place) -> dict[str, Data]:
    only: list[Data] = [*sorted(station.only or ())]
    return {"at": station_words(station) or None, "only": only}


def _add(place: dict[str, Data], question: Question) -> None:
    """Put an empty key for a question's answer, or leave what the record says of it already."""
    said = place.get(question.key)
    if question.fact is not None and question.fact.per_side:
        sides = dict(mapping_in(said))
        sides |= {side: _opened(sides.get(side), question) for side in question.sides}
        place[question.key] = sides or said
    else:
        place[question.key] = _opened(said, question)


def _opened(said: Data, question: Question) -> Data:
    """Return what the record says of an answer, or an empty one; a word for not knowing stays."""
    reason = unknown_reason(said)
    if not reason:
        return said
    word = None if reason == LEFT_BLANK else said
    blank = _blank(question)
    return {**blank, "value": word} if isinstance(blank, dict) else word


def _blank(question: Question) -> Data:
    """Return an empty answer: with room for how it is known where the bare value is not enough."""
    fact = question.fact
    shown_bare = fact is None or not question.accepted or fact.short_form in question.accepted
    is_bare = shown_bare and not question.photo
    if is_bare:
        return None
    blank: dict[str, Data] = {"value": None, "how": None}
    return {**blank, "photo": None} if _shows_photo(question) else blank


def _shows_photo(question: Question) -> bool:
    return question.photo or How.PHOTO_DURING_WORK in question.accepted


def _stations_last(data: Data, depth: int = 0) -> Data:
    """Return a section with the stations of each place after its other keys."""
    if not isinstance(data, dict) or depth > 1:
        return data
    ordered = {key: _stations_last(value, depth + 1) for key, value in data.items()}
    if "stations" in ordered:
        ordered["stations"] = ordered.pop("stations")
    return ordered


# text


class _Comments:
    """What stands over each key: its question, told in full the first time it is asked so."""

    def __init__(self, plan: VisitPlan) -> None:
        self.questions = {question.path: question for question in plan.questions}
        self.stations: dict[Path, dict[str, Question]] = {}
        self.why: dict[Path, tuple[str, ...]] = {}
        for part in plan.parts:
            for stop in part.stops:
                path = (*stop.place.path, "stations")
                asked = self.stations.setdefault(path, {})
                for station in stop.stations:
                    for question in station.questions:
                        asked.setdefault(question.key, question)
                self.why[path] = self.why.get(path, stop.why) or stop.why
        self.told: set[tuple[str, ...]] = set()

    def of(self, path: Path) -> Iterator[str]:
        """Yield what stands over the key at a path, as the file is written from top to bottom."""
        yield from _SAID.get(path, ())
        yield from self.why.get(path, ())
        for key, question in self.stations.get(path, {}).items():
            first, *more = self._lines(question)
            yield f"{key}: {first}"
            yield from (f"  {line}" for line in more)
        if path in self.questions and "stations" not in path:
            yield from self._lines(self.questions[path])

    def _lines(self, question: Question) -> Iterator[str]:
        ask = f"{question.ask} ({written_words(question)})"
        told = (*filter(None, (asked_if(question), how_words(question))), demanded_words(question))
        key = (question.ask, *told)
        if key in self.told:
            brief = "; ".join(filter(None, (asked_if(question), must_be(question))))
            yield f"{ask} {brief}".rstrip()
        else:
            self.told.add(key)
            yield ask
            if question.fact is not None:
                tool = f"; {question.tool}" if question.tool else ""
                yield f"{question.fact.measure}{tool}"
            yield from filter(None, told)
        if told_so_far := so_far(question):
            yield told_so_far


def _mapping(data: Mapping[str, Data], path: Path, comments: _Comments) -> Iterator[str]:
    indent = "  " * len(path)
    for key, value in data.items():
        here = (*path, key)
        if not path or (len(path) == 1 and isinstance(value, dict)):
            yield ""
        for words in comments.of(here):
            yield from _comment(words, indent)
        yield from _entry(f"{indent}{_key(key)}:", value, here, comments)


def _entry(start: str, value: Data, path: Path, comments: _Comments) -> Iterator[str]:
    match value:
        case None:
            yield start
        case dict() if value:
            yield start
            yield from _mapping(value, path, comments)
        case list() if any(isinstance(item, (dict, list)) for item in value):
            yield start
            for i, item in enumerate(value):
                yield from _item(item, (*path, i), comments)
        case list() if path == ("rulebooks",):
            yield start
            yield from (f"  - {_scalar(item)}" for item in value)
        case dict() | list():
            yield f"{start} {_flow(value)}"
        case _:
            yield f"{start} {_scalar(value)}"


def _item(item: Data, path: Path, comments: _Comments) -> Iterator[str]:
    """Yield one item of a list, its first key beside the mark."""
    indent = "  " * (len(path) - 1)
    if not isinstance(item, dict) or not item:
        yield f"{indent}- {_flow(item)}"
        return
    lines = [*_mapping(item, path, comments)]
    first = next(i for i, line in enumerate(lines) if line and not line.lstrip().startswith("#"))
    yield from (line for line in lines[:first] if line)
    yield f"{indent}- {lines[first].lstrip()}"
    yield from lines[first + 1 :]


def _flow(value: Data) -> str:
    match value:
        case dict():
            inner = ", ".join(f"{_quoted(key)}: {_flow(item)}" for key, item in value.items())
            return f"{{{inner}}}"
        case list():
            return f"[{', '.join(map(_flow, value))}]"
        case None:
            return "null"
        case str():
            return value if _reads_back(f"k: [{value}]", {"k": [value]}) else _quoted(value)
        case _:
            return _scalar(value)


def _key(key: str) -> str:
    return key if _reads_back(f"{key}: 1", {key: 1}) else _quoted(key)


def _scalar(value: Data) -> str:
    """Return a value as it stands in a block, plain where it reads back the same."""
    if isinstance(value, bool):
        return "true" if value else "false"
    text = str(value)
    is_plain = text.strip() == text and "\n" not in text and _reads_back(f"k: {text}", {"k": value})
    return text if is_plain else _quoted(text)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=not text.isprintable())


def _reads_back(text: str, data: dict[str, Data]) -> bool:
    try:
        found = read_document(text.encode(), name="record.yaml").data
    except InputRejected:
        return False
    return found == data and [*map(type, mapping_in(found).values())] == [*map(type, data.values())]


def _comment(words: str, indent: str = "") -> Iterator[str]:
    width = _WIDTH - len(indent) - 2
    deeper = " " * (len(words) - len(words.lstrip()))
    for line in textwrap.wrap(visible(words), width - len(deeper), break_on_hyphens=False):
        yield f"{indent}# {deeper}{line.lstrip()}"
