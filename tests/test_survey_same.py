"""A survey says of each record what one audit of it says, finding for finding."""

from __future__ import annotations

import copy
import json
import random
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import archive
import roofs
from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.documents import load_document, read_document
from ridgerule.problems import InputRejected, Location
from ridgerule.record_reader import read_record
from ridgerule.schemas import check, is_kind
from ridgerule.shelf import Shelf
from ridgerule.survey.results import of_audit, of_problems
from ridgerule.survey.surveying import Held, Surveyor

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.plan import Plan

ASKED = Location("the test")
BOOKS = (
    ("demo/tarn-county@2026-04", "code/model-residential@2021"),
    ("demo/tarn-county",),
    ("practice/hip-and-ridge@2026-11",),
    ("code/model-residential", "demo/tarnfell-slate@2026-01"),
    ("code/model-residential@2024", "practice/hip-and-ridge"),
)
"""Every shipped rulebook, with its base and beside another, with and without its edition."""
FIXTURES = sorted(
    path
    for path in (Path(__file__).parent.parent / "fixtures").rglob("*.yaml")
    if path.parent.name != "records" and "broken" not in path.parts and "@" not in path.name
)
HOSTILE = (
    "<b>&amp;</b>", "[red]x[/]", '"; DROP', "\u202e7:12", "x\u0007y", "\x7f", "", " ", "unknown",
    "can\u2019t reach", "Unknown ", "3 1/8 in\n", "\\u0041", "hip ", "HIP", "-0", "2.0",
    "1e3", "9" * 20,
)  # fmt: skip
LONG: tuple[dict[str, Any], ...] = (
    {"how": "measured"}, {"how": "cap lifted", "photo": "a.jpg"}, {"how": "stated"},
    {"how": "stated", "by": "crew 3"}, {"how": "document"}, {"how": "seen", "note": "x"},
    {"how": None}, {"photo": ["a.jpg", "b.jpg"]}, {"photo": ""}, {"repeats": ["3 in"]},
    {"repeats": ["nonsense"]}, {"how": "guessed"}, {"when": "2026-09-14", "with": "tape"},
    {"photo": "work.jpg", "how": "photo during work"},
)  # fmt: skip


def _line(data: object) -> bytes:
    return json.dumps(data, separators=(",", ":"), ensure_ascii=False).encode(
        "utf-8", "surrogatepass"
    )


def _audited(plan: Plan, line: bytes) -> bytes:
    """Return what the ordinary way says of a line: reading, schema and evaluator, nothing else."""
    try:
        document = read_document(line, name="record.json")
        if not is_kind(document, "record"):
            raise InputRejected(check(document, "record"))  # noqa: TRY301 - as the command does
        record = read_record(document, plan.vocabulary)
    except InputRejected as rejected:
        return of_problems(rejected.problems, "x:1").line
    return of_audit(evaluate(plan, record), "x:1", keep_all=False).line


def _surveyor(plan: Plan) -> Surveyor:
    held = Held(plan, plan.vocabulary)
    return Surveyor(lambda _names, _where: held)


def _plan(names: tuple[str, ...]) -> Plan:
    return plan_for([(name, ASKED) for name in names], Shelf())


