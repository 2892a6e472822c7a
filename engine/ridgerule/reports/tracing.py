"""A finding's way back to the lines of files it rests on, and the working of its numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridgerule.reports.sourcing import FieldOrigin
    from ridgerule.reports.view import FindingView, Reading

_LINES_SHOWN = 4


def worked(reading: Reading) -> str:
    """Return a number of the working; a result says of which fact it is one."""
    is_step = ": " in reading.text
    return reading.text if is_step else f"{reading.fact} = {reading.text}".replace("= ≈", "≈")


def traced(finding: FindingView) -> str:
    """Return the lines that the readings judged and the limit stand in."""
    read = [r for r in finding.readings if r.line] or [r for r in finding.trace if r.line]
    lines = list(dict.fromkeys(reading.line for reading in read))
    limits = [f"{origin.file}:{origin.line}" for origin in finding.origins if _is_limit(origin)]
    more = [f"and {len(lines) - _LINES_SHOWN} more"] if len(lines) > _LINES_SHOWN else []
    return " against ".join(filter(None, (", ".join([*lines[:_LINES_SHOWN], *more]), *limits)))


def _is_limit(origin: FieldOrigin) -> bool:
    return origin.field == "limit"
