"""From needs to questions: what every rule needs of one fact at one place, asked once."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.limits import nodes
from ridgerule.audit.strictness import limits_overlap
from ridgerule.audit.subjects import subjects, value_text
from ridgerule.facts import FactRef, How, Over
from ridgerule.visit.givens import NO_MATTER_WHAT, alternatives
from ridgerule.visit.needs import Purpose, same_question
from ridgerule.visit.wording import (
    aim_words,
    example,
    gap_example,
    gap_question,
    limit_at,
    only_if,
    question,
    subject_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from ridgerule.audit.limits import Limit
    from ridgerule.audit.plan import Check
    from ridgerule.audit.strictness import Overlap
    from ridgerule.audit.subjects import Subject
    from ridgerule.documents import Path
    from ridgerule.facts import Fact
    from ridgerule.quantities import Units
    from ridgerule.record import Place, Record
    from ridgerule.visit.gathering import Gathered
    from ridgerule.visit.givens import Given
    from ridgerule.visit.needs import Need


class Demanded(Struct, frozen=True):
    """What one rule wants to know by a question, or what else the answer is for."""

    purpose: Purpose
    rule: str = ""
    """`rulebook#id`; empty where no rule asks."""
    title: str = ""
    books: tuple[str, ...] = ()
    """The rulebooks it counts in, as `id@edition`."""
    limit_from: str = ""
    """The rulebook that the limit is from, where an amendment changed it."""
    subject: str = ""
    """What the limit is on, where it is not on the answer itself."""
    limit: str = ""
    aim: str = ""
    is_computed: bool = False
    """Whether the limit is on something computed, or names it, so that a title says more."""
    is_governed: bool = False
    """Whether another limit here is met by a part of what meets this one."""


class Question(Struct, frozen=True):
    """One thing to measure, look at, look up or ask, at one place."""

    place: Path
    """Of the place in the record; of a section such as `dates` for facts of the roof kept there."""
    key: str
    ask: str
    write_as: str
    """An example of an answer, or the words to choose from."""
    fact: Fact | None = None
    """None for what the outline leaves out of itself."""
    sides: tuple[str, ...] = ()
    """The planes whose sides are read one by one."""
    accepted: tuple[How, ...] = ()
    """How it has to be known; in any way where there are none."""
    photo: bool = False
    only_if: str = ""
    ways: tuple[frozenset[Given], ...] = ()
    """What has to hold for the question to be asked: all of one of these."""
    demanded: tuple[Demanded, ...] = ()
    known: str = ""
    """What the record says already, and why that is not enough."""
    is_in_conflict: bool = False
    """Whether two limits on it can't both be met, whatever the answer is."""

    @property
    def path(self) -> Path:
        """The record's path of the answer."""
        return (*self.place, self.key)

    @property
    def tool(self) -> str:
        """What it is measured with; empty for what is looked at or looked up."""
        return self.fact.tool if self.fact else ""


class Asking(Struct, frozen=True):
    """A record with its planned stations, and what was gathered from it."""

    record: Record
    gathered: Gathered
    places: Mapping[Path, Place]
    units: Units
    """For examples."""
    shown_in: Units | None = None
    """For limits; as they are written where None."""
    lies: dict[tuple[str, Limit, Limit], Overlap | None] = {}
    """A memo of how two limits on one fact lie to each other."""


def questions_of(asking: Asking) -> tuple[Question, ...]:
    """Return every question that is open, in the order that the rules ask them in."""
    grouped: dict[tuple[Path, str], list[Need]] = {}
    for need in asking.gathered.needs:
        grouped.setdefault((need.place, need.fact.name), []).append(need)
    asked = [q for needs in grouped.values() if (q := _question(asking, needs)) is not None]
    return (*_gap_questions(asking), *asked)


def _gap_questions(asking: Asking) -> Iterator[Question]:
    for gap in asking.gathered.gaps:
        place = asking.places.get(gap.path)
        yield Question(
            place=gap.path,
            key=gap.key,
            ask=gap_question(gap, place),
            write_as=gap_example(gap, asking.record, place, asking.units),
        )


