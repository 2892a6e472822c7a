"""The findings of two audits held against each other, each accounted for once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ridgerule.audit.findings import CONFLICT, Outcome
from ridgerule.audit.together import Relation
from ridgerule.facts import Element
from ridgerule.review.reinspection_changes import MET, NEW, UNSHOWN, Change, Turn
from ridgerule.review.reinspection_readings import Readings, quantity_change
from ridgerule.review.reinspection_rules import question_of, same_questions, says_the_same

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from ridgerule.audit.findings import Audit, Finding
    from ridgerule.audit.plan import Check
    from ridgerule.documents import Path
    from ridgerule.quantities import Quantity
    from ridgerule.record import Place
    from ridgerule.review.reinspection_places import SamePlaces
    from ridgerule.review.reinspection_rules import Question

    Found = Mapping[Path, Finding]
    """The findings of one rule, by the place."""

_DECIDED = (Outcome.FAIL, Outcome.PASS)
_SETTLED = "what the first visit left open is no open point of the second"
_NO_RULEBOOK = "no rulebook of the second visit asks it"
_NO_RULEBOOK_BEFORE = "no rulebook of the first visit asks it"
_NO_PLACE_BEFORE = "the first record has no place that is known to be the same"
_PLACES_GONE = "a place that it rests on is not in the second record"


class Turns:
    """Holds two audits against each other, rule by rule and place by place."""

    def __init__(self, first: Audit, second: Audit, places: SamePlaces, within: Quantity) -> None:
        self.first = first
        self.second = second
        self.places = places
        self.within = within
        self.readings = Readings(first.record, second.record, places)

    def changes(self) -> Iterator[Change]:
        """Yield what became of every finding of either audit."""
        then, now = _by_question(self.first), _by_question(self.second)
        same = same_questions(then, now)
        for question, found in then.items():
            if question in same:
                yield from self._asked_twice(found, now[same[question]])
            else:
                yield from (_asked_once(before) for before in found.values())
        answered = set(same.values())
        for question, found in now.items():
            if question not in answered:
                for after in found.values():
                    yield _new(after, NEW[after.outcome], reason=_NO_RULEBOOK_BEFORE)
        yield from self._open_points()

    def _asked_twice(self, then: Found, now: Found) -> Iterator[Change]:
        """Yield the changes of one rule that both visits were held against."""
        differs = not says_the_same(_check(then), _check(now))
        for path, before in then.items():
            same = self.places.to_second.get(path)
            after = now.get(same.path) if same else None
            if after is not None:
                yield self._met(before, after, differs=differs)
            else:
                yield self._gone(before, now, differs=differs)
        for path, after in now.items():
            same = self.places.to_first.get(path)
            if same is None or same.path not in then:
                yield self._come(after, then, differs=differs)

    def _met(self, before: Finding, after: Finding, *, differs: bool) -> Change:
        """Return the change of a rule that both visits judged at one place."""
        turn, reason = MET[before.outcome, after.outcome], ""
        is_open = after.outcome is Outcome.NOT_VERIFIED
        differences = self.readings.differences(before, after)
        if turn is Turn.PUT_RIGHT:
            doubt = self.readings.doubt(before, after, same_rule=not differs)
            if doubt is not None:
                turn = Turn.NOT_SHOWN if doubt.is_open else Turn.OTHERWISE
                reason, is_open = doubt.reason, doubt.is_open
        elif turn is Turn.UNCHANGED and differences and after.outcome is Outcome.PASS:
            turn = Turn.CHANGED_READING
        return Change(
            turn=turn,
            before=before,
            after=after,
            is_open=is_open,
            reason=reason,
            rule_differs=differs,
            differences=differences,
            value_change=quantity_change(before.value, after.value),
        )

    def _gone(self, before: Finding, now: Found, *, differs: bool) -> Change:
        """Return what became of a finding that the second visit has none for at its place."""
        outcome = before.outcome
        # That there is no hip, say, explains no hip that was there: its finding is not covered.
        is_there = _listed(before.place) in self.places.to_second
        above = _enclosing(before.place, now, self.places.to_second) if is_there else None
        below = _enclosed(before.place, now, self.places.to_second)
        if above is not None and (turn := _under(outcome, above.outcome)) is not None:
            is_open = above.outcome is Outcome.NOT_VERIFIED
            return Change(turn, before, None, is_open, above, rule_differs=differs)
        if below and outcome not in _DECIDED:
            asked = [found for found in below if found.outcome is not Outcome.NOT_APPLICABLE]
            known = [found for found in asked if found.outcome in _DECIDED]
            turn = _over(outcome, is_asked=bool(asked), is_known=bool(known))
            told = (known or asked or below)[0]
            return Change(turn, before, None, turn is Turn.STILL_OPEN, told, rule_differs=differs)
        return Change(
            turn=Turn.NO_LONGER_RECORDED,
            before=before,
            after=None,
            is_open=outcome in UNSHOWN
            or (outcome is Outcome.PASS and not self._read_nearby(before.place, now)),
            reason=self._missing(before.place),
            rule_differs=differs,
        )

    def _come(self, after: Finding, then: Found, *, differs: bool) -> Change:
        """Return what a finding is that the first visit had none for at its place."""
        above = _enclosing(after.place, then, self.places.to_first)
        below = _enclosed(after.place, then, self.places.to_first)
        before = above.outcome if above else None
        told, turn = above, NEW[after.outcome]
        if before is not None:
            turn = MET[before, after.outcome]
        elif below and after.outcome is Outcome.NOT_VERIFIED:
            known = [found for found in below if found.outcome in _DECIDED]
            asked = [found for found in below if found.outcome is Outcome.NOT_VERIFIED]
            turn = Turn.STILL_OPEN if asked else turn
            turn = Turn.NO_LONGER_MEASURED if known else turn
            told = next(iter((*known, *asked)), None)
        reason = "" if told else _NO_PLACE_BEFORE
        return _new(after, turn, told, reason=reason, differs=differs)

    def _read_nearby(self, station: Place, now: Found) -> bool:
        """Tell whether the rule was judged at another station of the same line or plane."""
        host = self.places.to_second.get(_listed(station))
        is_station = station.element is Element.STATION
        return (
            is_station
            and host is not None
            and any(
                _is_under(host.path, path) and found.outcome in _DECIDED
                for path, found in now.items()
            )
        )

    def _missing(self, place: Place) -> str:
        """Return why the second visit has no finding at a place."""
        if place.path in self.places.to_second:
            return f"the second visit has {place.label}, but did not read it for this rule"
        if place.element is not Element.STATION:
            return f"the second record has no {place.label} that is known to be the same"
        host = self.first.record.by_id[place.host or Element.LINE, str(place.path[1])]
        if host.path not in self.places.to_second:
            return f"the second record has no {host.label} that is known to be the same"
        if host.path in self.places.untold:
            return f"which station on {host.label} is the same at the second visit can't be told"
        near = f"within {self.within.text} of it" if place.at is not None else "of that name"
        return f"the second record has no station {near} on {host.label}"

    def _open_points(self) -> Iterator[Change]:
        """Yield what became of the open points that are no rule's."""
        then, now = _points(self.first), _points(self.second)
        same = {_moved(key, self.places.to_second): key for key in then}
        for key, before in then.items():
            after = now.get(_moved(key, self.places.to_second))
            yield self._point(before, after)
        yield from (_new(after, Turn.NEWLY_OPEN) for key, after in now.items() if key not in same)

    def _point(self, before: Finding, after: Finding | None) -> Change:
        if after is not None:
            return Change(Turn.STILL_OPEN, before, after, is_open=True)
        turn, reason = Turn.SETTLED, _SETTLED
        if not self._is_asked_again(before):
            turn, reason = Turn.NO_LONGER_ASKED, _NO_RULEBOOK
        elif not self._is_whole(before):
            turn, reason = Turn.NO_LONGER_RECORDED, _PLACES_GONE
        return Change(turn, before, None, is_open=turn is not Turn.SETTLED, reason=reason)

    def _is_asked_again(self, before: Finding) -> bool:
        """Tell whether rulebooks that raised an open point are asked at the second visit too."""
        then, now = _book_ids(self.first), _book_ids(self.second)
        if before.about == CONFLICT:  # of two rulebooks, whose names it counts in neither
            return then <= now
        return any(name.partition("@")[0] in now for name in before.books)

    def _is_whole(self, before: Finding) -> bool:
        """Tell whether the second record has the places that an open point rests on.

        Of one of the record itself, which speaks of all planes and lines, it has to have them all.
        """
        places = self.first.record.places
        listed = () if before.about == CONFLICT else (*places[Element.PLANE], *places[Element.LINE])
        return all(place.path in self.places.to_second for place in (before.place, *listed))


