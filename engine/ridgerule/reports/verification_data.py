"""What came of verifying a report, as data in the form of `schemas/verification.schema.json`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.reports.json_report import written
from ridgerule.reports.verification_sheet import WHAT_IT_SHOWS, verdict

if TYPE_CHECKING:
    from ridgerule.review.finding_changes import Change, FindingChange
    from ridgerule.review.verification import Digests, FileCheck, SignatureCheck, Verification

FORM = 1
"""The version of the form."""

_Data = dict[str, object]


def verification_json(
    done: Verification, signature: SignatureCheck | None, *, file: str, result: str
) -> str:
    """Return what came of verifying the report in `file` as JSON, ending with a line end."""
    return written(
        {
            "verification": FORM,
            "tool": {"name": "ridgerule", "version": done.version_now},
            "roof": {"id": done.roof, "name": done.roof_name},
            "report": {"file": file, "version": done.version_then},
            "result": result,
            "summary": verdict(done, signature),
            "as_made": done.is_as_made,
            "record": _file(done.record),
            "rulebooks": [_file(book) for book in done.rulebooks],
            "left_out": list(done.left_out),
            "findings": {
                "count": done.count,
                "same": done.has_same_findings,
                "digest_stated": done.digest_stated,
                "digest_then": done.digest_then,
                "digest_now": done.digest_now,
                "changes": [_finding(finding) for finding in done.findings],
            },
            "parts": [_change(change) for change in done.parts],
            "signature": _signature(signature) if signature else None,
            "note": WHAT_IT_SHOWS,
        }
    )


def _file(check: FileCheck) -> _Data:
    return {
        "name": check.name,
        "same": check.sameness.is_same,
        "how": check.sameness.value,
        "then": _digests(check.then),
        "now": _digests(check.now),
    }


def _digests(digests: Digests) -> _Data:
    return {
        "file_digest": digests.of_file or None,
        "canonical_digest": digests.canonical or None,
    }


def _finding(finding: FindingChange) -> _Data:
    return {
        "rule": finding.rule,
        "title": finding.title,
        "place": finding.place,
        "rulebooks": list(finding.rulebooks),
        "kind": finding.kind.value,
        "changes": [_change(change) for change in finding.changes],
    }


def _change(change: Change) -> _Data:
    return {"field": change.field, "then": change.then, "now": change.now}


def _signature(signature: SignatureCheck) -> _Data:
    return {"validity": signature.validity.value, "public_key": signature.public_key}
