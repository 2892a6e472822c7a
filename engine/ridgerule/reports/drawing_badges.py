"""The numbers of findings on a drawing: each a link, told by shape before colour."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.findings import Outcome
from ridgerule.reports.drawing_svg import (
    CLASSES,
    SMALL,
    Svg,
    clipped,
    element,
    group,
    mark,
    outcome_word,
    text,
    text_width,
    words,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ridgerule.reports.drawing_labels import Box
    from ridgerule.reports.view import FindingView

HIGH = 17.0
_GAP = 3.0
_SHAPE = 14.0
_LETTERS = SMALL + 3
_ROW, _LONG_ROW, _MANY = 3, 4, 6
"""How many numbers stand in a row: more where there are many."""
_MOST_SAID = 200


class Cluster(Struct, frozen=True):
    """Numbers laid out in rows, with a word before or over them where one is needed."""

    label: str
    rows: tuple[tuple[FindingView, ...], ...]
    width: float
    height: float
    is_beside: bool
    """The word stands in one row with the numbers."""
    more: str = ""
    """Said under them: how many stand elsewhere."""


def cluster(label: str, findings: Sequence[FindingView], *, more: int = 0) -> Cluster:
    """Return numbers in rows; a label without any is a word by itself."""
    per_row = _LONG_ROW if len(findings) > _MANY else _ROW
    rows = tuple(tuple(findings[i : i + per_row]) for i in range(0, len(findings), per_row))
    wide = max((sum(map(badge_width, row)) + _GAP * (len(row) - 1) for row in rows), default=0.0)
    lettering = text_width(label, SMALL) if label else 0.0
    is_beside = bool(label) and len(rows) == 1 and len(findings) < 3
    if is_beside:
        return Cluster(label, rows, lettering + _GAP + wide, HIGH, is_beside)
    high = len(rows) * HIGH + max(len(rows) - 1, 0) * _GAP
    over = (_LETTERS if rows else _LETTERS - 2) if label else 0.0
    said = f"and {more} more below" if more else ""
    width = max(wide, lettering, text_width(said, SMALL))
    return Cluster(label, rows, width, high + over + (_LETTERS if said else 0), is_beside, said)


def badge_width(finding: FindingView) -> float:
    """Return how wide a finding's number is drawn."""
    return _SHAPE + text_width(str(finding.number), SMALL) + 6


def painted_cluster(shown: Cluster, box: Box, link: str) -> Svg:
    """Return a cluster in its box."""
    parts = []
    x, y = box.left, box.top
    if shown.is_beside:
        parts.append(text(x, y + 12.6, shown.label, size=SMALL, halo=True))
        x += text_width(shown.label, SMALL) + _GAP
    elif shown.label:
        parts.append(text(x, y + SMALL - 1, shown.label, size=SMALL, halo=True))
        y += _LETTERS
    for row in shown.rows:
        at = x
        for finding in row:
            parts.append(badge(finding, at, y, link))
            at += badge_width(finding) + _GAP
        y += HIGH + _GAP
    if shown.more:
        parts.append(text(x, y + SMALL - 2, shown.more, size=SMALL, class_="faint", halo=True))
    return group(*parts)


def badge(finding: FindingView, x: float, y: float, link: str) -> Svg:
    """Return a finding's number, a link to it: filled where it failed, framed where it is open."""
    width = badge_width(finding)
    is_failed = finding.outcome is Outcome.FAIL
    said = f"Finding {finding.number}, {outcome_word(finding.outcome)}: {finding.place}"
    title = f"{clipped(said, 120)}: {clipped(finding.title, _MOST_SAID)}"
    frame = element(
        "rect", x=x + 0.6, y=y + 0.6, width=width - 1.2, height=HIGH - 1.2, rx=3,
        fill="currentColor" if is_failed else "none", stroke="currentColor", stroke_width=1.2,
        class_="frame" if is_failed else "frame paper",
    )  # fmt: skip
    shape = mark(finding.outcome, x + 8.5, y + HIGH / 2, size=3.2, width=1.7)
    number = text(x + _SHAPE, y + 12.6, str(finding.number), size=SMALL, weight="700")
    inside = group(shape, number, class_="on-ink" if is_failed else None)
    return element(
        "a",
        words(title),
        frame,
        inside,
        href=f"#{link}{finding.number}",
        aria_label=title,
        class_=CLASSES[finding.outcome],
    )
