"""The digest of what a report found, by which it can be held against another report."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ridgerule.canonical import canonical_digest

if TYPE_CHECKING:
    from collections.abc import Mapping

PARTS = ("outcome", "counts", "by_rulebook", "findings", "limits_together")
"""The keys of a report that say what was found."""
_LINE = "line"


def findings_digest(report: Mapping[str, object]) -> str:
    """Return the SHA-256 of the canonical JSON of what a report found, line numbers left out.

    A comment put into a record or a rulebook moves its lines and changes nothing that was found.
    Raises `ValueError` where the report holds text that is none (half a surrogate pair).
    """
    return canonical_digest({part: without_lines(report[part]) for part in PARTS})


def without_lines(data: Any) -> Any:  # noqa: ANN401 - any part of a report
    """Return a part of a report without the line numbers in it."""
    if isinstance(data, dict):
        return {key: without_lines(value) for key, value in data.items() if key != _LINE}
    if isinstance(data, (list, tuple)):
        return [without_lines(item) for item in data]
    return data
