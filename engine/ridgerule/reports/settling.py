"""What would settle an open point: which reading to take, where, and with what."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.audit.expressions import readings_behind
from ridgerule.audit.judge import DISAGREE
from ridgerule.audit.limits import AgreedBy, nodes
from ridgerule.audit.subjects import NO_PHOTO
from ridgerule.facts import Element, Fact, How
from ridgerule.quantities import Dimension
from ridgerule.record import LEFT_BLANK, NOT_RECORDED, UNKNOWN_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from ridgerule.audit.findings import Finding
    from ridgerule.audit.truth import Missing
    from ridgerule.documents import Path
    from ridgerule.record import Reading, Record

_UNREAD = frozenset({NOT_RECORDED, LEFT_BLANK, *UNKNOWN_WORDS.values()})
"""The reasons of a reading that was never taken."""

_VERBS = {
    How.MEASURED: "Measure",
    How.SEEN: "Note",
    How.CAP_LIFTED: "Lift a cap and note",
    How.PHOTO_DURING_WORK: "Show a photo taken during the work of",
    How.DOCUMENT: "Look up in the documents",
    How.STATED: "Ask for",
}
_SHOWN_BY = {
    How.MEASURED: "a measurement",
    How.SEEN: "seeing it",
    How.CAP_LIFTED: "lifting a cap",
    How.PHOTO_DURING_WORK: "a photo taken during the work",
    How.DOCUMENT: "a document",
    How.STATED: "a statement",
}
_AT = {
    Element.ROOF: "of the",
    Element.ATTIC: "in",
    Element.DELIVERY: "for",
    Element.SAMPLE: "for",
    Element.JOINT: "at",
    Element.OPENING: "at",
    Element.WALL: "at",
}


class Need(Struct, frozen=True):
    """One thing that has to be known before a finding can be made."""

    act: str
    """What to do, such as `Measure gap`."""
    place: str
    """Where, with its side; empty where the act says it."""
    at: str
    """The word that leads from the act to the place: `on`, `in`, `for`."""
    detail: str
    """From where to where it is measured, or the question to answer; may be empty."""
    tool: str
    reason: str
    """Why it is not known, where the act does not say so itself."""

    @property
    def what(self) -> str:
        """What to do, wherever it is: the same for every place that lacks the same fact."""
        tool = f" ({self.tool})" if self.tool else ""
        return f"{self.act}: {self.detail}{tool}" if self.detail else f"{self.act}{tool}"

    @property
    def sentence(self) -> str:
        """What to do at this place, and why it is open."""
        act = f"{self.act} {self.at} {self.place}" if self.place else self.act
        aside = "; ".join(filter(None, (self.tool, self.reason)))
        told = f"{act}: {self.detail}" if self.detail else act
        return f"{told} ({aside})" if aside else told


def needs(finding: Finding, record: Record) -> tuple[Need, ...]:
    """Return what would settle a finding that is not verified, each thing once."""
    lacks = [lack for lacking in finding.missing for lack in _recorded(lacking)]
    found = dict.fromkeys(_need(finding, lack, record) for lack in lacks)
    return tuple(found) or (_said(finding.reason),)


def _recorded(lack: Missing) -> tuple[Missing, ...]:
    """Return what is missing as readings: nothing can be done to a computed fact itself.

    Of its inputs, those of its own element are what a place that lacks it lacks.
    """
    fact = lack.fact
    if fact is None or fact.derivation is None:
        return (lack,)
    behind = dict.fromkeys(readings_behind(fact))
    own = [reading for reading in behind if reading.element is fact.element]
    if not own:
        return (replace(lack, fact=None),)
    name = fact.full_name
    return tuple(replace(lack, fact=reading, computes=name) for reading in own)


def _need(finding: Finding, lack: Missing, record: Record) -> Need:
    fact = lack.fact
    if fact is None:
        return _by_remedy(finding, lack) if _ways_disagree(finding, lack) else _by_reason(lack)
    if lack.reason in _UNREAD:
        accepted = _accepted(finding) if _is_judged(finding, fact) else ""
        return _reading(lack, fact, accepted=accepted)
    if reading := _known_reading(record, lack.path):
        return _evidence(finding, lack, fact, reading)
    if _is_shortage(finding, fact):
        act = f"Read {_words(fact)} at more stations"
        return Need(act, *_where(lack, fact), fact.measure, fact.tool, finding.reason)
    return _by_reason(lack)


def _ways_disagree(finding: Finding, lack: Missing) -> bool:
    """Tell whether a rule's several ways to know a value gave different ones."""
    limit = finding.check.limit if finding.check else None
    has_ways = any(isinstance(node, AgreedBy) for node in nodes(limit))
    return has_ways and lack.reason.startswith(DISAGREE)


