"""Sheet of the cap for a hip or a ridge: what each way of choosing names, and which governs.

A line is laid out as a record holds it, and the rulebook's own computed facts are asked there, so
that no chart and no profile stands in Python.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from ridgerule.audit.compile import plan_for
from ridgerule.audit.expressions import Looked, Nearest
from ridgerule.audit.judge import Setting, operand_subject, picked_row
from ridgerule.audit.subjects import subjects
from ridgerule.audit.words import limit_words
from ridgerule.cli.inputs import ON_THE_COMMAND_LINE
from ridgerule.cli.reckon_angles import between, sides
from ridgerule.cli.reckon_drawing import section
from ridgerule.cli.reckon_input import with_degrees
from ridgerule.cli.reckon_sheet import Answer, Remark, Sheet
from ridgerule.documents import Document
from ridgerule.enclosures import Span, absolute, compare, subtract
from ridgerule.facts import Element, FactRef, LineKind, out_of_range
from ridgerule.quantities import Mistake, Quantity, read, write
from ridgerule.record_reader import record_of
from ridgerule.shelf import SUFFIXES, Shelf
from ridgerule.trade.reckonings import RECKONINGS
from ridgerule.trade.working import Step, given
from ridgerule.units import Dimension
from ridgerule.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.audit.plan import Plan
    from ridgerule.cli.reckon_angles import AngleAsked
    from ridgerule.cli.reckon_input import Typed
    from ridgerule.cli.reckon_sheet import Result
    from ridgerule.documents import Data
    from ridgerule.enclosures import Amount
    from ridgerule.facts import Fact
    from ridgerule.trade.geometry import Angle

PRACTICE = "practice/hip-and-ridge"
"""The rulebook that is asked where none is named."""

_ANGLE, _SLOPE = Dimension.ANGLE, Dimension.SLOPE
_FACTS = VOCABULARY.by_name
_BY_CHART = "line.cap_by_chart"
_BY_ANGLE = "line.cap_by_angle"
_BY_MEASURED = "line.cap_by_measured_angle"
_LABELS: Mapping[str, str] = MappingProxyType(
    {
        _BY_CHART: "cap by chart",
        _BY_ANGLE: "cap by nearest angle",
        _BY_MEASURED: "cap by measured angle",
    }
)
"""The ways of choosing a cap: the computed fact of each, and what a sheet calls it."""
_ASK = "measure the angle and ask the cap's maker"


@dataclass(frozen=True, slots=True)
class _Way:
    """One way of choosing a cap: the cap it names at the line, or why it names none."""

    name: str
    fact: Fact | None
    cap: Quantity | None
    silent: str
    has_say: bool
    """Whether this line is one that the way is for."""
    steps: tuple[Step, ...] = ()

    @property
    def label(self) -> str:
        return _LABELS[self.name]


def cap(typed: Typed, asked: AngleAsked, *, measured: str | None, against: str) -> Sheet:
    """Return the cap that each way names for a line, and the one that governs.

    Open (status 4) where two ways name different caps or the governing one names none.
    InputRejected for figures or a rulebook that can't be used, ValueError for what can't be.
    """
    slopes = typed.pair("--slopes", asked.slopes, _SLOPE)
    if not asked.slopes:
        typed.many("--slopes", (), _SLOPE, counts=(1, 2))
    angle = typed.maybe("--angle", measured, _ANGLE)
    found = between(typed, asked, slopes)
    _check_ranges(typed, asked, measured)
    typed.given.append(("--against", against))
    line = _line(asked, found, measured)
    ways = _ways(typed, _plan(against), line, _unasked(asked.kind, slopes, found, measured))
    compared = _compared(found.degrees, angle)
    return Sheet(
        name="cap",
        title=f"A cap for a {asked.kind}",
        results=(
            Step("angle inside the roof", "", found.degrees, _ANGLE),
            *(Step(step.label, "", step.amount, _ANGLE) for step in compared),
            *(_named(way) for way in ways),
            *_verdict(ways),
        ),
        steps=(*found.steps, *compared, *(step for way in ways for step in way.steps)),
        sources=(RECKONINGS["included angle"].source, *_sources(ways)),
        given=tuple(typed.given),
        units=typed.units,
        drawing=section(
            *sides(found, slopes, asked.kind),
            valley=False,
            label=write(found.degrees, _ANGLE, units=typed.units),
        ),
        notes=("Angles are measured inside the roof, square to the line; 180 deg is flat.",),
    )


# the line, as a record holds it


def _line(asked: AngleAsked, found: Angle, measured: str | None) -> dict[str, Data]:
    """Return the data of a record with the line alone."""
    turn = _turn(found)
    # The first plane faces south; the second is turned from it by 180 deg less the corner.
    faces: Sequence[str] = asked.faces or ("180 deg", asked.corner or "0 deg")
    slopes = (*(asked.slopes or ()), *(asked.slopes or ()))[:2]
    line: dict[str, Data] = {"kind": str(asked.kind), "between": ["A", "B"]}
    if asked.kind is LineKind.HIP and turn is not None and not isinstance(turn, Span):
        line["corner"] = f"{180 - turn} deg"
    if measured is not None:
        line["angle"] = with_degrees(measured)
    planes: dict[str, Data] = {
        id_: {"slope": slope, "faces": with_degrees(direction)}
        for id_, slope, direction in zip("AB", slopes, faces, strict=True)
    }
    return {"record": 1, "roof": {"id": "typed"}, "planes": planes, "lines": {"L": line}}


def _turn(found: Angle) -> Amount | None:
    """Return the angle between the directions faced; None at a ridge by its slopes alone."""
    return next((step.amount for step in found.steps if step.label == "plan angle"), None)


def _unasked(
    kind: LineKind, slopes: Sequence[Amount], found: Angle, measured: str | None
) -> dict[str, str]:
    """Return the ways that are not for this line, each with the reason."""
    told = {}
    turn = _turn(found)
    square: Amount = 180 if kind is LineKind.RIDGE else 90
    if compare(slopes[0], slopes[1]) != 0:
        told[_BY_CHART] = "a chart is for equal slopes"
    elif turn is not None and compare(turn, square) != 0:
        corner = "planes that face opposite ways" if kind is LineKind.RIDGE else "a square corner"
        told[_BY_CHART] = f"a chart is for {corner}"
    if measured is None:
        told[_BY_MEASURED] = "no angle was measured"
    return told


def _check_ranges(typed: Typed, asked: AngleAsked, measured: str | None) -> None:
    """Refuse angles that no record can hold, by their flags."""
    texts = [("--faces", "plane.faces", text) for text in asked.faces or ()]
    if measured is not None:
        texts.append(("--angle", "line.angle", measured))
    for flag, name, text in texts:
        value = read(with_degrees(text), _ANGLE)
        mistake = value if isinstance(value, Mistake) else out_of_range(value, _FACTS[name])
        if mistake is not None:
            typed.wrong(flag, mistake.expected, mistake.found, mistake.advice)
    typed.refuse()


# what the rulebook says of it


def _plan(against: str) -> Plan:
    """Return the plan of one rulebook, an id or a file. InputRejected with all its problems."""
    is_file = against.endswith(SUFFIXES)
    shelf = Shelf(files=(Path(against),) if is_file else ())
    name = shelf.given[0].name if is_file else against
    return plan_for([(name, ON_THE_COMMAND_LINE)], shelf)


def _ways(
    typed: Typed, plan: Plan, line: dict[str, Data], unasked: Mapping[str, str]
) -> tuple[_Way, ...]:
    empty: Mapping[tuple[str | int, ...], tuple[int, int]] = MappingProxyType({})
    document = Document("the line typed in", line, "", empty, empty)
    record = record_of(document, plan.vocabulary)
    setting = Setting(record, record.places[Element.LINE][0])
    facts = {name: plan.vocabulary.by_name.get(name) for name in _LABELS}
    if not any(facts.values()):
        listed = " or ".join(f"`{name}`" for name in _LABELS)
        typed.wrong(
            "--against",
            f"a rulebook that computes {listed}",
            f"`{', '.join(book.name for book in plan.rulebooks())}`, which computes none",
            "name another, or add them to it under `derive:`",
        )
        typed.refuse()
    return tuple(_way(setting, name, fact, unasked.get(name, "")) for name, fact in facts.items())


def _way(setting: Setting, name: str, fact: Fact | None, unasked: str) -> _Way:
    if unasked:
        return _Way(name, fact, None, unasked, has_say=False)
    if fact is None:
        # An angle that was measured is not passed over because a rulebook has no use for it.
        has_say = name == _BY_MEASURED
        return _Way(name, None, None, f"the rulebook computes no `{name}`", has_say=has_say)
    (subject,) = subjects(setting.record, setting.place, FactRef(fact)).items
    if isinstance(subject.value, Quantity):
        steps = tuple(_working(setting, name, fact, subject.value))
        return _Way(name, fact, subject.value, "", has_say=True, steps=steps)
    why = "; ".join(dict.fromkeys(lack.reason for lack in subject.missing))
    steps = tuple(_working(setting, name, fact, None))
    return _Way(name, fact, None, why, has_say=True, steps=steps)


def _working(setting: Setting, name: str, fact: Fact, cap: Quantity | None) -> Iterator[Step]:
    """Yield how a way comes to its cap, or as far as it gets."""
    expression = fact.derivation.expression if fact.derivation is not None else None  # type: ignore[attr-defined] # Callable by its type, a Derivation by its reader
    formula = fact.formula
    match expression:
        case Looked(table):
            row, _ = picked_row(setting, table)
            if row is not None:
                keys = ", ".join(limit_words(key) for key in row.keys)
                where = f"{row.location.file}:{row.location.line}"
                formula = f"row of the chart for {keys} ({where})"
        case Nearest(to, values):
            found = operand_subject(setting, to)
            if isinstance(found.value, Quantity):
                angle = "angle measured" if name == _BY_MEASURED else "angle inside the roof"
                for value in values:
                    off = absolute(subtract(value.amount, found.value.amount))
                    words = "the greater less the lesser"
                    yield Step(f"from {value.text} to the {angle}", words, off, _ANGLE)
                formula = f"the one with the least to the {angle}"
    if cap is not None:
        yield Step(_LABELS[name], formula, cap.amount, _ANGLE)


def _sources(ways: Sequence[_Way]) -> Iterator[str]:
    for way in ways:
        if way.fact is not None:
            source = way.fact.source or "no source named"
            yield f"{way.label}: `{way.name}` of {way.fact.origin}, {source}"


# what comes of it


def _compared(computed: Amount, measured: Amount | None) -> tuple[Step, ...]:
    if measured is None:
        return ()
    apart = absolute(subtract(computed, measured))
    formula = "the greater of the two angles less the lesser"
    return (
        given("angle measured", measured, _ANGLE),
        Step("difference", formula, apart, _ANGLE),
    )


def _named(way: _Way) -> Result:
    if way.cap is not None:
        return Step(way.label, "", way.cap.amount, _ANGLE)
    return Remark(way.label, f"{'names none' if way.has_say else 'has no say'}: {way.silent}")


def _verdict(ways: Sequence[_Way]) -> Iterator[Result]:
    """Yield the cap that governs, why, and whether the ways agree; open where it is not sure."""
    by_name = {way.name: way for way in ways}
    order = (by_name[name] for name in (_BY_MEASURED, _BY_CHART, _BY_ANGLE))
    governing = next((way for way in order if way.has_say), None)
    if governing is None:
        yield Answer("cap that governs", None, f"no way of choosing is for this line; {_ASK}")
        return
    measured = governing.name == _BY_MEASURED
    advice = "the angle is measured, so ask the cap's maker" if measured else _ASK
    if governing.cap is None:
        yield Answer("cap that governs", None, f"{governing.label} names none; {advice}")
    else:
        yield Step("cap that governs", "", governing.cap.amount, _ANGLE)
    yield Remark("what governs", f"{governing.label}: {_why(governing, by_name[_BY_CHART])}")
    caps = [way.cap for way in ways if way.cap is not None]
    if len(caps) > 1:
        is_one = all(compare(cap.amount, caps[0].amount) == 0 for cap in caps)
        words = "" if is_one else f"they name different caps; {advice}"
        yield Answer("the ways agree", True if is_one else None, words)


def _why(governing: _Way, chart: _Way) -> str:
    if governing.name == _BY_MEASURED:
        return "an angle finder was held to the line itself"
    if governing.name == _BY_CHART:
        return "its slopes and its corner are those of the chart, and no angle was measured"
    return f"{chart.silent}, and no angle was measured"
