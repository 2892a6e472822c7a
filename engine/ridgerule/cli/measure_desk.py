"""A record being measured: its file, its audit and its plan, the same at every moment."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from ridgerule.problems import InputRejected, shown
from ridgerule.visit.entry import Move, Prompt, Sitting, Wanted, move
from ridgerule.visit.entry_file import (
    Changed,
    Text,
    Unsaved,
    kept_beside,
    read_text,
    write_text,
)
from ridgerule.visit.entry_steps import data_at, steps_of
from ridgerule.visit.entry_units import places_of
from ridgerule.visit.planning import plan_visit
from ridgerule.visit.record_writing import with_changes

if TYPE_CHECKING:
    from ridgerule.audit.findings import Audit
    from ridgerule.cli.inputs import Auditor
    from ridgerule.plain_data import Data
    from ridgerule.problems import Problem
    from ridgerule.visit.entry import Memory
    from ridgerule.visit.planning import VisitPlan


class Saved(Struct, frozen=True):
    """What came of trying to write an answer."""

    memory: Memory
    refused: tuple[Problem, ...] = ()
    """Why no record can hold the answer as it was typed."""
    unsaved: str = ""
    """Why it could not be written; it may be typed again."""
    from_outside: bool = False
    """Whether the file had been changed by someone else and was read again."""
    beside: Path | None = None
    """Where the answer went instead, since its place in the record is not what it was."""


class Unreadable(Exception):  # noqa: N818 - says what happened
    """The file was changed from outside to what can't be read; the answer is kept beside it."""

    def __init__(self, problems: tuple[Problem, ...], beside: Path | None) -> None:
        """Take what is wrong with the file, and where the answer is."""
        super().__init__()
        self.problems, self.beside = problems, beside


class Desk:
    """Reads and writes one record."""

    def __init__(self, auditor: Auditor, path: Path, today: dt.date) -> None:
        """Take the record's file, and the day of the visit.

        Raises `InputRejected` where the record or its rulebooks can't be read.
        """
        self._auditor, self._today = auditor, today
        self.name = shown(path, most=4096)
        self.path = path.resolve()
        self._sitting: Sitting | None = None
        self._text, self.audit = self._read()

    @property
    def sitting(self) -> Sitting:
        """The plan as the record stands; made when it is asked for, since a verdict needs none."""
        if self._sitting is None:
            visit = plan_visit(self.audit.plan, self.audit.record)
            self._sitting = Sitting(visit, self.audit.plan.vocabulary, self._today)
        return self._sitting

    def _read(self) -> tuple[Text, Audit]:
        while True:
            text = read_text(self.path, name=self.name)
            audit = self._checked(self.path)
            if audit.record.document.digest == text.digest:
                return text, audit

    def _checked(self, path: Path) -> Audit:
        return self._auditor.audit(path, name=self.name)

    def _stands(self, text: Text, audit: Audit) -> None:
        self._text, self.audit, self._sitting = text, audit, None

    def save(self, prompt: Prompt, typed: str, made: Move) -> Saved:
        """Write what came of a typed line; the state is that of the file afterwards.

        Raises `Unreadable` where someone made the file one that can't be read.
        """
        memory = made.memory
        try:
            self._write(made)
        except Changed:
            return self._written_again(prompt, typed, made)
        except InputRejected as rejected:
            return Saved(memory, refused=rejected.problems)
        except Unsaved as failed:
            return Saved(memory, unsaved=str(failed))
        return Saved(memory)

    def _write(self, made: Move) -> None:
        after = with_changes(self._text.raw, made.changes, name=self.name)
        self._stands(*write_text(self.path, self._text, after, check=self._checked))

    def _written_again(self, prompt: Prompt, typed: str, made: Move) -> Saved:
        """Write an answer into what somebody else has made of the file meanwhile."""
        before = self.audit.record.document.data
        told = _told(prompt, typed)
        try:
            self._stands(*self._read())
        except InputRejected as rejected:
            raise Unreadable(rejected.problems, self._kept(told)) from rejected
        memory = replace(made.memory, trail=made.memory.trail[-1:])
        same = _same_prompt(before, self.sitting.visit, prompt)
        if same is None:
            beside = self._kept(told)
            memory = replace(memory, next=None)
            return Saved(memory, from_outside=True, beside=beside)
        again = move(self.sitting, replace(memory, next=None), same, typed)
        try:
            self._write(again)
        except (Changed, Unsaved) as failed:
            return Saved(memory, from_outside=True, unsaved=str(failed) or "changed again")
        except InputRejected as rejected:
            return Saved(memory, from_outside=True, refused=rejected.problems)
        return Saved(again.memory, from_outside=True)

    def _kept(self, told: str) -> Path | None:
        try:
            return kept_beside(self.path, told)
        except Unsaved:
            return None


def _told(prompt: Prompt, typed: str) -> str:
    """Return an answer as a line of its own: where it belongs, and what was typed."""
    sides = "".join(f"/{side}" for side in prompt.sides if side)
    held = ", ".join(prompt.held) if prompt.wanted is Wanted.SURE else typed
    path = "/".join(map(str, prompt.step.question.path))
    unit = f" (bare numbers in {prompt.unit})" if prompt.unit else ""
    kind = f" ({prompt.wanted})" if prompt.wanted in (Wanted.HOW, Wanted.PHOTO) else ""
    return f"{path}{sides}, {prompt.step.place.label}{kind}: {shown(held, most=2000)}{unit}"


def _same_prompt(before: Data, visit: VisitPlan, prompt: Prompt) -> Prompt | None:
    """Return a prompt as it is asked now; None where its place or its answer is not what it was."""
    step = prompt.step
    path = step.question.path
    if data_at(before, path) != data_at(visit.record.document.data, path):
        return None
    labels = {place.path: place.label for place in places_of(visit.record)}
    if labels.get(step.place.path) != step.place.label:
        return None
    fresh = (one for one in steps_of(visit) if one.key() == step.key())
    return replace(prompt, step=next(fresh, step))