def _asked_once(before: Finding) -> Change:
    """Return what became of a finding whose rule no rulebook of the second visit has."""
    is_open = before.outcome in UNSHOWN
    return Change(Turn.NO_LONGER_ASKED, before, None, is_open, reason=_NO_RULEBOOK)


def _new(
    after: Finding,
    turn: Turn,
    instead: Finding | None = None,
    *,
    reason: str = "",
    differs: bool = False,
) -> Change:
    """Return a change that starts with a finding of the second visit."""
    is_open = after.outcome is Outcome.NOT_VERIFIED
    return Change(turn, None, after, is_open, instead, reason, differs)


def _under(outcome: Outcome, above: Outcome) -> Turn | None:
    """Return what becomes of a finding where the line or the roof speaks for its place now."""
    if outcome is Outcome.NOT_APPLICABLE and above is Outcome.NOT_VERIFIED:
        return None
    return MET[outcome, above]


def _over(outcome: Outcome, *, is_asked: bool, is_known: bool) -> Turn:
    """Return what becomes of a finding at a line or the roof where its places speak now."""
    if outcome is Outcome.NOT_APPLICABLE:
        return Turn.APPLIES_NOW if is_asked else Turn.UNCHANGED
    if not is_asked:
        return Turn.NO_LONGER_APPLIES
    return Turn.SETTLED if is_known else Turn.STILL_OPEN


