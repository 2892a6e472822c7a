"""A rulebook's proof as a page: what is wrong first, then every figure at its edges."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from ridgerule.audit.findings import Outcome
from ridgerule.audit.words import plain_name
from ridgerule.quantities import Quantity
from ridgerule.reports.case_text import case_text, given_words
from ridgerule.reports.sheet import Code, Heading, Items, Pairs, Sheet, Table, Words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from ridgerule.audit.words import Named
    from ridgerule.facts import FactRef
    from ridgerule.proof.bench import Laid
    from ridgerule.proof.bounds import Edge, Row
    from ridgerule.proof.proving import BookProof, RuleProof
    from ridgerule.proof.unproved import Unproved
    from ridgerule.reports.sheet import Block

_EDGES = (
    "Beside each figure stand readings one step under it, on it and one step over it, and what "
    "the engine makes of each; of a list each value and one that it leaves out. All else is held "
    "where the figure decides. Where a condition is tried the limit is broken: the rule fails as "
    "long as it applies. Every outcome was held against the limits compared without the engine."
)


def proof_sheet(proof: BookProof) -> Sheet:
    """Return the page of one rulebook's proof."""
    book = proof.edition.book
    return Sheet(
        title=f"{book.title}: {'proved' if proof.is_proved else 'not proved'}",
        blocks=(
            _summary(proof),
            *_surprises((*proof.rules, *proof.inherited)),
            *_open(proof),
            *_stale(proof),
            *_explained(proof.rules),
            *_advice(proof.rules),
            *_edges(proof.rules),
        ),
    )


def _summary(proof: BookProof) -> Pairs:
    book = proof.edition.book
    rules, every = proof.rules, (*proof.rules, *proof.inherited)
    return Pairs(
        (
            ("rulebook", f"{book.name}, {book.document.name}"),
            ("rules", _rule_counts(proof)),
            ("cases", _case_counts(every)),
            ("edges", _edge_counts([row for rule in rules for row in rule.rows])),
            ("sides", _side_counts(rules)),
            ("small changes", _change_counts(proof)),
        )
    )


def _rule_counts(proof: BookProof) -> str:
    name = proof.edition.book.name
    own = sum(rule.check.rule.book == name for rule in proof.rules)
    changed = sum(
        any(change.book == name for change in rule.check.rule.changes) for rule in proof.rules
    )
    inherited = len(proof.rules) - own - changed
    said = [f"{own} of its own"]
    said += [f"{changed} changed"] if changed else []
    said += [f"{inherited} inherited"] if inherited else []
    if proof.inherited:
        said.append(f"of {len(proof.inherited)} inherited the cases alone")
    return ", ".join(said)


def _case_counts(rules: Sequence[RuleProof]) -> str:
    count = sum(len(rule.cases) for rule in rules)
    wrong = sum(len(rule.surprises) for rule in rules)
    if not count:
        return "none"
    return f"{count}, {f'{wrong} of them come out otherwise' if wrong else 'all as expected'}"


def _edge_counts(rows: Sequence[Row]) -> str:
    shown = sum(bool(row.edges) for row in rows)
    readings = sum(len(row.edges) for row in rows)
    bare = len(rows) - shown
    said = [_counted(shown, "figure or list", "figures and lists"), _counted(readings, "reading")]
    said += [f"{bare} without edges, as told beside each"] if bare else []
    return ", ".join(said)


def _side_counts(rules: Sequence[RuleProof]) -> str:
    found = [one for rule in rules for one in rule.unproved if one.is_error and not one.is_change]
    return _unproved_counts(found, "unproved") or "all shown by cases"


def _change_counts(proof: BookProof) -> str:
    if not proof.depth.thorough:
        return "not tried; --thorough tries them"
    found = [one for rule in proof.rules for one in rule.unproved if one.is_change]
    tried = sum(rule.tried for rule in proof.rules)
    return f"{tried} tried, {_unproved_counts(found, 'that no case notices') or 'all noticed'}"


def _unproved_counts(found: Sequence[Unproved], what: str) -> str:
    still, explained = sum(one.is_open for one in found), sum(bool(one.because) for one in found)
    said = [f"{still} {what}"] if still else []
    said += [f"{explained} explained"] if explained else []
    return ", ".join(said)


def _surprises(rules: Iterable[RuleProof]) -> Iterator[Block]:
    found = [(rule, laid) for rule in rules for laid in rule.surprises]
    if found:
        yield Heading("Cases that come out otherwise")
        yield Items(tuple(_surprise_words(rule, laid) for rule, laid in found))


