"""What changed between two rulebooks as data, `differences: 1`, in one order of keys.

- `differences`: 1, the version of this form; `tool`: `name`, `version`
- `old`, `new`: each rulebook's `id`, `edition`, `title`, `file`, `digest` (SHA-256 of the file)
- `strictness`: what all changes of rules come to together
- `counts`: rules by strictness, `unchanged`, and `other_cases`, whatever else changed of them
- `rulebook`: what differs of the rulebooks themselves, each `field`, `was`, `now`
- `rules`: each rule that differs: `change` (added, gone, renamed, changed); `rule` and `was_rule`,
  the full id or null; as it is now, or was last, `title`, `class`, `demands`, `judged_at`,
  `applies_where`, `written_for`, `source`, `written_at` (`file:line:column`); `strictness`;
  `never_applies`, that no roof has a place for it; `fields` that differ; `facts` it rests on that
  are no longer the same; `withdrawn`, null or `by`, `reason`, `source`, `permitted_by`;
  `other_cases`
- `facts`: `change`, `fact`, `computed`, `may_decide`, `fields`, `rules` that rest on it
- `coverages`: `change`, `coverage`, `title`, `fields`
- `records`: null where none was asked for; else `applied`, how they were held against both, in
  words; `outcomes`, how many `roofs` came from `was` to `now`; `unused`, the files that could not
  be held against both; and `roofs`: `file`, `digest`, `id`, `name`, `was`, `now`, and the
  `findings` that come out otherwise: `rule`, `place`, `path`, `direction` (worse, better, neither),
  `why`, and as `was` and `now` null where it is not asked, else `outcome`, `measured`, `limit`,
  `margin`, `reason`
- `disclaimer`: what it is not

Each of `fields` has `field`, `was`, `now` (in words, empty for nothing), `strictness` and `rows`:
the rows of a table that differ, each `where`, `was`, `now`.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from ridgerule import __version__
from ridgerule.reports.cautions import DISCLAIMER
from ridgerule.reports.differences_facts_words import coverage_told, fact_told
from ridgerule.reports.differences_roofs_sheet import (
    applied_words,
    outcome_counts,
    rule_named,
    why_words,
)
from ridgerule.reports.differences_rules_sheet import MEANINGS
from ridgerule.reports.differences_sheet import book_told
from ridgerule.reports.differences_words import rule_told
from ridgerule.reports.figures import margin_words, measured_words
from ridgerule.reports.json_report import written
from ridgerule.reports.sheet_words import conditions_phrase, demand, judged_at, scope_phrase
from ridgerule.reports.sourcing import cited

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridgerule.audit.findings import Finding
    from ridgerule.documents import Path
    from ridgerule.proof.differences import Differences, RuleDifference
    from ridgerule.proof.differences_coverages import CoverageDifference
    from ridgerule.proof.differences_facts import FactDifference
    from ridgerule.proof.differences_roofs import FindingChange, RoofChange, Roofs
    from ridgerule.record import Record
    from ridgerule.reports.differences_words import Told
    from ridgerule.rulebook import Rulebook

FORM = 1
"""The version of this form."""

_Data = dict[str, object]


def differences_data(found: Differences, roofs: Roofs | None = None) -> str:
    """Return what changed as JSON, ending with a line end."""
    return written(
        {
            "differences": FORM,
            "tool": {"name": "ridgerule", "version": __version__},
            "old": _book(found.old.book),
            "new": _book(found.new.book),
            "strictness": found.strictness.value,
            "counts": _counts(found),
            "rulebook": [
                {"field": each.field, "was": each.was, "now": each.now} for each in book_told(found)
            ],
            "rules": [_rule(each) for each in found.told],
            "facts": [_fact(each) for each in found.facts],
            "coverages": [_coverage(each) for each in found.coverages],
            "records": _records(found, roofs) if roofs is not None else None,
            "disclaimer": DISCLAIMER,
        }
    )


def _book(book: Rulebook) -> _Data:
    return {
        "id": book.id,
        "edition": book.edition,
        "title": book.title,
        "file": book.document.name,
        "digest": book.document.digest,
    }


def _counts(found: Differences) -> _Data:
    counted = Counter(each.strictness for each in found.told)
    return {
        **{strict.value: counted[strict] for strict in MEANINGS},
        "unchanged": len(found.rules) - len(found.told),
        "other_cases": sum(each.has_other_cases for each in found.rules),
    }


def _rule(found: RuleDifference) -> _Data:
    check, change = found.check, found.withdrawal
    rule = check.rule
    return {
        "change": found.kind.value,
        "rule": found.after.rule.full_id if found.after else None,
        "was_rule": found.before.rule.full_id if found.before else None,
        "title": rule.text("title"),
        "class": rule.severity.value,
        "strictness": found.strictness.value,
        "demands": demand(check),
        "judged_at": judged_at(check),
        "applies_where": conditions_phrase(check.when),
        "written_for": scope_phrase(check),
        "source": cited(rule.source),
        "never_applies": found.never_applies,
        "fields": _fields(rule_told(found)),
        "facts": list(found.facts),
        "withdrawn": change
        and {
            "by": change.book,
            "reason": change.reason,
            "source": cited(change.source),
            "permitted_by": change.permitted_by,
        },
        "other_cases": found.has_other_cases,
        "written_at": str(rule.location),
    }


def _fields(fields: Iterable[Told]) -> list[_Data]:
    return [
        {
            "field": each.field,
            "was": each.was,
            "now": each.now,
            "strictness": each.strictness.value,
            "rows": [{"where": row.where, "was": row.was, "now": row.now} for row in each.rows],
        }
        for each in fields
    ]


def _fact(found: FactDifference) -> _Data:
    return {
        "change": found.kind.value,
        "fact": found.fact.full_name,
        "computed": found.fact.derivation is not None,
        "may_decide": found.may_decide,
        "fields": _fields(fact_told(found)),
        "rules": list(found.rules),
    }


def _coverage(found: CoverageDifference) -> _Data:
    coverage = found.coverage.coverage
    return {
        "change": found.kind.value,
        "coverage": coverage.id,
        "title": coverage.title,
        "fields": _fields(coverage_told(found)),
    }


def _records(found: Differences, held: Roofs) -> _Data:
    return {
        "applied": applied_words(found),
        "outcomes": [
            {"was": was.value, "now": now.value, "roofs": count}
            for (was, now), count in outcome_counts(held.changes).items()
        ],
        "roofs": [_roof(roof) for roof in held.changes],
        "unused": list(held.unused),
    }


def _roof(roof: RoofChange) -> _Data:
    record = roof.after.record
    return {
        "file": record.document.name,
        "digest": record.document.digest,
        "id": record.roof.id,
        "name": record.name,
        "was": roof.before.outcome.value,
        "now": roof.after.outcome.value,
        "findings": [_finding(change, roof) for change in roof.findings],
    }


def _finding(change: FindingChange, roof: RoofChange) -> _Data:
    return {
        "rule": rule_named(change, {}),
        "place": change.place.label,
        "path": _pointer(change.place.path),
        "direction": change.turn.value,
        "why": why_words(change),
        "was": _side(change.before, roof.before.record),
        "now": _side(change.after, roof.after.record),
    }


def _side(finding: Finding | None, record: Record) -> _Data | None:
    if finding is None:
        return None
    return {
        "outcome": finding.outcome.value,
        "measured": measured_words(finding, None) if finding.measured else "",
        "limit": finding.limit,
        "margin": margin_words(finding, record, None),
        "reason": finding.reason,
    }


def _pointer(path: Path) -> str:
    """Return where a place stands in its record, as a JSON pointer (RFC 6901)."""
    return "".join(f"/{str(step).replace('~', '~0').replace('/', '~1')}" for step in path)
