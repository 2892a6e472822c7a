"""A visit asked question by question: what is asked next, and what comes of what is typed.

Pure: a prompt and what was typed at it give a move, which is what to write and what to remember.
"""

from __future__ import annotations

from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.facts import Fact, How
from ridgerule.misreadings import Mistake
from ridgerule.plain_data import mapping_in
from ridgerule.quantities import Dimension
from ridgerule.record import unknown_reason
from ridgerule.visit.entry_changes import (
    how_changes,
    names_changes,
    note_changes,
    photo_changes,
    place_photo_changes,
    value_changes,
)
from ridgerule.visit.entry_doubts import Doubt, doubt_of
from ridgerule.visit.entry_replies import (
    Answer,
    Back,
    Help,
    Instrument,
    Keep,
    KnownBy,
    Listed,
    Note,
    Photo,
    Quit,
    Reply,
    Skip,
    choice_in,
    command_in,
    read_all_or_none,
    read_fact,
    read_how,
    read_names,
    read_spot,
)
from ridgerule.visit.entry_steps import (
    START,
    Key,
    Rank,
    Step,
    answer_path,
    asks_for_all,
    data_at,
    is_unknown,
    known_names,
    said,
    steps_of,
)
from ridgerule.visit.entry_units import ALONG, Kind, kind_of, unit_for, unit_in

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    from ridgerule.facts import Vocabulary
    from ridgerule.plain_data import Data
    from ridgerule.visit.planning import VisitPlan
    from ridgerule.visit.record_writing import Change


class Wanted(StrEnum):
    """What a prompt wants to be told."""

    VALUE = "value"
    SURE = "sure"
    HOW = "how"
    PHOTO = "photo"
    TOOL = "instrument"


class Prompt(Struct, frozen=True):
    """What is asked now."""

    wanted: Wanted
    step: Step
    sides: tuple[str, ...] = ("",)
    unit: str = ""
    """What a bare number is taken as."""
    choices: tuple[str, ...] = ()
    """Words to choose from, by name or number."""
    held: tuple[str, ...] = ()
    """Readings that wait to be confirmed."""
    doubt: Doubt | None = None


class Memory(Struct, frozen=True):
    """What one sitting remembers; the record's file knows the answers themselves."""

    asked: frozenset[Key] = frozenset()
    trail: tuple[Prompt, ...] = ()
    """The questions come to so far, for the way back."""
    next: Prompt | None = None
    """Asked before anything else: what follows from an answer, or what was gone back to."""
    rank: Rank = START
    units: Mapping[Kind, str] = MappingProxyType({})
    tools: Mapping[str, str] = MappingProxyType({})
    """The instrument that each usual tool's readings are taken with."""
    again: bool = False
    """Whether what is recorded as unknown is asked again."""


class Sitting(Struct, frozen=True):
    """The plan of a visit as the record stands, and what the visit's words mean."""

    visit: VisitPlan
    vocabulary: Vocabulary
    today: dt.date | None = None


class Move(Struct, frozen=True):
    """What comes of a typed line."""

    told: Reply | Doubt
    memory: Memory
    changes: tuple[Change, ...] = ()


def pending(sitting: Sitting, memory: Memory) -> tuple[Prompt, ...]:
    """Return the questions that are still to be asked in this sitting, in the walk's order."""
    found = []
    for step in steps_of(sitting.visit):
        sides = tuple(
            side
            for side in step.sides
            if step.key(side) not in memory.asked
            and (memory.again or not is_unknown(sitting.visit, step, side))
        )
        if sides:
            found.append(Prompt(Wanted.VALUE, step, sides))
    return tuple(found)


def next_prompt(sitting: Sitting, memory: Memory) -> Prompt | None:
    """Return what is asked now, None at the end of the visit."""
    prompt = memory.next
    if prompt is None:
        waiting = pending(sitting, memory)
        ahead = (one for one in waiting if one.step.rank >= memory.rank)
        prompt = next(ahead, waiting[0] if waiting else None)
    if prompt is None or prompt.wanted is not Wanted.VALUE:
        return prompt
    tools = _tools_for(sitting, memory, prompt.step)
    if tools:
        return Prompt(Wanted.TOOL, prompt.step, prompt.sides, choices=tools)
    return _with_unit(sitting, memory, prompt)