def _question(asking: Asking, needs: Sequence[Need]) -> Question | None:
    place, fact = asking.places[needs[0].place], needs[0].fact
    looked_up = [(need, _subjects(asking, place, need)) for need in needs]
    unmet = [(need, found) for need, found in looked_up if any(s.missing for s in found)]
    if not unmet:
        return None
    lacks = [lack for _, found in unmet for subject in found for lack in subject.missing]
    ways = alternatives(need.only_if for need, _ in unmet)
    return Question(
        place=(fact.section,) if fact.section else place.path,
        key=fact.key or fact.name,
        ask=question(fact),
        write_as=example(fact, asking.units),
        fact=fact,
        sides=tuple(dict.fromkeys(lack.side for lack in lacks if lack.side)),
        accepted=_accepted([need for need, _ in unmet]),
        photo=any(need.evidence.photo for need, _ in unmet),
        only_if=only_if(ways, fact.element, asking.shown_in),
        ways=ways,
        demanded=_demanded(asking, place, [need for need, _ in unmet]),
        known=_known(place, fact, tuple(lack.reason for lack in lacks)),
        is_in_conflict=_conflict(asking, [need for need, _ in unmet]),
    )


def _subjects(asking: Asking, place: Place, need: Need) -> tuple[Subject, ...]:
    ref = FactRef(need.fact, Over.EACH)
    return subjects(asking.record, place, ref, evidence=need.evidence).items


def _accepted(needs: Sequence[Need]) -> tuple[How, ...]:
    """Return how a fact has to be known for all that need it, as far as that can be one answer."""
    asked = [need.evidence.how for need in needs if need.evidence.how is not None]
    if not asked:
        return ()
    common = frozenset.intersection(*asked) or frozenset.union(*asked)
    return tuple(how for how in How if how in common)


def _known(place: Place, fact: Fact, reasons: tuple[str, ...]) -> str:
    readings = place.readings.get(fact.name, ())
    said = [
        f"{value_text(reading.value)}{f' ({reading.how})' if reading.how else ''}"
        if reading.value is not None
        else reading.unknown
        for reading in readings
        if reading.value is not None or reading.unknown not in ("", "left blank", "not recorded")
    ]
    if not said:
        return ""
    why = [r for r in dict.fromkeys(reasons) if r not in said]
    return "; ".join((", ".join(dict.fromkeys(said)), *why))


def _demanded(asking: Asking, place: Place, needs: Sequence[Need]) -> tuple[Demanded, ...]:
    """Return what is demanded of the answer: limits first, those that govern before others."""
    found: dict[Demanded, None] = {}
    judged = [need.check for need in needs if need.purpose is Purpose.JUDGED and need.check]
    for need in sorted(needs, key=lambda need: tuple(Purpose).index(need.purpose)):
        found[_demand(asking, place, need, judged)] = None
    return tuple(sorted(found, key=lambda demanded: demanded.is_governed))


def _demand(asking: Asking, place: Place, need: Need, judged: Sequence[Check]) -> Demanded:
    check = need.check
    if check is None:
        return Demanded(need.purpose, title=need.about)
    changed = check.rule.fields["limit"].book
    is_judged = need.purpose is Purpose.JUDGED
    return Demanded(
        purpose=need.purpose,
        rule=check.rule.full_id,
        title=check.rule.text("title"),
        books=asking.gathered.books[same_question(check)],
        limit_from=changed if changed != check.rule.book else "",
        subject=subject_words(check, need.fact) if is_judged else "",
        limit=limit_at(check, asking.record, place, asking.shown_in) if is_judged else "",
        aim=aim_words(check, asking.shown_in) if is_judged else "",
        is_computed=is_judged and (need.computes is not None or _names_computed(check.limit)),
        is_governed=is_judged
        and any(_governs(asking, other, check) for other in judged if other is not check),
    )


def _governs(asking: Asking, first: Check, second: Check) -> bool:
    """Tell whether all that meets the first limit meets the second's, and not the reverse."""
    found = _lie(asking, first, second)
    return found is not None and found.first_governs


def _conflict(asking: Asking, needs: Sequence[Need]) -> bool:
    """Tell whether two limits are asked, whatever else holds, that no answer can meet together."""
    always = [
        need.check
        for need in needs
        if need.purpose is Purpose.JUDGED and need.check and need.only_if == NO_MATTER_WHAT
    ]
    lies = [_lie(asking, one, other) for one, other in combinations(always, 2)]
    return any(found is not None and found.is_conflict for found in lies)


def _lie(asking: Asking, first: Check, second: Check) -> Overlap | None:
    """Return how two limits lie to each other, where they are figures and on the same fact."""
    if first.of != second.of or _names_facts(first.limit) or _names_facts(second.limit):
        return None
    key = (str(first.of), first.limit, second.limit)
    if key not in asking.lies:
        asking.lies[key] = limits_overlap(first.of, first.limit, second.limit)
    return asking.lies[key]


def _names_facts(limit: Limit) -> bool:
    return any(isinstance(node, FactRef) for node in nodes(limit))


def _names_computed(limit: Limit) -> bool:
    refs = [node for node in nodes(limit) if isinstance(node, FactRef)]
    return any(ref.fact.derivation is not None for ref in refs)
