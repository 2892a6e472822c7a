"""What differs between two rulebooks, in words: field by field, what it was and what it is."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.limits import AllOf, Holds, OneOf
from ridgerule.audit.strictness import Strictness
from ridgerule.audit.words import in_units
from ridgerule.proof.differences import amended_by
from ridgerule.proof.differences_facts import Kind
from ridgerule.proof.differences_forms import changed_rows, scopes_of
from ridgerule.reports.rule_sheet import NAMES
from ridgerule.reports.sheet_words import (
    conditions_phrase,
    evidence_phrase,
    judged_at,
    limit_phrase,
    own_scope_phrase,
    stations_phrase,
)
from ridgerule.reports.sourcing import amendments, cited

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check
    from ridgerule.facts import Value
    from ridgerule.proof.differences import Differences, RuleDifference
    from ridgerule.proof.differences_forms import RowChange
    from ridgerule.rulebook import Rule, Source

LABELS = {
    **NAMES,
    "id": "id",
    "facts": "rests on",
    "book scope": "its rulebooks are for",
    "source": "source",
    "amended": "amended by",
}
"""The fields of a rule as a page names them."""

NO_ROW = "no row"


class ToldRow(Struct, frozen=True):
    """One row of a table as it was and as it is, in words."""

    where: str
    was: str
    now: str
    brief: str
    """What it is now, told beside what it was."""


class Told(Struct, frozen=True):
    """One thing that differs, in words."""

    field: str
    label: str
    was: str
    """Empty where there was nothing."""
    now: str
    brief: str
    """What it is now, told beside what it was: `those and composite slate`."""
    strictness: Strictness = Strictness.WORDING
    rows: tuple[ToldRow, ...] = ()
    """The rows that differ, where it is read from a table."""
    by: str = ""
    """What picks a row."""

    @property
    def phrase(self) -> str:
        """What it was and what it is, in one phrase."""
        if self.rows:
            count = len(self.rows)
            return f"{count} {'row' if count == 1 else 'rows'} of a table, told below"
        if not self.was:
            return self.brief
        return f"{self.was} → {self.brief or 'none'}"


def short_names(found: Differences) -> Mapping[str, str]:
    """Return the names of rules as a page tells them, by full id: plain ids where that is plain."""
    checks = (*found.old.checks, *found.new.checks)
    full = {check.rule.full_id: check.rule.id for check in checks}
    count = Counter(full.values())
    return {name: id_ if count[id_] == 1 else name for name, id_ in full.items()}


def told(field: str, label: str, was: str, now: str) -> Told:
    """Return one thing that differs and decides nothing."""
    return Told(field, label, was, now, now)


def rule_told(found: RuleDifference) -> tuple[Told, ...]:
    """Return what differs of a rule that both rulebooks have, field by field."""
    before, after = found.before, found.after
    if before is None or after is None:
        return ()
    parts = {part.field: part.strictness for part in found.parts}
    fields = [_field(name, before, after, parts[name]) for name in LABELS if name in parts]
    if "facts" in parts:
        names = (name.replace(".", " ").replace("_", " ") for name in found.facts)
        said = f"{' and '.join(names)}, no longer the same"
        fact = Told("facts", LABELS["facts"], "", said, said, Strictness.DIFFERENT)
        fields = [fact if each.field == "facts" else each for each in fields]
    if found.kind is Kind.RENAMED:
        fields.insert(0, told("id", LABELS["id"], before.rule.full_id, after.rule.full_id))
    return tuple(fields)


def _field(name: str, before: Check, after: Check, strict: Strictness) -> Told:
    if name in ("limit", "aim"):
        limits = (before.limit, after.limit) if name == "limit" else (before.aim, after.aim)
        return limit_told(name, LABELS[name], *limits, strictness=strict)
    was, now = _words(name, before, after)
    brief = _brief(*_conditions(name, before, after)) or now
    return Told(name, LABELS[name], was, now, brief, strict)


def limit_told(
    field: str,
    label: str,
    before: Limit | None,
    after: Limit | None,
    *,
    strictness: Strictness = Strictness.WORDING,
) -> Told:
    """Return a limit that differs; of a table, row by row, those rows that do."""
    was, now = (limit_phrase(limit) if limit is not None else "" for limit in (before, after))
    rows = changed_rows(before, after) if before is not None and after is not None else ()
    by, names = _by(rows)
    told_rows = tuple(_row(row, names=names) for row in rows)
    brief = _brief(before, after) or now
    return Told(field, label, was, now, brief, strictness, told_rows, by)


def _by(rows: tuple[RowChange, ...]) -> tuple[str, bool]:
    """Return what picks the rows of a table, and whether each row has to name it itself."""
    picked = {tuple(held.fact for held in row.where) for row in rows}
    if len(picked) == 1 and len(facts := picked.pop()) == 1:
        return facts[0].fact.full_name.replace(".", " ").replace("_", " "), False
    return "where", True


def _row(row: RowChange, *, names: bool) -> ToldRow:
    if names:
        where = conditions_phrase(AllOf(row.where))
    else:
        where = " and ".join(limit_phrase(held.limit) for held in row.where)
    was, now = (
        limit_phrase(side) if side is not None else NO_ROW for side in (row.before, row.after)
    )
    return ToldRow(where, was, now, _brief(row.before, row.after) or now)


def _words(name: str, before: Check, after: Check) -> tuple[str, str]:
    """Return what a field said and says, in words."""
    if name == "source":
        return source_words(before.rule.source, after.rule.source)
    if name == "amended":
        return _amendments(before.rule, after.rule)
    return _said(before, name), _said(after, name)


def _said(  # noqa: C901, PLR0911 - one branch a field, a closed list
    check: Check, name: str
) -> str:
    match name:
        case "of":
            return str(check.of)
        case "at":
            return judged_at(check)
        case "on":
            return check.host.value
        case "book scope":
            return conditions_phrase(scopes_of(check)[0])
        case "scope":
            return own_scope_phrase(check) or "whatever its rulebooks are for"
        case "when":
            return conditions_phrase(check.when)
        case "class":
            return check.rule.severity.value
        case "evidence":
            return evidence_phrase(check.evidence)
        case "stations":
            return stations_phrase(check) or "any number"
        case "may_be_loosened":
            field = check.rule.fields.get(name)
            is_never = field is not None and field.data is False
            return "never" if is_never else "where somebody permits it"
        case _:
            return check.rule.text(name)


def _conditions(name: str, before: Check, after: Check) -> tuple[Limit | None, Limit | None]:
    match name:
        case "when":
            return before.when, after.when
        case "scope":
            return scopes_of(before)[1], scopes_of(after)[1]
        case "book scope":
            return scopes_of(before)[0], scopes_of(after)[0]
        case _:
            return None, None


_FEW = 2
"""A list of so few is told whole, though it only grew or shrank."""


def _brief(before: Limit | None, after: Limit | None) -> str:
    """Return a list that grew or shrank as what came and went; empty for anything else."""
    first, second = _unwrapped(before), _unwrapped(after)
    if isinstance(first, Holds) and isinstance(second, Holds) and first.fact == second.fact:
        return _brief(first.limit, second.limit)
    if not isinstance(first, OneOf) or not isinstance(second, OneOf):
        return ""
    kept = [value for value in first.values if value in second.values]
    gone = [value for value in first.values if value not in second.values]
    added = [value for value in second.values if value not in first.values]
    if len(kept) <= _FEW or not (gone or added):
        return ""
    less = f" without {_listed(gone)}" if gone else ""
    more = f"{', and' if gone else ' and'} {_listed(added)}" if added else ""
    return f"those{less}{more}"


def _unwrapped(limit: Limit | None) -> Limit | None:
    while isinstance(limit, AllOf) and len(limit.parts) == 1:
        (limit,) = limit.parts
    return limit


def _listed(values: list[Value]) -> str:
    return " and ".join(in_units(value, None) for value in values)


def source_words(before: Source, after: Source) -> tuple[str, str]:
    """Return two sources in words, told no longer than it takes to tell them apart."""
    was, now = cited(before), cited(after)
    if was == now:
        return before.note or "no note", after.note or "no note"
    alike = ("basis", "section", "recalled")
    if before.document and all(getattr(before, each) == getattr(after, each) for each in alike):
        return _short(before), _short(after)
    return was, now


def _short(source: Source) -> str:
    recalled = "(recalled)" if source.recalled else ""
    return " ".join(filter(None, (source.document, source.edition, recalled)))


def _amendments(before: Rule, after: Rule) -> tuple[str, str]:
    """Return the amendments that only one of two rules went through."""
    ours, theirs = ([amended_by(change) for change in rule.changes] for rule in (before, after))
    was = [each.text for each in amendments(before)]
    now = [each.text for each in amendments(after)]
    gone = [words for words, key in zip(was, ours, strict=True) if key not in theirs]
    added = [words for words, key in zip(now, theirs, strict=True) if key not in ours]
    # The same ones in another order are told whole.
    return "; ".join(gone if gone or added else was), "; ".join(added if gone or added else now)