def move(  # noqa: PLR0911 - one branch a kind of reply
    sitting: Sitting, memory: Memory, prompt: Prompt, text: str
) -> Move:
    """Return what comes of a line typed at a prompt."""
    reply = _read(sitting, prompt, text)
    match reply:
        case Back():
            return _back(memory, prompt)
        case Skip():
            return Move(reply, _skipped(memory, prompt))
        case Note(words):
            return Move(reply, memory, note_changes(sitting.visit, prompt.step, words))
        case Photo(name) if prompt.wanted is not Wanted.PHOTO:
            return Move(reply, memory, place_photo_changes(sitting.visit, prompt.step, name))
        case Instrument():
            return _instrument(sitting, memory, prompt)
        case Keep():
            return _kept(sitting, memory, prompt)
        case Mistake() | Help() | Quit():
            return Move(reply, memory)
        case _:
            return _taken(sitting, memory, prompt, reply)


def _taken(sitting: Sitting, memory: Memory, prompt: Prompt, reply: Reply) -> Move:
    """Return what comes of an answer."""
    step, visit = prompt.step, sitting.visit
    match reply:
        case KnownBy(how):
            changes = how_changes(visit, step, prompt.sides, reply)
            return Move(reply, _after_how(sitting, memory, prompt, how), changes)
        case Photo(name):
            done = replace(memory, next=None)
            return Move(reply, done, photo_changes(visit, step, prompt.sides, name))
        case Listed(names):
            return Move(reply, _asked(memory, prompt, ("",)), names_changes(visit, step, names))
        case Answer(values) if prompt.wanted is Wanted.TOOL:
            return Move(reply, _with_tool(memory, prompt, values[0]))
        case Answer(values):
            return _answered(sitting, memory, prompt, values)
        case _:
            raise TypeError(f"no answer: {reply!r}")


# reading


def _read(sitting: Sitting, prompt: Prompt, text: str) -> Reply:
    """Return what was typed, as the prompt takes it."""
    match prompt.wanted:
        case Wanted.SURE:
            return _read_sure(sitting, prompt, text)
        case Wanted.VALUE:
            return _read_value(sitting, prompt.step, prompt, text)
        case Wanted.HOW | Wanted.PHOTO | Wanted.TOOL:
            return _read_more(prompt, text)


def _read_more(prompt: Prompt, text: str) -> Reply:
    """Return what was typed beside a value: not knowing it leaves it out."""
    command = command_in(text, own=prompt.choices)
    if command is not None:
        return Skip() if isinstance(command, Answer) else command
    typed = " ".join(text.split())
    if prompt.wanted is Wanted.HOW:
        return read_how(typed, [How(way) for way in prompt.choices])
    if prompt.wanted is Wanted.PHOTO:
        return Photo(typed)
    found = choice_in(typed, prompt.choices)
    return found if isinstance(found, Mistake) else Answer((found,))


def _read_value(sitting: Sitting, step: Step, prompt: Prompt, text: str) -> Reply:
    question = step.question
    if question.fact is not None:
        sides = len(prompt.sides)
        return read_fact(text, question.fact, unit=prompt.unit, sides=sides, today=sitting.today)
    if asks_for_all(question):
        return read_all_or_none(text)
    if question.key == "at":
        on_line = step.place.lines != ()
        return read_spot(text, unit=prompt.unit, is_length=on_line)
    return read_names(text, known_names(sitting.visit, question))


def _read_sure(sitting: Sitting, prompt: Prompt, text: str) -> Reply:
    """Return the readings that waited if they are confirmed, or what was typed instead."""
    word = " ".join(text.split()).casefold()
    if word in ("y", "yes"):
        return Answer(prompt.held)
    if word in ("n", "no"):
        return Back()
    return _read_value(sitting, prompt.step, replace(prompt, wanted=Wanted.VALUE), text)


# answers


