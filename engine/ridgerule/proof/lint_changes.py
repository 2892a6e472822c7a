"""What a rulebook changes in its bases, told in one table: above all what it makes looser.

A change that nobody permits is refused when the rulebook is read; what is permitted is told, so
that no one loosens by accident what a letter permits on paper.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.permissions import judged_changes, was_and_now
from ridgerule.audit.strictness import Strictness
from ridgerule.proof.lint_remarks import warning

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ridgerule.audit.permissions import JudgedChange
    from ridgerule.audit.plan import Edition
    from ridgerule.problems import Location
    from ridgerule.proof.lint_remarks import Remark
    from ridgerule.rulebook import Change, Field, Rule

ORDER = (Strictness.LOOSER, Strictness.DIFFERENT, Strictness.STRICTER, Strictness.WORDING)
"""The classes of change, those that a firm must not overlook first."""


DECIDING = ("limit", "when", "class", "evidence", "stations", "scope")
"""The fields of a rule that decide; where one is written anew both forms of it are told."""


class ChangedPart(Struct, frozen=True):
    """One field that decides, and what it said before and says now."""

    field: str
    strictness: Strictness
    was: str
    now: str


class ToldChange(Struct, frozen=True):
    """A change that a rulebook makes to a rule of its bases, with what it does."""

    rule: str
    """The rule's full id."""
    strictness: Strictness
    parts: tuple[ChangedPart, ...]
    fields: tuple[str, ...]
    """Every field that was written anew, those that decide nothing among them."""
    withdraws: bool
    reason: str
    permitted_by: str
    location: Location


def told_changes(edition: Edition) -> tuple[ToldChange, ...]:
    """Return the changes that a rulebook itself makes, the looser ones first."""
    judged = judged_changes(edition.adapted, edition.vocabulary)
    told = [_told(each) for each in judged]
    return tuple(sorted(told, key=lambda each: (ORDER.index(each.strictness), each.location)))


def _told(judged: JudgedChange) -> ToldChange:
    change = judged.change
    return ToldChange(
        rule=judged.before.rule.full_id,
        strictness=judged.strictness,
        parts=tuple(_parts(judged)),
        fields=tuple(change.fields),
        withdraws=change.withdraws,
        reason=change.reason,
        permitted_by=change.permitted_by,
        location=change.location,
    )


def _parts(judged: JudgedChange) -> Iterator[ChangedPart]:
    """Yield what became of the fields that decide: those that do anything, then the others."""
    if judged.after is None:
        return
    for part in judged.parts:
        was, now = was_and_now(judged.before, judged.after, part.field)
        yield ChangedPart(part.field, part.strictness, was, now)
    told = {part.field for part in judged.parts}
    for name in DECIDING:
        if name in judged.change.fields and name not in told:
            was, now = was_and_now(judged.before, judged.after, name)
            if was != now:
                yield ChangedPart(name, Strictness.WORDING, was, now)


def change_remarks(edition: Edition) -> Iterator[Remark]:
    """Yield the fields of amendments that say again what the base says."""
    before = {rule.full_id: rule for base in edition.adapted.bases for rule in base.rules}
    for rule in edition.adapted.rules:
        change = rule.changes[-1] if rule.changes else None
        base = before.get(rule.full_id)
        if change is not None and base is not None and change.book == edition.book.name:
            yield from _said_again(change, base)


def _said_again(change: Change, base: Rule) -> Iterator[Remark]:
    for name, field in change.fields.items():
        known: Field | None = base.fields.get(name)
        if known is not None and known.data == field.data:
            told = f"a `{name}` other than the one at {known.location}"
            advice = "take it out: what is not changed is inherited"
            yield warning(field.location, told, "the same", advice)
