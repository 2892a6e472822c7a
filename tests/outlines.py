"""Outlines of roofs for tests of plans, and a script that fills blank records in at random.

Every value is invented; what matters is that it is one its fact can have.
"""

from __future__ import annotations

import copy
import json
import random
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.findings import Outcome
from ridgerule.documents import load_document, read_document
from ridgerule.facts import How, Plain, out_of_range
from ridgerule.problems import Location
from ridgerule.quantities import Dimension, Mistake, read
from ridgerule.record_reader import read_record
from ridgerule.reports.visit_plan_record import blank_record
from ridgerule.shelf import Shelf
from ridgerule.visit.planning import VisitSettings, plan_visit

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit
    from ridgerule.audit.plan import Plan
    from ridgerule.documents import Path as DataPath
    from ridgerule.facts import Fact
    from ridgerule.record import Record
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.questions import Question

FIXTURES = Path(__file__).parents[1] / "fixtures"
ROOFS = (
    "demo/harrow-lane.yaml",
    "clean/mill-bank.yaml",
    "metric/tern-quay.yaml",
    "turret/heron-turret.yaml",
    "four-slopes/weir-end.yaml",
    "second-visit/first.yaml",
    "second-visit/second.yaml",
    "step-flashing/gable-end.yaml",
)
BOOKS: tuple[tuple[str, ...], ...] = (
    ("practice/hip-and-ridge@2026-11",),
    ("demo/tarnfell-slate@2026-01",),
    ("demo/tarn-county@2026-04", "code/model-residential@2021"),
    ("code/model-residential@2024",),
    ("code/model-residential",),
    ("copper-row",),
    ("step-flashing@2026-11",),
    ("demo/tarn-county", "code/model-residential", "practice/hip-and-ridge"),
)
"""All rulebooks that are shipped and those beside the fixtures, alone and together."""

_OUTLINED: dict[str, tuple[str, ...]] = {
    "planes": ("name", "slope", "faces"),
    "lines": ("name", "kind", "between", "length", "from"),
    "joints": ("name", "kind", "lines"),
    "openings": ("name", "kind", "plane", "width"),
    "walls": ("name", "kind", "plane"),
    "attics": ("name", "planes", "lines"),
    "deliveries": ("name", "lines"),
    "samples": ("name", "plane", "line", "of", "lot"),
}
_SHAPE = frozenset({"line.kind", "line.length", "plane.faces", "plane.slope"})
"""What an outline has of its own; where it was taken out, the roof's own is filled in again."""
_LENGTHS = ("1/2 in", "3/4 in", "3 1/8 in", "8 in", "9 in", "12 in", "36 in", "20 mm", "203 mm")
_VALUES: dict[Dimension, tuple[str, ...]] = {
    Dimension.LENGTH: _LENGTHS,
    Dimension.AREA: ("600 ft2", "288 in2", "144 in2", "1200 ft2"),
    Dimension.SLOPE: ("7:12", "9:12"),
    Dimension.ANGLE: ("120 deg", "160 deg", "90 deg", "138 deg"),
    Dimension.TEMPERATURE: ("70 degF", "160 degF", "-10 degF"),
    Dimension.COUNT: ("1", "2", "150"),
    Dimension.SHARE: ("5 %",),
    Dimension.EXPANSION: ("80 um/m/degC", "120 um/m/degC"),
    Dimension.NET_FREE_AREA_PER_LENGTH: ("18 in2/ft",),
}
BY_ITS_VALUE = (
    "they disagree",
    "the table has no row",
    "as near as each other",
    "too close",
    "may be",
    "is no interval",
    "nothing can be divided",
    "no edition at hand was in force",
    "has editions",
    "no one date tells apart",
    "more of a run is closed than its length",
    "a corner in plan is between",
    "meets both",
)
"""How the reasons read that a reading leaves a rule open by what it says, and not by its lack."""


class Tried(Struct, frozen=True):
    """A plan, its blank record filled in, and what the audit of that came to."""

    plan: Plan
    visit: VisitPlan
    text: str
    """Of the blank record."""
    data: dict[str, Any]
    """Of the filled one."""
    record: Record
    audit: Audit
    left_out: frozenset[DataPath]
    """The answers that were left out."""


def data_of(roof: str) -> dict[str, Any]:
    """Return the data of a fixture roof."""
    data = load_document(FIXTURES / roof).data
    assert isinstance(data, dict)
    return data


def outline_of(data: dict[str, Any]) -> dict[str, Any]:
    """Return the planes, lines and other places of a record, with nothing measured on them."""
    kept = ("id", "name", "covering", "building")
    outline: dict[str, Any] = {
        "record": 1,
        "roof": {key: value for key, value in data["roof"].items() if key in kept},
    }
    for section, keys in _OUTLINED.items():
        if section in data:
            outline[section] = {
                id_: {key: value for key, value in place.items() if key in keys}
                for id_, place in data[section].items()
            }
    if "lines" not in data:
        outline["complete"] = {"apart": [[*pair] for pair in combinations(data["planes"], 2)]}
    return outline