def _by_remedy(finding: Finding, lack: Missing) -> Need:
    """Return a need that no reading of this record settles, only what the rule's remedy says."""
    remedy = finding.rule.text("remedy").rstrip(".") if finding.rule else ""
    return Need(remedy, lack.place, "at", "", "", lack.reason)


def _by_reason(lack: Missing) -> Need:
    """Return a need whose reason says itself what is missing."""
    where = "" if lack.place == Element.ROOF or lack.place in lack.reason else f"{lack.place}: "
    said = f"{where}{lack.reason}"
    return _said(said)


def _said(reason: str) -> Need:
    return Need(f"{reason[:1].upper()}{reason[1:]}", "", "", "", "", "")


def _reading(lack: Missing, fact: Fact, *, accepted: str) -> Need:
    is_quantity = isinstance(fact.dimension, Dimension)
    detail = (fact.measure if is_quantity else fact.ask) or fact.measure or fact.ask
    reason = f"{lack.reason}; {accepted}" if accepted else lack.reason
    act = f"{_VERBS[fact.short_form]} {_words(fact)}"
    return Need(act, *_where(lack, fact), detail, fact.tool, reason)


def _evidence(finding: Finding, lack: Missing, fact: Fact, reading: Reading) -> Need:
    """Return the need of a reading that is known, and shown too weakly for the rule."""
    accepted = finding.check.evidence.how if finding.check else None
    where = _where(lack, fact)
    if accepted is None or reading.how in accepted:
        return Need(f"Show a photo: {_words(fact)}", *where, "", "", _photo_reason(lack))
    if (
        How.CAP_LIFTED in accepted
        and How.SEEN not in accepted
        and How.PHOTO_DURING_WORK in accepted
    ):
        act = "Lift a cap or show a photo taken during the work"
    else:
        act = f"Show it by {_either(_SHOWN_BY[how] for how in How if how in accepted)}"
    known = f"known only as {reading.how}" if reading.how else "how it is known is not stated"
    return Need(f"{act}: {_words(fact)}", *where, "", "", known)


def _photo_reason(lack: Missing) -> str:
    return "none in the record" if lack.reason == NO_PHOTO else lack.reason


def _accepted(finding: Finding) -> str:
    """Return what the rule accepts as showing its fact, or an empty string for anything."""
    evidence = finding.check.evidence if finding.check else None
    hows = [how for how in How if evidence and evidence.how and how in evidence.how]
    photo = " with a photo" if evidence and evidence.photo else ""
    return f"accepted: {_either(hows) or 'any reading'}{photo}" if hows or photo else ""


def _is_judged(finding: Finding, fact: Fact) -> bool:
    return finding.check is not None and finding.check.of.fact == fact


def _is_shortage(finding: Finding, fact: Fact) -> bool:
    """Tell whether a rule on stations is open at the line or plane that they should lie on."""
    check = finding.check
    if check is None or check.at is not Element.STATION:
        return False
    asked = fact in readings_behind(check.of.fact)
    return asked and finding.place.element is not Element.STATION


def _known_reading(record: Record, path: Path) -> Reading | None:
    """Return the reading at `path` of the record's file if it has a value."""
    reading = record.reading_at(path)
    return reading if reading is not None and reading.value is not None else None


def _where(lack: Missing, fact: Fact) -> tuple[str, str]:
    """Return the place that lacks a reading, and the word that leads to it."""
    side = f", side {lack.side}" if lack.side else ""
    return f"{lack.place}{side}", _AT.get(fact.element, "on")


def _either(words: Iterable[str]) -> str:
    """Return words as a sentence joins alternatives; nothing for none."""
    listed = tuple(words)
    if len(listed) < 2:
        return "".join(listed)
    return f"{', '.join(listed[:-1])} or {listed[-1]}"


def _words(fact: Fact) -> str:
    return fact.name.replace("_", " ")
