"""Reports read back are held against their schema, which says what is wrong with one, and where.

Part by part, so that a large file that is no report is left after the first hundred problems.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from ridgerule.problems import InputRejected, Problem
from ridgerule.schemas import check, is_kind, problems_of
from ridgerule.shipped import shipped

if TYPE_CHECKING:
    from ridgerule.documents import Document, Path

_REPORT = "#/$defs/report"


def reports_in(document: Document) -> dict[Path, dict[str, Any]]:
    """Return the report in a document, or those in its list, each by its path.

    Raises `InputRejected` with what they do otherwise than the schema of reports asks.
    """
    data: Any = document.data
    if isinstance(data, dict) and not is_kind(document, "report"):
        raise InputRejected(check(document, "report"))
    if not data or not (isinstance(data, list) or (isinstance(data, dict) and "report" in data)):
        told = "a report: a mapping that starts with `report: 1`, or a list of them"
        advice = "`ridgerule audit --format json` makes one"
        raise InputRejected([Problem(document.location(), told, "something else", advice)])
    one = {"$ref": _REPORT}
    schema = {"type": "array", "items": one} if isinstance(data, list) else one
    if problems := problems_of(document, schema | {"$defs": _definitions()}):
        raise InputRejected(problems)
    return {(i,): report for i, report in enumerate(data)} if isinstance(data, list) else {(): data}


def _definitions() -> Any:  # noqa: ANN401 - parts of a JSON Schema
    text = (shipped("schemas") / "report.schema.json").read_text("utf-8")
    return json.loads(text)["$defs"]