def _answered(sitting: Sitting, memory: Memory, prompt: Prompt, values: Sequence[str]) -> Move:
    """Return what comes of values, which are asked again where they are odd."""
    step, visit = prompt.step, sitting.visit
    fact = step.question.fact
    confirmed = prompt.wanted is Wanted.SURE and tuple(values) == prompt.held
    doubt = _doubt(sitting, step, values)
    if doubt is not None and not confirmed:
        sure = replace(prompt, wanted=Wanted.SURE, held=tuple(values), doubt=doubt)
        return Move(doubt, replace(memory, next=sure))
    sides = prompt.sides[: len(values)]
    answers = dict(zip(sides, values, strict=True))
    odd = doubt is not None and not doubt.can_be_recorded
    tool = memory.tools.get(fact.tool, "") if fact is not None and _is_read(fact) else ""
    changes = value_changes(visit, step, answers, tool=tool, odd=odd)
    known = not odd and not any(map(unknown_reason, values))
    done = _asked(_with_units(memory, step, values), prompt, sides)
    if known:
        done = replace(done, next=_evidence(sitting, prompt, sides))
    return Move(Answer(tuple(values)), done, changes)


def _doubt(sitting: Sitting, step: Step, values: Sequence[str]) -> Doubt | None:
    fact = step.question.fact
    if fact is None:
        return None
    record = sitting.visit.record
    found = (doubt_of(v, fact, step.place, record) for v in values if not unknown_reason(v))
    return next((doubt for doubt in found if doubt is not None), None)


def _evidence(sitting: Sitting, prompt: Prompt, sides: tuple[str, ...]) -> Prompt | None:
    """Return the question how an answer is known, where a rule asks and the answer does not say."""
    step, fact = prompt.step, prompt.step.question.fact
    accepted = step.question.accepted
    if fact is None:
        return None
    before = data_at(sitting.visit.record.document.data, answer_path(step, sides[0]))
    how = mapping_in(before).get("how") if isinstance(before, dict) else fact.short_form.value
    if accepted and how not in accepted:
        ways = (*accepted, *(way for way in How if way not in accepted))
        return Prompt(Wanted.HOW, step, sides, choices=tuple(way.value for way in ways))
    return _photo(step, sides, how, before)


def _photo(step: Step, sides: tuple[str, ...], how: object, before: Data) -> Prompt | None:
    has_one = bool(mapping_in(before).get("photo"))
    wants = step.question.photo or how == How.PHOTO_DURING_WORK
    return Prompt(Wanted.PHOTO, step, sides) if wants and not has_one else None


def _after_how(sitting: Sitting, memory: Memory, prompt: Prompt, how: How) -> Memory:
    path = answer_path(prompt.step, prompt.sides[0])
    before = data_at(sitting.visit.record.document.data, path)
    return replace(memory, next=_photo(prompt.step, prompt.sides, how, before))


def _kept(sitting: Sitting, memory: Memory, prompt: Prompt) -> Move:
    """Return what comes of keeping the recorded value: how it is known may still be asked."""
    side = prompt.sides[0]
    value = said(sitting.visit, prompt.step, side)
    if prompt.wanted is not Wanted.VALUE or value is None or isinstance(value, (dict, list)):
        return Move(Mistake("an answer", "`=`, and nothing is recorded to keep", ""), memory)
    done = _asked(memory, prompt, (side,))
    follows = None if unknown_reason(value) else _evidence(sitting, prompt, (side,))
    return Move(Keep(), replace(done, next=follows))


# memory


def _asked(memory: Memory, prompt: Prompt, sides: Sequence[str]) -> Memory:
    """Return the memory with a question asked, of some of its sides; the others come next."""
    step = prompt.step
    asked = memory.asked | {step.key(side) for side in sides}
    value = replace(prompt, wanted=Wanted.VALUE, held=(), doubt=None, choices=())
    trail = (*memory.trail, replace(value, sides=tuple(sides)))
    return replace(memory, asked=asked, trail=trail, next=None, rank=step.rank)


def _skipped(memory: Memory, prompt: Prompt) -> Memory:
    if prompt.wanted is Wanted.TOOL:
        return _with_tool(memory, prompt, _usual(prompt))
    if prompt.wanted in (Wanted.HOW, Wanted.PHOTO):
        return replace(memory, next=None)
    return _asked(memory, prompt, prompt.sides)