def thinned(outline: dict[str, Any], draw: random.Random) -> dict[str, Any]:
    """Return an outline with much of it taken out: kinds, planes beside lines, slopes."""
    data = copy.deepcopy(outline)
    taken = (
        ("lines", "kind", 0.3), ("lines", "between", 0.2), ("planes", "faces", 0.3),
        ("planes", "slope", 0.3), ("joints", "kind", 0.3), ("joints", "lines", 0.2),
        ("openings", "plane", 0.3), ("attics", "lines", 0.5),
    )  # fmt: skip
    for section, key, share in taken:
        for place in data.get(section, {}).values():
            if draw.random() < share:
                place.pop(key, None)
    for key in ("covering", "building"):
        if draw.random() < 0.5:
            data["roof"].pop(key, None)
    for section in ("joints", "openings", "attics", "deliveries", "walls"):
        if draw.random() < 0.3:
            data.pop(section, None)
    return data


def planned(books: tuple[str, ...]) -> Plan:
    """Return the plan of rulebooks, those beside the fixtures among them."""
    folders = tuple(FIXTURES / name for name in ("second-visit", "step-flashing"))
    return plan_for([(name, Location("test")) for name in books], Shelf(folders=folders))


def tried(
    plan: Plan,
    outline: dict[str, Any],
    *,
    roof: dict[str, Any],
    seed: int,
    settings: VisitSettings | None = None,
    left_out: float = 0,
) -> Tried:
    """Return what comes of an outline: planned, its blank record filled in at random, audited.

    `roof` is the whole record, which knows the shape of the roof.
    """
    draw = random.Random(seed)
    document = read_document(json.dumps(outline).encode(), name="outline.json")
    visit = plan_visit(plan, read_record(document, plan.vocabulary), settings)
    text = blank_record(visit)
    blank = read_document(text.encode(), name="blank.yaml")
    read_record(blank, plan.vocabulary)
    data: Any = copy.deepcopy(blank.data)
    missed = set()
    for question in visit.questions:
        if draw.random() < left_out:
            missed.add(question.path)
        else:
            _answer(question, data, roof, draw)
    filled = read_document(json.dumps(data).encode(), name="filled.json")
    record = read_record(filled, plan.vocabulary)
    return Tried(plan, visit, text, data, record, evaluate(plan, record), frozenset(missed))


def _answer(
    question: Question, data: dict[str, Any], roof: dict[str, Any], draw: random.Random
) -> None:
    """Put an answer into a blank record."""
    place, fact = _at(data, question.place), question.fact
    if fact is None:
        place[question.key] = _left_out_of_the_outline(question, data, roof, draw)
    elif fact.full_name in _SHAPE and question.key in _at(roof, question.place):
        place[question.key] = _at(roof, question.place)[question.key]
    elif fact.per_side:
        sides = question.sides or _at(roof, question.place[:2])["between"]
        place[question.key] = {
            **(place.get(question.key) or {}),
            **{side: _reading(question, fact, draw) for side in sides},
        }
    else:
        place[question.key] = _reading(question, fact, draw)


def _left_out_of_the_outline(
    question: Question, data: dict[str, Any], roof: dict[str, Any], draw: random.Random
) -> object:
    if question.place == ("complete",):
        kinds = {f"{line.get('kind')}s" for line in roof.get("lines", {}).values()}
        return "all" if data.get(question.key) or question.key in kinds else "none"
    if question.key == "at":
        return f"{draw.randint(1, 10**6)} mm"
    return _at(roof, question.place)[question.key]


def _reading(question: Question, fact: Fact, draw: random.Random) -> object:
    value = value_of(fact, draw)
    ways = question.accepted or tuple(How)
    how = draw.choice(ways) if question.accepted or draw.random() < 0.2 else None
    if how is None and not question.photo:
        return value
    known = {"how": how.value} if how else {}
    by = {"by": "foreman of crew 3"} if how is How.STATED else {}
    photo = {"photo": "work.jpg"} if question.photo else {}
    return {"value": value, **known, **by, **photo}


def value_of(fact: Fact, draw: random.Random) -> object:
    """Return a value that a fact can have."""
    match fact.dimension:
        case Dimension():
            fitting = []
            for text in _VALUES[fact.dimension]:
                found = read(text, fact.dimension)
                if not isinstance(found, Mistake) and out_of_range(found, fact) is None:
                    fitting.append(text)
            return draw.choice(fitting)
        case Plain.YES_NO:
            return draw.choice(["yes", "no"])
        case Plain.CHOICE:
            return draw.choice(fact.choices)
        case Plain.DATE:
            return f"2026-{draw.randint(5, 12):02}-{draw.randint(1, 28):02}"
        case Plain.TEXT:
            return draw.choice(["crew 3", "Tarn County"])


def _at(data: Any, path: DataPath) -> dict[str, Any]:
    for step in path:
        data = data[step]
    assert isinstance(data, dict)
    return data


def lacking(done: Tried) -> list[tuple[object, ...]]:
    """Return what an audit says is missing, whatever a value alone leaves open left out."""
    found: list[tuple[object, ...]] = []
    for finding in done.audit.findings:
        if finding.outcome is not Outcome.NOT_VERIFIED:
            continue
        lacks = [
            lack
            for lack in finding.missing
            if not any(words in lack.reason for words in BY_ITS_VALUE)
        ]
        rule = finding.rule.full_id if finding.rule else finding.about
        found += [(rule, finding.place.label, lack.path, lack.reason) for lack in lacks]
        if not finding.missing:
            found.append((rule, finding.place.label, (), finding.reason))
    return found
