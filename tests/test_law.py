"""The law: taking a value away never turns anything into a pass (semantics 11)."""

from __future__ import annotations

from pathlib import Path as FilePath
from types import MappingProxyType
from typing import TYPE_CHECKING

import pytest

from ridgerule.audit.compile import plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.audit.findings import Audit, Outcome
from ridgerule.documents import Document, load_document
from ridgerule.facts import Element
from ridgerule.problems import InputRejected, Location
from ridgerule.record_reader import read_record, record_of, rulebooks_named
from ridgerule.shelf import Shelf
from roofs import FAULTS, changed, faulty_roof, sound_roof, value_paths, without

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.audit.plan import Plan
    from ridgerule.documents import Data, Path

FIXTURES = FilePath(__file__).parent.parent / "fixtures"
SETTLES_NOTHING = ("rulebooks",)
"""Sections whose values are not of the roof: which rulebooks to ask is the question itself."""


def planned(*references: str) -> Plan:
    """Return the plan of shipped rulebooks."""
    return plan_for([(name, Location("test")) for name in references], Shelf())


def audited(data: dict[str, Data], plan: Plan, *, checked: bool = True) -> Audit | None:
    """Return the audit of a record's data, None where it is no record any more.

    The schema only refuses, so a law that holds without it (`checked` off) holds with it.
    """
    document = Document("test", data, "", MappingProxyType({}), MappingProxyType({}))
    read = read_record if checked else record_of
    try:
        return evaluate(plan, read(document, plan.vocabulary))
    except InputRejected:
        return None


def outcomes(audit: Audit) -> dict[tuple[object, ...], Outcome]:
    """Return each finding's outcome by its rule, its chain of changes and its place."""
    found: dict[tuple[object, ...], Outcome] = {}
    for finding in audit.findings:
        rule = finding.rule
        name = (rule.book, rule.id, tuple(c.book for c in rule.changes)) if rule else finding.reason
        found[name, finding.place.path] = finding.outcome
    return found


def newly_settled(before: Audit, after: Audit) -> list[object]:
    """Return the places where a rule passes or does not apply only since a value is gone."""
    old = outcomes(before)
    news = []
    for (name, path), outcome in outcomes(after).items():
        if outcome not in (Outcome.PASS, Outcome.NOT_APPLICABLE):
            continue
        # What did not apply to a line, or to the roof, did not apply to any place on it.
        above = [path[:n] for n in range(len(path))] + [("roof",)]
        was = old.get((name, path))
        covered = any(old.get((name, place)) is Outcome.NOT_APPLICABLE for place in above)
        if was is not outcome and not (outcome is Outcome.NOT_APPLICABLE and covered):
            news.append((name, path, was, outcome))
    return news


def broken_laws(
    data: dict[str, Data],
    plan: Plan,
    poorer: Iterable[tuple[Path, dict[str, Data]]],
    *,
    checked: bool,
) -> tuple[int, list[object]]:
    """Return how many values were taken away, and what that settled wrongly."""
    before = audited(data, plan)
    assert before is not None
    tried, broken = 0, []
    for path, record in poorer:
        tried += 1
        after = audited(record, plan, checked=checked)
        if after is None:
            continue
        broken += [(path, item) for item in newly_settled(before, after)]
        if after.outcome is Outcome.PASS and before.outcome is not Outcome.PASS:
            broken.append((path, "the roof passes"))
    return tried, broken


def without_each(data: dict[str, Data]) -> Iterator[tuple[Path, dict[str, Data]]]:
    """Yield the record without each value of the roof, and with each value left blank."""
    for path in value_paths(data):
        if path[0] not in SETTLES_NOTHING:
            yield path, without(data, path)
            yield path, changed(data, path, None)


@pytest.mark.parametrize("part", range(4))
@pytest.mark.parametrize("name", ["demo/harrow-lane.yaml", "clean/mill-bank.yaml"])
def test_no_value_of_a_fixture_settles_anything_by_its_absence(name: str, part: int) -> None:
    """Removing or blanking any value of the demo or of the clean roof settles nothing."""
    document = load_document(FIXTURES / name)
    assert isinstance(document.data, dict)
    plan = planned(*rulebooks_named(document))
    poorer = [*without_each(document.data)][part::4]
    tried, broken = broken_laws(document.data, plan, poorer, checked=True)
    assert tried > 200
    assert broken == []


@pytest.mark.parametrize("part", range(10))
def test_no_value_of_a_generated_roof_settles_anything_by_its_absence(part: int) -> None:
    """500 generated roofs with one failure each keep the law for every value of theirs.

    Each value is removed in one half of the roofs and left blank in the other.
    """
    plan = planned("practice/hip-and-ridge@2026-11")
    for seed in range(part * 50, part * 50 + 50):
        data = faulty_roof(seed)
        before = audited(data, plan)
        outcome = before.outcome if before else None
        assert outcome is Outcome.FAIL, seed
        poorer = [*without_each(data)]
        half = [poorer[i + (i // 2 + seed) % 2] for i in range(0, len(poorer), 2)]
        tried, broken = broken_laws(data, plan, half, checked=False)
        assert tried > 80
        assert broken == [], seed


@pytest.mark.parametrize("seed", range(20))
def test_a_sound_roof_passes_and_no_used_value_can_go(seed: int) -> None:
    """A roof that keeps every rule passes, and passes no more without a value it rests on."""
    plan = planned("practice/hip-and-ridge@2026-11")
    data = sound_roof(seed)
    audit = audited(data, plan)
    assert audit is not None
    open_points = [f for f in audit.findings if f.outcome is Outcome.NOT_VERIFIED]
    assert [(f.place.label, f.reason) for f in open_points] == []
    assert audit.outcome is Outcome.PASS
    used = {use.path for finding in audit.findings for use in finding.used}
    assert len(used) > 30
    for path in used:
        poorer = audited(without(data, path), plan)
        # The outcome alone is asserted on: a failing assert would print whole audits.
        outcome = poorer.outcome if poorer else None
        assert outcome is not Outcome.PASS, path


def test_each_fault_is_a_fault() -> None:
    """Every fault the generator knows makes a sound roof fail."""
    plan = planned("practice/hip-and-ridge@2026-11")
    assert len(FAULTS) == 19
    for i in range(len(FAULTS)):
        audit = audited(faulty_roof(i), plan)
        assert audit is not None
        assert audit.counts[Outcome.FAIL] >= 1, FAULTS[i]


@pytest.mark.parametrize(
    "data",
    [
        {"record": 1, "roof": {"id": "empty"}},
        {"record": 1, "roof": {"id": "no lines", "covering": "composite slate"}},
        {
            "record": 1,
            "roof": {"id": "no stations", "covering": "composite slate"},
            "planes": {"S": {"slope": "7:12", "faces": "180 deg"}},
            "lines": {"H1": {"kind": "hip", "between": ["S"]}},
        },
    ],
    ids=["empty", "lineless", "stationless"],
)
def test_records_that_show_nothing_are_not_verified(data: dict[str, Data]) -> None:
    """An empty record, one without lines and one without stations are not verified."""
    for reference in (
        "practice/hip-and-ridge@2026-11",
        "demo/tarn-county@2026-04",
        "code/model-residential@2021",
    ):
        audit = audited(data, planned(reference))
        assert audit is not None
        assert audit.outcome is Outcome.NOT_VERIFIED
        assert audit.counts[Outcome.PASS] == 0
        assert all(f.place.element in Element for f in audit.findings)
