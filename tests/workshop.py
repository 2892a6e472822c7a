"""Small tools for tests: rulebooks and records laid out, audited, and single findings picked out.

Every rulebook written here is invented and no figure in it means anything.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.documents import read_document
from ridgerule.problems import InputRejected, Location
from ridgerule.record_reader import read_record
from ridgerule.shelf import Shelf

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.audit.plan import Plan
    from ridgerule.problems import Problem
    from ridgerule.record import Record

ASKED = Location("the test")
NAME = "test/house@1"
EVERYTHING = (
    "hips", "ridges", "valleys", "eaves", "rakes", "planes",
    "joints", "openings", "walls", "attics", "deliveries", "samples",
)  # fmt: skip
"""The kinds of place that a record can say it lists in full, as an inspector writes them."""


def rule(id_: str, of: str, limit: object, **fields: object) -> dict[str, Any]:
    """Return a rule's data; a field whose name Python keeps for itself ends in `_`."""
    given = {name.rstrip("_"): value for name, value in fields.items()}
    words = {"title": f"{id_} holds", "class": "major", "why": "a test", "remedy": "mend it"}
    return {"id": id_, "of": of, "limit": limit, **words, "source": "us", **given}


def amendment(id_: str, **fields: object) -> dict[str, Any]:
    """Return an amendment's data."""
    given = {name.rstrip("_"): value for name, value in fields.items()}
    return {"rule": id_, "reason": "a test", "source": "us", **given}


def rulebook(*rules: dict[str, Any], name: str = NAME, **fields: object) -> str:
    """Return the text of a rulebook, which as JSON is YAML too, a field a line."""
    id_, _, edition = name.partition("@")
    data = {"rulebook": id_, "title": "Invented", "edition": edition, **fields}
    data["sources"] = {"us": {"basis": "invented"}}
    return json.dumps(data | {"rules": list(rules)}, indent=1)


def shelf(*rulebooks: str) -> Shelf:
    """Return a shelf of rulebooks, each written to a file of its own and read from there."""
    with tempfile.TemporaryDirectory() as folder:
        files = []
        for i, text in enumerate(rulebooks):
            file = Path(folder) / f"book-{i}.{'json' if text.startswith('{') else 'yaml'}"
            file.write_text(text, encoding="utf-8")
            files.append(file)
        return Shelf(files=tuple(files))


def plan(book: str, *more: str, asked: tuple[str, ...] = ()) -> Plan:
    """Return the plan of the first rulebook, the others on the shelf; or of those asked for."""
    found = shelf(book, *more)
    names = asked or (found.given[0].name,)
    return plan_for([(name, ASKED) for name in names], found)


def record(data: dict[str, Any] | str, against: Plan) -> Record:
    """Return a record, from its text or its data without the version, read for a plan."""
    if isinstance(data, str):
        return read_record(read_document(data.encode(), name="roof.yaml"), against.vocabulary)
    whole = {"record": 1, "roof": {"id": "T-1"}, **data}
    document = read_document(json.dumps(whole, indent=1).encode(), name="roof.json")
    return read_record(document, against.vocabulary)


def audit(
    data: dict[str, Any] | str, book: str | Plan, *more: str, asked: tuple[str, ...] = ()
) -> Audit:
    """Return the audit of a record against a plan, or against rulebooks given as texts."""
    against = plan(book, *more, asked=asked) if isinstance(book, str) else book
    return evaluate(against, record(data, against))


def only(done: Audit, rule_id: str, place: str) -> Finding:
    """Return the one finding of a rule at a place, by its label such as `hip H1 at 2 ft`."""
    found = findings(done, rule_id)
    here = [finding for finding in found if finding.place.label == place]
    if len(here) != 1:
        told = [(finding.place.label, str(finding.outcome)) for finding in found]
        raise AssertionError(f"{len(here)} findings of {rule_id} at {place}, among {told}")
    return here[0]


def findings(done: Audit, rule_id: str) -> list[Finding]:
    """Return the findings of a rule, in the audit's order."""
    return [found for found in done.findings if found.rule and found.rule.id == rule_id]


def outcomes(done: Audit, rule_id: str) -> dict[str, str]:
    """Return what a rule came to, by the label of each place, which must all differ."""
    found = findings(done, rule_id)
    by_place = {finding.place.label: str(finding.outcome) for finding in found}
    if len(by_place) != len(found):
        raise AssertionError(f"two findings of {rule_id} at one of {[*by_place]}")
    return by_place


def open_points(done: Audit) -> list[str]:
    """Return the reasons of the record's own open points."""
    return [found.reason for found in done.findings if found.rule is None]


def problems(reading: Callable[[], object]) -> tuple[Problem, ...]:
    """Return the problems that a reading is rejected for; it must be rejected."""
    try:
        reading()
    except InputRejected as rejected:
        return rejected.problems
    raise AssertionError("nothing was rejected")


def all_listed(**instead: str) -> dict[str, str]:
    """Return that every kind of place is listed in full, save what is said otherwise."""
    return dict.fromkeys(EVERYTHING, "all") | instead