def _surprise_words(rule: RuleProof, laid: Laid) -> str:
    case = laid.case
    came = f"{rule.check.rule.id} expects {case.expect} and comes to {laid.outcome}"
    given = given_words(case.given) or "nothing"
    return f"{case.location}: {came}; {surprise_reason(laid)}; given {given}"


def surprise_reason(laid: Laid) -> str:
    """Return why a case came out as it did."""
    finding = laid.finding
    if finding.outcome in (Outcome.PASS, Outcome.FAIL):
        read = ", ".join(dict.fromkeys(use.text for use in finding.measured))
        return f"{read or 'what it gives'} against {finding.limit}"
    return finding.reason or "no reason was given"


def _open(proof: BookProof) -> Iterator[Block]:
    found = [(rule, rule.open) for rule in proof.rules if rule.open]
    if not found:
        return
    yield Heading("Unproved")
    for rule, told in found:
        yield from _told(rule, told)


def _advice(rules: Iterable[RuleProof]) -> Iterator[Block]:
    found = [
        (rule, [one for one in rule.unproved if not one.is_error and not one.because])
        for rule in rules
    ]
    if not any(told for _, told in found):
        return
    yield Heading("Worth a case more")
    for rule, told in found:
        if told:
            yield from _told(rule, told)


def _told(rule: RuleProof, told: Sequence[Unproved]) -> Iterator[Block]:
    """Yield what a rule lacks, with the cases that would do."""
    changes = rule.check.rule.changes
    where = changes[-1].location if changes else rule.check.rule.location
    yield Heading(f"{rule.check.rule.id}, {where}", 3)
    yield Items(tuple(unproved_words(one) for one in told))
    cases = dict.fromkeys(case_text(case) for one in told for case in one.examples)
    if cases:
        yield Words("Cases that would do, under `cases:` of the rule:")
        yield Code("\n".join(cases))


def unproved_words(one: Unproved) -> str:
    """Return a side or a change as a sentence."""
    return f"{one.words}, no case would notice" if one.is_change else one.words


def _stale(proof: BookProof) -> Iterator[Block]:
    if proof.stale:
        yield Heading("Explained, and not unproved")
        yield Words("Take these out of `unproved:`, or write them as the proof tells them.")
        yield Items(tuple(f"{each.location}: {each.rule}; {each.what}" for each in proof.stale))


def _explained(rules: Iterable[RuleProof]) -> Iterator[Block]:
    rows = [
        (rule.check.rule.id, unproved_words(one), one.because)
        for rule in rules
        for one in rule.unproved
        if one.because
    ]
    if rows:
        yield Heading("Unproved, and why that is all right")
        yield Table(("rule", "what", "because"), tuple(rows))


def _edges(rules: Sequence[RuleProof]) -> Iterator[Block]:
    if not any(rule.rows for rule in rules):
        return
    yield Heading("At the edges")
    yield Words(_EDGES)
    for rule in rules:
        if rule.rows:
            yield Heading(f"{rule.check.rule.id}: {rule.check.rule.text('title')}", 3)
            rows = tuple((row.said(_namer(rule)), row_words(row)) for row in rule.rows)
            yield Table(("asked", "what comes out"), rows)


def _namer(rule: RuleProof) -> Named:
    """Return how facts are called on a rule's page: those of its own place by their bare names."""
    own = f"{rule.check.at} "

    def name(ref: FactRef) -> str:
        return plain_name(ref).replace(own, "", 1)

    return name


def row_words(row: Row) -> str:
    """Return readings with what came out, as the trade says it: `3 in fail, 3 1/16 in pass`."""
    runs = [(outcome, [*edges]) for outcome, edges in groupby(row.edges, lambda e: e.outcome)]
    is_figure = any(isinstance(value, Quantity) for _, value in row.bound.readings)
    joint, mark = (", ", "") if is_figure or not row.bound.readings else ("; ", ":")
    said = joint.join(f"{_readings(edges)}{mark} {outcome}" for outcome, edges in runs)
    return "; ".join(filter(None, (said, row.notes)))


def _readings(edges: Sequence[Edge]) -> str:
    readings = [edge.reading for edge in edges]
    return " and ".join(filter(None, (", ".join(readings[:-1]), readings[-1])))


def _counted(count: int, noun: str, nouns: str = "") -> str:
    return f"{count} {noun if count == 1 else nouns or f'{noun}s'}"
