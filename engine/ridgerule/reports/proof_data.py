"""Proofs of rulebooks as data: everything that was tried, and what came out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from ridgerule import __version__
from ridgerule.reports.proof_sheet import surprise_reason
from ridgerule.rulebook import Severity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.audit.plan import Case
    from ridgerule.documents import Data
    from ridgerule.problems import Location
    from ridgerule.proof.bench import Laid
    from ridgerule.proof.bounds import Row
    from ridgerule.proof.proving import BookProof, RuleProof
    from ridgerule.proof.unproved import Unproved


def proof_json(proofs: Sequence[BookProof]) -> str:
    """Return proofs as JSON."""
    data: dict[str, Data] = {
        "proof": 1,
        "tool": {"name": "ridgerule", "version": __version__},
        "proved": all(proof.is_proved for proof in proofs),
        "rulebooks": [_book(proof) for proof in proofs],
    }
    return json.dumps(data, ensure_ascii=False, indent=2) + "\n"


def _book(proof: BookProof) -> Data:
    book = proof.edition.book
    return {
        "rulebook": book.name,
        "title": book.title,
        "path": book.document.name,
        "digest": book.document.digest,
        "proved": proof.is_proved,
        "thorough": proof.depth.thorough,
        "rules": [_rule(rule) for rule in proof.rules],
        "inherited": [_rule(rule) for rule in proof.inherited],
        "stale": [
            {"rule": each.rule, "what": each.what, **_place(each.location)} for each in proof.stale
        ],
    }


def _rule(proof: RuleProof) -> Data:
    rule = proof.check.rule
    return {
        "rule": rule.full_id,
        "title": rule.text("title"),
        "class": Severity(rule.severity).value,
        **_place(rule.location),
        "proved": proof.is_proved,
        "cases": [_case(laid) for laid in proof.cases],
        "edges": [_row(row) for row in proof.rows],
        "changes_tried": proof.tried,
        "unproved": [_unproved(one) for one in proof.unproved],
    }


def _place(location: Location) -> dict[str, Data]:
    return {"file": location.file, "line": location.line, "column": location.column}


def _case(laid: Laid) -> Data:
    case = laid.case
    return {
        **_place(case.location),
        "given": dict(case.given),
        "expect": case.expect.value,
        "outcome": laid.outcome.value,
        "as_expected": laid.outcome is case.expect,
        "reason": surprise_reason(laid),
    }


def _row(row: Row) -> Data:
    return {
        "part": row.part.words,
        "field": str(row.part.way[0]),
        "bound": row.said(str),
        "note": row.notes,
        "readings": [
            {
                "reading": edge.reading,
                "side": edge.side if row.is_ordered else None,
                "outcome": edge.outcome.value,
                "given": dict(edge.case.given),
            }
            for edge in row.edges
        ],
    }


def _unproved(one: Unproved) -> Data:
    return {
        "words": one.words,
        "kind": "change" if one.is_change else "side",
        "level": "error" if one.is_error else "advice",
        "because": one.because,
        "cases": [_example(case) for case in one.examples],
    }


def _example(case: Case) -> Data:
    return {"given": dict(case.given), "expect": case.expect.value}
