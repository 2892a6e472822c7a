"""Lines of JSON to results: one record a line, in their order, each as one audit would tell it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
from msgspec import Struct

from ridgerule.audit.evaluate import evaluate
from ridgerule.documents import read_document
from ridgerule.plain_data import CONTROLS
from ridgerule.problems import InputRejected, Location, Problem
from ridgerule.record_reader import read_record, rulebooks_named
from ridgerule.schemas import check, is_kind
from ridgerule.survey.careful_path import CarefulPath
from ridgerule.survey.fast_names import MOST_REMEMBERED, Unusual
from ridgerule.survey.fast_paths import FastPath
from ridgerule.survey.results import Result, joined, of_audit, of_counts, of_problems
from ridgerule.survey.shapes import MOST_LINE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from ridgerule.audit.findings import Outcome
    from ridgerule.audit.plan import Plan
    from ridgerule.documents import Document
    from ridgerule.facts import Vocabulary
    from ridgerule.survey.fast_paths import Variant

_MOST_PATHS = 64
"""Lists of rulebooks that records name, for which a way to decide them is kept."""
_encode = msgspec.json.Encoder().encode


class Held(Struct, frozen=True):
    """What records that name the same rulebooks are held against and read with."""

    plan: Plan
    vocabulary: Vocabulary
    told: tuple[Problem, ...] = ()
    """What is wrong with rulebooks of the record's own, told only if it speaks of their facts."""


class _NotFast(Exception):  # noqa: N818 - says what happened; caught in this module
    """A line is to be read in the ordinary way."""