def _back(memory: Memory, prompt: Prompt) -> Move:
    """Return to the value just given, or else to the question before."""
    if prompt.wanted is Wanted.SURE:
        value = replace(prompt, wanted=Wanted.VALUE, held=(), doubt=None)
        return Move(Back(), replace(memory, next=value))
    if not memory.trail:
        told = Mistake("an answer", "`<`, and this is the first question", "Enter goes on")
        return Move(told, memory)
    last = memory.trail[-1]
    asked = memory.asked - {last.step.key(side) for side in last.sides}
    return Move(Back(), replace(memory, asked=asked, trail=memory.trail[:-1], next=last))


# units and instruments


def _with_unit(sitting: Sitting, memory: Memory, prompt: Prompt) -> Prompt:
    kind = _kind(prompt.step)
    visit = sitting.visit
    unit = unit_for(kind, memory.units, visit.record, sitting.vocabulary, visit.units)
    return replace(prompt, unit=unit)


def _kind(step: Step) -> Kind | None:
    fact, key = step.question.fact, step.question.key
    if fact is not None:
        return kind_of(fact)
    return ALONG if key == "at" and step.place.lines != () else None


def _with_units(memory: Memory, step: Step, values: Sequence[str]) -> Memory:
    kind = _kind(step)
    found = [unit_in(v, kind[0]) for v in values if kind and not unknown_reason(v)]
    if kind is None or not found or not found[-1]:
        return memory
    return replace(memory, units=MappingProxyType({**memory.units, kind: found[-1]}))


def _is_read(fact: Fact) -> bool:
    return isinstance(fact.dimension, Dimension) and bool(fact.tool)


_ALIKE: Mapping[Dimension, tuple[Dimension, ...]] = {
    Dimension.LENGTH: (Dimension.LENGTH,),
    Dimension.ANGLE: (Dimension.ANGLE, Dimension.SLOPE),
    Dimension.SLOPE: (Dimension.ANGLE, Dimension.SLOPE),
    Dimension.TEMPERATURE: (Dimension.TEMPERATURE_DIFFERENCE,),
}


def _instruments(sitting: Sitting, fact: Fact) -> tuple[str, ...]:
    """Return the record's instruments that may read a fact, its usual one first."""
    alike = _ALIKE.get(fact.dimension, ()) if isinstance(fact.dimension, Dimension) else ()
    found = []
    for name, instrument in sitting.visit.record.instruments.items():
        figure = instrument.graduation or instrument.expanded_uncertainty
        if name == fact.tool or (figure is not None and figure.dimension in alike):
            found.append(name)
    return tuple(sorted(found, key=lambda name: name != fact.tool))


def _tools_for(sitting: Sitting, memory: Memory, step: Step) -> tuple[str, ...]:
    """Return the instruments to choose from, where that is open; once for each usual tool."""
    fact = step.question.fact
    if fact is None or not _is_read(fact) or fact.tool in memory.tools:
        return ()
    found = _instruments(sitting, fact)
    return () if found in ((), (fact.tool,)) else found


def _usual(prompt: Prompt) -> str:
    fact = prompt.step.question.fact
    return fact.tool if fact is not None and fact.tool in prompt.choices else ""


def _with_tool(memory: Memory, prompt: Prompt, tool: str) -> Memory:
    fact = prompt.step.question.fact
    kind = fact.tool if fact is not None else ""
    value = replace(prompt, wanted=Wanted.VALUE, choices=())
    return replace(memory, tools=MappingProxyType({**memory.tools, kind: tool}), next=value)


def _instrument(sitting: Sitting, memory: Memory, prompt: Prompt) -> Move:
    """Return to the choice of the instrument."""
    fact = prompt.step.question.fact
    found = _instruments(sitting, fact) if fact is not None and _is_read(fact) else ()
    if len(found) < 2 and found in ((), (fact.tool if fact else "",)):
        told = Mistake("an answer", "`w`, and no other instrument", "list it under `instruments:`")
        return Move(told, memory)
    value = replace(prompt, wanted=Wanted.TOOL, choices=found, held=(), doubt=None)
    return Move(Instrument(), replace(memory, next=value))
