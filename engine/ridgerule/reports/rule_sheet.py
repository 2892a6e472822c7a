"""The manual page of one rule: what it asks and where, why, how it came to be, and its cases."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.reports.sheet import Heading, Items, Pairs, Sheet, Table, Words
from ridgerule.reports.sheet_words import (
    closing_blocks,
    conditions,
    conditions_phrase,
    demand,
    evidence_phrase,
    fact_blocks,
    facts_behind,
    judged_at,
    limit_phrase,
    own_scope_phrase,
    scope_phrase,
    sourced,
    stations_phrase,
    tables_in,
)
from ridgerule.reports.sourcing import field_origins

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.plan import Check, Plan
    from ridgerule.documents import Data
    from ridgerule.reports.sheet import Block, Cell
    from ridgerule.rulebook import Change, Rule


class RuleHistory(Struct, frozen=True):
    """A rule as a rulebook has it, with what it was before each change made to it."""

    rule: Rule
    stages: tuple[Check, ...]
    """The rule as first written, then after each change that left it standing."""
    book: str
    """The rulebook it is shown from, as `id@edition`."""

    @property
    def check(self) -> Check:
        """The rule as it stands, or stood when it was withdrawn."""
        return self.stages[-1]

    @property
    def withdrawal(self) -> Change | None:
        """The change that took the rule away, where one did."""
        last = self.rule.changes[-1] if self.rule.changes else None
        return last if last is not None and last.withdraws else None


def history_of(rule: Rule, plan: Plan, book: str) -> RuleHistory:
    """Return a rule of a rulebook with its earlier forms, found in the rulebooks of the plan."""
    known: dict[tuple[str, tuple[str, str, tuple[str, ...]]], Check] = {}
    for planned in plan.books:
        for edition in planned.editions:
            for check in edition.checks:
                known[edition.book.name, check.lineage] = check
    changes = [change.book for change in rule.changes if not change.withdraws]
    stages = []
    for made in range(len(changes) + 1):
        lineage = (rule.book, rule.id, tuple(changes[:made]))
        is_last = made == len(changes) and (book, lineage) in known
        written_in = book if is_last else (rule.book, *changes)[made]
        stages.append(known[written_in, lineage])
    return RuleHistory(rule, tuple(stages), book)


def rule_sheet(history: RuleHistory) -> Sheet:
    """Return the manual page of a rule."""
    return Sheet(
        title=history.check.rule.text("title"),
        blocks=(
            *_opening(history),
            *_where(history.check),
            *tables_blocks(history.check),
            *_facts(history.check),
            *_history(history),
            *_cases(history.check.rule),
            *_origins(history.check.rule),
            *closing_blocks(),
        ),
    )


def _opening(history: RuleHistory) -> Iterator[Block]:
    check, rule = history.check, history.check.rule
    shown_from = "" if history.book == rule.book else f"{history.book}, based on {rule.book}"
    if history.withdrawal is not None:
        yield Words(f"No longer in force: {history.book} has taken this rule away.")
        yield _change_pairs(history.withdrawal, ())
    yield Pairs(
        (
            ("rule", rule.full_id),
            ("in", shown_from or history.book),
            ("demands", demand(check)),
            ("aims for", _aim(check)),
            ("judged at", judged_at(check)),
            ("written for", scope_phrase(check)),
            ("class", rule.severity.value),
            ("shown by", evidence_phrase(check.evidence)),
            ("stations", stations_phrase(check)),
            ("why", rule.text("why")),
            ("remedy", rule.text("remedy")),
            ("source", sourced(rule.source)),
            ("amended by", ", then ".join(dict.fromkeys(change.book for change in rule.changes))),
            ("loosening", _loosening(rule)),
        )
    )


def _aim(check: Check) -> str:
    if check.aim is None:
        return ""
    return f"{limit_phrase(check.aim)}; missing it is a remark, never a failure"


def _loosening(rule: Rule) -> str:
    field = rule.fields.get("may_be_loosened")
    if field is not None and field.data is False:
        return "never: no local rulebook may loosen it"
    return "only by a local rulebook that names who permits it"


def _where(check: Check) -> Iterator[Block]:
    yield Heading("Where it applies")
    clauses = conditions(check.when)
    if not clauses:
        yield Words(f"At {judged_at(check)}.")
        return
    yield Words(
        f"At {judged_at(check)} where the following holds. Where it does not, the rule is not "
        "applicable; where that is not known, it is not verified."
    )
    yield Items(clauses)


def tables_blocks(check: Check) -> Iterator[Block]:
    """Yield the tables that a rule's limit is read from, under a heading of their own."""
    tables = tuple(tables_in(check.limit, "must be"))
    if tables:
        yield Heading("The limit, row by row")
        yield Words("A value that no row is for leaves the rule not verified.")
        yield from tables


