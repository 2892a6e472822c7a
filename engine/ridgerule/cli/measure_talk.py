"""The talk of a visit: a question shown, a line read, what comes of it shown at once."""

from __future__ import annotations

import signal
import sys
from typing import TYPE_CHECKING

from ridgerule.cli import measure_page as pages
from ridgerule.cli.measure_desk import Desk, Saved
from ridgerule.misreadings import Mistake
from ridgerule.plain_data import words_in
from ridgerule.visit.entry import Memory, Move, Prompt, Wanted, move, next_prompt, pending
from ridgerule.visit.entry_replies import Answer, Help, KnownBy, Listed, Note, Photo, Quit
from ridgerule.visit.entry_steps import is_unknown, said, steps_of
from ridgerule.visit.entry_verdict import verdict_on

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from types import FrameType

    from ridgerule.reports.page import Line, Page
    from ridgerule.visit.entry_steps import Step


class Left(Exception):  # noqa: N818 - says what happened
    """The visit is left: by a word, by the end of what is typed, or by a signal."""


class Signals:
    """Ends the wait for a line when the process is asked to end; a write is never cut short."""

    _ASKED = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)

    def __init__(self) -> None:
        """Nothing has been asked yet."""
        self.is_waiting = False
        self.was_asked = False

    def __enter__(self) -> Signals:
        """Listen from now on, but for what was to be ignored, as under `nohup`."""
        heeded = [n for n in self._ASKED if signal.getsignal(n) is not signal.SIG_IGN]
        self._before = {number: signal.signal(number, self._ask) for number in heeded}
        return self

    def __exit__(self, *_: object) -> None:
        """Leave the signals as they were."""
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def _ask(self, _number: int, _frame: FrameType | None) -> None:
        self.was_asked = True
        if self.is_waiting:
            raise Left

    def line(self, read: Callable[[], str]) -> str:
        """Return the next line; raise `Left` where there is none or the process is to end."""
        if self.was_asked:
            raise Left
        self.is_waiting = True
        try:
            return read()
        except (EOFError, OSError):
            raise Left from None
        finally:
            self.is_waiting = False


class Talk:
    """One sitting at a terminal, or over a pipe."""

    def __init__(self, desk: Desk, page: Page, show: Callable[[str], None], memory: Memory) -> None:
        """Take the record, how the page looks, and where it is shown."""
        self.desk, self.page, self.show = desk, page, show
        self.memory = memory
        self.answers = self.beside = 0
        self._last: Step | None = None
        self._asked: Prompt | None = None

    def opening(self) -> None:
        """Show the cautions and how much is to be asked."""
        visit = self.desk.sitting.visit
        unknown = 0
        if not self.memory.again:
            unknown = sum(is_unknown(visit, s, side) for s in steps_of(visit) for side in s.sides)
        left = self.left
        self._put(pages.opening(visit, self.desk.name, left, unknown, self.page))

    @property
    def left(self) -> int:
        """How many questions are still to be asked in this sitting."""
        return len(pending(self.desk.sitting, self.memory))

    @property
    def open(self) -> int:
        """How many questions the next sitting begins with."""
        return len(pending(self.desk.sitting, Memory(again=self.memory.again)))

    def run(self, signals: Signals) -> None:
        """Ask until nothing is left to be asked.

        Raises `Left` where the visit is left before, `Unreadable` where the file no longer is one.
        """
        while (prompt := next_prompt(self.desk.sitting, self.memory)) is not None:
            self._ask(prompt)
            typed = signals.line(lambda: self._line(prompt))
            made = move(self.desk.sitting, self.memory, prompt, typed)
            if isinstance(made.told, Quit):
                raise Left
            self._take(prompt, typed, made)

    def _ask(self, prompt: Prompt) -> None:
        """Show a question; one that was only misread is not shown in full again."""
        if prompt == self._asked:
            return
        self._put(pages.where(prompt.step, self._last, self.page))
        known = said(self.desk.sitting.visit, prompt.step, prompt.sides[0])
        recorded = words_in(known)
        self._put(pages.question(prompt, self.left, self.page, recorded=recorded))
        self._last, self._asked = prompt.step, prompt

    def _line(self, prompt: Prompt) -> str:
        words = pages.prompt_words(prompt, self.page)
        if sys.stdin.isatty() and sys.stdout.isatty():
            return input(words)
        self.show(words)
        line = sys.stdin.readline()
        if not line:
            raise EOFError
        self.show(f"{line.rstrip(chr(10))}\n")
        return line

    def _take(self, prompt: Prompt, typed: str, made: Move) -> None:
        """Write down what was typed, and show what comes of it."""
        match made.told:
            case Mistake() as mistake:
                found = f"expected {mistake.expected}; found {mistake.found}"
                advice = f"; {mistake.advice}" if mistake.advice else ""
                self._put(pages.complaint(f"{found}{advice}", self.page))
            case Help():
                self._put(pages.explained(prompt, self.page))
            case _ if made.changes:
                self._save(prompt, typed, made)
                return
            case _:
                self._asked = None
        self.memory = made.memory

    def _save(self, prompt: Prompt, typed: str, made: Move) -> None:
        result = self.desk.save(prompt, typed, made)
        if result.from_outside:
            words = f"{self.desk.name} was changed from outside: it was read again."
            self._put(pages.complaint(words, self.page))
        if result.refused:
            for problem in result.refused:
                self._put(pages.complaint(pages.problem_words(problem), self.page))
            return
        if result.unsaved:
            words = (
                f"NOT SAVED: {result.unsaved}. The record is as it was, with all that was saved "
                "before. Make room or mend it, then type the answer again; q leaves."
            )
            self._put(pages.complaint(words, self.page))
            return
        self.memory, self._asked = result.memory, None
        if not self._went_beside(result):
            is_answer = isinstance(made.told, (Answer, Listed))
            self.answers += is_answer
            self.beside += not is_answer and not isinstance(made.told, KnownBy)
            self._put(self._outcome(prompt, made))

    def _went_beside(self, result: Saved) -> bool:
        if result.beside is None:
            return False
        words = (
            "Your answer was not written over it: its place in the record is not what it was. "
            f"It is kept in {result.beside.name}."
        )
        self._put(pages.complaint(words, self.page))
        return True

    def _outcome(self, prompt: Prompt, made: Move) -> Iterable[Line]:
        """Yield what was saved, and what the rules say of it once all of it is told."""
        yield from pages.remark(f"saved: {_saved_words(made)}", self.page)
        follows = self.memory.next
        if follows is not None and follows.wanted in (Wanted.HOW, Wanted.PHOTO):
            return
        if isinstance(made.told, (Note, Listed)):
            return
        audit = self.desk.audit
        yield from pages.verdict(verdict_on(audit, prompt.step), prompt.step, audit, self.page)

    def _put(self, lines: Iterable[Line]) -> None:
        self.show(self.page.printed([lines]))


def _saved_words(made: Move) -> str:
    match made.told:
        case Answer(values):
            return ", ".join(values)
        case KnownBy(how, by):
            return f"{how} by {by}" if by else how.value
        case Photo(name):
            return f"photo {name}"
        case Note(words):
            return f"note {words}"
        case Listed(names):
            return ", ".join(names)
        case _:
            return "kept"