def _listed(place: Place) -> Path:
    """Return the path of a place, of a station that of the line or plane it lies on."""
    return place.path[:2] if place.element is Element.STATION else place.path


def _enclosing(place: Place, found: Found, same: Mapping[Path, Place]) -> Finding | None:
    """Return the other visit's finding that speaks for a place at its line, plane or roof."""
    around = [place.path[:2]] if place.element is Element.STATION else []
    for path in (*around, ("roof",)):
        other = same.get(path)
        finding = found.get(other.path) if other else None
        if other is None or finding is None or finding.outcome in _DECIDED:
            continue
        if place.path != path and not any(_is_under(other.path, each) for each in found):
            return finding
    return None


def _enclosed(place: Place, found: Found, same: Mapping[Path, Place]) -> list[Finding]:
    """Return the other visit's findings at the places within a place."""
    other = same.get(place.path)
    if other is None:
        return []
    return [finding for path, finding in found.items() if _is_under(other.path, path)]


def _is_under(around: Path, path: Path) -> bool:
    if around == ("roof",):
        return path != around
    return len(path) > len(around) and path[: len(around)] == around


def _by_question(audit: Audit) -> dict[Question, dict[Path, Finding]]:
    found: dict[Question, dict[Path, Finding]] = {}
    for finding in audit.findings:
        if finding.rule is not None:
            question = question_of(finding.rule, finding)
            found.setdefault(question, {})[finding.place.path] = finding
    return found


def _check(found: Found) -> Check | None:
    return next((finding.check for finding in found.values()), None)


_Point = tuple[str, "Path", str]
"""What an open point is about, where, and which of those there it is."""


def _points(audit: Audit) -> dict[_Point, Finding]:
    """Return the open points of an audit that are no rule's."""
    met = (t for t in audit.together if t.relation is Relation.CONFLICT)
    found: dict[_Point, Finding] = {}
    for finding in audit.findings:
        if finding.rule is None:
            which = str(next(met).of) if finding.about == CONFLICT else finding.reason
            if finding.about == _EDITION:
                which = ", ".join(book.partition("@")[0] for book in finding.books)
            found[finding.about, finding.place.path, which] = finding
    return found


_EDITION = "the edition in force"


def _moved(key: _Point, same: Mapping[Path, Place]) -> _Point:
    """Return what the other visit's record would call an open point."""
    about, path, which = key
    other = same.get(path)
    return about, other.path if other else ("gone", *path), which


def _book_ids(audit: Audit) -> set[str]:
    return {used.edition.book.id for used in audit.books}