def _facts(check: Check) -> Iterator[Block]:
    yield Heading("What has to be known")
    for fact in facts_behind((check.of, check.limit, check.when, check.aim, check.scope)):
        yield from fact_blocks(fact)


def _history(history: RuleHistory) -> Iterator[Block]:
    first, last = history.stages[0], history.rule.changes
    if not last:
        return
    yield Heading("How it came to be")
    yield Heading(f"{first.rule.book} wrote it", 3)
    yield Pairs((("limit", demand(first)), ("source", sourced(first.rule.source))))
    for before, after in zip(history.stages, history.stages[1:], strict=False):
        change = after.rule.changes[-1]
        yield Heading(f"{change.book} amended it", 3)
        yield _change_pairs(change, tuple(changed_fields(before, after)))
    if history.withdrawal is not None:
        yield Heading(f"{history.withdrawal.book} withdrew it", 3)
        yield _change_pairs(history.withdrawal, ())


def _change_pairs(change: Change, fields: tuple[tuple[str, str], ...]) -> Pairs:
    return Pairs(
        (
            *fields,
            ("reason", change.reason),
            ("source", sourced(change.source)),
            ("permitted by", change.permitted_by),
            ("written at", str(change.location)),
        )
    )


def changed_fields(before: Check, after: Check) -> Iterator[tuple[str, str]]:
    """Yield what an amendment changed, field by field: before → after."""
    for name in after.rule.changes[-1].fields:
        if name == "cases":
            yield "cases", "new ones"
            continue
        old, new = _field_words(before, name), _field_words(after, name)
        yield NAMES[name], f"{old or 'none'} → {new}" if old != new else f"{new}, as before"


NAMES = {
    "title": "title",
    "of": "fact judged",
    "at": "judged at",
    "on": "stations on",
    "scope": "written for",
    "when": "applies where",
    "limit": "must be",
    "aim": "aims for",
    "class": "class",
    "evidence": "shown by",
    "stations": "stations",
    "why": "why",
    "remedy": "remedy",
    "cases": "cases",
    "may_be_loosened": "loosening",
}
"""A rule's fields as a page names them, in the order that it tells of them."""


def _field_words(  # noqa: PLR0911 - one branch a field, a closed list
    check: Check, name: str
) -> str:
    """Return what a field of a rule says, in words."""
    match name:
        case "limit":
            return limit_phrase(check.limit)
        case "aim":
            return limit_phrase(check.aim) if check.aim is not None else ""
        case "when":
            return conditions_phrase(check.when)
        case "scope":
            return own_scope_phrase(check)
        case "evidence":
            return evidence_phrase(check.evidence)
        case "stations":
            return stations_phrase(check)
        case _:
            return check.rule.text(name)


def _cases(rule: Rule) -> Iterator[Block]:
    """Yield what the rule's author says comes out, case by case."""
    field = rule.fields.get("cases")
    rows: list[tuple[Cell, Cell, Cell]] = []
    for raw in field.data if field is not None and isinstance(field.data, list) else ():
        if isinstance(raw, dict):
            given = raw.get("given")
            told = "; ".join(
                f"{name.replace('.', ' ').replace('_', ' ')}: {_given(value)}"
                for name, value in (given.items() if isinstance(given, dict) else ())
            )
            note = raw.get("note")
            rows.append((told, Outcome(str(raw["expect"])), "" if note is None else str(note)))
    if not rows:
        return
    yield Heading("Its cases")
    yield Words("What its author says must come out; what a case does not give is not known there.")
    has_notes = any(note for *_, note in rows)
    header = ("given", "must come out", "note")
    if has_notes:
        yield Table(header, tuple(rows))
    else:
        yield Table(header[:2], tuple(row[:2] for row in rows))


def _given(value: Data) -> str:
    """Return what a case gives for a fact, in words."""
    match value:
        case None:
            return "nothing"
        case bool():
            return "yes" if value else "no"
        case list():
            return ", ".join(map(_given, value))
        case dict():
            more = [f"{key} {_given(item)}" for key, item in value.items() if key != "value"]
            return f"{_given(value.get('value'))} ({', '.join(more)})"
        case _:
            return str(value)


def _origins(rule: Rule) -> Iterator[Block]:
    """Yield which rulebook and which line wrote each field."""
    written = {origin.field: origin for origin in field_origins(rule)}
    rows = [
        (words, written[name].book, str(written[name].line))
        for name, words in NAMES.items()
        if name in written
    ]
    yield Heading("Who wrote what")
    yield Table(("what", "rulebook", "line"), tuple(rows))
    yield Items(tuple(dict.fromkeys(f"{o.book} is {o.file}" for o in written.values())))
