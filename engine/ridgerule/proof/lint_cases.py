"""A rule's cases held against the rule: those that come out otherwise, say nothing or are lacking.

A change of what decides is held against the cases that it inherits, so that the figures a rule
shows and the figures it asks never drift apart.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.cases import run_case
from ridgerule.audit.findings import Outcome
from ridgerule.audit.limits import nodes
from ridgerule.audit.strictness import can_apply, can_be
from ridgerule.facts import Element, FactRef
from ridgerule.plain_data import items_in, mapping_in
from ridgerule.problems import InputRejected
from ridgerule.proof.lint_remarks import error, warning
from ridgerule.proof.lint_rules import written_here

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.cases import CaseResult
    from ridgerule.audit.plan import Case, Check, Edition
    from ridgerule.facts import Vocabulary
    from ridgerule.problems import Location
    from ridgerule.proof.lint_remarks import Remark
    from ridgerule.rulebook import Field

PROVED_BY_CASES = ("limit", "when", "evidence")
"""The fields that cases show; stations and scope are no part of them."""


def case_remarks(edition: Edition) -> Iterator[Remark]:
    """Yield what is wrong with the cases that the file wrote, and with those that it lacks."""
    for check in edition.checks:
        if written_here(check.rule, edition, "cases"):
            yield from _own(check, edition)
        elif fields := _written_anew(check, edition):
            yield from _inherited(check, fields, edition)


def _written_anew(check: Check, edition: Edition) -> list[Field]:
    """Return the fields that cases show and the rulebook wrote otherwise than its base."""
    forms = {rule.full_id: rule.fields for base in edition.adapted.bases for rule in base.rules}
    before = forms.get(check.rule.full_id, {})
    return [
        field
        for field in written_here(check.rule, edition, *PROVED_BY_CASES)
        if (known := before.get(str(field.path[-1]))) is None or known.data != field.data
    ]


def _own(check: Check, edition: Edition) -> Iterator[Remark]:
    if can_apply(check):
        yield from _one_sided(check)
    yield from _said_twice(check)
    noted = _noted(check)
    for case in check.cases:
        yield from _came_out(check, case, edition.vocabulary)
        if case.location not in noted:
            yield from _never_asked(check, case, edition.vocabulary)


def _noted(check: Check) -> set[Location]:
    """Return where the cases stand whose author says why: what they give besides may be meant."""
    field = check.rule.fields["cases"]
    raw = enumerate(items_in(field.data))
    return {field.at(i) for i, case in raw if mapping_in(case).get("note")}


def _came_out(check: Check, case: Case, vocabulary: Vocabulary) -> Iterator[Remark]:
    facts = {name: vocabulary.by_name[name.split()[-1]] for name in case.given}
    computed = {name: fact for name, fact in facts.items() if fact.derivation is not None}
    for name, fact in computed.items():
        found = f"`{name}`, which is computed"
        advice = f"give what it is computed from: {', '.join(fact.inputs)}"
        yield error(case.location, "facts that can be recorded", found, advice)
    if computed:
        return
    try:
        result = run_case(check, case, vocabulary)
    except InputRejected as rejected:
        for problem in rejected.problems:
            yield error(case.location, problem.expected, problem.found, problem.advice)
        return
    if not result.as_expected:
        told = f"`{case.expect}`, as this case of `{check.rule.id}` says"
        advice = "mend the case, or the rule"
        yield error(case.location, told, _outcome(result), advice)


def _outcome(result: CaseResult) -> str:
    """Return what came out of a case, and why."""
    finding = result.finding
    why = finding.reason
    if finding.outcome in (Outcome.PASS, Outcome.FAIL):
        read = [use.text for use in finding.measured]
        measured = f"{' and '.join(dict.fromkeys(read))} against " if read else ""
        why = f"{measured}{finding.limit}"
    return f"`{finding.outcome}`: {why}" if why else f"`{finding.outcome}`"


def _never_asked(check: Check, case: Case, vocabulary: Vocabulary) -> Iterator[Remark]:
    """Yield the facts that a case gives and its rule asks neither itself nor by a computation."""
    asked = asked_by(check, vocabulary)
    idle = [name for name in case.given if name.split()[-1] not in asked]
    if idle:
        listed = " and ".join(f"`{name}`" for name in idle)
        told = f"facts that `{check.rule.id}` asks"
        advice = "take it out, or say in a `note` what it shows: it changes nothing"
        yield warning(case.location, told, f"{listed} besides", advice)


def asked_by(check: Check, vocabulary: Vocabulary) -> frozenset[str]:
    """Return the full names of the facts that a rule asks, and of those they are computed from.

    The kind of a line is asked wherever a line is, since it says how many planes lie beside it.
    """
    refs = (ref for ref in nodes((check.of, check.limit, check.when, check.aim))
            if isinstance(ref, FactRef))  # fmt: skip
    waiting = [ref.fact.full_name for ref in refs]
    found: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            fact = vocabulary.by_name.get(name)
            waiting.extend(fact.inputs if fact is not None else ())
    on_lines = {f"{element}." for element in (Element.LINE, Element.STATION)}
    if check.at in (Element.LINE, Element.STATION) or any(
        name.startswith(tuple(on_lines)) for name in found
    ):
        found.add("line.kind")
    return frozenset(found)


def _one_sided(check: Check) -> Iterator[Remark]:
    """Yield that no case shows the rule passing, or none shows it failing, though it can."""
    expected = {case.expect for case in check.cases}
    due = ((Outcome.PASS, True), (Outcome.FAIL, False))
    lacking = [str(o) for o, truth in due if o not in expected and can_be(check, truth=truth)]
    if lacking:
        where = check.rule.fields["cases"].location
        told = "a case that passes and one that fails"
        found = f"none that expects `{'` and none that expects `'.join(lacking)}`"
        yield warning(where, told, found, "write one on each side of the limit")


def _said_twice(check: Check) -> Iterator[Remark]:
    known: list[Case] = []
    for case in check.cases:
        first = next((other for other in known if _same(other, case)), None)
        if first is None:
            known.append(case)
        elif first.expect is not case.expect:
            told = f"`{first.expect}`, as the case at {first.location} says of the same facts"
            advice = "one of the two is wrong: take it out"
            yield error(case.location, told, f"`{case.expect}`", advice)
        else:
            told = "a case of its own"
            found = f"the one at {first.location} again"
            yield warning(case.location, told, found, "take it out")


def _same(one: Case, other: Case) -> bool:
    return dict(one.given) == dict(other.given)


def _inherited(check: Check, fields: list[Field], edition: Edition) -> Iterator[Remark]:
    """Yield that a rule or a change of what decides has no cases, or old ones that it breaks."""
    where = fields[0].location if check.rule.changes else check.rule.location
    if not check.cases:
        told = f"cases that show `{check.rule.id}` passing and failing"
        yield warning(where, told, "none", "add `cases:`, one on each side of the limit")
        return
    broken = [result for result in _results(check, edition) if not result.as_expected]
    told = f"`cases:` beside a changed `{fields[0].path[-1]}`"
    advice = "write cases that show what it asks now"
    if broken:
        first = broken[0]
        found = (
            f"{len(broken)} of the {len(check.cases)} inherited ones coming out otherwise, first "
            f"at {first.case.location}: `{first.case.expect}` expected, {_outcome(first)}"
        )
        yield error(where, told, found, advice)
    else:
        found = f"only those of `{check.rule.full_id}`, which come out as before"
        yield warning(where, told, found, advice)


def _results(check: Check, edition: Edition) -> Iterator[CaseResult]:
    for case in check.cases:
        try:
            yield run_case(check, case, edition.vocabulary)
        except InputRejected:
            continue  # the case is told where it was written
