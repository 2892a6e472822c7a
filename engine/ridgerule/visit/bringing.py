"""What to bring: only what the questions of a plan call for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.facts import How
from ridgerule.problems import with_article
from ridgerule.visit.walking import Part

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from ridgerule.visit.questions import Question
    from ridgerule.visit.stops import VisitPart

_HIDDEN = frozenset({How.CAP_LIFTED})
_IN_PLAIN_SIGHT = frozenset({How.MEASURED, How.SEEN, How.DOCUMENT, How.STATED})


def tools_of(questions: Iterable[Question]) -> tuple[str, ...]:
    """Return the instruments that questions name, those used most often first."""
    counted: dict[str, int] = {}
    for question in questions:
        if question.tool:
            counted[question.tool] = counted.get(question.tool, 0) + max(1, len(question.sides))
    return tuple(sorted(counted, key=lambda tool: (-counted[tool], tool)))


def needs_lifting(question: Question) -> bool:
    """Tell whether a cap has to be lifted unless a photo taken during the work shows the answer."""
    accepted = frozenset(question.accepted)
    return bool(accepted & _HIDDEN) and not accepted & _IN_PLAIN_SIGHT


def to_bring(parts: Iterable[VisitPart]) -> Iterator[str]:
    """Yield what to bring, in words, for the parts of a visit."""
    visited = {part.part for part in parts}
    asked = [q for part in parts for stop in part.stops for q in stop.everything]
    accepted = {how for question in asked for how in question.accepted}
    yield from map(with_article, tools_of(asked))
    if Part.ROOF in visited:
        yield "a ladder or a lift, as the employer's rules decide for this roof"
    if Part.BELOW in visited:
        yield "a lamp"
    if any(question.photo for question in asked) or How.PHOTO_DURING_WORK in accepted:
        yield "a camera or a phone"
    if How.PHOTO_DURING_WORK in accepted:
        yield "the photos that the crew took during the work, which spare lifting caps and slates"
    if any(map(needs_lifting, asked)):
        yield "spare caps, slates and fasteners, for what has to be lifted"
    if Part.PAPERS in visited or How.DOCUMENT in accepted:
        yield "the papers: permit, delivery notes, data sheets, registration"