class Surveyor:
    """Surveys one record after the other; remembers what it learns on the way."""

    def __init__(
        self,
        held: Callable[[tuple[str, ...], Location], Held],
        *,
        keep_all: bool = False,
    ) -> None:
        """Take what tells the plan for the rulebooks a record names; it may raise InputRejected."""
        self._held = held
        self._keep_all = keep_all
        self._paths: dict[tuple[str, ...], tuple[Held, FastPath]] = {}
        self._current: FastPath | None = None
        self._names: tuple[str, ...] | None = None
        self._tails: dict[tuple[int, int], tuple[bytes, Outcome]] = {}

    def results(self, lines: Iterable[bytes], source: str, first: int = 1) -> Iterator[Result]:
        """Yield the result of each line but blank ones, which are counted."""
        for number, line in enumerate(lines, first):
            stripped = line.strip()
            if stripped:
                yield self.result(stripped, source, number)

    def result(self, line: bytes, source: str, number: int) -> Result:
        """Return the result of one record."""
        where = f"{source}:{number}"
        if not self._keep_all:
            try:
                return self._fast(line, where)
            except (msgspec.MsgspecError, UnicodeDecodeError, _NotFast, Unusual, InputRejected):
                pass  # the ordinary way tells what there is to tell
        return self._ordinary(line, where, Location(source, number))

    # By look-up

    def _fast(self, line: bytes, where: str) -> Result:
        decoded = self._decoded(line)
        path = self._current
        if path is None:
            raise _NotFast
        try:
            variant = path.known_variant(decoded)
        except KeyError:
            variant = path.variant(decoded, line)
        if variant is None:
            raise _NotFast
        try:
            total = variant.quick(decoded)
            if not variant.lanes.is_open(total):
                return self._plain(decoded, where, total, variant)
        except KeyError:
            pass
        return self._careful(line, decoded, where, variant, path)

    def _plain(self, decoded: Any, where: str, total: int, variant: Variant) -> Result:  # noqa: ANN401
        """Return the result of a record without a failure or an open point."""
        key = (total, id(variant))
        found = self._tails.get(key)
        if found is None:
            if len(self._tails) >= MOST_REMEMBERED // 10:
                self._tails.clear()
            found = of_counts(total + variant.always, variant.lanes, ())
            self._tails[key] = found
        return joined(where, decoded.roof_.id_, *found)

    def _careful(
        self,
        line: bytes,
        decoded: Any,  # noqa: ANN401
        where: str,
        variant: Variant,
        path: FastPath,
    ) -> Result:
        careful = CarefulPath(path, variant, line, decoded)
        total = variant.careful(decoded, careful)
        if not variant.lanes.is_open(total):
            return self._plain(decoded, where, total, variant)
        if careful.has_conflict():
            record = read_record(_document(line), path.vocabulary)
            return of_audit(evaluate(path.plan, record), where, keep_all=False)
        tail, outcome = of_counts(total + variant.always, variant.lanes, careful.kept())
        return joined(where, decoded.roof_.id_, tail, outcome)

    def _decoded(self, line: bytes) -> Any:  # noqa: ANN401 - a decoded record
        """Return a line as structs, the path that fits its rulebooks made the current one."""
        is_plain = line.isascii() and b"\x7f" not in line
        # An escape can stand for a control character, which the ordinary reader has to tell of.
        if len(line) > MOST_LINE or b"\\" in line or (not is_plain and _has_controls(line)):
            raise _NotFast
        if self._current is not None:
            try:
                decoded = self._current.shapes.decode(line)
            except msgspec.ValidationError:
                decoded = None
            if decoded is not None and _named(decoded) == self._names:
                return self._checked(decoded, line)
        names = _names_in(line)
        if names == self._names:
            raise _NotFast
        self._use(names)
        if self._current is None:
            raise _NotFast
        return self._checked(self._current.shapes.decode(line), line)

    def _checked(self, decoded: Any, line: bytes) -> Any:  # noqa: ANN401
        """Return what was decoded, if it says all that the line does: no key stands twice in it."""
        length = len(_encode(decoded))
        if length != len(line) and length != len(msgspec.json.format(line, indent=-1)):
            raise _NotFast
        return decoded

    def _use(self, names: tuple[str, ...]) -> None:
        held = self._held_for(names, Location("--against"))
        self._names, self._current = names, held[1]

    def _held_for(self, names: tuple[str, ...], where: Location) -> tuple[Held, FastPath]:
        if names not in self._paths:
            if len(self._paths) >= _MOST_PATHS:
                self._paths.clear()
            held = self._held(names, where)
            same = [path for other, path in self._paths.values() if _is_same(other, held)]
            path = same[0] if same else FastPath(held.plan, held.vocabulary)
            self._paths[names] = held, path
        return self._paths[names]

    # In the ordinary way

    def _ordinary(self, line: bytes, where: str, location: Location) -> Result:
        try:
            document = _record_document(line)
            try:
                held, path = self._held_for(rulebooks_named(document), location)
            except InputRejected as rejected:
                told = (*rejected.problems, *check(document, "record"))
                raise InputRejected(told) from None
            try:
                record = read_record(document, path.vocabulary)
            except InputRejected as rejected:
                raise InputRejected((*rejected.problems, *held.told)) from None
        except InputRejected as rejected:
            return of_problems(rejected.problems, where)
        return of_audit(evaluate(path.plan, record), where, keep_all=self._keep_all)


def _document(line: bytes) -> Document:
    return read_document(line, name="record.json")


def _record_document(line: bytes) -> Document:
    """Return the document in a line; raises InputRejected where it is meant as no record."""
    document = _document(line)
    if not is_kind(document, "record"):
        raise InputRejected(check(document, "record"))
    return document


def _named(decoded: Any) -> tuple[str, ...]:  # noqa: ANN401 - a decoded record
    return decoded.rulebooks_ or ()


class _Named(Struct):
    rulebooks: tuple[str, ...] = ()


def _names_in(line: bytes) -> tuple[str, ...]:
    return msgspec.json.decode(line, type=_Named).rulebooks


def _has_controls(line: bytes) -> bool:
    return CONTROLS.search(line.decode("utf-8")) is not None


def _is_same(one: Held, other: Held) -> bool:
    return one.plan is other.plan and one.vocabulary.facts == other.vocabulary.facts
