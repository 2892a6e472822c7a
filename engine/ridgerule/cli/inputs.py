"""From what was typed to audits: records read, rulebooks found, each plan compiled once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.audit.compile import facts_of, plan_for
from ridgerule.audit.evaluate import evaluate
from ridgerule.documents import load_document
from ridgerule.photos import with_photos
from ridgerule.problems import InputRejected, Location, Problem
from ridgerule.record_reader import read_record, rulebooks_named
from ridgerule.schemas import check, is_kind
from ridgerule.shelf import SUFFIXES, Shelf

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from ridgerule.audit.findings import Audit
    from ridgerule.audit.plan import Plan
    from ridgerule.documents import Document
    from ridgerule.facts import Fact, Vocabulary
    from ridgerule.record import Record

ON_THE_COMMAND_LINE = Location("--against")


class Asked(Struct, frozen=True):
    """What a command was asked to hold records against."""

    against: tuple[str, ...] = ()
    """Rulebooks that replace the records' own lists: ids or files."""
    folders: tuple[Path, ...] = ()


class Auditor:
    """Audits records one after the other; records that name the same rulebooks share a plan."""

    def __init__(
        self,
        asked: Asked,
        planned: Callable[[Sequence[Reference], Shelf], Plan] = plan_for,
    ) -> None:
        """Take what was asked, and how a plan is made of the rulebooks asked for."""
        self._asked = asked
        self._planned = planned
        self._plans: dict[tuple[Path, tuple[str, ...]], Plan] = {}
        self._facts: dict[tuple[Path, tuple[str, ...]], tuple[Fact, ...]] = {}

    def audit(self, path: Path, *, name: str | None = None) -> Audit:
        """Return the audit of the record in a file.

        Raises `InputRejected` with every problem of the record and of its rulebooks.
        """
        document = load_document(path, name=name)
        if not is_kind(document, "record"):
            raise InputRejected(check(document, "record"))
        try:
            plan = self._plan(document, path.parent)
        except InputRejected as rejected:
            raise InputRejected((*rejected.problems, *check(document, "record"))) from None
        record = self._read(document, plan.vocabulary, path.parent)
        return evaluate(plan, with_photos(record, path.parent))

    def _read(self, document: Document, vocabulary: Vocabulary, beside: Path) -> Record:
        """Return the record in a document.

        Held against other rulebooks than its own, it may still speak of its own's facts.
        """
        told: tuple[Problem, ...] = ()
        others = self._asked.against or self._planned is not plan_for
        if others and (names := rulebooks_named(document)):
            try:
                vocabulary = vocabulary.extended(self._own_facts(document, names, beside))
            except InputRejected as rejected:
                told = rejected.problems  # no matter, if the record speaks of none of them
        try:
            return read_record(document, vocabulary)
        except InputRejected as rejected:
            raise InputRejected((*rejected.problems, *told)) from None

    def _own_facts(
        self, document: Document, names: tuple[str, ...], beside: Path
    ) -> tuple[Fact, ...]:
        key = (beside, names)
        if key not in self._facts:
            shelf = Shelf(folders=(*self._asked.folders, beside))
            self._facts[key] = facts_of(_references(document, names), shelf)
        return self._facts[key]

    def _plan(self, document: Document, beside: Path) -> Plan:
        wanted = self._asked.against or rulebooks_named(document)
        if not wanted:
            where = document.location(("rulebooks",))
            advice = "list them under `rulebooks:`, or name them with `--against`"
            raise InputRejected([Problem(where, "at least one rulebook", "none", advice)])
        key = (beside, wanted)
        if key not in self._plans:
            self._plans[key] = self._compiled(wanted, document, beside)
        return self._plans[key]

    def _compiled(self, wanted: tuple[str, ...], document: Document, beside: Path) -> Plan:
        if self._asked.against:
            references, shelf = references_against(self._asked, beside)
        else:
            shelf = Shelf(folders=(*self._asked.folders, beside))
            references = _references(document, wanted)
        return self._planned(references, shelf)


Reference = tuple[str, Location]
"""A rulebook as it was asked for, and where it was."""


def _references(document: Document, names: tuple[str, ...]) -> tuple[Reference, ...]:
    """Return the rulebooks that a record names, each with its line."""
    return tuple((name, document.location(("rulebooks", i))) for i, name in enumerate(names))


def plan_against(asked: Asked, beside: Path) -> Plan:
    """Return the plan of the rulebooks named on the command line, found also in a folder.

    Raises `InputRejected` with every problem of theirs.
    """
    return plan_for(*references_against(asked, beside))


def references_against(asked: Asked, beside: Path) -> tuple[tuple[Reference, ...], Shelf]:
    """Return the rulebooks named on the command line, and the shelf to find them on.

    Raises `InputRejected` with every problem of those that are named as files.
    """
    files = tuple(Path(name) for name in asked.against if _is_file(name))
    shelf = Shelf(folders=(*asked.folders, beside), files=files)
    given = {str(file): book.name for file, book in zip(files, shelf.given, strict=True)}
    names = (given.get(str(Path(name)), name) for name in asked.against)
    return tuple((name, ON_THE_COMMAND_LINE) for name in names), shelf


def _is_file(name: str) -> bool:
    """Tell whether a rulebook is named by its file rather than by its id."""
    return name.endswith(SUFFIXES)