def _changed(  # noqa: C901, PLR0912 - one branch a kind of change
    data: dict[str, Any], draw: random.Random
) -> dict[str, Any]:
    """Return a record with something about it changed, for better or worse."""
    data = copy.deepcopy(data)
    for _ in range(draw.choice([1, 1, 1, 2])):
        paths = list(roofs.value_paths(data))
        path = draw.choice(paths)
        holder: Any = data
        for step in path[:-1]:
            holder = holder[step]
        old, key = holder[path[-1]], path[-1]
        match draw.choice([0, 0, 1, 1, 2, 3, 3, 4, 5, 6, 7, 8]):
            case 0 if isinstance(key, str):
                del holder[key]
            case 1:
                holder[key] = draw.choice(["unknown", "can't reach", None])
            case 2:
                holder[key] = draw.choice(HOSTILE)
            case 3:
                holder[key] = {"value": old, **draw.choice(LONG)}
            case 4:
                holder[key] = draw.choice(
                    [True, False, 0, 1, 2, -3, 10**16, [], {}, [old], {"a": 1}]
                )
            case 5 if isinstance(key, str):
                holder[draw.choice(["gap", "slopee", "kind", "photo", "only", "note", "plan"])] = (
                    old
                )
            case 6:
                holder[key] = draw.choice(
                    ["2 in", "12 ft", "30 deg", "5:12", "45 degF", "yes", "no"]
                )
            case 7:
                other = data
                for step in draw.choice(paths)[:-1]:
                    other = other[step]
                holder[key] = copy.deepcopy(other)
            case _:
                section = draw.choice([k for k in data if isinstance(data[k], dict)])
                if data[section] and draw.random() < 0.5:
                    data[section].pop(draw.choice(list(data[section])))
                else:
                    data.pop(section)
                if not any(True for _ in roofs.value_paths(data)):
                    return data
    return data


def _records(seed: int, count: int) -> Iterator[dict[str, Any]]:
    draw = random.Random(seed)
    fixtures = [load_document(path).data for path in FIXTURES]
    assert len(fixtures) >= 6
    for i in range(count):
        kind = i % 4
        if kind == 0:
            base = archive.record(draw.randrange(10**6))
        elif kind == 1:
            make = draw.choice([roofs.sound_roof, roofs.faulty_roof])
            base = make(draw.randrange(50))
        else:
            base = draw.choice(fixtures)  # type: ignore[assignment]
        yield base if i % 3 == 0 else _changed(base, draw)


@pytest.mark.parametrize("books", BOOKS, ids="+".join)
def test_a_survey_says_what_audits_say(books: tuple[str, ...]) -> None:
    """Of 420 records of every sort, mended and broken, the survey's line is the audit's own."""
    plan = _plan(books)
    surveyor = _surveyor(plan)
    differing, usable = [], 0
    for i, data in enumerate(_records(len(books[0]), 420)):
        line = _line(data)
        told = surveyor.result(line, "x", 1)
        expected = _audited(plan, line)
        usable += told.outcome is not None
        if told.line != expected:
            differing.append((i, told.line[:3000], expected[:3000]))
    assert not differing, differing[:2]
    assert 100 < usable < 400


def test_escapes_are_told_as_in_an_audit() -> None:
    """A control character is refused however it is written; a quote in a note is none."""
    plan = _plan(BOOKS[0])
    surveyor = _surveyor(plan)
    surveyor.result(_line(archive.record(3)), "x", 1)
    for note in ("a\u0007b", 'say "no"', "a\\b", "two\nlines", "\u2028", "caf\u00e9", "\x7f"):
        line = _line({**archive.record(3), "roof": {**archive.record(3)["roof"], "note": note}})
        assert surveyor.result(line, "x", 1).line == _audited(plan, line)


def test_keys_that_stand_twice_are_problems_as_in_an_audit() -> None:
    """A key that stands twice in a mapping, and numbers written oddly, are told by the survey."""
    plan = _plan(BOOKS[0])
    surveyor = _surveyor(plan)
    line = _line(archive.record(3))
    surveyor.result(line, "x", 1)
    twice = line.replace(b'"roof":{', b'"roof":{"id":"Z",', 1)
    nested = line.replace(b'"kind":"hip"', b'"kind":"hip","kind":"hip"', 1)
    negative = line.replace(b'"record":1', b'"record":-0', 1)
    spaced = json.dumps(json.loads(line), ensure_ascii=True).encode()
    for changed in (twice, nested, negative, spaced, line + b"x", line[:-1], b"[]", b"3", b"\xff"):
        assert surveyor.result(changed, "x", 1).line == _audited(plan, changed)
    assert b'"problems"' in surveyor.result(nested, "x", 1).line
